"""Lines to tables: where the numbers stand, what heads them, what surrounds them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from benchapp.errors import ReadError
from benchapp.readers.beside import Table, with_units_beside, without_prefixes
from benchapp.readers.block import Block, Row, blocks_of, is_like, majority_of, merged
from benchapp.readers.caption import LONGEST_HEADING, Heading, heading_of
from benchapp.readers.cut import doubt_short_numbers, looks_cut, mark_cut_cells, shape_of
from benchapp.readers.dialect import Dialect, detect, is_comment, split
from benchapp.readers.document import Document
from benchapp.readers.facts import facts_of
from benchapp.readers.heading import meaning_of
from benchapp.readers.notes import Notes
from benchapp.readers.number import proves, read_cell

__all__ = [
    "MOST_FACTS",
    "Layout",
    "lay_out",
    "misfit",
]

_NUMBERS = re.compile(r"[\d.,;+\-eE \t|\"']*")
MOST_FACTS = 2000
_FEW = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The tables of a file, and the names and values that stand around them."""

    dialect: Dialect
    tables: tuple[Table, ...]
    facts: dict[str, str] = field(default_factory=dict)


def lay_out(document: Document, notes: Notes, dialect: Dialect | None = None) -> Layout:
    """Find the tables of a text file; without ``dialect`` find that first.

    Raises
    ------
    ReadError
        When no rows of numbers are there, or two decimal marks are mixed.
    """
    where = document.source.path
    dialect = dialect or detect(document.lines, notes, where)
    blocks = merged(blocks_of(document.lines, dialect))
    if not blocks:
        raise ReadError(
            f"{where}: must hold rows of numbers (got none).",
            hint="Export the measurement as a table of numbers with a heading.",
        )
    main = max(blocks, key=lambda block: block.weight)
    chosen = [block for block in blocks if block is main or is_like(block, main)]
    for block in chosen:
        _note_misfits(block, document, notes)
        mark_cut_cells(block.rows, dialect.marks.decimal, notes)
        _doubt_short_numbers(block, notes)
    _note_unlike(blocks, chosen, document, notes)
    _refuse_mixed_marks(chosen, document.lines, dialect, where)
    facts: dict[str, str] = {}
    tables: list[Table] = []
    inside = {row.line for block in chosen for row in block.rows}
    for block in chosen:
        heading = heading_of(block.rows[0].line, block.width, document.lines, dialect)
        table, beside = without_prefixes(with_units_beside(_table(block, heading)))
        facts |= heading.facts | beside
        inside.update(heading.lines)
        tables.append(_inheriting(table, tables))
    outside = [
        line
        for number, line in enumerate(document.lines[:MOST_FACTS], start=1)
        if number not in inside
    ]
    # the delimiter of a single column is a guess that must not part the lines above it
    parting = " " if all(table.width == 1 for table in tables) else dialect.delimiter
    return Layout(dialect=dialect, tables=tuple(tables), facts=facts_of(outside, parting) | facts)


