"""Pages that hold a table, and pages that do not."""

from __future__ import annotations

import pytest

from benchapp.readers.markup import is_page, lines_of_page


@pytest.mark.parametrize(
    "text",
    [
        "<html><body>",
        "<!DOCTYPE html>\n<html>",
        "  <table><tr>",
        "<?xml version='1'?><html>",
        "<!-- made by hand --><HTML>",
    ],
)
def test_a_page_is_known_by_its_start(text):
    assert is_page(text)


@pytest.mark.parametrize("text", ["f,R,X\n1,2,3", "<5 ohm,1\n", "a <table> b", ""])
def test_a_table_of_text_is_no_page(text):
    assert not is_page(text)


def test_cells_of_a_row_become_one_line():
    page = (
        "<table border=1><tr><th>Frequency&nbsp;(Hz)</th><th>R<sub>s</sub> (&Omega;)</th></tr>"
        "<TR><TD align=right> 1000 </TD><td>5\n</td></tr><tr><td>2000<td>6</table>"
    )
    assert lines_of_page(page) == ["Frequency (Hz)\tRs (Ω)", "1000\t5", "2000\t6"]


def test_a_page_without_a_table_has_no_lines():
    assert lines_of_page("<html><body><p>Sorry, not found.</p></body></html>") == []


def test_broken_markup_does_no_harm():
    assert lines_of_page("<table><tr><td>1<td>2<tr <td>3") == ["1\t2<tr\t3"]
