"""Files in styles drawn by chance: headings, units, delimiters, preambles, encodings, damage.

The words stand here once more, from general knowledge and not from the readers' own table.
"""

from __future__ import annotations

import numpy as np

from tests.readers.corpus import Case, Truth

FREQUENCY = (
    *("Freq", "Frequency", "FREQ", "f", "F", "Freq.", "Test Freq", "Frequenz", "Messfrequenz"),
    *("Fréquence", "Frecuencia", "Frequenza", "频率", "测试频率"),
)
HERTZ = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "HZ": 1.0, "KHZ": 1e3, "hz": 1.0, "khz": 1e3}
NAMES = {
    "R": ("R", "Resistance", "Re(Z)", "Real(Z)", "Zre", "Z_real", "Z'", "Widerstand", "Résistance",
          "Resistencia", "Resistenza", "电阻", "Z.real"),
    "X": ("X", "Reactance", "Im(Z)", "Imag(Z)", "Zim", "Z_imag", "Z''", "Reaktanz", "Réactance",
          "Reactancia", "Reattanza", "电抗", "Z.imag"),
    "Z": ("|Z|", "Z", "Zabs", "Z_abs", "Impedance", "Impedance |Z|", "mag(Z)", "Impedanz",
          "Scheinwiderstand", "Impédance", "Impedancia", "Impedenza", "阻抗",
          "Impedance Magnitude"),
    "T": ("Theta", "Phase", "Phase angle", "θ", "φ", "arg(Z)", "Phase(Z)", "Phasenwinkel", "Fase",
          "Ángulo de fase", "相位角", "Z phase", "Impedance Phase"),
    "Ls": ("Ls", "LS", "L_s", "Inductance Ls", "Series Inductance", "Serieninduktivität",
           "串联电感"),
    "Lp": ("Lp", "LP", "L_p", "Parallel inductance", "Parallelinduktivität"),
    "Cs": ("Cs", "CS", "C_s", "Series capacitance", "Serienkapazität"),
    "Cp": ("Cp", "CP", "C_p", "Parallel capacitance", "C parallel", "Parallelkapazität"),
    "Rs": ("Rs", "ESR", "R_s", "Series resistance", "Serienwiderstand"),
    "Rp": ("Rp", "R_p", "Parallel resistance", "Parallelwiderstand"),
    "Q": ("Q", "Q factor", "Quality factor", "Güte", "Facteur de qualité", "Factor de calidad",
          "Fattore di qualità", "品质因数"),
    "D": ("D", "DF", "tan d", "tan δ", "Dissipation factor", "Verlustfaktor", "损耗"),
    "G": ("G", "Conductance", "Re(Y)", "Leitwert", "电导"),
    "B": ("B", "Susceptance", "Im(Y)", "Suszeptanz", "电纳"),
}  # fmt: skip
DEGREE = np.pi / 180
UNITS = {
    "ohm": {"ohm": 1.0, "Ohm": 1.0, "Ω": 1.0, "OHM": 1.0, "kOhm": 1e3, "kΩ": 1e3, "mΩ": 1e-3},
    "H": {"H": 1.0, "mH": 1e-3, "uH": 1e-6, "µH": 1e-6, "μH": 1e-6, "UH": 1e-6},
    "F": {"F": 1.0, "nF": 1e-9, "pF": 1e-12, "uF": 1e-6, "PF": 1e-12},
    "S": {"S": 1.0, "mS": 1e-3, "uS": 1e-6, "Siemens": 1.0},
    "angle": {"deg": DEGREE, "°": DEGREE, "rad": 1.0, "degrees": DEGREE, "DEG": DEGREE},
    "": {"": 1.0},
}
DIMENSION = {
    **dict.fromkeys(("R", "X", "Z", "Rs", "Rp"), "ohm"),
    **dict.fromkeys(("Ls", "Lp"), "H"),
    **dict.fromkeys(("Cs", "Cp"), "F"),
    **dict.fromkeys(("G", "B"), "S"),
    "T": "angle",
    "Q": "",
    "D": "",
}
PAIRS = (
    *(("R", "X"), ("Z", "T"), ("Ls", "Q"), ("Ls", "Rs"), ("Lp", "Q"), ("Lp", "Rp"), ("Cp", "D")),
    *(("Cs", "D"), ("Cp", "G"), ("Cp", "Rp"), ("G", "B"), ("Cs", "Rs"), ("Cp", "Q"), ("Cs", "Q")),
)
WRAPS = ("{n} ({u})", "{n}({u})", "{n} [{u}]", "{n}[{u}]", "{n}/{u}", "{n}_{u}", "{n} in {u}")
FORMS = ("{:.8E}", "{:.10g}", "{:+.8E}", "{:.9e}", "{:.12f}", "{!r}")
ABOVE = (
    [],
    ["# comment"],
    ["Instrument: bench meter", "Date: 2026-03-01 10:22", "Level: 1 V", ""],
    ["Setup;a", "Average;4", "Operator;J. Doe", ""],
    ['"Title","my sweep"', '"Averages","8"'],
    ["%", "% TITLE: sweep", "%"],
    ["data log", "================", ""],
    ["[Header]", "Start=1000", "Stop=1000000", "Points=51", "[Data]"],
)


