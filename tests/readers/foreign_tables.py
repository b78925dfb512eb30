"""Variants 1 to 46 and 70 to 76: text mechanics, preambles, impedance tables, several sweeps."""

from __future__ import annotations

import numpy as np

from tests.readers.foreign_parts import (
    capacitor,
    coil,
    degrees,
    grid,
    parallel,
    series,
    series_tank,
    tank,
)
from tests.readers.foreign_sheet import Sheet

TABLES = {}


def variant(number):
    def keep(function):
        TABLES[number] = function
        return function

    return keep


def _plain(sheet, rng, head, part=tank, *, spec=".6E"):
    """A table of R and X under ``head``, the everyday case that text mechanics are tried on."""
    f = grid(rng)
    z = part(f, rng)
    if head:
        sheet.head(*head)
    sheet.rows(f, z.real, z.imag, spec=spec)
    sheet.holds("impedance", f, z)
    return sheet


@variant(1)
def _(rng, comma):
    return _plain(Sheet(comma=comma), rng, ("Test frequency [Hz]", "Rs [Ohm]", "Xs [Ohm]"))


@variant(2)
def _(rng, comma):
    return _turned(Sheet(comma=comma, delimiter=";"), rng)


def _turned(sheet, rng):
    """The frequency stands in the last column."""
    f = grid(rng)
    z = series_tank(f, rng)
    sheet.head("Resistance/ohm", "Reactance/ohm", "Stimulus/Hz")
    sheet.rows(z.real, z.imag, f)
    sheet.holds("impedance", f, z)
    return sheet


@variant(3)
def _(rng, comma):
    f = grid(rng)
    z = coil(f, rng)
    sheet = Sheet(comma=comma, delimiter="\t", newline="\r\n", name="coil.txt")
    sheet.head("no.", "FREQ_kHz", "|Z| / kOhm", "Phase angle / °")
    sheet.rows([str(k) for k in range(1, f.size + 1)], f / 1e3, abs(z) / 1e3, degrees(z))
    sheet.holds("impedance", f, z)
    return sheet


@variant(4)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter=" | ", name="bench.dat")
    return _plain(sheet, rng, ("f (Hz)", "R (ohm)", "X (ohm)"))


@variant(5)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter="  ", name="run.prn")
    sheet.text("   FREQUENCY[HZ]      R[OHM]         X[OHM]")
    return _plain(sheet, rng, (), coil, spec="+15.6E")


@variant(6)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter=";")
    sheet.text("sep=;")
    return _plain(sheet, rng, ("Freq. [Hz]", "Re(Z) [Ω]", "Im(Z) [Ω]"))


@variant(7)
def _(rng, comma):
    sheet = Sheet(comma=True, delimiter=";" if comma else "\t", encoding="cp1252")
    return _plain(
        sheet, rng, ("Frequenz in Hz", "Wirkwiderstand in Ohm", "Blindwiderstand in Ohm")
    )


@variant(8)
def _(rng, comma):
    sheet = Sheet(comma=True, quoted=True, newline="\r\n" if comma else "\n")
    return _plain(sheet, rng, ("Fréquence (Hz)", "Résistance (Ohm)", "Réactance (Ohm)"))


@variant(9)
def _(rng, comma):
    f = grid(rng, 2e4, 8e5, linear=True)
    z = tank(f, rng)
    mark = str(rng.choice([".", " ", "'"] if comma else [",", "'"]))

    def grouped(value):
        text = f"{value:,.3f}"
        return text.translate(str.maketrans({",": mark, ".": "," if comma else "."}))

    sheet = Sheet(comma=comma, delimiter=";")
    sheet.head("f in Hz", "R in ohm", "X in ohm")
    sheet.rows(*([grouped(v) for v in column] for column in (f, z.real, z.imag)))
    sheet.holds("impedance", f, z)
    return sheet


@variant(10)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter=";", newline="\r\n", encoding="cp1252")
    sheet.text("!Export with the separators of this computer")
    return _plain(sheet, rng, ("Frequency(Hz)", "R(Ohm)", "X(Ohm)"), spec=".9f")


