"""Laws of paper: nothing is lost, nothing overlaps, nothing leaves the margins."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.report.document import Caution, Facts, Figure, Heading, Paragraph, Table
from benchapp.report.html import html_of
from benchapp.report.paper import pdf_of
from benchapp.report.scene import Scene
from tests.report.samples import _tool, document, pages

WORDS = st.text(alphabet=st.characters(categories=("L", "N")), min_size=1, max_size=30)
PLAIN = st.text(alphabet="abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=40)
BLOCKS = st.one_of(
    st.builds(Heading, text=PLAIN),
    st.builds(Paragraph, text=PLAIN),
    st.builds(Caution, text=PLAIN),
    st.builds(
        lambda rows: Facts(rows=tuple(rows)),
        st.lists(st.tuples(PLAIN, PLAIN), min_size=1, max_size=12),
    ),
    st.builds(
        lambda rows: Table(header=("aa", "bb", "cc"), rows=tuple(rows)),
        st.lists(st.tuples(PLAIN, PLAIN, PLAIN), max_size=40),
    ),
    st.builds(
        lambda high: Figure(scene=Scene(width=640, height=high, marks=()), caption="c"),
        st.integers(50, 2000),
    ),
)
_WORD = re.compile(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">')
_PAGE = re.compile(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', re.DOTALL)
MARGIN = 15 / 25.4 * 72  # points
few = settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def places(pdf, folder):
    """Give width, height and the boxes of all words of each page, in points."""
    text = _tool("pdftotext", pdf, folder, "-bbox", last="-")
    return [
        (float(wide), float(high), [tuple(map(float, box)) for box in _WORD.findall(body)])
        for wide, high, body in _PAGE.findall(text)
    ]


def overlap(one, other):
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    line = min(one[3] - one[1], other[3] - other[1])
    return across > 0.5 and down > 0.35 * line  # line boxes hold room that letters leave free


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@few
@given(blocks=st.lists(BLOCKS, max_size=12))
def test_no_word_leaves_the_margins_or_lies_on_another(blocks, paper, tmp_path):
    pdf = pdf_of(document(blocks=tuple(blocks), paper=paper))
    for wide, high, boxes in places(pdf, tmp_path):
        assert boxes
        for place, box in enumerate(boxes):
            assert MARGIN - 1 <= box[0] < box[2] <= wide - MARGIN + 1
            assert 20 <= box[1] < box[3] <= high - 20
            assert not any(overlap(box, other) for other in boxes[place + 1 :])


@few
@given(blocks=st.lists(BLOCKS, max_size=10))
def test_every_letter_goes_on_paper_in_order(blocks, tmp_path):
    texts = [text for block in blocks for text in ([block.text] if hasattr(block, "text") else [])]
    said = "".join("".join(pages(pdf_of(document(blocks=tuple(blocks))), tmp_path)).split())
    for text in texts:
        assert text in said


@few
@given(text=st.text(max_size=200))
def test_the_same_document_gives_the_same_words_on_paper_and_the_same_html(text, tmp_path):
    first, again = (pages(pdf_of(document(text)), tmp_path) for _ in range(2))
    assert first == again
    assert html_of(document(text)) == html_of(document(text))


@pytest.mark.parametrize("rows", [0, 1, 20, 60])
def test_no_title_ends_a_page(rows, tmp_path):
    filler = Facts(rows=tuple((f"n{row}", "x") for row in range(rows)))
    blocks = [filler] if rows else []
    for at in range(12):
        blocks += [Heading(text=f"TITLE{at}"), Paragraph(text=f"body{at}")]
    for page in pages(pdf_of(document(blocks=tuple(blocks))), tmp_path):
        lines = [line.strip() for line in page.splitlines() if line.strip()]
        body = [line for line in lines if line.startswith(("TITLE", "body"))]
        assert not body or body[-1].startswith("body")


@given(operator=WORDS, name=st.text(max_size=60))
def test_no_name_becomes_markup(operator, name):
    text = html_of(document(f"{operator}<img src=x onerror=1>{name}"))
    assert "<img" not in text
    assert "&lt;img src=x onerror=1&gt;" in text


def test_a_figure_higher_than_a_page_is_made_to_fit(tmp_path):
    tall = Figure(scene=Scene(width=640, height=4000, marks=()), caption="CAPTION")
    found = pages(pdf_of(document(blocks=(tall, Paragraph(text="after")))), tmp_path)
    assert len(found) <= 2
    assert sum("CAPTION" in page for page in found) == 1
