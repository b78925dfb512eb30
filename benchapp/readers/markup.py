"""Pages with a table in them: the cells of each row as one line of text."""

from __future__ import annotations

import re
from html import unescape

__all__ = ["is_page", "lines_of_page"]

_PAGE = re.compile(
    r"\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|table|head)\b",
    re.IGNORECASE | re.DOTALL,
)
_ROW = re.compile(r"<tr\b[^<>]*>", re.IGNORECASE)
_CELL = re.compile(r"<t[dh]\b[^<>]*>", re.IGNORECASE)
_END = re.compile(r"</(?:t[dhr]|table)\b", re.IGNORECASE)
_TAG = re.compile(r"<[^<>]*>")


def is_page(content: str) -> bool:
    """Tell whether a text is a page of markup rather than the table itself."""
    return _PAGE.match(content[:4096]) is not None


def lines_of_page(content: str) -> list[str]:
    """Give one line for each table row, its cells parted by tabs.

    Empty where the page has no table.
    """
    rows = _ROW.split(content)[1:]
    return ["\t".join(_text(cell) for cell in _CELL.split(row)[1:]) for row in rows]


def _text(cell: str) -> str:
    inside = _END.split(cell, maxsplit=1)[0]
    return " ".join(unescape(_TAG.sub("", inside)).split())
