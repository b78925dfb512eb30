"""Tables as CSV that a spreadsheet shows as written: no text becomes a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

__all__ = ["csv_text", "guarded", "unguarded"]

_LEADING = ("=", "+", "-", "@", "\t", "\r", "\n")

Cell = str | float | int | None


def guarded(text: str) -> str:
    """Give a text that no spreadsheet takes for a formula: an apostrophe goes before it.

    Where a text starts, after blanks, with a sign that begins a formula (``=``, ``+``, ``-``,
    ``@``) or with a tab or a line end. Source: OWASP, "CSV Injection" (from memory).
    """
    return f"'{text}" if text.lstrip(" ").startswith(_LEADING) else text


def unguarded(cell: str) -> str:
    """Give the text that `guarded` made a cell of; any other cell stays as it is."""
    text = cell.removeprefix("'")
    return text if guarded(text) == cell else cell


def csv_text(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Write a table as CSV (RFC 4180): comma, decimal point, one heading row.

    Parameters
    ----------
    header : sequence of str
        Names with their units.
    rows : iterable of sequences
        Texts are guarded, numbers written so that they read back the same, None is empty.
    """
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow([guarded(name) for name in header])
    writer.writerows([[_written(cell) for cell in row] for row in rows])
    return target.getvalue()


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    return guarded(cell) if isinstance(cell, str) else repr(cell)
