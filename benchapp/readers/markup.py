"""Pages with a table in them: the cells of each row as one line of text."""

from __future__ import annotations

import re
from html.parser import HTMLParser

__all__ = ["is_page", "lines_of_page"]

_PAGE = re.compile(
    r"\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|table|head)\b",
    re.IGNORECASE | re.DOTALL,
)


def is_page(content: str) -> bool:
    """Tell whether a text is a page of markup rather than the table itself."""
    return _PAGE.match(content[:4096]) is not None


def lines_of_page(content: str) -> list[str]:
    """Give one line for each table row, its cells parted by tabs.

    Empty where the page has no table.
    """
    rows = _Rows()
    rows.feed(content)
    rows.close()
    return ["\t".join(row) for row in rows.found]


class _Rows(HTMLParser):
    """Gathers the cells of all table rows."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[list[str]] = []
        self._in_cell = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del attrs
        if tag == "tr":
            self.found.append([])
            self._in_cell = False
        elif tag in {"td", "th"} and self.found:
            self.found[-1].append("")
            self._in_cell = True

    def handle_endtag(self, tag: str) -> None:
        if tag in {"td", "th", "tr", "table"}:
            self._in_cell = False

    def handle_data(self, data: str) -> None:
        if self._in_cell:
            self.found[-1][-1] += " ".join(data.split())