@variant(11)
def _(rng, comma):
    sheet = Sheet(comma=comma, trailing=";" if comma else ",", newline="\r\n")
    return _plain(sheet, rng, ("FREQUENCY (HZ)", "RESISTANCE (OHM)", "REACTANCE (OHM)"))


@variant(12)
def _(rng, comma):
    newline = str(rng.choice(["\r", "\r\n\r\n", "\n\n"]))
    return _plain(Sheet(comma=comma, newline=newline), rng, ("F[Hz]", "Rser[Ohm]", "Xser[Ohm]"))


@variant(13)
def _(rng, comma):
    encoding, bom, micro, ohm = [
        ("utf-8", b"\xef\xbb\xbf", "\u00b5", "\u2126"),
        ("utf-16-le", b"\xff\xfe", "\u03bc", "\u03a9"),
        ("cp1252", b"", "\u00b5", "Ohm"),
        ("cp437", b"", "\u00b5", "\u03a9"),
        ("utf-16-be", b"\xfe\xff", "\u00b5", "\u03a9"),
    ][int(rng.integers(5))]
    f = grid(rng, 1e4, 1e5)
    z = coil(f, rng)
    pair = series(z, f)
    sheet = Sheet(comma=comma, delimiter=";", encoding=encoding, bom=bom)
    sheet.head("Freq [kHz]", f"Ls [{micro}H]", f"Rs [{ohm}]")
    sheet.rows(f / 1e3, pair["Ls"] * 1e6, pair["Rs"])
    sheet.holds("impedance", f, z)
    return sheet


@variant(14)
def _(rng, comma):
    f = np.arange(50, 50 + 30) * 1e3
    z = coil(f, rng)
    r, x = (np.array([float(f"{v:.2E}") for v in one]) for one in (z.real, z.imag))
    sheet = Sheet(comma=comma, newline="\r\n")
    sheet.head("Mark", "Position", "Frequency Hz", "R ohm", "X ohm")
    marks = [f'="{k:04d}"' for k in range(f.size)]
    days = [f"{k % 12 + 1:02d}-{'Feb' if k % 2 else 'Jan'}" for k in range(f.size)]
    sheet.rows(marks, days, f, r, x, spec=("s", "s", ".2E", ".2E", ".2E"))
    sheet.holds("impedance", f, r + 1j * x)
    return sheet


@variant(15)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    sheet = Sheet(comma=comma, delimiter="", name="result.xls")
    sheet.text("<html><head><title>Sweep</title></head><body>", "<table border=1>")
    sheet.text(
        "<tr><th>Frequency&nbsp;(Hz)</th><th>|Z|&nbsp;(&Omega;)</th><th>&theta; (&deg;)</th></tr>"
    )
    for cells in zip(f, abs(z), degrees(z), strict=True):
        sheet.text("<tr>" + "".join(f"<td>{sheet.number(v)}</td>" for v in cells) + "</tr>")
    sheet.text("</table></body></html>")
    sheet.holds("impedance", f, z)
    return sheet


@variant(16)
def _(rng, comma):
    f = np.arange(100, 140) * 1e3
    z = coil(f, rng)
    style = int(rng.integers(3))
    pair = series(z, f)
    Ls = np.array([float(f"{v * 1e6:.6g}") for v in pair["Ls"]])
    sheet = Sheet(comma=comma, delimiter=";")
    sheet.head("Freq", "Ls", "Rs")
    texts = [f"{k // 1000}k" for k in f.astype(int)]
    if style == 1:
        texts = [sheet.number(v).replace("E", "D") for v in f]
    if style == 2:
        texts = [f"{k // 1000}{',' if comma else '.'}0 kHz" for k in f.astype(int)]
    sheet.rows(
        texts,
        [f"{sheet.number(v, '.6g')}u" for v in Ls],
        [f"{sheet.number(v)} Ohm" for v in z.real],
    )
    sheet.holds("impedance", f, z.real + 2j * np.pi * f * Ls * 1e-6)
    return sheet


