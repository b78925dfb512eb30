"""A table reads back as it was, and no text of it becomes a formula."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.csv_table import csv_text, guarded, unguarded


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", '=HYPERLINK("x")']
)
def test_what_begins_a_formula_gets_an_apostrophe(text):
    assert guarded(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "GA-12", "0007", "a=1", "µH", "ok @ 1 V"])
def test_other_texts_stay_as_they_are(text):
    assert guarded(text) == text


def test_numbers_are_no_texts():
    assert csv_text(["L (H)", "n"], [[-1.5e-3, -2], [None, 3]]) == "L (H),n\n-0.0015,-2\n,3\n"


def test_commas_quotes_and_line_ends_stay_within_their_cell():
    rows = list(csv.reader(io.StringIO(csv_text(["a"], [['x,"y"\nz']]))))
    assert rows == [["a"], ['x,"y"\nz']]


@given(st.lists(st.lists(st.text(), min_size=2, max_size=2), max_size=5))
def test_no_cell_of_any_text_begins_a_formula(rows):
    text = csv_text(["a", "b"], rows)
    for row in list(csv.reader(io.StringIO(text, newline="")))[1:]:
        assert not any(cell.lstrip(" ").startswith(("=", "+", "-", "@")) for cell in row)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_reads_back_the_same(value):
    assert float(csv_text(["x"], [[value]]).splitlines()[1]) == value


@given(st.text(max_size=12))
def test_a_guarded_text_comes_back_and_an_apostrophe_of_its_own_stays(text):
    assert unguarded(guarded(text)) == text or text.startswith("'")
    assert unguarded(f"'{text}") == (text if guarded(text) != text else f"'{text}")
