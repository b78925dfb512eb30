"""A corpus of capture files as benches write them: 76 layouts, each in three forms.

Each layout is written clean, with decimal commas, and damaged (an overload mark, a row cut short,
a line of text, a last row that was never finished). The writer knows nothing of the readers:
headings, units and formulas stand here once more, written from the definitions. Every file comes
with the arrays that must be read from it.

Groups: A text mechanics (1-16), B what stands around the table (17-30), C impedance tables
(31-46), D network data (47-55), E records over time (56-69), F several sweeps (70-76).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

FORMS = ("clean", "comma", "damaged")
POINTS = 41


@dataclass(frozen=True, kw_only=True)
class Truth:
    """One capture that must be read: its axis and values, and the tolerance of the rounding."""

    axis: np.ndarray
    values: np.ndarray
    rtol: float = 2e-6


@dataclass(frozen=True, kw_only=True)
class Case:
    """One file: its bytes, its name, and what must be read (empty: it must be refused)."""

    variant: int
    form: str
    name: str
    data: bytes
    truth: list[Truth]


# ------------------------------------------------------------------ the part that was measured

F = np.array([float(f"{f:.6g}") for f in np.geomspace(1.0e4, 9.0e5, POINTS)])
W = 2 * np.pi * F
COIL = 1 / (1 / (11.7 + 0.021 * np.sqrt(F) + 1j * W * 1.62e-3) + 1j * W * 12e-12)
CAP = 0.8 + 1 / (1e-6 + 1j * W * 8.68e-10) + 1j * W * 9e-9
TANK = 1 / (1 / (17.5 + 1j * W * 1.62e-3) + 1j * W * 8.68e-10)
T = np.arange(400) * 2.0e-7
RING = 1.9 * np.exp(-T / 1.1e-4) * np.cos(2 * np.pi * 134.2e3 * T + 0.4) + 0.013


def num(value: float, digits: int = 9) -> str:
    return f"{value:.{digits - 1}E}"


def column(values: Iterable[float], digits: int = 9) -> list[str]:
    return [num(value, digits) for value in values]


def plain(values: Iterable[float], digits: int = 10) -> list[str]:
    return [f"{value:.{digits}g}" for value in values]


# ------------------------------------------------------------------ how a sheet becomes a text


@dataclass
class Sheet:
    """Columns of number texts with a decimal point, what stands above and below them."""

    columns: list[list[str]]
    headings: Sequence[str] = ()
    units: Sequence[str] = ()
    above: Sequence[str] = ()
    below: Sequence[str] = ()
    delimiter: str = ","
    end: str = "\n"
    numeric: Sequence[int] | None = None  # positions of columns that hold numbers
    lost: list[int] = field(default_factory=list)

    def text(self, form: str) -> str:
        """Give the whole text; `lost` then holds the rows that cannot be read from it."""
        rows = [list(row) for row in zip(*self.columns, strict=True)]
        numeric = range(len(self.columns)) if self.numeric is None else self.numeric
        delimiter = self.delimiter
        if form == "comma":
            for row in rows:
                for at in numeric:
                    row[at] = row[at].replace(".", ",")
            delimiter = ";" if delimiter == "," else delimiter
        lines = [self._join(row, delimiter) for row in rows]
        if form == "damaged":
            lines = self._damaged(rows, delimiter, numeric)
        head = [line for line in (self.headings, self.units) if line]
        top = [self._join(list(line), delimiter) for line in head]
        above = [line.replace("{d}", delimiter) for line in self.above]
        below = [line.replace("{d}", delimiter) for line in self.below]
        body = self.end.join([*above, *top, *lines, *below])
        return body if form == "damaged" and not below else body + self.end

    def _join(self, row: list[str], delimiter: str) -> str:
        if delimiter == " ":
            return "  ".join(cell.rjust(16) for cell in row)
        return delimiter.join(row)

    def _damaged(self, rows: list[list[str]], delimiter: str, numeric: Iterable[int]) -> list[str]:
        """Overload mark, lost cells, a line of text, a last row that was never finished."""
        last = list(numeric)[-1]
        rows[5][last] = "----" if delimiter != " " else "9.9E37"
        lines = [self._join(row, delimiter) for row in rows]
        lines[9] = self._join(rows[9][: max(len(rows[9]) - 1, 1)], delimiter)
        cut = lines[-1].rstrip()
        lines[-1] = cut[: max(cut.rfind(delimiter), len(cut) // 3)].rstrip(delimiter + " ")
        lines.insert(12, "*** link lost, retry ***")
        self.lost = sorted({5, 9, len(rows) - 1})
        if len(rows[0]) == 1:
            self.lost = [5, len(rows) - 1]
        return lines


def kept(axis: np.ndarray, values: np.ndarray, lost: Iterable[int], rtol: float = 2e-6) -> Truth:
    rows = np.setdiff1d(np.arange(axis.size), list(lost))
    return Truth(axis=axis[rows], values=values[rows], rtol=rtol)


VARIANTS: dict[int, Callable[[str], Case]] = {}


def variant(number: int, name: str, encoding: str = "utf-8"):
    """Register a writer: it gives the text (or bytes) and the truth for a form."""

    def register(write):
        def make(form: str) -> Case:
            text, truth = write(form)[:2]
            data = text if isinstance(text, bytes) else text.encode(encoding)
            return Case(variant=number, form=form, name=name, data=data, truth=truth)

        assert number not in VARIANTS
        VARIANTS[number] = make
        return write

    return register


def each(axis, values, sheet: Sheet) -> list[Truth]:
    """Captures of one table: the overload mark spoils the last column only."""
    last = len(values) - 1
    return [
        kept(axis, v, [row for row in sheet.lost if row != 5 or at == last])
        for at, v in enumerate(values)
    ]


def swept(sheet: Sheet, form: str, values: np.ndarray = COIL, axis: np.ndarray = F, rtol=2e-6):
    """The text of a sheet and the one capture that it must give."""
    text = sheet.text(form)
    return text, [kept(axis, values, sheet.lost, rtol)]


def rx(**changes) -> Sheet:
    """The plainest table: frequency, resistance, reactance."""
    spec = {
        "columns": [plain(F), column(COIL.real), column(COIL.imag)],
        "headings": ("Frequency (Hz)", "R (ohm)", "X (ohm)"),
        **changes,
    }
    return Sheet(**spec)


# ------------------------------------------------------------------ A. text mechanics


@variant(1, "comma.csv")
def _(form):
    if form != "comma":
        return swept(rx(), form)
    sheet = rx(columns=[[f'"{c}"' for c in col] for col in rx().columns])
    text = sheet.text("comma").replace('";"', '","').replace(";", ",")
    return text, [kept(F, COIL, [])]


@variant(2, "semicolon.csv")
def _(form):
    return swept(rx(delimiter=";"), form)


@variant(3, "tab.txt")
def _(form):
    return swept(rx(delimiter="\t"), form)


@variant(4, "pipe.txt")
def _(form):
    return swept(rx(delimiter="|"), form)


@variant(5, "columns.prn")
def _(form):
    return swept(rx(delimiter=" ", headings=("Frequency(Hz)", "R(ohm)", "X(ohm)")), form)


@variant(6, "sep.csv")
def _(form):
    return swept(rx(delimiter=";", above=["sep=;"]), form)


@variant(7, "local.csv")
def _(form):
    sheet = rx(delimiter=";", columns=[plain(F), plain(COIL.real), plain(COIL.imag)])
    return swept(sheet, form)


@variant(8, "quoted.csv")
def _(form):
    comma = form != "damaged"
    quote = [[f'"{c.replace(".", ",") if comma else c}"' for c in col] for col in rx().columns]
    sheet = rx(columns=quote)
    text = sheet.text("clean" if comma else "damaged")
    return text, [kept(F, COIL, sheet.lost)]


@variant(9, "thousands.csv")
def _(form):
    groups = {"clean": ",", "comma": ".", "damaged": "'"}[form]
    point = "," if form == "comma" else "."
    cell = lambda x: f"{x:,.6f}".replace(",", "_").replace(".", point).replace("_", groups)  # noqa: E731
    columns = [[cell(x) for x in col] for col in (F, COIL.real, COIL.imag)]
    sheet = rx(columns=columns, delimiter=";")
    text = sheet.text("damaged" if form == "damaged" else "clean")
    return text, [kept(F, COIL, sheet.lost, 1e-6)]


@variant(10, "regional.csv")
def _(form):
    head = ["!Analyser export", "!Separators{d}local"]
    columns = [column(F), column(COIL.real), column(COIL.imag)]
    return swept(rx(above=head, delimiter=";", columns=columns), form)


@variant(11, "trailing.csv")
def _(form):
    sheet = rx()
    sheet.columns.append([""] * POINTS)
    sheet.headings = (*sheet.headings, "")
    sheet.numeric = [0, 1, 2]
    return swept(sheet, form)


@variant(12, "returns.csv")
def _(form):
    text, truth = swept(rx(), form)
    return text.replace("\n", {"clean": "\r", "comma": "\r\n\r\n", "damaged": "\r\n"}[form]), truth


@variant(13, "encoded.csv")
def _(form):
    unit = {"clean": "µH", "comma": "μH", "damaged": "µH"}[form]
    ohm = {"clean": "Ω", "comma": "Ω", "damaged": "Ω"}[form]
    ls, rs = COIL.imag / W, COIL.real
    heads = ("Freq [kHz]", f"Ls [{unit}]", f"Rs [{ohm}]")
    sheet = Sheet(columns=[plain(F / 1e3), column(ls * 1e6), column(rs)], headings=heads)
    text = sheet.text(form)
    code = {"clean": "utf-8-sig", "comma": "utf-16", "damaged": "cp437"}[form]
    return text.encode(code), [kept(F, COIL, sheet.lost)]


@variant(14, "mangled.csv")
def _(form):
    sheet = rx(columns=[[f'="{x}"' for x in plain(F)], column(COIL.real), column(COIL.imag)])
    text = sheet.text(form)
    lost = list(sheet.lost)
    if form == "damaged":
        lines = text.split("\n")
        lines[20] = '="02. Jan",1.2E+01,3.4E+02'
        text = "\n".join(lines)
        lost.append(18)  # heading, link-lost line and twenty lines before it
    return text, [kept(F, COIL, lost)]


@variant(15, "really.xls")
def _(form):
    if form == "comma":
        return swept(rx(delimiter="\t"), form)
    rows = list(zip(plain(F), column(COIL.real), column(COIL.imag), strict=True))
    lost = []
    if form == "damaged":
        rows[4] = (rows[4][0], "OL", rows[4][2])
        lost = [4]
    cells = "".join("<tr>" + "".join(f"<td>{c}</td>" for c in row) + "</tr>\n" for row in rows)
    head = "<tr><th>Frequency (Hz)</th><th>R (ohm)</th><th>X (ohm)</th></tr>"
    title = "<html><head><title>Export</title></head>"
    page = f"{title}<body><table>{head}\n{cells}</table></body></html>"
    return page, [kept(F, COIL, lost)]


@variant(16, "notation.csv")
def _(form):
    freq = [f"{f / 1e3:.10g}k" if f < 1e5 else num(f).replace("E", "D") for f in F]
    sheet = rx(columns=[freq, column(COIL.real), [x.replace("E", "D") for x in column(COIL.imag)]])
    return swept(sheet, form)


# ------------------------------------------------------------------ B. around the table


@variant(17, "bare.dat")
def _(form):
    return swept(rx(headings=()), form)


@variant(18, "one_row.csv")
def _(form):
    return swept(rx(headings=("frequency_hz", "r_ohm", "x_ohm")), form)


@variant(19, "units_row.csv")
def _(form):
    sheet = rx(
        columns=[plain(F / 1e3), column(COIL.real), column(COIL.imag / 1e3)],
        headings=("Freq", "R", "X"),
        units=("kHz", "Ohm", "kOhm"),
    )
    return swept(sheet, form)


@variant(20, "in_heading.csv")
def _(form):
    sheet = Sheet(
        columns=[plain(F / 1e6), column(COIL.imag / W), column(COIL.real * 1e3)],
        headings=("f/MHz", "Ls,H", "Rs [mOhm]"),
        delimiter=";",
    )
    return swept(sheet, form)


@variant(21, "key_value.csv")
def _(form):
    above = ["Model{d}bench meter", "Date{d}2026-03-04", "Level{d}1 V", "Points{d}41", ""]
    return swept(rx(above=above), form)


@variant(22, "key_equals.txt")
def _(form):
    above = ["[setup]", "Operator: J. Doe", "Start=10 kHz", "Stop = 900 kHz", "Averages: 4"]
    return swept(rx(above=above, delimiter="\t"), form)


@variant(23, "comments.csv")
def _(form):
    mark = {"clean": "!", "comma": "#", "damaged": "%"}[form]
    above = [f"{mark} coil 7, 23 degC", f"{mark} level 1 V", mark]
    return swept(rx(above=above), form)


@variant(24, "blocks.csv")
def _(form):
    above = ["!CSV 1.0", "!Date: 2026-01-05", "BEGIN CH1_DATA"]
    return swept(rx(above=above, below=["END"]), form)


@variant(25, "beside.csv")
def _(form):
    sheet = rx()
    names = ["Model", "Level (V)", "Points", "Sample"]
    values = ["M-1", "1.0", "41", "A7"]
    blank = [""] * POINTS
    left = [[*names, *blank[4:]], [*values, *blank[4:]], blank]
    sheet.columns = [*left, *sheet.columns]
    sheet.headings = ("", "", "", *sheet.headings)
    sheet.numeric = [3, 4, 5]
    return swept(sheet, form)


@variant(26, "sixteen.csv")
def _(form):
    above = [f"Line {n} of the fixed head: text, and more" for n in range(1, 17)]
    return swept(rx(above=above), form)


@variant(27, "again.csv")
def _(form):
    first, second = rx(), rx(columns=[plain(F), column(TANK.real), column(TANK.imag)])
    text = first.text("clean" if form == "damaged" else form) + second.text(form)
    return text, [kept(F, COIL, []), kept(F, TANK, second.lost)]


@variant(28, "footer.csv")
def _(form):
    below = ["", "Mean{d}3.1{d}4.2", "Std{d}0.1{d}0.2", "Limit low{d}1{d}2", "End of file"]
    sheet = rx(below=below)
    text = sheet.text(form)
    if form == "damaged":
        sheet.lost = [5, 9, POINTS - 1]
    return text, [kept(F, COIL, sheet.lost)]


@variant(29, "dump.txt")
def _(form):
    cells = [c for row in zip(*rx().columns, strict=True) for c in row]
    if form == "comma":
        return ";".join(c.replace(".", ",") for c in cells) + "\n", [kept(F, COIL, [])]
    if form == "damaged":
        cells[3 * 7 + 1] = "9.9E37"
        return ",".join(cells), [kept(F, COIL, [7])]
    return ",".join(cells) + "\n", [kept(F, COIL, [])]


@variant(30, "sprache.csv")
def _(form):
    heads = {
        "clean": ("Fréquence (kHz)", "Inductance série (µH)", "Facteur de qualité"),
        "comma": ("Frequenz [kHz]", "Serieninduktivität [µH]", "Güte"),
        "damaged": ("频率(kHz)", "串联电感(µH)", "品质因数"),
    }[form]
    q = COIL.imag / COIL.real
    sheet = Sheet(columns=[plain(F / 1e3), column(COIL.imag / W * 1e6), column(q)], headings=heads)
    text = sheet.text(form)
    code = {"clean": "cp1252", "comma": "cp1252", "damaged": "utf-8"}[form]
    return text.encode(code), [kept(F, COIL, sheet.lost)]


# ------------------------------------------------------------------ C. impedance tables


def pair(form, heads, first, second, values=COIL, **more):
    sheet = Sheet(columns=[plain(F), column(first), column(second)], headings=heads, **more)
    return swept(sheet, form, values)


Y = 1 / COIL
YC = 1 / CAP


@variant(31, "ls_q.csv")
def _(form):
    return pair(form, ("f (Hz)", "Ls (H)", "Q"), COIL.imag / W, COIL.imag / COIL.real)


@variant(32, "ls_rs.csv")
def _(form):
    return pair(form, ("Freq(Hz)", "Ls(H)", "Rs(Ohm)"), COIL.imag / W, COIL.real)


@variant(33, "lp.csv")
def _(form):
    head, loss = {
        "clean": ("Q", abs(Y.imag) / Y.real),
        "comma": ("Rp [Ohm]", 1 / Y.real),
        "damaged": ("G [S]", Y.real),
    }[form]
    return pair(form, ("Freq [Hz]", "Lp [H]", head), -1 / (W * Y.imag), loss)


@variant(34, "capacitor.csv")
def _(form):
    if form == "clean":
        d = CAP.real / abs(CAP.imag)
        return pair(form, ("FREQ(HZ)", "CS(F)", "D"), -1 / (W * CAP.imag), d, CAP)
    head, loss = ("Rp(ohm)", 1 / YC.real) if form == "comma" else ("D", YC.real / YC.imag)
    return pair(form, ("FREQ(HZ)", "CP(F)", head), YC.imag / W, loss, CAP)


@variant(35, "degrees.csv")
def _(form):
    return pair(
        form, ("Freq (Hz)", "|Z| (Ohm)", "Theta (deg)"), abs(COIL), np.angle(COIL, deg=True)
    )


@variant(36, "radian.csv")
def _(form):
    unit = {"clean": " (rad)", "comma": "", "damaged": " [rad]"}[form]
    heads = ("Freq (Hz)", "|Z| (Ohm)", f"Theta{unit}")
    return pair(form, heads, abs(TANK), np.angle(TANK), TANK)


@variant(37, "r_x.csv")
def _(form):
    return pair(form, ("Freq(Hz)", "R", "X"), COIL.real, COIL.imag)


@variant(38, "g_b.csv")
def _(form):
    return pair(form, ("f[Hz]", "G[S]", "B[S]"), Y.real, Y.imag)


@variant(39, "y_phi.csv")
def _(form):
    return pair(form, ("f[Hz]", "|Y|[mS]", "phi[deg]"), abs(Y) * 1e3, np.angle(Y, deg=True))


@variant(40, "a_b.csv")
def _(form):
    q = COIL.imag / COIL.real
    first, second = column(COIL.imag / W, 6), column(q, 6)
    status, bins = ["+0"] * POINTS, ["1"] * POINTS
    first[30] = second[30] = "9.90000E+37"
    status[30] = "+1"
    sheet = Sheet(
        columns=[plain(F), first, second, status, bins],
        headings=("Frequency(Hz)", "Data A", "Data B", "Status", "Bin"),
        above=["Function{d}Ls-Q", "Level{d}1.0 V"],
        numeric=[0, 1, 2],
    )
    text = sheet.text(form)
    return text, [kept(F, COIL, [*sheet.lost, 30], 2e-5)]


@variant(41, "log_f.csv")
def _(form):
    head = {"clean": "log10(f)", "comma": "lg(f/Hz)", "damaged": "log(f)"}[form]
    decade = np.array([float(f"{x:.4f}") for x in np.linspace(4, 5.92, POINTS)])
    f = 10**decade
    z = 1 / (1 / (11.7 + 2j * np.pi * f * 1.62e-3) + 2j * np.pi * f * 12e-12)
    sheet = Sheet(
        columns=[[f"{x:.4f}" for x in decade], column(z.real), column(z.imag)],
        headings=(head, "R (ohm)", "X (ohm)"),
    )
    return swept(sheet, form, z, f)


@variant(42, "omega.csv")
def _(form):
    head = {"clean": "omega (rad/s)", "comma": "ω [1/s]", "damaged": "omega [rad/s]"}[form]
    sheet = rx(columns=[column(W, 11), *rx().columns[1:]], headings=(head, "R (ohm)", "X (ohm)"))
    return swept(sheet, form)


@variant(43, "numbered.csv")
def _(form):
    f = np.linspace(1e5, 2e5, POINTS)
    z = 17.5 + 2j * np.pi * f * 1.62e-3
    sheet = Sheet(
        columns=[[str(n) for n in range(1, POINTS + 1)], column(z.real), column(z.imag)],
        headings=("Point No.", "R (ohm)", "X (ohm)"),
        above=["Start{d}100 kHz", "Stop{d}200 kHz", "Sweep Type{d}LIN", "Points{d}41"],
    )
    return swept(sheet, form, z, f)


@variant(44, "family.csv")
def _(form):
    parts = [COIL, COIL * 1.02, COIL * 0.95]
    if form == "comma":
        columns = [plain(F)]
        heads = ["Frequency (Hz)"]
        for bias, z in zip(("0 A", "1 A", "5 A"), parts, strict=True):
            columns += [column(z.imag / W), column(z.real)]
            heads += [f"Ls @ {bias} (H)", f"Rs @ {bias} (ohm)"]
        sheet = Sheet(columns=columns, headings=heads)
        return sheet.text(form), [kept(F, z, []) for z in parts]
    bias = [b for b in ("0", "1", "5") for _ in range(POINTS)]
    z = np.concatenate(parts)
    sheet = Sheet(
        columns=[bias, plain(F) * 3, column(z.imag / np.tile(W, 3)), column(z.real)],
        headings=("Bias (A)", "Frequency (Hz)", "Ls (H)", "Rs (ohm)"),
    )
    text = sheet.text(form)
    return text, [
        kept(F, part, [row - at * POINTS for row in sheet.lost if at == row // POINTS])
        for at, part in enumerate(parts)
    ]


@variant(45, "coil_100kHz.csv")
def _(form):
    z = 17.5 + 2j * np.pi * 1e5 * 1.62e-3
    values = [num(1.62e-3), num(z.imag / z.real)]
    text = "Ls (H),Q\n" + ",".join(values) + "\n"
    if form == "comma":
        text = "Ls (H);Q\n" + ";".join(values).replace(".", ",") + "\n"
    if form == "damaged":
        text = "Ls (H),Q\n" + ",".join(values) + "\nOL,OL\n"
    return text, [Truth(axis=np.array([1e5]), values=np.array([z]))]


@variant(46, "lot.csv")
def _(form):
    rng = np.random.default_rng(46)
    inductance, q = 1.62e-3 * rng.normal(1, 0.02, 12), rng.normal(80, 3, 12)
    x = 2 * np.pi * 1e5 * inductance
    sheet = Sheet(
        columns=[
            [f"GA12-{n:04d}" for n in range(1, 13)],
            column(inductance * 1e3),
            column(q),
            ["14.2"] * 12,
            ["PASS"] * 12,
        ],
        headings=("Serial", "Ls (mH)", "Q", "DCR (ohm)", "Result"),
        above=["Test frequency{d}100 kHz", "Level{d}1 V"],
        numeric=[1, 2, 3],
    )
    text = sheet.text(form)
    lost = []
    if form == "damaged":
        lost = [9, 11]  # the overload stands in the column of the DC resistance, which is not used
    return text, [
        Truth(axis=np.array([1e5]), values=np.array([x[n] / q[n] + 1j * x[n]]))
        for n in range(12)
        if n not in lost
    ]


# ------------------------------------------------------------------ D. network data

S11 = (TANK - 50) / (TANK + 50)
S21 = 100 / (100 + TANK)
DB = 20 * np.log10(abs(S11))
DEG = np.angle(S11, deg=True)


def scattered(form, heads, columns, values, **more):
    sheet = Sheet(columns=[plain(F), *map(column, columns)], headings=heads, **more)
    text = sheet.text(form)
    return text, each(F, values, sheet)


@variant(47, "db_deg.csv")
def _(form):
    return scattered(form, ("Freq(Hz)", "dB", "deg"), (DB, DEG), [S11])


@variant(48, "lin_deg.csv")
def _(form):
    return scattered(form, ("Freq(Hz)", "Lin Mag", "Phase(deg)"), (abs(S11), DEG), [S11])


@variant(49, "re_im.csv")
def _(form):
    return scattered(form, ("Freq(Hz)", "Re", "Im"), (S11.real, S11.imag), [S11])


@variant(50, "two_port.csv")
def _(form):
    heads = ("Freq(Hz)", "dbS11", "angS11", "dbS21", "angS21")
    if form == "comma":
        heads = ("Freq(Hz)", "S11(DB)", "S11(DEG)", "S21(DB)", "S21(DEG)")
    columns = (DB, DEG, 20 * np.log10(abs(S21)), np.angle(S21, deg=True))
    return scattered(form, heads, columns, [S11, S21])


@variant(51, "display.csv")
def _(form):
    head = ("Freq(Hz)", "S21 Log Mag(dB)", "Imag")
    columns = [plain(F), column(20 * np.log10(abs(S21))), ["0.0"] * POINTS]
    sheet = Sheet(columns=columns, headings=head, above=["! Trace 1"])
    text = sheet.text(form)
    return text, [kept(F, abs(S21) + 0j, [row for row in sheet.lost if row != 5])]


@variant(52, "tank.s1p")
def _(form):
    z = TANK
    option, first, second = {
        "clean": ("  # hz s ma r 50", abs(S11), DEG),
        "comma": ("# RI S HZ R 50", S11.real, S11.imag),
        "damaged": ("#  S  DB   Hz", DB, DEG),
    }[form]
    sheet = Sheet(
        columns=[plain(F), column(first, 11), column(second, 11)],
        above=["! one-port", option, "! after the options", "!f a b"],
        delimiter=" ",
    )
    text = sheet.text(form)
    if form == "damaged":
        text = text.replace("*** link lost", "! link lost").replace("9.9E37", "xx")
    return text, [kept(F, z, sheet.lost, 3e-6)]


@variant(53, "bode.csv")
def _(form):
    gain = TANK / (TANK + 1e4)
    return scattered(
        form,
        ("Frequency (Hz)", "CH2/CH1 (dB)", "Phase (deg)"),
        (20 * np.log10(abs(gain)), np.angle(gain, deg=True)),
        [gain],
    )


@variant(54, "blocks.mdf")
def _(form):
    text, truth = "! two temperatures\n", []
    for temperature, z in ((25, TANK), (85, TANK * 1.01)):
        s = (z - 50) / (z + 50)
        sheet = Sheet(columns=[plain(F), column(s.real, 11), column(s.imag, 11)], delimiter=" ")
        body = sheet.text("damaged" if form == "damaged" and temperature == 85 else "clean")
        if form == "comma":
            body = body.replace(".", ",")
        body = body.replace("*** link lost", "! link lost").rstrip("\n")
        text += (
            f"VAR temp = {temperature}\nBEGIN ACDATA\n# Hz S RI R 50\n% F n11x n11y\n{body}\nEND\n"
        )
        truth.append(kept(F, z, sheet.lost, 3e-6))
    return text, truth


@variant(55, "vswr.csv")
def _(form):
    if form == "comma":
        return scattered(form, ("Frequency (Hz)", "Return Loss (dB)"), (-DB,), [abs(S11) + 0j])
    vswr = (1 + abs(S11)) / (1 - abs(S11))
    sheet = Sheet(columns=[plain(F), column(vswr, 14)], headings=("Frequency (Hz)", "VSWR"))
    text = sheet.text(form)
    return text, [kept(F, abs(S11) + 0j, sheet.lost)]


# ------------------------------------------------------------------ E. records over time


def recorded(sheet: Sheet, form: str, values=(RING,), time=T):
    text = sheet.text(form)
    return text, each(time, values, sheet)


@variant(56, "scope.csv")
def _(form):
    sheet = Sheet(
        columns=[column(T), column(RING), column(RING * 0.5)],
        headings=("Time (s)", "CH1 (V)", "CH2 (V)"),
    )
    return recorded(sheet, form, (RING, RING * 0.5))


@variant(57, "increment.csv")
def _(form):
    index = [str(n) for n in range(T.size)]
    more = [[""] * T.size, [""] * T.size]
    sheet = Sheet(
        columns=[index, column(RING), *more],
        headings=("X", "CH1", "Start", "Increment"),
        units=("Sequence", "Volt", "-1.0e-05", "2.0e-07"),
        numeric=[0, 1],
    )
    if form == "comma":
        sheet.units = ("Sequence", "Volt", "-1,0e-05", "2,0e-07")
    return recorded(sheet, form, time=T - 1e-5)


@variant(58, "no_time.csv")
def _(form):
    point = "," if form == "comma" else "."
    above = [f"Sample Interval: {'2.0E-07'.replace('.', point)} s", "Record Length: 400"]
    sheet = Sheet(columns=[column(RING)], headings=("Voltage (V)",), above=above)
    return recorded(sheet, form)


@variant(59, "counts.csv")
def _(form):
    counts = np.round(RING / 0.02).astype(int)
    point = "," if form == "comma" else "."
    sheet = Sheet(
        columns=[column(T), [str(c) for c in counts]],
        headings=("Time (s)", "CH1 Counts"),
        above=[f"Volts per count{{d}}0{point}02 V", "Offset{d}0 V"],
    )
    return recorded(sheet, form, (counts * 0.02,))


@variant(60, "preamble.txt")
def _(form):
    counts = np.round(RING / 0.02).astype(int) + 128
    numbers = "0,2,400,1,2.0E-07,-1.0E-05,0,2.0E-02,0.0,128"
    cells = [str(c) for c in counts]
    body = "\n".join(cells) if form != "comma" else ",".join(cells)
    if form == "damaged":
        cells[7] = "----"
        body = "\n".join(cells)
    truth = kept(T - 1e-5, (counts - 128) * 0.02, [7] if form == "damaged" else [])
    return f"{numbers}\n{body}\n", [truth]


@variant(61, "own_times.csv")
def _(form):
    late = T + 1e-8
    sheet = Sheet(
        columns=[column(T), column(RING), column(late), column(RING * 0.5)],
        headings=("Time1 (s)", "CH1 (V)", "Time2 (s)", "CH2 (V)"),
    )
    text = sheet.text(form)
    first = [row for row in sheet.lost if row != 5]
    return text, [kept(T, RING, first), kept(late, RING * 0.5, sheet.lost)]


@variant(62, "peaks.csv")
def _(form):
    low, high = RING - 0.1, RING + 0.1
    time = np.repeat(T, 2)
    both = np.stack([low, high], axis=1).reshape(-1)
    sheet = Sheet(columns=[column(time), column(both)], headings=("Time (s)", "CH1 (V)"))
    text = sheet.text("comma" if form == "comma" else "clean")
    return text, [kept(T, low, []), kept(T, high, [])]


@variant(63, "segments.csv")
def _(form):
    number = ["1"] * T.size + ["2"] * T.size
    sheet = Sheet(
        columns=[number, column(np.tile(T, 2)), column(np.concatenate([RING, RING * 0.7]))],
        headings=("Segment", "Time (s)", "CH1 (V)"),
    )
    text = sheet.text(form)
    first = [row for row in sheet.lost if row < T.size]
    second = [row - T.size for row in sheet.lost if row >= T.size]
    return text, [kept(T, RING, first), kept(T, RING * 0.7, second)]


@variant(64, "amplitude.txt")
def _(form):
    sheet = Sheet(columns=[column(RING)], headings=("Voltage (V)",))
    return sheet.text("comma" if form == "comma" else "clean"), []


@variant(65, "screen.csv")
def _(form):
    sheet = Sheet(
        columns=[column(T), column(RING - 0.1), column(RING + 0.1)],
        headings=("Time (s)", "Min (V)", "Max (V)"),
    )
    return recorded(sheet, form, (RING - 0.1, RING + 0.1))


@variant(66, "math.csv")
def _(form):
    sheet = Sheet(
        columns=[column(T), column(RING * 1e-3)], headings=("Time (s)", "Math1 (A)"), delimiter=";"
    )
    return recorded(sheet, form, (RING * 1e-3,))


@variant(67, "before.csv")
def _(form):
    unit, scale = {"clean": ("us", 1e6), "comma": ("ms", 1e3), "damaged": ("ns", 1e9)}[form]
    time = T - 2e-5
    sheet = Sheet(
        columns=[column(time * scale, 12), column(RING * 1e3)],
        headings=(f"Time ({unit})", "CH1 (mV)"),
    )
    text = sheet.text(form)
    return text, [kept(time, RING, sheet.lost)]


@variant(68, "long.csv")
def _(form):
    time = np.arange(60_000) * 1e-8
    volt = np.cos(2 * np.pi * 134.2e3 * time) * np.exp(-time / 1e-4)
    sheet = Sheet(columns=[column(time), column(volt)], headings=("Time (s)", "CH1 (V)"))
    return recorded(sheet, form, (volt,), time)


@variant(69, "C1_0001.csv")
def _(form):
    sheet = Sheet(
        columns=[column(T), column(RING)],
        headings=("Time", "Ampl"),
        units=("s", "V"),
        above=["Channel{d}1", "Points{d}400"],
    )
    return recorded(sheet, form)


# ------------------------------------------------------------------ F. several sweeps


@variant(70, "restart.csv")
def _(form):
    z = np.concatenate([COIL, TANK])
    sheet = rx(columns=[plain(F) * 2, column(z.real), column(z.imag)])
    text = sheet.text(form)
    return text, [
        kept(F, part, [row - at * POINTS for row in sheet.lost if row // POINTS == at])
        for at, part in enumerate((COIL, TANK))
    ]


@variant(71, "sweeps.csv")
def _(form):
    head = "Frequency (Hz){d}R (ohm){d}X (ohm)"
    first = rx(headings=(), above=["Sweep 1", head])
    second = rx(
        headings=(),
        above=["Sweep 2", head],
        columns=[plain(F), column(TANK.real), column(TANK.imag)],
    )
    text = first.text("comma" if form == "comma" else "clean") + second.text(form)
    return text, [kept(F, COIL, []), kept(F, TANK, second.lost)]


@variant(72, "up_down.csv")
def _(form):
    f = np.concatenate([F, F[::-1]])
    z = np.concatenate([COIL, COIL[::-1] * 1.001])
    sheet = rx(columns=[plain(f), column(z.real), column(z.imag)])
    text = sheet.text(form)
    down = [2 * POINTS - 1 - row for row in sheet.lost if row >= POINTS]
    return text, [
        kept(F, COIL, [row for row in sheet.lost if row < POINTS]),
        kept(F, COIL * 1.001, down),
    ]


@variant(73, "side_by_side.csv")
def _(form):
    sheet = Sheet(
        columns=[*rx().columns, plain(F), column(TANK.real), column(TANK.imag)],
        headings=("Frequency (Hz)", "R (ohm)", "X (ohm)") * 2,
    )
    text = sheet.text(form)
    first = [row for row in sheet.lost if row != 5]
    return text, [kept(F, COIL, first), kept(F, TANK, sheet.lost)]


@variant(74, "averages.csv")
def _(form):
    sheet = rx()
    sheet.columns += [column(abs(COIL) * 1e-3), column(abs(COIL) * 1e-3)]
    sheet.headings = (*sheet.headings, "Std R (ohm)", "Std X (ohm)")
    text = sheet.text(form)
    return text, [kept(F, COIL, [row for row in sheet.lost if row != 5])]


@variant(75, "aborted.csv")
def _(form):
    sheet = rx(columns=[column(F), *rx().columns[1:]])
    text = sheet.text("comma" if form == "comma" else "clean")
    cut = {"clean": -25, "comma": -31, "damaged": -6}[form]
    return text[:cut], [kept(F, COIL, [POINTS - 1])]


@variant(76, "repeats.csv")
def _(form):
    rows = [*range(10), 9, *range(10, POINTS)]
    rows[20], rows[21] = rows[21], rows[20]
    columns = rx(columns=[column(F), *rx().columns[1:]]).columns
    sheet = rx(columns=[[col[row] for row in rows] for col in columns])
    text = sheet.text("comma" if form == "comma" else "clean")
    if form == "damaged":
        text += "\n\n"
    return text, [kept(F, COIL, [])]


def cases() -> list[Case]:
    """Every variant in every form."""
    return [make(form) for _, make in sorted(VARIANTS.items()) for form in FORMS]
