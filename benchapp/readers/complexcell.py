"""Complex values written in one cell: the two numbers get a column each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from benchapp.readers.dialect import Dialect, is_comment, split

__all__ = ["with_parts_apart"]

_SAMPLED = 60
_FEWEST = 3
_HINT = re.compile(r"\d\s*\*?[ij]\b|[+-]\s*[ij]\s*\*?\d|\d\s*∠")
_UNIT = re.compile(r"^(.*?)\s*([(\[{/].*)?$")


@cache
def _forms(decimal: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    point = re.escape(decimal)
    number = rf"(?:\d+{point}?\d*|{point}\d+)(?:[eE][+-]?\d+)?"
    parts = (
        rf"\(?\s*([+-]?{number})\s*([+-])\s*(?:[ij]\s*\*?\s*({number})|({number})\s*\*?\s*[ij])"
    )
    return (
        re.compile(rf"{parts}\s*\)?"),
        re.compile(rf"\(?\s*([+-]?{number})\s*∠\s*([+-]?{number})\s*(°?)\s*\)?"),
    )


def with_parts_apart(lines: Sequence[str], dialect: Dialect) -> list[str] | None:
    """Give the lines with the two parts of complex cells in columns of their own.

    ``12.3+j45.6``, ``12.3-45.6j`` and ``(12.3 + 45.6i)`` become real and imaginary part,
    ``47.2∠75°`` magnitude and phase; the heading above follows.

    Parameters
    ----------
    lines : sequence of str
    dialect : Dialect

    Returns
    -------
    list of str, or None
        None where no column is written so.
    """
    sample = lines[:: max(len(lines) // _SAMPLED, 1)]
    if dialect.delimiter in " +" or sum(map(bool, map(_HINT.search, sample))) < _FEWEST:
        return None
    cells = [split(line, dialect.delimiter) for line in lines]
    kinds = [[_kind(cell, dialect) for cell in row] for row in cells]
    width = max(map(len, kinds))
    counts = [
        {kind: sum(row[at : at + 1] == [kind] for row in kinds) for kind in "cp"}
        for at in range(width)
    ]
    columns = {
        at: max(found, key=lambda kind: found[kind])
        for at, found in enumerate(counts)
        if max(found.values()) >= max(_FEWEST, len(lines) // 3)
    }
    if not columns:
        return None
    return [
        line if is_comment(line) or len(row) <= max(columns) else _rewritten(row, columns, dialect)
        for line, row in zip(lines, cells, strict=True)
    ]


def _kind(cell: str, dialect: Dialect) -> str:
    parts, polar = _forms(dialect.marks.decimal)
    if parts.fullmatch(cell):
        return "c"
    return "p" if polar.fullmatch(cell) else ""


def _rewritten(row: list[str], columns: dict[int, str], dialect: Dialect) -> str:
    cells: list[str] = []
    for at, cell in enumerate(row):
        cells += _apart(cell, columns[at], dialect) if at in columns else [cell]
    return dialect.delimiter.join(cells)


def _apart(cell: str, kind: str, dialect: Dialect) -> list[str]:
    """Give two cells for one: the parts of its value, or names for them."""
    parts, polar = _forms(dialect.marks.decimal)
    found = (parts if kind == "c" else polar).fullmatch(cell)
    if found is None:
        name = _UNIT.fullmatch(cell)
        if name is None or not re.search(r"[^\W\d_]", name[1]):
            return [cell, ""]
        unit = name[2] or ""
        if kind == "p":
            return [f"abs {name[1]} {unit}".strip(), f"phase {name[1]}"]
        return [f"re {name[1]} {unit}".strip(), f"im {name[1]} {unit}".strip()]
    if kind == "p":
        return [found[1], found[2]]
    return [found[1], f"{found[2]}{found[3] or found[4]}"]