@variant(17)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter=str(rng.choice([";", "\t"])))
    sheet.open_end = "quantity"
    return _plain(sheet, rng, ())


@variant(18)
def _(rng, comma):
    f = grid(rng)
    z = capacitor(f, rng)
    sheet = Sheet(comma=comma)
    sheet.head("hertz", "Z_mag_ohm", "Z_phase_deg")
    sheet.rows(f, abs(z), degrees(z))
    sheet.holds("impedance", f, z)
    return sheet


@variant(19)
def _(rng, comma):
    f = grid(rng)
    z = coil(f, rng)
    pair = series(z, f)
    sheet = Sheet(comma=comma, delimiter="\t", encoding="cp1252")
    sheet.head("Frequency", "Inductance Ls", "Resistance Rs")
    sheet.head("kHz", "µH", "Ohm")
    sheet.rows(f / 1e3, pair["Ls"] * 1e6, z.real)
    sheet.holds("impedance", f, z)
    return sheet


@variant(20)
def _(rng, comma):
    f = grid(rng)
    z = coil(f, rng)
    pair = series(z, f)
    heads = (
        ("f/MHz", "Ls/mH", "Q/1"),
        ("freq_MHz", "Ls_mH", "Q"),
        ("Freq{MHz}", "Ls{mH}", "Q{}"),
        ("FREQ,MHz", "Ls,mH", "Q,-"),
    )
    head = heads[int(rng.integers(4 if comma else 3))]
    sheet = Sheet(comma=comma)
    sheet.head(*head)
    sheet.rows(f / 1e6, pair["Ls"] * 1e3, pair["Q"])
    sheet.holds("impedance", f, z)
    return sheet


@variant(21)
def _(rng, comma):
    sheet = Sheet(comma=comma)
    for key, value in (
        ("Model", "LX-1"),
        ("Operator", "M. Keller"),
        ("Date", "2031-03-14 08:12:55"),
        ("Level", "0.5 Vrms"),
        ("Points", "44"),
        ("Comment", "gate loop, free air"),
    ):
        sheet.head(key, value)
    return _plain(sheet, rng, ("Frequency (Hz)", "R (Ohm)", "X (Ohm)"))


@variant(22)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter="\t")
    mark = str(rng.choice([": ", " = ", "="]))
    for key, value in (
        ("Trace", "Z"),
        ("Averages", "16"),
        ("Start frequency", "20 kHz"),
        ("Bias", "0 mA"),
    ):
        sheet.text(f"{key}{mark}{value}")
    sheet.text("")
    return _plain(sheet, rng, ("Frequency [Hz]", "Real part [Ohm]", "Imaginary part [Ohm]"))


@variant(23)
def _(rng, comma):
    mark = str(rng.choice(["!", "#", "%", ";", "//"]))
    sheet = Sheet(comma=comma, delimiter="\t")
    sheet.text(f"{mark} written by the logger", f"{mark} level 1.0 V, speed slow")
    sheet.text(f"{mark} f[Hz]\tR[Ohm]\tX[Ohm]")
    return _plain(sheet, rng, ())


@variant(24)
def _(rng, comma):
    sheet = Sheet(comma=comma)
    sheet.text("HEADER_BEGIN", "OPERATOR Q", "HEADER_END", "BEGIN DATA")
    _plain(sheet, rng, ("FREQ(HZ)", "R(OHM)", "X(OHM)"))
    sheet.text("END")
    return sheet


@variant(25)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    sheet = Sheet(comma=comma)
    beside = [("Level", "0.2 V"), ("Speed", "long"), ("Cable", "1 m"), ("Open done", "yes")]
    sheet.head("Setting", "Value", "", "Freq (Hz)", "R (ohm)", "X (ohm)")
    left = beside + [("", "")] * (f.size - len(beside))
    sheet.rows(
        [a for a, _ in left],
        [b for _, b in left],
        [""] * f.size,
        f,
        z.real,
        z.imag,
        spec=("s", "s", "s", ".6E", ".6E", ".6E"),
    )
    sheet.holds("impedance", f, z)
    return sheet


