"""Numbers that lost their end: fewer digits than every other number of their column."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from math import nan
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchapp.readers.block import Row
    from benchapp.readers.dialect import Dialect

__all__ = ["SENTINELS", "looks_cut", "mark_cut_cells", "may_hold_cut_cells", "shape_of"]

_FEW = 2
_FEWEST = 12
_SHARE = 50
_SAMPLED = 40
_ALIKE = 0.8
_FEW_DECIMALS = 3
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


def may_hold_cut_cells(lines: Sequence[str], dialect: Dialect) -> bool:
    """Tell whether `mark_cut_cells` might find one in rows of plain numbers, of one width."""
    rows, joined = len(lines), "\n".join(lines)
    if rows < _FEWEST:
        return False
    signs = len(joined) + 1 - joined.count("-") - joined.count("+")
    first = len(lines[0]) + 1 - lines[0].count("-") - lines[0].count("+")
    if signs == rows * first:
        return False  # all rows are of one length, but for signs
    mark = dialect.marks.decimal
    some = zip(*[line.split(dialect.delimiter) for line in _sampled(lines)], strict=True)
    alike = [at for at, column in enumerate(some) if _are_alike(column, mark)]
    if not alike:
        return False
    cells = [line.split(dialect.delimiter) for line in lines]
    return any(_tails([row[at] for row in cells], mark) is not None for at in alike)


def _sampled(items: Sequence[str]) -> Sequence[str]:
    return items[:: max(len(items) // _SAMPLED, 1)]


def _are_alike(texts: Sequence[str], decimal: str) -> bool:
    """Tell whether most cells have as many signs from the decimal mark on."""
    tails = [len(text) - text.find(decimal) for text in texts]
    return tails.count(max(tails, key=tails.count)) >= _ALIKE * len(tails)


def _tails(texts: Sequence[str], decimal: str) -> list[int] | None:
    """Count the signs of each cell from the decimal mark on; None where no few stand out."""
    size = len(texts)
    if not _are_alike(_sampled(texts), decimal):
        return None
    tails = [len(text) - text.find(decimal) for text in texts]
    usual = Counter(tails).most_common(1)[0][1]
    return tails if 0 < size - usual <= max(_FEW, size // _SHARE) else None


def mark_cut_cells(rows: Sequence[Row], decimal: str) -> None:
    """Take numbers for text where they end early in a column that is written all alike.

    A column counts as that when all but two cells, or but one in fifty, have as many signs from
    the decimal mark on. A cell is cut where the exponent lacks digits, or, without exponents,
    where several decimals are missing. A lone -999 among them stands for no value.

    Parameters
    ----------
    rows : sequence of Row
        Of one width; the cells found are changed in place.
    decimal : str
    """
    if len(rows) < _FEWEST:
        return
    for column, texts in enumerate(zip(*[row.texts for row in rows], strict=True)):
        _mark_without_ending(rows, column)
        tails = _tails(texts, decimal)
        if tails is None:
            continue
        usual = Counter(tails).most_common(1)[0][0]
        model = rows[tails.index(usual)]
        for row, tail in zip(rows, tails, strict=True):
            if tail != usual and _is_cut(row, column, model, decimal):
                lost = row.values[column] in SENTINELS
                _mark(row, column, "S" if lost else "T")


def _mark_without_ending(rows: Sequence[Row], column: int) -> None:
    """Mark the one or two numbers of a column that lack the prefix or unit of all others."""
    ends = Counter(row.texts[column][-1:] for row in rows if row.kinds[column] in "NU")
    usual, count = ends.most_common(1)[0] if ends else ("", 0)
    if not usual.isalpha() or not 0 < ends.total() - count <= _FEW:
        return
    for row in rows:
        if row.kinds[column] in "NU" and row.texts[column][-1].isdigit():
            _mark(row, column)


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
    if exponent:
        return power < exponent and (not power or decimals == wanted)
    return wanted - decimals >= (_FEW if wanted <= _FEW_DECIMALS else _FEW + 1)
