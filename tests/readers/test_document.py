"""One file on its way to captures."""

from __future__ import annotations

import pytest

from benchapp.readers import Answers
from benchapp.readers.document import Document
from benchapp.readers.encoding import Text, lines_of
from benchapp.readers.source import Source


def document(name: str, text: str = "1,2\n") -> Document:
    source = Source(path=f"/x/{name}", name=name, size=len(text), head=b"")
    return Document(
        source=source,
        text=Text(content=text, encoding="utf-8"),
        lines=lines_of(text),
        answers=Answers(),
    )


@pytest.mark.parametrize(
    ("name", "suffix"),
    [("a.CSV", ".csv"), ("a.b.s1p", ".s1p"), ("noending", ""), (".csv", ".csv")],
)
def test_the_ending_of_the_name(name, suffix):
    assert document(name).suffix == suffix


@pytest.mark.parametrize(
    ("text", "closed"), [("1\n", True), ("1\r", True), ("1", False), ("", False)]
)
def test_whether_the_last_row_is_closed(text, closed):
    assert document("a.csv", text).ends_with_line is closed