def _pick(rng: np.random.Generator, choices):
    choices = list(choices)
    return choices[rng.integers(len(choices))]


def _quantities(f, z):
    w, y = 2 * np.pi * f, 1 / z
    return {
        "R": z.real, "X": z.imag, "Z": abs(z), "T": np.angle(z), "Rs": z.real, "Rp": 1 / y.real,
        "Ls": z.imag / w, "Lp": -1 / (w * y.imag), "Cs": -1 / (w * z.imag), "Cp": y.imag / w,
        "Q": abs(z.imag) / z.real, "D": z.real / abs(z.imag), "G": y.real, "B": y.imag,
    }  # fmt: skip


def _part(rng, f):
    w = 2 * np.pi * f
    kind = rng.integers(3)
    if kind == 0:
        return 10 ** rng.uniform(-1, 2) + 1j * w * 10 ** rng.uniform(-6, -2)
    if kind == 1:
        return 10 ** rng.uniform(-2, 1) + 1 / (1j * w * 10 ** rng.uniform(-11, -7))
    inductance, f0 = 10 ** rng.uniform(-5, -2), np.sqrt(f[0] * f[-1])
    r = 2 * np.pi * f0 * inductance / 10 ** rng.uniform(0.5, 2)
    return 1 / (1 / (r + 1j * w * inductance) + 1j * w / ((2 * np.pi * f0) ** 2 * inductance))


def _axis(rng):
    points, low = int(rng.integers(15, 80)), 10 ** rng.uniform(2.5, 5)
    spaced = np.geomspace if rng.random() < 0.7 else np.linspace
    return np.array(
        [float(f"{x:.7g}") for x in spaced(low, low * 10 ** rng.uniform(0.3, 2.5), points)]
    )


class _Page:
    """A table on its way to a text: columns with headings and units, in one style."""

    def __init__(self, rng, heads, units, columns):
        self.rng, self.delimiter = rng, _pick(rng, (",", ";", "\t", "|", " "))
        if self.delimiter == " " and any(" " in head for head in heads):
            self.delimiter = "\t"
        wrap = _pick(rng, WRAPS)
        if self.delimiter == " ":
            wrap = wrap.replace(" ", "") if " in " not in wrap else "{n}({u})"
        comma = self.delimiter != "," and rng.random() < 0.3
        form = _pick(rng, FORMS if min(map(_smallest, columns)) > 1e-3 else FORMS[:4])
        cells = [[form.format(float(x)) for x in column] for column in columns]
        if comma:
            cells = [[cell.replace(".", ",") for cell in column] for column in cells]
        self.rows = [self.delimiter.join(row) for row in zip(*cells, strict=True)]
        if rng.random() < 0.25:
            self.top = [self.delimiter.join(heads), self.delimiter.join(u or "-" for u in units)]
        else:
            named = [wrap.format(n=n, u=u) if u else n for n, u in zip(heads, units, strict=True)]
            self.top = [self.delimiter.join(named)]
        self.above = _pick(rng, ABOVE)

    def text(self, *, closed=True) -> bytes:
        end = _pick(self.rng, ("\n", "\r\n"))
        text = end.join([*self.above, *self.top, *self.rows]) + (end if closed else "")
        try:
            return text.encode(_pick(self.rng, ("utf-8", "utf-8-sig", "utf-16", "cp1252")))
        except UnicodeEncodeError:
            return text.encode("utf-8")


def _smallest(column) -> float:
    return float(np.abs(column).min())


def _sweep(rng):
    f = _axis(rng)
    z = _part(rng, f)
    unit = _pick(rng, HERTZ)
    heads, units, columns = [_pick(rng, FREQUENCY)], [unit], [f / HERTZ[unit]]
    for name in _pick(rng, PAIRS):
        unit = _pick(rng, UNITS[DIMENSION[name]])
        heads.append(_pick(rng, NAMES[name]))
        units.append(unit)
        columns.append(_quantities(f, z)[name] / UNITS[DIMENSION[name]][unit])
    return _Page(rng, heads, units, columns), Truth(axis=f, values=z, rtol=3e-4)


def sweep_file(rng: np.random.Generator) -> Case:
    """A sweep in a style drawn by chance."""
    page, truth = _sweep(rng)
    if rng.random() < 0.2:
        page.rows.reverse()
    return Case(variant=0, form="style", name="sweep.csv", data=page.text(), truth=[truth])


