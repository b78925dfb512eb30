"""Sheets of text as foreign instruments and programs write them, and the damages they suffer.

Nothing of the readers is used here: the bytes are made from known arrays with plain numpy, and
the truth stands beside them. Points are compared with the arrays, never with another reading.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One capture that a file holds.

    ``kind``: ``impedance`` (complex, ohm), ``size`` (|Z| alone), ``ratio`` (complex S or gain),
    ``level`` (its magnitude alone), ``voltage`` (over time, V). ``part`` is the serial if stated.
    """

    kind: str
    x: np.ndarray
    y: np.ndarray
    part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreign:
    """One file of the corpus: its bytes and what they say."""

    variant: int
    style: str
    name: str
    data: bytes
    traces: tuple[Trace, ...]
    damages: tuple[str, ...] = ()
    open_end: str = ""  # what no reader can know from this file and therefore has to ask
    hit: frozenset[int] = frozenset()  # the lines, from 1, that the damages touched

    @property
    def title(self) -> str:
        return f"{self.variant:02d}-{self.style}"


@dataclass(slots=True, kw_only=True)
class Sheet:
    """Lines of a file before they become bytes; a data row is a list, any other line a string."""

    comma: bool = False
    delimiter: str = ","
    newline: str = "\n"
    encoding: str = "utf-8"
    bom: bytes = b""
    name: str = "export.csv"
    trailing: str = ""
    quoted: bool = False
    timeless: bool = False  # rows without their place in time: a lost one cannot be noticed
    open_end: str = ""
    lines: list = field(default_factory=list)
    traces: list = field(default_factory=list)

    def __post_init__(self):
        if self.comma and self.delimiter == "," and not self.quoted:
            self.delimiter = ";"

    def number(self, value, spec=".6E"):
        text = format(value, spec)
        return text.replace(".", ",") if self.comma else text

    def text(self, *lines):
        self.lines.extend(lines)

    def head(self, *cells):
        self.lines.append(self._join(list(cells)))

    def rows(self, *columns, spec=".6E"):
        specs = [spec] * len(columns) if isinstance(spec, str) else spec
        for cells in zip(*columns, strict=True):
            self.lines.append(
                [
                    cell if isinstance(cell, str) else self.number(cell, one)
                    for cell, one in zip(cells, specs, strict=True)
                ]
            )

    def holds(self, kind, x, y, part=None):
        self.traces.append(Trace(kind=kind, x=np.asarray(x), y=np.asarray(y), part=part))

    def _join(self, line):
        if isinstance(line, str):
            return line
        cells = [f'"{cell}"' for cell in line] if self.quoted else line
        return self.delimiter.join(cells) + self.trailing

    def encode(self):
        text = self.newline.join(self._join(line) for line in self.lines) + self.newline
        return self.bom + text.encode(self.encoding)

    def data_rows(self):
        return [index for index, line in enumerate(self.lines) if isinstance(line, list)]


SENTINELS = ("9.9E37", "9.90000E+37", "OL", "----", "NaN", "-999", "", "****", "1.#INF", "#N/A")
GARBAGE = (
    "@@@ buffer overrun @@@",
    "ERR -230 stale data",
    "}{|~^ 7f 7f 03",
    "*** operator pressed pause ***",
    "Zeitüberschreitung am Eingang",
)
FOOTERS = (
    ("", "End of export, rows written: {rows}"),
    ("Mean;;;", "Std. dev.;;;"),
    ("", "checksum 5F1A", "-- end --"),
    ("# finished without remarks",),
    ("", "Limits: none active"),
)


def _inner(sheet, rng):
    """Some data row with data rows before and after it."""
    rows = sheet.data_rows()
    return rows[int(rng.integers(2, len(rows) - 3))]


def _garbage(sheet, rng):
    line = str(rng.choice(GARBAGE))
    try:
        line.encode(sheet.encoding)
    except UnicodeEncodeError:
        line = GARBAGE[0]
    sheet.lines.insert(_inner(sheet, rng), line)


def _doubled(sheet, rng):
    row = _inner(sheet, rng)
    sheet.lines.insert(row, list(sheet.lines[row]))


def _swapped(sheet, rng):
    row = _inner(sheet, rng)
    if isinstance(sheet.lines[row + 1], list):
        sheet.lines[row], sheet.lines[row + 1] = sheet.lines[row + 1], sheet.lines[row]


def _sentinel(sheet, rng):
    row = sheet.lines[_inner(sheet, rng)]
    row[int(rng.integers(min(1, len(row) - 1), len(row)))] = str(rng.choice(SENTINELS))


