"""Lines to tables: where the numbers stand, what heads them, what surrounds them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.readers.cut import looks_cut, mark_cut_cells, shape_of
from benchapp.readers.dialect import Dialect, bare, detect, is_comment, plain_rows, split
from benchapp.readers.document import Document
from benchapp.readers.facts import facts_of
from benchapp.readers.heading import is_units_row, meaning_of, unit_of
from benchapp.readers.notes import Notes
from benchapp.readers.number import proves, read_cell, read_plain

__all__ = [
    "Layout",
    "Row",
    "Table",
    "divides",
    "lay_out",
    "misfit",
    "row_of",
    "with_columns",
]

_TITLE = re.compile(
    r"[\[<(=\-*\s]*(?:sweep|segment|trace|run|block|measurement|data ?set|begin|messung|mesure|"
    r"balayage|barrido|scansione|扫描)\b(?:[\s#:=_.-]*\w{0,12}|\s+#?[\w ]{0,16})[\])>=\-*\s]*",
    re.IGNORECASE,
)
_NAME = re.compile(r"[^\W\d_]|[|°Ω]")
_BARRED = re.compile(r"\|([A-Za-z]\w{0,3})\|")
_TYPED = re.compile(r"(\S+)\((real|complex|int|integer)\)")
_DIGITS = re.compile(r"[\d.,;+\-eE ]*")
_NUMBERS = re.compile(r"[\d.,;+\-eE \t|\"']*")
_LONGEST_HEADING = 10_000
_LONGEST = 200_000
_MANY_LINES = 3
_ABOVE = 12
MOST_FACTS = 2000
_FEW = 2
_SEVERAL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One block of rows with the same cells.

    ``values`` (N, K) holds NaN where a cell is no number; ``marks`` gives the text of those cells
    by (row, column); ``units`` is the units row, or the unit that the cells of a column carry;
    ``order`` (N,) counts the rows with those that were lost among them, and ``places`` says where
    each column stands in the file.
    """

    headings: tuple[str, ...]
    units: tuple[str, ...]
    values: NDArray[np.float64]
    marks: dict[tuple[int, int], str]
    lines: NDArray[np.int64]
    order: NDArray[np.int64]
    places: tuple[int, ...] = ()
    title: str = ""

    @property
    def width(self) -> int:
        """How many columns there are."""
        return int(self.values.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The tables of a file, and the names and values that stand around them."""

    dialect: Dialect
    tables: tuple[Table, ...]
    facts: dict[str, str] = field(default_factory=dict)


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
        mark_cut_cells(block.rows, dialect.marks.decimal)
    _note_unlike(blocks, chosen, document, notes)
    _refuse_mixed_marks(chosen, document.lines, dialect, where)
    facts: dict[str, str] = {}
    tables: list[Table] = []
    inside = {row.line for block in chosen for row in block.rows}
    for block in chosen:
        heading = heading_of(block, document.lines, dialect)
        table, beside = without_prefixes(_table(block, heading))
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
    texts = split(line[:_LONGEST], dialect.delimiter)
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
    return bool(marks) and len(marks) == len(kinds.replace("B", "")) and max(map(len, marks)) <= 8


def divides(texts: list[str], width: int, dialect: Dialect) -> bool:
    """Tell whether the lines between two rows part them: a heading, a title, or many lines."""
    plain = [text for text in texts if not is_comment(text)]
    if len(plain) >= _MANY_LINES or any(map(_is_title, texts)):
        return True
    candidates = (_cells_of(text, width, dialect) for text in texts)
    return any(cells is not None and _is_known_heading(cells) for cells in candidates)


def _is_title(line: str) -> bool:
    return _TITLE.fullmatch(bare(line[:_LONGEST_HEADING])) is not None


def _is_heading(cells: Sequence[str]) -> bool:
    named = [cell for cell in cells if _NAME.search(cell) and not _DIGITS.fullmatch(cell)]
    return 2 * len(named) > len([cell for cell in cells if cell])


def _is_known_heading(cells: Sequence[str]) -> bool:
    known = sum(bool(meaning_of(cell).role) for cell in cells if not cell.isdigit())
    return _is_heading(cells) and 2 * known >= len([cell for cell in cells if cell])


def _cells_of(line: str, width: int, dialect: Dialect) -> list[str] | None:
    """Part a heading line so that it has ``width`` cells; None where that cannot be done."""
    if len(line) > _LONGEST_HEADING:
        return None
    text = _TYPED.sub(_in_parts, bare(line) if is_comment(line) else line)
    own = _fitted(split(text, dialect.delimiter), width)
    if own is None and dialect.delimiter == "|":
        own = _fitted(split(_BARRED.sub(r"abs \1", text), "|"), width)
    if own is not None and _is_known_heading(own):
        return own
    for delimiter in (",", ";", "\t", "|", "  ", " "):
        pieces = re.split(r"\s{2,}", text.strip()) if delimiter == "  " else split(text, delimiter)
        cells = _fitted(pieces, width)
        if cells is not None and _is_known_heading(cells):
            return cells
    return own


def _in_parts(typed: re.Match[str]) -> str:
    """Give a name with its type: the two parts of a complex value, else the name alone."""
    return f"{typed[1]}_re {typed[1]}_im" if typed[2] == "complex" else typed[1]


def _fitted(cells: list[str], width: int) -> list[str] | None:
    cells = [cell.rstrip(",; ") for cell in cells]
    if len(cells) > width and not any(cells[width:]):
        cells = cells[:width]
    if len(cells) == width:
        return cells
    if width > 1 and len(cells) == 2 * width and all(cells) and all(map(unit_of, cells[1::2])):
        return [f"{cells[at]} ({cells[at + 1]})" for at in range(0, 2 * width, 2)]
    return None


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
    own, wanted = _majority(block), _majority(main)
    if block.width == main.width and own[0] == wanted[0]:
        return True
    return len(block.rows) > _FEW and block.width > 1 and own.startswith(("N", "U"))


def _majority(block: Block) -> str:
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


def _refuse_mixed_marks(
    blocks: list[Block], lines: Sequence[str], dialect: Dialect, where: str
) -> None:
    """Refuse a file in which more than a row or two write numbers with the other mark."""
    other = "," if dialect.marks.decimal == "." else "."
    for block in blocks:
        suspects = [(row.line, row.texts) for row in block.rows if "T" in row.kinds]
        suspects += [
            (line, split(lines[line - 1][:_LONGEST_HEADING], dialect.delimiter))
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
    majority = _majority(block)
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


def _is_begun(line: str) -> bool:
    """Tell whether a line looks like a row of numbers, or like the beginning of one."""
    return bool(line) and _NUMBERS.fullmatch(line) is not None


def _note_unlike(
    blocks: list[Block], chosen: list[Block], document: Document, notes: Notes
) -> None:
    """Say which rows inside a table, and which rows of numbers between tables, are of none."""
    spans = [(block.rows[0].line, block.rows[-1].line) for block in chosen]
    for block in blocks:
        if any(block is one for one in chosen):
            continue
        for row in block.rows:
            inside = any(first < row.line < last for first, last in spans)
            between = spans[0][0] < row.line < spans[-1][1]
            if inside or (between and _is_begun(document.lines[row.line - 1])):
                notes.drop(row.line, misfit(len(row.texts), chosen[0].width, last=False))


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
    majority = _majority(block)
    values = np.array([row.values for row in block.rows], dtype=np.float64)
    marks: dict[tuple[int, int], str] = {}
    carried = list(heading.units)
    for at, row in enumerate(block.rows):
        if row.kinds.strip("N") == "" and "U" not in majority:
            continue
        for column, kind in enumerate(row.kinds):
            if kind == "U" and majority[column] == "U":
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
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What stands above a block: names, units row, values in the units row, title."""

    names: tuple[str, ...]
    units: tuple[str, ...]
    facts: dict[str, str]
    title: str
    lines: tuple[int, ...]


def heading_of(block: Block, lines: Sequence[str], dialect: Dialect) -> Heading:
    """Find the heading and the units row above a block, and its title."""
    first = block.rows[0].line
    wider = _wider_heading(lines[max(first - 3, 0) : first - 1], block.width, dialect)
    if wider is not None:
        names, units, facts = wider
        above = (first - 2, first - 1)
        return Heading(names=names, units=units, facts=facts, title="", lines=above)
    names = units = ("",) * block.width
    title = ""
    taken: list[int] = []
    for number in range(first - 1, max(first - 1 - _ABOVE, 0), -1):
        line = lines[number - 1]
        cells = _cells_of(line, block.width, dialect) if line.strip() else None
        if cells is not None and not any(names) and not any(units) and _is_units(cells):
            units = tuple(cell.strip("()[]{} ") for cell in cells)
            taken.append(number)
        elif (
            cells is not None
            and not any(names)
            and _may_head(cells, units=any(units), below=title)
        ):
            names = tuple(cells)
            taken.append(number)
        elif line.strip() and _is_title(line):
            title = title or bare(line).strip("[]<>()=-* ")
            if any(names):
                break
        elif line.strip() and not is_comment(line) and block.width > 1 and not any(names):
            break
    if any(units) and not any(names):
        names, units = units, ("",) * block.width
    facts = {
        name.strip().lower(): unit
        for name, unit in zip(names, units, strict=True)
        if name and _DIGITS.fullmatch(unit) and unit.strip("+-")
    }
    return Heading(names=names, units=units, facts=facts, title=title, lines=tuple(taken))


def _wider_heading(
    above: Sequence[str], width: int, dialect: Dialect
) -> tuple[tuple[str, ...], tuple[str, ...], dict[str, str]] | None:
    """Take names over units, and beside them names of constants over their values."""
    if len(above) != _FEW or not all(above):
        return None
    names, units = (split(line, dialect.delimiter) for line in above)
    beside = dict(zip([name.lower() for name in names[width:]], units[width:], strict=False))
    if not len(names) == len(units) > width or not all(map(_NAME.search, names)):
        return None
    if not _is_known_heading(names[:width]) or not is_units_row(tuple(units[:width])):
        return None
    numeric = all(value and _DIGITS.fullmatch(value) for value in beside.values())
    return (tuple(names[:width]), tuple(units[:width]), beside) if numeric else None


def _may_head(cells: Sequence[str], *, units: bool, below: str) -> bool:
    """Tell whether cells name columns; above the title of a sweep only words that are known."""
    return _is_known_heading(cells) if below else units or _is_heading(cells)


def _is_units(cells: Sequence[str]) -> bool:
    """Tell whether a line is a units row; some instruments put the start and step into it."""
    return is_units_row(tuple(cell for cell in cells if not _DIGITS.fullmatch(cell)))


def without_prefixes(table: Table) -> tuple[Table, dict[str, str]]:
    """Part columns that are filled only in the first rows: names and values beside the table."""
    filled = ~np.isnan(table.values)
    for at in table.marks:
        filled[at] = True
    count = filled.sum(axis=0)
    whole = count == filled.shape[0]
    beside = {
        column
        for column in np.flatnonzero(2 * count <= filled.shape[0]).tolist()
        if filled[: count[column], column].all()
    }
    if not beside or not whole.any():
        return table, {}
    facts: dict[str, str] = {}
    for column in sorted(beside):
        for row in range(count[column]):
            text = table.marks.get((row, column))
            number = table.values[row, column]
            following = table.values[row, column + 1] if column + 1 in beside else np.nan
            if text is None and row == 0 and table.headings[column]:
                facts[table.headings[column].strip().lower()] = repr(float(number))
            elif text is not None and column + 1 in beside:
                value = table.marks.get((row, column + 1), repr(float(following)))
                facts.setdefault(text.strip(" :=").lower(), value)
    kept = [column for column in range(table.width) if column not in beside]
    return with_columns(table, kept), facts


def with_columns(table: Table, kept: list[int]) -> Table:
    """Give a table with some of its columns only."""
    place = {column: at for at, column in enumerate(kept)}
    return replace(
        table,
        headings=tuple(table.headings[column] for column in kept),
        units=tuple(table.units[column] for column in kept),
        places=tuple(table.places[column] for column in kept),
        values=table.values[:, kept],
        marks={
            (row, place[column]): text
            for (row, column), text in table.marks.items()
            if column in place
        },
    )


def _inheriting(table: Table, before: list[Table]) -> Table:
    if any(table.headings) or not before or before[-1].width != table.width:
        return table
    return replace(table, headings=before[-1].headings, units=before[-1].units)
