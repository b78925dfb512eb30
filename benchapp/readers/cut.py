"""Numbers that lost their end: fewer digits than every other number of their column."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from math import isfinite, nan
from typing import TYPE_CHECKING, TypeVar

from benchapp.readers.notes import Notes

if TYPE_CHECKING:
    from benchapp.readers.block import Row

__all__ = [
    "SENTINELS",
    "columns_of",
    "doubt_short_numbers",
    "looks_cut",
    "mark_cut_cells",
    "may_be_cut",
    "shape_of",
]

_Item = TypeVar("_Item", int, str)
_FEW = 2
_FEWEST = 12
_SHARE = 50
_SAMPLED = 40
_ALIKE = 0.8
_FEW_DECIMALS = 3
_LACKING = 3
_AROUND = 7
_OFF = 3.0
SENTINELS = (-999.0, -9999.0)


def shape_of(text: str) -> tuple[int, int]:
    """Give how many digits follow the decimal mark, and how many the exponent has."""
    mantissa, _, power = text.upper().partition("E")
    return len(re.split("[.,]", mantissa)[-1]), len(power.strip("+-"))


def looks_cut(last: str, others: Sequence[str]) -> bool:
    """Tell whether the last number of a file has fewer digits than any other in its column."""
    if len(others) < _FEW:
        return False
    shapes = {shape_of(text) for text in others}
    return shape_of(last) not in shapes or len(last) < min(len(text) for text in others)


def columns_of(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """Part rows of plain numbers, of one width, into columns; none where all are of one length.

    Numbers of which none is shorter than another, but for signs, have lost no end.
    """
    joined = "\n".join(lines)
    signs = len(joined) + 1 - joined.count("-") - joined.count("+")
    first = len(lines[0]) + 1 - lines[0].count("-") - lines[0].count("+")
    if len(lines) < _FEWEST or signs == len(lines) * first:
        return []
    width = lines[0].count(delimiter) + 1
    cells = joined.replace("\n", delimiter).split(delimiter)
    return [cells[at::width] for at in range(width)]


def may_be_cut(texts: Sequence[str], decimal: str) -> bool:
    """Tell whether `mark_cut_cells` might find a number that lost its end in a column."""
    if f"{decimal}\0" in "\0".join(texts) + "\0":
        return True
    return _tails(texts, decimal) is not None


def _sampled(items: Sequence[_Item]) -> Sequence[_Item]:
    return items[:: max(len(items) // _SAMPLED, 1)]


def _are_alike(texts: Sequence[str], decimal: str) -> bool:
    """Tell whether most cells have as many signs from the decimal mark on."""
    tails = [len(text.partition(decimal)[2]) + (decimal in text) for text in texts]
    return tails.count(max(tails, key=tails.count)) >= _ALIKE * len(tails)


def _tails(texts: Sequence[str], decimal: str) -> list[int] | None:
    """Count the signs of each cell from the decimal mark on; None where no few stand out."""
    size = len(texts)
    if not _are_alike(_sampled(texts), decimal):
        return None
    tails = [len(text.partition(decimal)[2]) + (decimal in text) for text in texts]
    usual = Counter(tails).most_common(1)[0][1]
    return tails if 0 < size - usual <= max(_FEW, size // _SHARE) else None


def mark_cut_cells(rows: Sequence[Row], decimal: str, notes: Notes) -> None:
    """Take numbers for text where they end early in a column that is written all alike.

    A column counts as that when all but two cells, or but one in fifty, have as many signs from
    the decimal mark on. A cell is cut where the exponent lacks digits, or, without exponents,
    where several decimals are missing. A lone -999 among them stands for no value. Where no
    number of the column ends in a zero, its writer may have left zeros out, and the shorter
    number may be a round one: it stays, with a doubt that names its line.

    Parameters
    ----------
    rows : sequence of Row
        Of one width; the cells found are changed in place.
    decimal : str
    notes : Notes
    """
    if len(rows) < _FEWEST:
        return
    for column, texts in enumerate(zip(*[row.texts for row in rows], strict=True)):
        _mark_without_ending(rows, column)
        _mark_bare_ends(rows, column, decimal)
        tails = _tails(texts, decimal)
        if tails is None:
            continue
        usual = Counter(tails).most_common(1)[0][0]
        model = rows[tails.index(usual)]
        odd = [row for row, tail in zip(rows, tails, strict=True) if tail != usual]
        found = [row for row in odd if _is_cut(row, column, model, decimal)]
        fixed = found and any(_ends_in_zero(text) for text in texts)
        for row in found:
            if row.values[column] in SENTINELS:
                _mark(row, column, "S")
            elif fixed or shape_of(model.texts[column])[1]:
                _mark(row, column)
            elif row.values[column] and row is not rows[0]:  # a record may start at a round value
                _doubt(row.texts[column], row.line, notes)


def _ends_in_zero(text: str) -> bool:
    return text.upper().partition("E")[0].endswith("0")


def _doubt(text: str, line: int, notes: Notes) -> None:
    reason = f"{text!r} has fewer digits than the others; it may be cut short"
    notes.assume("number", f"line {line} kept as written", reason, 0.5)


def _mark_without_ending(rows: Sequence[Row], column: int) -> None:
    """Mark the one or two numbers of a column that lack the prefix or unit of all others."""
    ends = Counter(row.texts[column][-1:] for row in rows if row.kinds[column] in "NU")
    usual, count = ends.most_common(1)[0] if ends else ("", 0)
    if not usual.isalpha() or not 0 < ends.total() - count <= _FEW:
        return
    for row in rows:
        if row.kinds[column] in "NU" and row.texts[column][-1].isdigit():
            _mark(row, column)


def _mark_bare_ends(rows: Sequence[Row], column: int, decimal: str) -> None:
    """Mark the one or two numbers of a column that end in the decimal mark."""
    bare = [row for row in rows if row.texts[column].endswith(decimal)]
    if len(bare) <= _FEW:
        for row in bare:
            _mark(row, column)


def _digits(text: str) -> int:
    """Count the digits of a number that mean something."""
    mantissa = text.upper().partition("E")[0]
    return len(re.sub(r"\D", "", mantissa).lstrip("0"))


def _short(texts: Sequence[str]) -> list[int]:
    """Give the places of the few numbers that lack three digits of what nearly all others have."""
    sizes = list(map(len, texts))
    usual = sorted(_sampled(sizes))[len(_sampled(sizes)) // 2]
    if min(sizes) > usual - _LACKING:
        return []
    places = [at for at, size in enumerate(sizes) if size <= usual - _LACKING]
    if not 0 < len(places) <= max(_FEW, len(texts) // _SHARE):
        return []
    some = [_digits(text) for text in _sampled(texts)]
    full = max(some)
    if sum(count >= full - 1 for count in some) < _ALIKE * len(some):
        return []
    return [at for at in places if texts[at] and _digits(texts[at]) <= full - _LACKING]


def doubt_short_numbers(
    texts: Sequence[str], values: Sequence[float], lines: Sequence[int], notes: Notes
) -> None:
    """Say which numbers lack digits that the others of their column have, and leave its course.

    A round value lacks digits too, so one counts only where it also lies further from the course
    of its neighbours than they do. It is kept.

    Parameters
    ----------
    texts, values, lines : sequence of str, of float and of int
        The cells of one column in the file's order: as written, as read, and where they stand.
    notes : Notes
    """
    if len(texts) < _FEWEST:
        return
    for at in _short(texts):
        if values[at] and isfinite(values[at]) and _leaves_course(values, at):
            _doubt(texts[at], lines[at], notes)


def _leaves_course(values: Sequence[float], at: int) -> bool:
    """Tell whether a number lies outside its neighbours, or off the cubic through them."""
    first = max(min(at - _AROUND, len(values) - 2 * _AROUND - 1), 0)
    course = [float(value) for value in values[first : first + 2 * _AROUND + 1]]
    own = at - first
    if 0 < own < len(course) - 1:
        low, high = sorted((course[own - 1], course[own + 1]))
        if max(low - course[own], course[own] - high) > (high - low) / 2:
            return True
    away = {}
    for place in range(2, len(course) - 2):
        before, left, here, right, after = course[place - 2 : place + 3]
        away[place] = abs(here - (4 * (left + right) - before - after) / 6)
    apart = sorted(size for k, size in away.items() if abs(k - own) > 2)
    return away.get(own, 0.0) > _OFF * apart[len(apart) // 2]


def _mark(row: Row, column: int, kind: str = "T") -> None:
    row.kinds = f"{row.kinds[:column]}{kind}{row.kinds[column + 1 :]}"
    row.values[column] = nan
    row.texts[column] += " (cut short)" if kind == "T" else ""


def _is_cut(row: Row, column: int, model: Row, decimal: str) -> bool:
    text, whole = row.texts[column], model.texts[column]
    if row.kinds[column] != "N" or decimal not in whole:
        return False
    if not row.values[column] and decimal not in text:
        return False  # a bare zero, as some write it
    if row.kinds.count("T") > model.kinds.count("T"):
        return False  # a setting written beside the table
    decimals, power = shape_of(text) if decimal in text or "E" in text.upper() else (0, 0)
    wanted, exponent = shape_of(whole)
    if power and not exponent:
        return False  # another way to write a small number
    if exponent:
        return power < exponent and (not power or decimals == wanted)
    return wanted - decimals >= (_FEW if wanted <= _FEW_DECIMALS else _FEW + 1)