def _cut(sheet, rng):
    row = sheet.lines[_inner(sheet, rng)]
    column = int(rng.integers(0, len(row)))
    row[column] = row[column][: len(row[column]) // 2]


def _glued(sheet, rng):
    row = sheet.lines[_inner(sheet, rng)]
    if len(row) > 1:
        column = int(rng.integers(0, len(row) - 1))
        row[column : column + 2] = [row[column].rstrip() + row[column + 1].lstrip()]


def _footer(sheet, rng):
    chosen = FOOTERS[int(rng.integers(len(FOOTERS)))]
    sheet.lines.extend(line.format(rows=len(sheet.data_rows())) for line in chosen)


ON_ROWS = {
    "garbage": _garbage,
    "doubled": _doubled,
    "swapped": _swapped,
    "sentinel": _sentinel,
    "cut": _cut,
    "glued": _glued,
    "footer": _footer,
}
TIMELESS = ("doubled", "swapped")


def _width(sheet):
    return len("a".encode(sheet.encoding))


def _truncated(sheet, rng, data):
    """Cut inside the last data row, wherever that is."""
    last = sheet._join(sheet.lines[sheet.data_rows()[-1]]).encode(sheet.encoding)
    at = data.rfind(last)
    width = _width(sheet)
    keep = int(rng.integers(1, max(2, len(last) // width - 1))) * width
    return data[: at + keep]


def _stray(data, rng, sheet, what):
    half = len(data) // 2
    at = data.find(sheet.newline.encode(sheet.encoding), half)
    at = half if at < 0 else at + len(sheet.newline.encode(sheet.encoding))
    at += int(rng.integers(0, 2)) * _width(sheet)
    return data[:at] + what.encode(sheet.encoding) + data[at:]


def _null(sheet, rng, data):
    return _stray(data, rng, sheet, "\0")


def _mark(sheet, rng, data):
    unicode = sheet.encoding.startswith("utf")
    at = len(data) // 2
    at = data.find(sheet.newline.encode(sheet.encoding), at)
    if at < 0:
        return data
    at += len(sheet.newline.encode(sheet.encoding))
    mark = "\ufeff".encode(sheet.encoding) if unicode else b"\xef\xbb\xbf"
    return data[:at] + mark + data[at:]


def _mixed_ends(sheet, rng, data):
    old = sheet.newline.encode(sheet.encoding)
    pieces = data.split(old)
    ends = [text.encode(sheet.encoding) for text in ("\n", "\r\n", "\r\n", "\n")]
    out = b"".join(piece + ends[int(rng.integers(4))] for piece in pieces[:-1])
    return out + pieces[-1]


ON_BYTES = {"truncated": _truncated, "null": _null, "mark": _mark, "ends": _mixed_ends}


def _lines(sheet, data):
    text = data.decode(sheet.encoding, errors="replace").removeprefix("\ufeff")
    return re.split(r"\r\n|\n|\r", text)


def _touched(whole, damaged):
    """Give the lines of the damaged file, from 1, that are not as they were."""
    found = set()
    compared = SequenceMatcher(a=whole, b=damaged, autojunk=False)
    for kind, _, _, start, stop in compared.get_opcodes():
        if kind != "equal":
            found |= set(range(start + 1, max(stop, start + 1) + 1))
    return frozenset(found)


def finish(variant, style, sheet, rng):
    """Make the file of one sheet, damaged by one or two draws where the style says so."""
    damages = []
    whole = _lines(sheet, sheet.encode())
    if style == "damaged" and len(sheet.data_rows()) >= 8:
        known = [one for one in ON_ROWS if not (sheet.timeless and one in TIMELESS)]
        known += list(ON_BYTES)
        damages = [
            str(one) for one in rng.choice(known, size=int(rng.integers(1, 3)), replace=False)
        ]
    for one in damages:
        if one in ON_ROWS:
            ON_ROWS[one](sheet, rng)
    data = sheet.encode()
    for one in ("ends", "null", "mark", "truncated"):
        if one in damages:
            data = ON_BYTES[one](sheet, rng, data)
    return Foreign(
        variant=variant,
        style=style,
        name=sheet.name,
        data=data,
        traces=tuple(replace(trace) for trace in sheet.traces),
        damages=tuple(damages),
        open_end=sheet.open_end,
        hit=_touched(whole, _lines(sheet, data)) if damages else frozenset(),
    )