def record_file(rng: np.random.Generator) -> Case:
    """A record over time in a style drawn by chance."""
    points = int(rng.integers(20, 120))
    step = float(f"{10 ** rng.uniform(-9, -3):.6g}")
    t = (np.arange(points) - rng.integers(0, 9)) * step
    v = np.exp(-np.arange(points) / 40) * np.cos(np.arange(points) * 0.7)
    unit, factor = _pick(rng, {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9}.items())
    volt, size = _pick(rng, {"V": 1.0, "mV": 1e-3, "Volt": 1.0}.items())
    heads = [
        _pick(rng, ("Time", "t", "Zeit", "Temps", "Tiempo", "TIME", "时间")),
        _pick(rng, ("CH1", "Channel 1", "Voltage", "C1", "Kanal 1", "Spannung", "Ampl", "电压")),
    ]
    page = _Page(rng, heads, [unit, volt], [t / factor, v / size])
    truth = Truth(axis=t, values=v, rtol=1e-5)
    return Case(variant=0, form="style", name="record.csv", data=page.text(), truth=[truth])


def ratio_file(rng: np.random.Generator) -> Case:
    """One S-parameter in a style drawn by chance."""
    f = _axis(rng)
    f0 = np.sqrt(f[0] * f[-1])
    s = 0.95 * np.exp(-2j * np.pi * f / f[-1]) * (1 - 1 / (1 + 30j * (f / f0 - f0 / f))) + 0.01
    name, unit = _pick(rng, ("S11", "S21", "S12", "S22")), _pick(rng, HERTZ)
    decibel, degrees = 20 * np.log10(abs(s)), np.degrees(np.angle(s))
    heads, units, columns = _pick(
        rng,
        (
            ((f"{name}", f"Phase({name})"), ("dB", "deg"), (decibel, degrees)),
            ((f"dB({name})", f"{name} Phase"), ("", "°"), (decibel, degrees)),
            ((f"Mag({name})", f"arg({name})"), ("", "rad"), (abs(s), np.angle(s))),
            ((f"{name} mag", f"{name}"), ("", "deg"), (abs(s), degrees)),
            ((f"Re({name})", f"Im({name})"), ("", ""), (s.real, s.imag)),
            ((f"{name}_re", f"{name}_im"), ("", ""), (s.real, s.imag)),
        ),
    )
    page = _Page(rng, [_pick(rng, FREQUENCY), *heads], [unit, *units], [f / HERTZ[unit], *columns])
    truth = Truth(axis=f, values=s, rtol=1e-5)
    return Case(variant=0, form="style", name="ratio.csv", data=page.text(), truth=[truth])


def damaged_file(rng: np.random.Generator) -> Case:
    """A sweep with one to three kinds of damage; the truth holds the whole sweep."""
    page, truth = _sweep(rng)
    closed = True
    for _ in range(rng.integers(1, 4)):
        at = int(rng.integers(1, len(page.rows) - 1))
        if page.rows[at].count(page.delimiter) < 2:
            continue
        damage = _pick(rng, DAMAGES)
        closed = damage(page.rows, at, page.delimiter) and closed
    return Case(
        variant=0, form="style", name="bad.csv", data=page.text(closed=closed), truth=[truth]
    )


def _overload(rows, at, delimiter):
    rows[at] = delimiter.join([*rows[at].split(delimiter)[:-1], "9.9E37"])
    return True


def _ruled(rows, at, delimiter):
    rows[at] = delimiter.join([*rows[at].split(delimiter)[:-1], "----"])
    return True


def _cell_lost(rows, at, delimiter):
    rows[at] = delimiter.join(rows[at].split(delimiter)[:-1])
    return True


def _cell_more(rows, at, delimiter):
    rows[at] += f"{delimiter}1"
    return True


def _words(rows, at, _delimiter):
    rows[at] = "link lost, please wait"
    return True


def _text_cell(rows, at, delimiter):
    cells = rows[at].split(delimiter)
    rows[at] = delimiter.join([cells[0], "abc", *cells[2:]])
    return True


def _doubled(rows, at, _delimiter):
    rows.insert(at, rows[at])
    return True


def _swapped(rows, at, _delimiter):
    rows[at - 1], rows[at] = rows[at], rows[at - 1]
    return True


def _blank(rows, at, _delimiter):
    rows.insert(at, "")
    return True


def _remark(rows, at, _delimiter):
    rows.insert(at, "# marker")
    return True


def _zero_frequency(rows, at, delimiter):
    rows[at] = delimiter.join(["0", *rows[at].split(delimiter)[1:]])
    return True


def _cut_off(rows, _at, _delimiter):
    rows[-1] = rows[-1][: max(len(rows[-1]) * 2 // 3, 1)]
    return False


DAMAGES = (
    *(_overload, _ruled, _cell_lost, _cell_more, _words, _text_cell, _doubled, _swapped, _blank),
    *(_remark, _zero_frequency, _cut_off),
)