@variant(26)
def _(rng, comma):
    sheet = Sheet(comma=comma)
    sheet.text("Data file v2", "2031/05/02", "10:14:07", "", "station 4", "1", "0", "0.50", "20")
    sheet.text("long", "off", "off", "", "trace A=R", "trace B=X", "Hz;Ohm;Ohm")
    sheet.open_end = "quantity"
    return _plain(sheet, rng, ())


@variant(27)
def _(rng, comma):
    sheet = Sheet(comma=comma)
    f = grid(rng, count=30)
    for _ in range(3):
        z = coil(f, rng)
        sheet.head("Freq (Hz)", "Rs (Ohm)", "Xs (Ohm)")
        sheet.rows(f, z.real, z.imag)
        sheet.holds("impedance", f, z)
    return sheet


@variant(28)
def _(rng, comma):
    sheet = _plain(Sheet(comma=comma), rng, ("Frequency [Hz]", "R [Ohm]", "X [Ohm]"))
    sheet.text("")
    sheet.head("Minimum", sheet.number(12.5), sheet.number(-210.0))
    sheet.head("Maximum", sheet.number(9125.5), sheet.number(8210.0))
    sheet.head("Upper limit", sheet.number(10000.0), "")
    return sheet


@variant(29)
def _(rng, comma):
    f = grid(rng, count=40)
    z = tank(f, rng)
    sheet = Sheet(comma=comma)
    one = (sheet.number(v, "+.8E") for point in zip(f, z.real, z.imag, strict=True) for v in point)
    sheet.text(sheet.delimiter.join(one))
    sheet.holds("impedance", f, z)
    sheet.open_end = "quantity"
    return sheet


LOCAL = (
    ("Frequenz [kHz]", "Scheinwiderstand [Ohm]", "Phasenwinkel [Grad]", "utf-8"),
    ("Fréquence (kHz)", "Impédance (ohm)", "Déphasage (degrés)", "cp1252"),
    ("Frecuencia (kHz)", "Impedancia (ohm)", "Fase (grados)", "utf-8"),
    ("Frequenza (kHz)", "Impedenza (ohm)", "Angolo di fase (gradi)", "utf-8"),
    ("频率(kHz)", "阻抗(Ω)", "相位(度)", "utf-8"),
    ("频率/kHz", "阻抗模值/Ω", "相角/°", "gb18030"),
)


@variant(30)
def _(rng, comma):
    *head, encoding = LOCAL[int(rng.integers(len(LOCAL)))]
    f = grid(rng)
    z = tank(f, rng)
    sheet = Sheet(comma=comma, delimiter=";", encoding=encoding, newline="\r\n")
    sheet.head(*head)
    sheet.rows(f / 1e3, abs(z), degrees(z))
    sheet.holds("impedance", f, z)
    return sheet


def _pair(number, heads, columns, part=coil):
    """Register a table of one frequency column and a pair of quantities with their units."""

    @variant(number)
    def make(rng, comma):
        f = grid(rng, 1e4, 1.2e5)
        z = part(f, rng)
        known = {**parallel(z, f), **series(z, f), "|Z|": abs(z), "deg": degrees(z)}
        known.update(rad=np.angle(z), Ymag=1 / abs(z), Ydeg=-degrees(z), X=z.imag, R=z.real)
        choice = int(rng.integers(len(heads)))
        sheet = Sheet(comma=comma, delimiter=str(rng.choice([",", ";", "\t"])))
        sheet.head(*heads[choice])
        picked = columns[choice]
        values = [f if name == "f" else known[name] * scale for name, scale in picked]
        sheet.rows(*values, spec=".7E")
        sheet.holds("impedance", f, z)
        return sheet


