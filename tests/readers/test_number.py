"""One cell to one number: marks, prefixes, units and what stands for no value."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers.number import Marks, proves, read_cell, read_plain

POINT, COMMA = Marks("."), Marks(",")


@pytest.mark.parametrize(
    ("text", "marks", "value"),
    [
        ("1000", POINT, 1000.0),
        ("-1.5", POINT, -1.5),
        ("+1.50000E+05", POINT, 1.5e5),
        (".5", POINT, 0.5),
        ("5.", POINT, 5.0),
        ("1.0D+05", POINT, 1.0e5),
        ("1,5", COMMA, 1.5),
        ("-1,5E-3", COMMA, -1.5e-3),
        ("1,234.5", POINT, 1234.5),
        ("1.234,5", COMMA, 1234.5),
        ("1 234,5", COMMA, 1234.5),
        ("1\u00a0234,5", COMMA, 1234.5),
        ("1'234.5", POINT, 1234.5),
        ("1\u2019234.5", POINT, 1234.5),
        ("1,234,567", POINT, 1234567.0),
        ("\u22121.5", POINT, -1.5),
        ('="123"', POINT, 123.0),
        ("100k", POINT, 1e5),
        ("1M5", POINT, 1.5e6),
        ("2u2", POINT, 2.2e-6),
        ("4R7", POINT, 4.7),
    ],
)
def test_a_number_has_its_value(text, marks, value):
    cell = read_cell(text, marks)
    assert (cell.kind[0], cell.value) == ("U" if text == "4R7" else "N", value)


@pytest.mark.parametrize(
    ("text", "marks", "value", "unit"),
    [
        ("1.62mH", POINT, 1.62e-3, "H"),
        ("1,62 mH", COMMA, 1.62e-3, "H"),
        ("50 Ω", POINT, 50.0, "ohm"),
        ("134.2kHz", POINT, 134.2e3, "Hz"),
        ("45°", POINT, 45.0, "deg"),
        ("5 %", POINT, 0.05, "1"),
    ],
)
def test_a_number_may_carry_its_unit(text, marks, value, unit):
    cell = read_cell(text, marks)
    assert (cell.kind, cell.value, cell.unit) == ("U", value, unit)


@pytest.mark.parametrize(
    "text",
    [
        "OL",
        "O.L.",
        "ovld",
        "----",
        "****",
        "-",
        "NaN",
        "inf",
        "-INF",
        "#N/A",
        "9.9E37",
        "+9.9E+37",
        "9.90000E37",
        "-9.9e37",
        "9.91E37",
        "1.#QNAN",
        "n/a",
        "∞",
        "?",
    ],
)
@pytest.mark.parametrize("marks", [POINT, COMMA])
def test_marks_of_no_value_are_known(text, marks):
    cell = read_cell(text, marks)
    assert cell.kind == "S"
    assert math.isnan(cell.value)


@pytest.mark.parametrize(
    ("text", "marks"),
    [
        ("1,5", POINT),
        ("1.5", COMMA),
        ("PASS", POINT),
        ("2024-01-02", POINT),
        ("12.03.2024", POINT),
        ("02. Jan", POINT),
        ("1.5.2", POINT),
        ("1e", POINT),
        ("0x10", POINT),
        ("1_000", POINT),
        ("1,62mH", POINT),
        ("7" * 100, POINT),
        ("1,23,4", POINT),
    ],
)
def test_text_is_not_taken_for_a_number(text, marks):
    assert read_cell(text, marks).kind == "T"


def test_a_blank_cell_is_blank():
    assert read_cell("  ", POINT).kind == "B"


@given(st.floats(-1e30, 1e30), st.sampled_from(["{:.9E}", "{:+.6e}", "{:.12g}", "{}"]))
def test_what_is_written_is_read_with_either_mark(value, form):
    text = form.format(value)
    assert read_cell(text, POINT).value == float(text)
    assert read_cell(text.replace(".", ","), COMMA).value == float(text)
    assert read_plain([text], POINT) == [float(text)]
    assert read_plain([text.replace(".", ",")], COMMA) == [float(text)]


@pytest.mark.parametrize(
    ("texts", "marks"),
    [
        (["1", "x"], POINT),
        (["1", ""], POINT),
        (["1,5"], POINT),
        (["1.5"], COMMA),
        (["nan"], POINT),
        (["9.9E37"], POINT),
        (["1\0002"], COMMA),
        (["1-2"], POINT),
        ([""], POINT),
    ],
)
def test_a_row_with_anything_unusual_needs_a_closer_look(texts, marks):
    assert read_plain(texts, marks) is None


@pytest.mark.parametrize(
    ("text", "mark", "expected"),
    [
        ("1,5", ",", True),
        ("12,34", ",", True),
        ("0,123", ",", True),
        ("1234,567", ",", True),
        ("1,2345", ",", True),
        ("1,5E3", ",", True),
        ("1,234", ",", False),
        ("-12,345", ",", False),
        ("1,234,567", ",", False),
        ("1.5", ",", False),
        ("a,b", ",", False),
        ("1.5", ".", True),
        ("1.234", ".", False),
    ],
)
def test_only_a_decimal_mark_can_stand_like_this(text, mark, expected):
    assert proves(text, mark) is expected


@given(st.text(max_size=80))
def test_any_text_is_some_kind_of_cell(text):
    for marks in (POINT, COMMA):
        cell = read_cell(text, marks)
        assert cell.kind in "NUSBT"
        assert math.isfinite(cell.value) == (cell.kind in "NU")
