"""Lines to tables: where the numbers stand, what heads them, what surrounds them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.readers.dialect import Dialect, bare, detect, is_comment, split
from benchapp.readers.document import Document
from benchapp.readers.heading import is_units_row
from benchapp.readers.notes import Notes
from benchapp.readers.number import Cell, proves, read_cell

__all__ = ["Layout", "Table", "lay_out"]

_NUMERIC = "NU"
_PAIR = re.compile(r"\s*([^:=]{1,60}?)\s*[:=]\s*(.*?)\s*")
_TITLE = re.compile(
    r"(?:\[?(?:sweep|segment|trace|run|block|measurement|data ?set|begin|var)\b[\s#:=_-]*\w{0,12}\]?)$",
    re.IGNORECASE,
)
_LONGEST = 100_000
_MANY_LINES = 3
_ABOVE = 8
_MOST_FACTS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One block of rows with the same cells.

    ``values`` (N, K) holds NaN where a cell is no number; ``marks`` gives the text of those cells
    by (row, column); ``units`` is the units row, or the unit that the cells of a column carry.
    """

    headings: tuple[str, ...]
    units: tuple[str, ...]
    values: NDArray[np.float64]
    marks: dict[tuple[int, int], str]
    lines: NDArray[np.int64]
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The tables of a file, and the names and values that stand around them."""

    dialect: Dialect
    tables: tuple[Table, ...]
    facts: dict[str, str] = field(default_factory=dict)
    comments: tuple[str, ...] = ()


@dataclass(slots=True)
class _Row:
    line: int
    texts: list[str]
    cells: list[Cell]

    @property
    def numbers(self) -> int:
        return sum(cell.kind in _NUMERIC for cell in self.cells)


@dataclass(slots=True)
class _Block:
    """Rows of one width that belong together; ``odd`` are rows among them of another width."""

    rows: list[_Row]
    divided: bool
    loose: list[int] = field(default_factory=list)
    odd: list[_Row] = field(default_factory=list)

    @property
    def width(self) -> int:
        return len(self.rows[0].texts)

    @property
    def weight(self) -> int:
        return sum(row.numbers for row in self.rows)


def lay_out(document: Document, notes: Notes) -> Layout:
    """Find the tables of a text file.

    Raises
    ------
    ReadError
        When no rows of numbers are there, or two decimal marks are mixed.
    """
    where = document.source.path
    dialect = detect(document.lines, notes, where)
    blocks = _merged(_blocks(document.lines, dialect))
    if not blocks:
        raise ReadError(
            f"{where}: must hold rows of numbers (got none).",
            hint="Export the measurement as a table of numbers with a heading.",
        )
    main = max(blocks, key=lambda block: block.weight)
    chosen = [block for block in blocks if block is main or _is_like(block, main)]
    _refuse_mixed_marks(chosen, dialect, where)
    tables: list[Table] = []
    for block in chosen:
        _note_misfits(block, document, notes)
        tables.append(_table(block, document.lines, dialect, tables[-1] if tables else None))
    return Layout(
        dialect=dialect, tables=tuple(tables), facts=_facts(document.lines, chosen, dialect)
    )


def _blocks(lines: Sequence[str], dialect: Dialect) -> list[_Block]:
    """Gather rows that hold numbers into blocks of equal width, parted by headings."""
    blocks: list[_Block] = []
    pending: list[int] = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        row = None if is_comment(line) else _row(number, line, dialect)
        if row is None:
            pending.append(number)
            continue
        divided = not blocks or _divides([lines[at - 1] for at in pending], row, dialect)
        if divided or blocks[-1].width != len(row.texts):
            blocks.append(_Block(rows=[row], divided=divided))
        else:
            blocks[-1].loose += pending
            blocks[-1].rows.append(row)
        pending = []
    return blocks


def _row(number: int, line: str, dialect: Dialect) -> _Row | None:
    texts = split(line[:_LONGEST], dialect.delimiter)
    cells = [read_cell(text, dialect.marks) for text in texts]
    numbers = sum(cell.kind in _NUMERIC for cell in cells)
    filled = sum(cell.kind in "NUT" for cell in cells)
    marked = sum(cell.kind == "S" for cell in cells)
    if 2 * numbers < filled or not (numbers or marked > 1):
        return None
    return _Row(line=number, texts=texts, cells=cells)


def _divides(texts: list[str], row: _Row, dialect: Dialect) -> bool:
    """Tell whether the lines between two rows part them: a heading, a title, or many lines."""
    plain = [text for text in texts if not is_comment(text)]
    return len(plain) >= _MANY_LINES or any(
        _TITLE.match(bare(text)) or _is_heading(_cells_of(text, len(row.texts), dialect))
        for text in texts
    )


def _is_heading(cells: list[str] | None) -> bool:
    if cells is None or len(cells) < 2:
        return False
    named = [cell for cell in cells if re.search(r"[^\W\d_]|[|°Ω]", cell)]
    return 2 * len(named) > len(cells) and len(named) >= 2


def _cells_of(line: str, width: int, dialect: Dialect) -> list[str] | None:
    """Part a heading line so that it has ``width`` cells; None where that cannot be done."""
    text = bare(line) if is_comment(line) else line
    for delimiter in dict.fromkeys([dialect.delimiter, ",", ";", "\t", "|", " "]):
        cells = split(text, delimiter)
        while len(cells) > width and not cells[-1]:
            cells.pop()
        if len(cells) == width:
            return cells
        if len(cells) == 2 * width and all(cells):
            return [f"{cells[at]} ({cells[at + 1]})" for at in range(0, 2 * width, 2)]
    return None


def _merged(blocks: list[_Block]) -> list[_Block]:
    """Join blocks that only a few rows of another width keep apart."""
    merged: list[_Block] = []
    for block in blocks:
        last = merged[-1] if merged else None
        if last is None or block.divided:
            merged.append(block)
        elif block.width == last.width:
            last.rows += block.rows
            last.loose += block.loose
        elif len(block.rows) <= 2 < len(last.rows):
            last.odd += block.rows
        else:
            merged.append(block)
    return merged


def _is_like(block: _Block, main: _Block) -> bool:
    """Tell whether a block is another table of the same file rather than preamble or footer."""
    if block.width == main.width:
        return _majority(block)[0] == _majority(main)[0] or len(block.rows) >= 3
    return len(block.rows) >= 3 and block.width > 1 and "T" not in _majority(block)


def _majority(block: _Block) -> str:
    """Give the usual kind of cell in each column: a number wherever numbers are not rare."""
    kinds = []
    for column in range(block.width):
        counts = Counter(row.cells[column].kind for row in block.rows)
        numeric = counts["N"] + counts["U"]
        if numeric >= max(counts["T"], 1):
            kinds.append("U" if counts["U"] > counts["N"] else "N")
        else:
            kinds.append(max(counts, key=lambda kind: counts[kind]))
    return "".join(kinds)


def _refuse_mixed_marks(blocks: list[_Block], dialect: Dialect, where: str) -> None:
    other = "," if dialect.marks.decimal == "." else "."
    for block in blocks:
        wrong = [
            (row.line, text)
            for row in block.rows
            for text, cell in zip(row.texts, row.cells, strict=True)
            if cell.kind == "T" and proves(text, other)
        ]
        if len({line for line, _ in wrong}) > max(1, len(block.rows) // 50):
            line, text = wrong[0]
            raise ReadError(
                f"{where}, line {line}: numbers must have one decimal mark in the whole file "
                f"(got {text!r} among numbers with a {'point' if other == ',' else 'comma'}).",
                hint="Export it again with one decimal mark.",
            )


def _note_misfits(block: _Block, document: Document, notes: Notes) -> None:
    for row in block.odd:
        last = row.line == len(document.lines) and len(row.texts) < block.width
        cut = "the last row is cut short: " if last else ""
        notes.drop(row.line, f"{cut}{len(row.texts)} cells where the table has {block.width}")
    for line in block.loose:
        if not is_comment(document.lines[line - 1]):
            notes.drop(line, "a line of text among the rows")


def _table(block: _Block, lines: Sequence[str], dialect: Dialect, before: Table | None) -> Table:
    majority = _majority(block)
    width = block.width
    headings, units, title = _heading(block, lines, dialect)
    if not any(headings) and before is not None and len(before.headings) == width:
        headings, units = before.headings, before.units
    values = np.full((len(block.rows), width), np.nan)
    marks: dict[tuple[int, int], str] = {}
    carried = list(units)
    for at, row in enumerate(block.rows):
        for column, cell in enumerate(row.cells):
            if cell.kind == "N" or (cell.kind == "U" and majority[column] == "U"):
                values[at, column] = cell.value
                carried[column] = cell.unit if cell.kind == "U" else carried[column]
            elif cell.kind != "B":
                marks[at, column] = row.texts[column]
    return Table(
        headings=headings,
        units=tuple(carried),
        values=values,
        marks=marks,
        lines=np.array([row.line for row in block.rows], dtype=np.int64),
        title=title,
    )


def _heading(
    block: _Block, lines: Sequence[str], dialect: Dialect
) -> tuple[tuple[str, ...], tuple[str, ...], str]:
    """Find the heading and the units row above a block, and its title."""
    width = block.width
    empty = ("",) * width
    found: list[tuple[str, ...]] = []
    title = ""
    for line in reversed(lines[max(block.rows[0].line - 1 - _ABOVE, 0) : block.rows[0].line - 1]):
        if not line.strip():
            continue
        cells = _cells_of(line, width, dialect)
        if len(found) < 2 and cells is not None and _is_heading_or_units(cells):
            found.append(tuple(cells))
        elif _TITLE.match(bare(line)):
            title = bare(line)
            break
        elif found or not is_comment(line):
            break
    if len(found) == 2 and not is_units_row(found[0]):
        found.pop()
    if not found:
        return empty, empty, title
    if len(found) == 2:
        return found[1], tuple(cell.strip("()[]{} ") for cell in found[0]), title
    return found[0], empty, title


def _is_heading_or_units(cells: list[str]) -> bool:
    return is_units_row(tuple(cells)) or _is_heading(cells)


def _facts(lines: Sequence[str], blocks: list[_Block], dialect: Dialect) -> dict[str, str]:
    """Gather names and values from every line outside the tables."""
    inside = {row.line for block in blocks for row in block.rows}
    facts: dict[str, str] = {}
    for number, line in enumerate(lines[:_MOST_FACTS], start=1):
        if number in inside or not line.strip():
            continue
        text = bare(line)
        pair = _PAIR.fullmatch(text)
        cells = [cell for cell in split(text, dialect.delimiter) if cell]
        if pair:
            facts.setdefault(pair[1].lower(), pair[2].strip(" \t,;"))
        elif len(cells) >= 2:
            for name, value in zip(cells[0::2], cells[1::2], strict=False):
                facts.setdefault(name.rstrip(":=").strip().lower(), value)
    return facts
