"""Lines with numbers to rows, and rows that belong together to blocks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from benchapp.readers.caption import divides
from benchapp.readers.dialect import Dialect, is_comment, plain_rows, split
from benchapp.readers.number import read_cell, read_plain

__all__ = ["Block", "Row", "blocks_of", "is_like", "majority_of", "merged", "row_of"]


_REMARK = re.compile(r"(?<=[\d.])\s+(?:!|//|#(?!N/A|VALUE!|DIV/0!|NUM!|REF!)).*$", re.IGNORECASE)
_LONGEST = 200_000
_SEVERAL = 2
_LONGEST_MARK = 8
_FEW = 2


@dataclass(slots=True)
class Row:
    """One line with numbers: its cells, their kinds (one letter each) and values."""

    line: int
    texts: list[str]
    kinds: str
    values: list[float]
    units: list[str]

    @property
    def numbers(self) -> int:
        """How many cells hold a number."""
        return self.kinds.count("N") + self.kinds.count("U")


@dataclass(slots=True)
class Block:
    """Rows of one width that belong together; ``odd`` are rows among them of another width."""

    rows: list[Row]
    divided: bool
    loose: list[int] = field(default_factory=list)
    odd: list[Row] = field(default_factory=list)

    @property
    def width(self) -> int:
        """How many cells each row has."""
        return len(self.rows[0].texts)

    @property
    def weight(self) -> tuple[bool, int]:
        """How much it looks like the table: several rows count more than one long one."""
        several = len(self.rows) > _FEW and self.rows[0].kinds[0] in "NU"
        kinds = "".join([row.kinds for row in self.rows])
        return several, kinds.count("N") + kinds.count("U")


def blocks_of(lines: Sequence[str], dialect: Dialect) -> list[Block]:
    """Gather rows that hold numbers into blocks of equal width, parted by headings."""
    blocks: list[Block] = []
    pending: list[int] = []
    plain = plain_rows(lines, dialect)
    for number, line in enumerate(lines, start=1):
        cells = plain[number - 1]
        if cells is not None:
            row: Row | None = Row(number, cells[0], "N" * len(cells[0]), cells[1], [])
        elif not line.strip():
            continue
        else:
            row = None if is_comment(line) else row_of(number, line, dialect)
        if row is None:
            pending.append(number)
            continue
        divided = not blocks or (
            bool(pending) and divides([lines[at - 1] for at in pending], len(row.texts), dialect)
        )
        if divided or blocks[-1].width != len(row.texts):
            blocks.append(Block(rows=[row], divided=divided))
        else:
            blocks[-1].loose += pending
            blocks[-1].rows.append(row)
        pending = []
    if blocks:
        blocks[-1].loose += pending
    return blocks


def row_of(number: int, line: str, dialect: Dialect) -> Row | None:
    """Read one line; None where it holds no row of numbers.

    Parameters
    ----------
    number : int
        Its line number, from 1.
    line : str
    dialect : Dialect
    """
    texts = split(_REMARK.sub("", line[:_LONGEST]), dialect.delimiter)
    plain = read_plain(texts, dialect.marks)
    if plain is not None:
        return Row(number, texts, "N" * len(texts), plain, [])
    cells = [read_cell(text, dialect.marks) for text in texts]
    kinds = "".join(cell.kind for cell in cells)
    numbers = kinds.count("N") + kinds.count("U")
    filled = numbers + kinds.count("T")
    least = 2 if dialect.delimiter == " " or numbers < _SEVERAL else 3
    if least * numbers < filled or not (numbers or _is_lost_row(texts, kinds)):
        return None
    units = [cell.unit for cell in cells] if "U" in kinds else []
    return Row(number, texts, kinds, [cell.value for cell in cells], units)


def _is_lost_row(texts: list[str], kinds: str) -> bool:
    """Tell whether a row holds marks of no value only, and is no ruled line."""
    marks = [text for text, kind in zip(texts, kinds, strict=True) if kind == "S"]
    short = all(
        len(mark) <= _LONGEST_MARK or "\0" in mark or mark.lstrip("+-")[:1].isdigit()
        for mark in marks
    )
    return bool(marks) and len(marks) == len(kinds.replace("B", "")) and short


def merged(blocks: list[Block]) -> list[Block]:
    """Join blocks that only a few rows of another width keep apart."""
    sections: list[list[Block]] = []
    for block in blocks:
        if block.divided or not sections:
            sections.append([])
        sections[-1].append(block)
    return [block for section in sections for block in _section(section)]


def _section(blocks: list[Block]) -> list[Block]:
    """Join the blocks of the width that most rows between two headings have."""
    rows: Counter[int] = Counter()
    for block in blocks:
        rows[block.width] += len(block.rows)
    usual = max(rows, key=lambda width: (rows[width], width))
    found: list[Block] = []
    main: Block | None = None
    for block in blocks:
        if main is None or (block.width != usual and len(block.rows) > _FEW):
            found.append(block)
            main = block if block.width == usual else main
        elif block.width == usual:
            main.rows += block.rows
            main.loose += block.loose
        elif block.rows[0].kinds[0] == "T":
            found.append(block)
        else:
            main.odd += block.rows
    return found


def is_like(block: Block, main: Block) -> bool:
    """Tell whether a block is another table of the same file rather than preamble or footer."""
    own, wanted = majority_of(block), majority_of(main)
    if block.width == main.width and own[0] == wanted[0]:
        return True
    return len(block.rows) > _FEW and block.width > 1 and own.startswith(("N", "U"))


def majority_of(block: Block) -> str:
    """Give the usual kind of cell in each column: a number wherever numbers are not rare."""
    patterns = Counter(row.kinds for row in block.rows)
    if len(patterns) == 1:
        return block.rows[0].kinds
    kinds = []
    for column in range(block.width):
        counts: Counter[str] = Counter()
        for pattern, rows in patterns.items():
            counts[pattern[column]] += rows
        if counts["N"] + counts["U"] >= max(counts["T"], 1):
            kinds.append("U" if counts["U"] > counts["N"] else "N")
        else:
            kinds.append(max(counts, key=lambda kind: counts[kind]))
    return "".join(kinds)
