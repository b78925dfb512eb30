"""What stands above a block of numbers: names, units, values beside them, a title."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from benchapp.readers.dialect import Dialect, bare, is_comment, split
from benchapp.readers.heading import is_units_row, meaning_of, unit_of

__all__ = ["LONGEST_HEADING", "Heading", "divides", "heading_of"]


_TITLE = re.compile(
    r"[\[<(=\-*\s]*(?:sweep|segment|trace|run|block|measurement|data ?set|begin|messung|mesure|"
    r"balayage|barrido|scansione|扫描)\b(?:[\s#:=_.-]*\w{0,12}|\s+#?[\w ]{0,16})[\])>=\-*\s]*",
    re.IGNORECASE,
)
_NAME = re.compile(r"[^\W\d_]|[|°Ω]")
_BARRED = re.compile(r"\|([A-Za-z]\w{0,3})\|")
_TYPED = re.compile(r"(\S+)\((real|complex|int|integer)\)")
_DIGITS = re.compile(r"[\d.,;+\-eE ]*")
LONGEST_HEADING = 10_000
_ABOVE = 12
_MANY_LINES = 3
_FEW = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What stands above a block: names, units row, values in the units row, title."""

    names: tuple[str, ...]
    units: tuple[str, ...]
    facts: dict[str, str]
    title: str
    lines: tuple[int, ...]


def heading_of(first: int, width: int, lines: Sequence[str], dialect: Dialect) -> Heading:
    """Find the heading and the units row above a block, and its title."""
    wider = _wider_heading(lines[max(first - 3, 0) : first - 1], width, dialect)
    if wider is not None:
        names, units, facts = wider
        above = (first - 2, first - 1)
        return Heading(names=names, units=units, facts=facts, title="", lines=above)
    names = units = ("",) * width
    title = ""
    taken: list[int] = []
    for number in range(first - 1, max(first - 1 - _ABOVE, 0), -1):
        line = lines[number - 1]
        cells = _cells_of(line, width, dialect) if line.strip() else None
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
        elif line.strip() and not is_comment(line) and width > 1 and not any(names):
            break
    if any(units) and not any(names):
        names, units = units, ("",) * width
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


def _is_title(line: str) -> bool:
    return _TITLE.fullmatch(bare(line[:LONGEST_HEADING])) is not None


def _is_heading(cells: Sequence[str]) -> bool:
    named = [cell for cell in cells if _NAME.search(cell) and not _DIGITS.fullmatch(cell)]
    return 2 * len(named) > len([cell for cell in cells if cell])


def _is_known_heading(cells: Sequence[str]) -> bool:
    known = sum(bool(meaning_of(cell).role) for cell in cells if not cell.isdigit())
    return _is_heading(cells) and 2 * known >= len([cell for cell in cells if cell])


@lru_cache(maxsize=1024)  # a heading that stands again and again
def _cells_of(line: str, width: int, dialect: Dialect) -> list[str] | None:
    """Part a heading line so that it has ``width`` cells; None where that cannot be done."""
    if len(line) > LONGEST_HEADING:
        return None
    line = line.replace("\0", "")
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


def divides(texts: list[str], width: int, dialect: Dialect) -> bool:
    """Tell whether the lines between two rows part them: a heading, a title, or many lines."""
    plain = [text for text in texts if not is_comment(text)]
    if len(plain) >= _MANY_LINES or any(map(_is_title, texts)):
        return True
    candidates = (_cells_of(text, width, dialect) for text in texts)
    return any(cells is not None and _is_known_heading(cells) for cells in candidates)
