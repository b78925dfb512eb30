from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.report.document import House
from benchapp.report.html import html_of, logo_kind
from tests.report.samples import document

ALLOWED = {
    *("html", "head", "meta", "title", "style", "body", "header", "main", "footer", "p", "h1"),
    *("h2", "table", "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "svg", "path"),
    *("circle", "text", "div", "img", "br"),
}


class Seen(HTMLParser):
    """Collect tags, attributes and texts."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[tuple[str, str]] = set()
        self.texts: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes.update((name, value or "") for name, value in attrs)

    def handle_data(self, data):
        self.texts.append(data)


def seen(text: str) -> Seen:
    parser = Seen()
    parser.feed(html_of(document(text)))
    return parser


def test_a_report_is_one_file_without_scripts_that_fetches_nothing():
    text = html_of(document())
    assert "<script" not in text
    assert "default-src 'none'" in text
    names = {name for name, _ in seen("text").attributes}
    assert not {"src", "href", "onload"} & names


def test_language_title_and_number_are_stated():
    text = html_of(document(language="de"))
    assert '<html lang="de">' in text
    assert "<title>Part report R-17</title>" in text


def test_the_header_of_a_table_is_one_that_is_repeated_on_paper():
    text = html_of(document(rows=2))
    assert "<thead><tr><th" in text
    assert "thead { display: table-header-group; }" in text


def test_the_same_document_gives_the_same_bytes():
    assert html_of(document("a", rows=40)) == html_of(document("a", rows=40))


HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style><svg onload=alert(1)>",
    "</title></svg><a href='javascript:x'>",
    "&lt;b&gt; & ' \"",
    "]]><!--",
    "\x00\x1b\ud800",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_hostile_text_stays_text(text):
    plain, found = seen("text"), seen(text)
    assert found.tags == plain.tags
    assert set(found.tags) <= ALLOWED
    assert {name for name, _ in found.attributes} == {name for name, _ in plain.attributes}


@given(st.text())
def test_no_text_adds_a_tag_and_each_is_read_back(text):
    found = seen(text)
    assert found.tags == seen("text").tags
    if text.isprintable() and text.strip():
        assert text in found.texts


def test_the_house_and_its_logo_stand_in_the_file_itself():
    logo = b"\x89PNG\r\n\x1a\nrest"
    house = House(name="Mill & Sons", lines=("1 Mill Lane",), logo=logo, foot="Thank you")
    text = html_of(document(house=house))
    assert "Mill &amp; Sons<br>1 Mill Lane" in text
    assert 'src="data:image/png;base64,' in text
    assert "Thank you" in text


def test_a_logo_is_known_by_its_first_bytes():
    assert logo_kind(b"\x89PNG\r\n\x1a\n") == "png"
    assert logo_kind(b"\xff\xd8\xff\xe0") == "jpeg"
    assert logo_kind(b"<svg onload='x'>") is None
