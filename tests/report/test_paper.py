from __future__ import annotations

import pytest

from benchapp.report.document import House, Paragraph, Table
from benchapp.report.paper import pdf_of
from tests.report.samples import document, facts, pages


@pytest.mark.parametrize(("paper", "size"), [("A4", "595 x 842"), ("Letter", "612 x 792")])
def test_a_long_table_goes_over_pages_with_its_header_and_every_row_once(paper, size, tmp_path):
    pdf = pdf_of(document(rows=200, paper=paper))
    found = pages(pdf, tmp_path)
    assert size in facts(pdf, tmp_path)
    assert len(found) > 3
    rows = [word for page in found for word in page.split() if word.startswith("N0")]
    assert rows == [f"N{row:04d}" for row in range(200)]
    for page in found:
        if "N0" in page:
            first = next(line for line in page.splitlines() if "N0" in line)
            assert "Serial" in page[: page.index(first)]


def test_every_page_has_number_title_and_count(tmp_path):
    found = pages(pdf_of(document(rows=120)), tmp_path)
    for place, page in enumerate(found, 1):
        assert "R-17" in page
        assert "Part report" in page
        assert f"page {place} of {len(found)}" in page


def test_title_language_and_fonts_are_in_the_file(tmp_path):
    pdf = pdf_of(document(language="de-AT"))
    assert "Part report R-17" in facts(pdf, tmp_path)
    assert b"/Lang (de-AT)" in pdf
    assert b"/DisplayDocTitle true" in pdf
    rows = facts(pdf, tmp_path, "pdffonts").splitlines()[2:]
    assert rows
    assert all(" yes " in row for row in rows)


def test_an_impossible_language_is_left_out_and_the_file_stays_whole(tmp_path):
    pdf = pdf_of(document(language="x) /OpenAction (y"))
    assert b"/OpenAction" not in pdf
    assert len(pages(pdf, tmp_path)) == 1


def test_a_long_word_is_broken_and_a_long_cell_says_that_it_was_cut(tmp_path):
    digest = "0123456789abcdef" * 12
    long = Table(header=("a", "b"), rows=((digest, "word " * 2000),))
    found = pages(pdf_of(document(blocks=(long,))), tmp_path)
    text = "".join("".join(found).split())
    assert digest in text.replace("word", "")
    assert "…" in text


def test_a_text_of_many_pages_is_whole(tmp_path):
    words = [f"w{place}" for place in range(4000)]
    found = pages(pdf_of(document(blocks=(Paragraph(text=" ".join(words)),))), tmp_path)
    assert len(found) > 2
    text = "".join("".join(found).split())
    assert all(word in text for word in words)


@pytest.mark.parametrize("text", ["", "\x00\x01", "a\nb", "\u202eabc", "日本 Ω µ"])
def test_odd_texts_do_not_break_a_page(text, tmp_path):
    assert pages(pdf_of(document(text)), tmp_path)


def test_the_house_stands_at_the_head_and_an_unreadable_logo_is_left_out(tmp_path):
    house = House(name="Mill Works", lines=("1 Mill Lane",), logo=b"\x89PNG\r\n\x1a\nno")
    first = pages(pdf_of(document(house=house)), tmp_path)[0]
    assert "Mill Works · 1 Mill Lane" in first
