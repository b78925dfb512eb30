"""Delimiter and decimal mark by the whole file: consistent columns and the share of numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError
from benchapp.readers.dialect import Dialect, bare, detect, is_comment, split
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks
from benchapp.readers.reading import Answers


def detected(lines, **answers):
    notes = Notes(answers=Answers(**answers))
    return detect(lines, notes, "a.csv"), notes


def rows(delimiter, decimal, count=20, columns=3, seed=1):
    values = np.random.default_rng(seed).normal(size=(count, columns)) * 1000
    return [
        delimiter.join(f"{value:.5f}".replace(".", decimal) for value in row) for row in values
    ]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|", " "])
@pytest.mark.parametrize("decimal", [".", ","])
def test_delimiter_and_decimal_mark_are_found(delimiter, decimal):
    if delimiter == decimal:
        return
    heading = delimiter.join(("f", "R", "X"))
    found, notes = detected([heading, *rows(delimiter, decimal)])
    assert found == Dialect(delimiter, Marks(decimal))
    assert notes.questions == []


@given(
    st.sampled_from([";", "\t", "|"]),
    st.sampled_from([".", ","]),
    st.integers(2, 6),
    st.integers(0, 99),
)
def test_the_preamble_does_not_mislead(delimiter, decimal, columns, seed):
    above = ["Date, 12.03.2024", "Level: 1,5 V", "a,b,c,d,e,f,g", "Operator; J. Doe; 3"]
    found, _ = detected([*above, *rows(delimiter, decimal, columns=columns, seed=seed)])
    assert found == Dialect(delimiter, Marks(decimal))


def test_quoted_decimal_commas_are_cells():
    found, _ = detected(['"1,5","2,25"', '"2,5","3,125"', '"3,5","4,0"'])
    assert found == Dialect(",", Marks(","))
    assert split('"1,5","2,25"', ",") == ["1,5", "2,25"]


def test_a_separator_line_settles_the_delimiter():
    found, _ = detected(["sep=;", "1,5;2", "3,25;4"])
    assert found == Dialect(";", Marks(","))


def test_one_column_of_decimal_commas_is_not_two_columns():
    lines = [f"{value:.4f}".replace(".", ",") for value in np.linspace(-2, 2, 31)]
    found, notes = detected(["Spannung (V)", *lines])
    assert found == Dialect(" ", Marks(","))
    assert [made.subject for made in notes.assumptions] == ["delimiter"]


def test_two_columns_of_whole_numbers_stay_two():
    found, _ = detected(["n,count", *(f"{n},{(7 * n) % 23 - 11}" for n in range(40))])
    assert found == Dialect(",", Marks("."))


@pytest.mark.parametrize("heading", [["Frequency (Hz),|Z| (ohm)"], []])
def test_rising_whole_numbers_beside_others_are_two_columns(heading):
    lines = ["1000,50", "2000,60", "3000,70", "4000,71", "5000,72"]
    found, notes = detected([*heading, *lines])
    assert found == Dialect(",", Marks("."))
    assert notes.assumptions == []


def test_a_heading_of_two_columns_settles_whole_numbers():
    lines = ["Time (s),CH1 (V)", "10,50", "10,60", "11,70", "11,71", "12,72"]
    assert detected(lines)[0] == Dialect(",", Marks("."))


def test_numbers_that_may_have_thousands_are_asked_for():
    lines = [f"{n},{100 + n};{n + 1},{200 + n}" for n in range(1, 20)]
    found, notes = detected(lines)
    assert found == Dialect(";", Marks(","))
    assert [(asked.name, asked.proposed) for asked in notes.questions] == [("decimal", "comma")]


def test_one_sure_decimal_comma_settles_the_rest():
    lines = [f"{n},{100 + n};{n + 1},{200 + n}" for n in range(1, 20)]
    found, notes = detected([*lines, "0,5;0,25"])
    assert found == Dialect(";", Marks(","))
    assert notes.questions == []


@pytest.mark.parametrize(
    ("lines", "asked"),
    [
        (["134.200;1.620", "135.100;1.621"], ["decimal"]),
        (["134.200;1.620", "135.100;0.621"], []),
        (["134.200;1.62", "135.100;1.621"], []),
        (["1134.200;1.620", "1135.100;1.621"], []),
        (["134.200,1.620", "135.100,1.621"], []),
    ],
)
def test_points_that_may_part_thousands_are_asked_for(lines, asked):
    found, notes = detected(lines * 5)
    assert found.marks == Marks(".")
    assert [question.name for question in notes.questions] == asked
    assert detected(lines * 5, decimal="point")[1].questions == []


def test_whole_numbers_need_no_question():
    found, notes = detected(["1;2", "3;4", "5;6"])
    assert found.marks == Marks(".")
    assert notes.questions == []


def test_thousands_with_points_and_decimal_commas():
    found, _ = detected(["1.000,50;2.000,25", "10.500,75;0,5"])
    assert found == Dialect(";", Marks(","))


def test_blanks_between_decimal_commas_are_no_thousands():
    lines = [f"{n},{137 + n} {n + 5},{558 + n}0" for n in range(1, 40)]
    assert detected(lines)[0] == Dialect(" ", Marks(","))


def test_fields_that_run_together_are_parted_at_their_signs():
    lines = ["+1.00000E+03+5.20000E-01-3.10000E+00"] * 5
    found, _ = detected(lines)
    assert found.delimiter == "+"
    assert split(lines[0], "+") == ["+1.00000E+03", "+5.20000E-01", "-3.10000E+00"]


def test_answers_override_the_evidence():
    found, _ = detected(["1;2", "3;4"], delimiter="semicolon", decimal="comma")
    assert found == Dialect(";", Marks(","))
    assert detected(["1;2"], delimiter=";")[0].delimiter == ";"


@pytest.mark.parametrize(("name", "value"), [("delimiter", "dot"), ("decimal", "dash")])
def test_an_answer_that_names_none_is_refused(name, value):
    with pytest.raises(ReadError, match=rf"the answer {name} must be one of .* \(got '{value}'\)"):
        detected(["1,2"], **{name: value})


def test_a_late_change_of_layout_counts_as_much_as_the_first_lines():
    lines = ["1.5;2.5"] * 3 + [f"{n},5;{n},25" for n in range(300)]
    assert detected(lines)[0] == Dialect(";", Marks(","))


@pytest.mark.parametrize(
    ("line", "delimiter", "cells"),
    [
        ("a, b ,c", ",", ["a", "b", "c"]),
        ("1,2,", ",", ["1", "2", ""]),
        ('"a ""b""",2', ",", ['a "b"', "2"]),
        ('"a,b",2', ",", ["a,b", "2"]),
        ('5" coil,2', ",", ['5" coil', "2"]),
        ('"open,2', ",", ['"open', "2"]),
        ('"a"b,"c"', ",", ['"a"b', "c"]),
        ("| 1 | 2 |", "|", ["1", "2"]),
        ("1|2|", "|", ["1", "2", ""]),
        ("|Hz|F", "|", ["", "Hz", "F"]),
        ("  1   2\t3 ", " ", ["1", "2", "3"]),
    ],
)
def test_a_line_is_parted_into_its_cells(line, delimiter, cells):
    assert split(line, delimiter) == cells


@given(st.lists(st.text(st.characters(exclude_characters='",\n\r\0', codec="utf-8")), min_size=2))
def test_quoting_never_changes_the_cells(cells):
    cells = [cell.strip() for cell in cells]
    assert split(",".join(f'"{cell}"' for cell in cells), ",") == cells


def test_comment_signs_are_known_and_taken_off():
    assert all(is_comment(line) for line in ("! a", "#a", "  % a", "// a", "* a"))
    assert not is_comment("-1,2")
    assert bare("  !! f/Hz, R ") == "f/Hz, R"


def test_the_dialect_has_words():
    assert Dialect("\t", Marks(",")).words == "tab, decimal comma"