_f = ("f", 1)
_pair(
    31,
    [("Freq(Hz)", "Ls(H)", "Q"), ("Q factor", "Ls [uH]", "F [Hz]")],
    [(_f, ("Ls", 1), ("Q", 1)), (("Q", 1), ("Ls", 1e6), _f)],
)
_pair(
    32,
    [("Hz", "Ls (mH)", "Rs (mOhm)"), ("Frequency (Hz)", "L series (H)", "ESR (Ohm)")],
    [(_f, ("Ls", 1e3), ("Rs", 1e3)), (_f, ("Ls", 1), ("Rs", 1))],
)
_pair(
    33,
    [("F/Hz", "Lp/H", "Q"), ("Freq[Hz]", "Lp[mH]", "Rp[kOhm]"), ("freq (Hz)", "Lp (H)", "G (S)")],
    [(_f, ("Lp", 1), ("Q", 1)), (_f, ("Lp", 1e3), ("Rp", 1e-3)), (_f, ("Lp", 1), ("G", 1))],
)
_pair(
    34,
    [
        ("Freq[Hz]", "Cs[nF]", "D"),
        ("Freq (Hz)", "Cp (F)", "D"),
        ("tan delta", "Cp [pF]", "f [Hz]"),
        ("Freq (Hz)", "Cp (F)", "G (uS)"),
        ("Freq (Hz)", "Cp (nF)", "Rp (Ohm)"),
    ],
    [
        (_f, ("Cs", 1e9), ("D", 1)),
        (_f, ("Cp", 1), ("D", 1)),
        (("D", 1), ("Cp", 1e12), _f),
        (_f, ("Cp", 1), ("G", 1e6)),
        (_f, ("Cp", 1e9), ("Rp", 1)),
    ],
    capacitor,
)
_pair(
    35,
    [
        ("Frequency in Hz", "Z in Ohm", "theta in deg"),
        ("Freq (Hz)", "Impedance (kOhm)", "Phase (°)"),
    ],
    [(_f, ("|Z|", 1), ("deg", 1)), (_f, ("|Z|", 1e-3), ("deg", 1))],
    tank,
)
_pair(
    36,
    [("Freq [Hz]", "|Z| [Ohm]", "theta [rad]"), ("arg Z (rad)", "abs Z (Ohm)", "f (Hz)")],
    [(_f, ("|Z|", 1), ("rad", 1)), (("rad", 1), ("|Z|", 1), _f)],
    tank,
)
_pair(
    37,
    [("X_ohm", "R_ohm", "f_Hz"), ("Freq. (Hz)", "Z' (Ohm)", "Z'' (Ohm)")],
    [(("X", 1), ("R", 1), _f), (_f, ("R", 1), ("X", 1))],
    series_tank,
)
_pair(
    38,
    [("Freq (Hz)", "G (S)", "B (S)"), ("f [Hz]", "Conductance [uS]", "Susceptance [uS]")],
    [(_f, ("G", 1), ("B", 1)), (_f, ("G", 1e6), ("B", 1e6))],
    tank,
)
_pair(
    39,
    [
        ("Freq (Hz)", "|Y| (S)", "phi_Y (deg)"),
        ("Freq (Hz)", "Admittance (mS)", "Phase of Y (deg)"),
    ],
    [(_f, ("Ymag", 1), ("Ydeg", 1)), (_f, ("Ymag", 1e3), ("Ydeg", 1))],
    tank,
)


@variant(40)
def _(rng, comma):
    f = grid(rng, 1e4, 1.2e5)
    z = coil(f, rng)
    pair = series(z, f)
    sheet = Sheet(comma=comma)
    sheet.head("Measurement function", "Ls-Rs")
    sheet.head("Frequency[Hz]", "Data A", "Data B", "Status", "Bin")
    status = ["0"] * f.size
    a = [sheet.number(v) for v in pair["Ls"]]
    b = [sheet.number(v) for v in z.real]
    lost = int(rng.integers(3, f.size - 3))
    status[lost], a[lost], b[lost] = "+1", sheet.number(9.9e37), sheet.number(9.9e37)
    sheet.rows(f, a, b, status, ["1"] * f.size, spec=(".6E", "s", "s", "s", "s"))
    kept = np.arange(f.size) != lost
    sheet.holds("impedance", f[kept], z[kept])
    return sheet