def _refuse_mixed_marks(
    blocks: list[Block], lines: Sequence[str], dialect: Dialect, where: str
) -> None:
    """Refuse a file in which more than a row or two write numbers with the other mark."""
    other = "," if dialect.marks.decimal == "." else "."
    for block in blocks:
        suspects = [(row.line, row.texts) for row in block.rows if "T" in row.kinds]
        suspects += [
            (line, split(lines[line - 1][:LONGEST_HEADING], dialect.delimiter))
            for line in block.loose
            if line < block.rows[-1].line
        ]
        wrong = [
            (line, text)
            for line, texts in suspects
            for text in texts
            if read_cell(text, dialect.marks).kind == "T" and proves(text, other)
        ]
        if len({line for line, _ in wrong}) > max(1, len(block.rows) // 50):
            line, text = wrong[0]
            raise ReadError(
                f"{where}, line {line}: numbers must have one decimal mark in the whole file "
                f"(got {text!r} among numbers with a {'point' if other == ',' else 'comma'}).",
                hint="Export it again with one decimal mark.",
            )


def _note_misfits(block: Block, document: Document, notes: Notes) -> None:
    """Part rows that do not belong from a block: of another width, text, remarks at its ends."""
    for row in block.odd:
        last = row.line == len(document.lines)
        notes.drop(row.line, misfit(len(row.texts), block.width, last=last))
    for line in block.loose:
        text = document.lines[line - 1]
        unclosed = line == len(document.lines) and not document.ends_with_line
        if not is_comment(text) and (unclosed or line < block.rows[-1].line):
            notes.drop(line, f"text among the rows ({text.strip()[:30]})")
        elif line == len(document.lines) and not document.ends_with_line and _is_begun(text):
            notes.drop(line, f"the last row is cut short: {text.strip()[:30]}")
    majority = majority_of(block)
    some = any(row.numbers for row in block.rows)
    while len(block.rows) > 1 and (
        _mismatched(block.rows[0], majority) or (some and not block.rows[0].numbers)
    ):
        block.rows.pop(0)
    while len(block.rows) > 1 and _mismatched(block.rows[-1], majority):
        row = block.rows.pop()
        notes.drop(row.line, f"text after the rows ({row.texts[0][:30]})")
    if block.rows[-1].line == len(document.lines):
        _judge_last_row(block, notes, closed=document.ends_with_line)


def _doubt_short_numbers(block: Block, notes: Notes) -> None:
    lines = [row.line for row in block.rows]
    for column in range(block.width):
        texts = [row.texts[column] for row in block.rows]
        values = [row.values[column] for row in block.rows]
        doubt_short_numbers(texts, values, lines, notes)


def _is_begun(line: str) -> bool:
    """Tell whether a line looks like a row of numbers, or like the beginning of one."""
    return bool(line) and _NUMBERS.fullmatch(line) is not None


def _note_unlike(
    blocks: list[Block], chosen: list[Block], document: Document, notes: Notes
) -> None:
    """Say which rows inside a table, and which rows of numbers between tables, are of none."""
    spans = [(block.rows[0].line, block.rows[-1].line) for block in chosen]
    used = {id(block) for block in chosen}
    for block in blocks:
        if id(block) in used:
            continue
        for row in block.rows:
            inside = any(first < row.line < last for first, last in spans)
            between = spans[0][0] < row.line < spans[-1][1]
            last = row.line == len(document.lines) and not document.ends_with_line
            if inside or last or (between and _is_begun(document.lines[row.line - 1])):
                notes.drop(row.line, misfit(len(row.texts), chosen[0].width, last=last))


def _judge_last_row(block: Block, notes: Notes, *, closed: bool) -> None:
    """Set aside a last row whose last number looks cut off.

    Where a line end closes the row, only a shorter exponent than all others have can show it.
    """
    last = block.rows[-1].texts[-1]
    others = [row.texts[-1] for row in block.rows[:-1] if row.kinds[-1] == "N"]
    if closed:
        if not others or shape_of(last)[1] >= shape_of(others[0])[1]:
            return  # quick: no shorter exponent than that of all others
        cut = len({shape_of(text)[1] for text in others}) == 1
    else:
        cut = looks_cut(last, others)
    if cut and len(others) >= _FEW:
        row = block.rows.pop()
        notes.drop(row.line, f"the last row is cut short: it ends in {last!r}")
    elif not closed and len({shape_of(text) for text in others}) > 1:
        reason = "no line end closes it, so that its last number may lack digits"
        notes.assume("last row", "kept", reason, 0.7)


def misfit(cells: int, width: int, *, last: bool) -> str:
    """Say why a row of another width than its table is not used."""
    cut = "the last row is cut short: " if last and cells < width else ""
    return f"{cut}{cells} cells where the table has {width}"


def _mismatched(row: Row, majority: str) -> bool:
    return row.kinds[0] == "T" and majority[0] in "NU"


def _table(block: Block, heading: Heading) -> Table:
    majority = majority_of(block)
    values = np.array([row.values for row in block.rows], dtype=np.float64)
    marks: dict[tuple[int, int], str] = {}
    carried = list(heading.units)
    names = {at for at, name in enumerate(heading.names) if meaning_of(name).role == "serial"}
    for at, row in enumerate(block.rows):
        if row.kinds.strip("N") == "" and "U" not in majority and not names:
            continue
        for column, kind in enumerate(row.kinds):
            if column in names:  # 1995u and 0012 are names, whatever number they look like
                values[at, column] = np.nan
                marks[at, column] = row.texts[column]
            elif kind == "U" and majority[column] == "U":
                carried[column] = row.units[column]
            elif kind not in "NB" or (kind == "N" and majority[column] == "U"):
                values[at, column] = np.nan
                marks[at, column] = row.texts[column]
    lines = np.array([row.line for row in block.rows], dtype=np.int64)
    taken = np.sort(np.concatenate([lines, np.array([row.line for row in block.odd], np.int64)]))
    order = np.searchsorted(taken, lines)
    return Table(
        headings=heading.names,
        units=tuple(carried),
        values=values,
        marks=marks,
        lines=lines,
        order=order - order[0],
        places=tuple(range(block.width)),
        title=heading.title,
        carried=frozenset(at for at, kind in enumerate(majority) if kind == "U"),
    )


def _inheriting(table: Table, before: list[Table]) -> Table:
    if any(table.headings) or not before or before[-1].width != table.width:
        return table
    return replace(table, headings=before[-1].headings, units=before[-1].units)