@variant(41)
def _(rng, comma):
    f = grid(rng, linear=False)
    z = tank(f, rng)
    sheet = Sheet(comma=comma, delimiter="\t")
    sheet.head("log10(f/Hz)", "R/Ohm", "X/Ohm")
    sheet.rows(np.log10(f), z.real, z.imag, spec=(".8f", ".6E", ".6E"))
    sheet.holds("impedance", f, z)
    return sheet


@variant(42)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    head = [
        ("omega [rad/s]", "R [ohm]", "X [ohm]"),
        ("w (rad/s)", "Z_re (Ohm)", "Z_im (Ohm)"),
        ("angular frequency (1/s)", "R (Ohm)", "X (Ohm)"),
    ][int(rng.integers(3))]
    sheet = Sheet(comma=comma)
    sheet.head(*head)
    sheet.rows(2 * np.pi * f, z.real, z.imag, spec=".8E")
    sheet.holds("impedance", f, z)
    return sheet


@variant(43)
def _(rng, comma):
    count = int(rng.integers(30, 60))
    linear = bool(rng.integers(2))
    f = (np.linspace if linear else np.geomspace)(5e4, 4e5, count)
    z = tank(f, rng)
    sheet = Sheet(comma=comma)
    sheet.text("Start: 50 kHz", "Stop: 400 kHz", f"Points: {count}")
    sheet.text(f"Sweep type: {'linear' if linear else 'logarithmic'}")
    sheet.head("Point no.", "R (Ohm)", "X (Ohm)")
    sheet.rows([str(k + 1) for k in range(count)], z.real, z.imag, spec=("s", ".6E", ".6E"))
    sheet.holds("impedance", f, z)
    return sheet


def _wide(sheet, rng):
    f = grid(rng, 1e4, 1e5)
    levels = (0.1, 0.5, 1.0)
    zs = [coil(f, rng) for _ in levels]
    head, columns = ["Freq (Hz)"], [f]
    for level, z in zip(levels, zs, strict=True):
        text = sheet.number(level, "g")
        head += [f"Ls @ {text} V (H)", f"Rs @ {text} V (Ohm)"]
        columns += [series(z, f)["Ls"], z.real]
        sheet.holds("impedance", f, z)
    sheet.head(*head)
    sheet.rows(*columns)


def _long(sheet, rng):
    f = grid(rng, 1e4, 1e5, count=20)
    sheet.head("Bias current (mA)", "Freq (Hz)", "Ls (uH)", "Rs (Ohm)")
    for bias in (0.0, 50.0, 100.0):
        z = coil(f, rng)
        sheet.rows(np.full(f.size, bias), f, series(z, f)["Ls"] * 1e6, z.real)
        sheet.holds("impedance", f, z)


@variant(44)
def _(rng, comma):
    sheet = Sheet(comma=comma, delimiter=";")
    (_wide if rng.integers(2) else _long)(sheet, rng)
    return sheet


@variant(45)
def _(rng, comma):
    f = float(rng.choice([1e5, 1.25e5, 1e6]))
    z = coil(np.array([f]), rng)
    name = f"coil_{f / 1e3:g}kHz.csv" if f < 1e6 else "loop 1MHz.csv"
    sheet = Sheet(comma=comma, delimiter=";", name=name)
    sheet.head("Ls (H)", "Rs (Ohm)")
    sheet.rows(series(z, np.array([f]))["Ls"], z.real)
    sheet.holds("impedance", np.array([f]), z)
    return sheet


@variant(46)
def _(rng, comma):
    count = int(rng.integers(12, 30))
    f = np.full(count, 1e5)
    L, Q, dcr = (rng.uniform(a, b, count) for a, b in ((1.6e-3, 1.7e-3), (40, 60), (4, 5)))
    sheet = Sheet(comma=comma, delimiter=";")
    sheet.text("Lot 2031-07", "Test frequency: 100 kHz", "")
    sheet.head("Serial no.", "Ls [mH]", "Q", "DCR [Ohm]", "Verdict")
    serials = [f"GA{2000 + k}" for k in range(count)]
    verdicts = ["PASS" if k % 5 else "FAIL" for k in range(count)]
    sheet.rows(serials, L * 1e3, Q, dcr, verdicts, spec=("s", ".6f", ".5f", ".4f", "s"))
    for k in range(count):
        x = 2 * np.pi * f[k] * L[k]
        sheet.holds("impedance", f[k : k + 1], np.array([x / Q[k] + 1j * x]), part=serials[k])
    return sheet


@variant(70)
def _(rng, comma):
    f = grid(rng, count=30)
    sheet = Sheet(comma=comma)
    sheet.head("Hz", "R (Ohm)", "X (Ohm)")
    for _ in range(2):
        z = tank(f, rng)
        sheet.rows(f, z.real, z.imag)
        sheet.holds("impedance", f, z)
    return sheet


@variant(71)
def _(rng, comma):
    f = grid(rng, count=25)
    word = str(rng.choice(["Sweep {}", "--- Run {} ---", "[Trace {}]", "Messung {}"]))
    sheet = Sheet(comma=comma)
    sheet.head("Frequency (Hz)", "|Z| (Ohm)", "Phase (deg)")
    for k in range(3):
        z = tank(f, rng)
        sheet.text(word.format(k + 1))
        sheet.rows(f, abs(z), degrees(z))
        sheet.holds("impedance", f, z)
    return sheet


@variant(72)
def _(rng, comma):
    f = grid(rng, count=35)
    sheet = Sheet(comma=comma)
    sheet.head("Frequency (Hz)", "R (Ohm)", "X (Ohm)")
    up, down = tank(f, rng), tank(f, rng)
    sheet.rows(f, up.real, up.imag)
    sheet.rows(f[::-1], down.real[::-1], down.imag[::-1])
    sheet.holds("impedance", f, up)
    sheet.holds("impedance", f, down)
    return sheet


@variant(73)
def _(rng, comma):
    f = grid(rng)
    sheet = Sheet(comma=comma, delimiter=";")
    a, b = coil(f, rng), coil(f, rng)
    gap = [""] * f.size
    sheet.text(";".join(["Coil A", "", "", "", "Coil B", "", ""]))
    sheet.head("f (Hz)", "R (Ohm)", "X (Ohm)", "", "f (Hz)", "R (Ohm)", "X (Ohm)")
    sheet.rows(
        f,
        a.real,
        a.imag,
        gap,
        f,
        b.real,
        b.imag,
        spec=(".6E", ".6E", ".6E", "s", ".6E", ".6E", ".6E"),
    )
    sheet.holds("impedance", f, a)
    sheet.holds("impedance", f, b)
    return sheet


@variant(74)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    sheet = Sheet(comma=comma)
    sheet.head("Frequency (Hz)", "R mean (Ohm)", "R std (Ohm)", "X mean (Ohm)", "X std (Ohm)", "n")
    sheet.rows(
        f, z.real, abs(z) * 1e-3, z.imag, abs(z) * 2e-3, ["8"] * f.size, spec=[".6E"] * 5 + ["s"]
    )
    sheet.holds("impedance", f, z)
    return sheet


@variant(75)
def _(rng, comma):
    sheet = _plain(Sheet(comma=comma), rng, ("Frequency (Hz)", "R (Ohm)", "X (Ohm)"))
    last = sheet.lines.pop()
    sheet.newline = "\n"
    sheet.text(sheet.delimiter.join([last[0], last[1][:4]]))
    trace = sheet.traces.pop()
    sheet.holds(trace.kind, trace.x[:-1], trace.y[:-1])
    return sheet


@variant(76)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    order = np.arange(f.size)
    order[5:9] = order[5:9][::-1]
    order = np.insert(order, 12, order[12])
    sheet = Sheet(comma=comma)
    sheet.head("Frequency (Hz)", "R (Ohm)", "X (Ohm)")
    sheet.rows(f[order], z.real[order], z.imag[order])
    sheet.holds("impedance", f, z)
    return sheet
