"""Columns with a meaning: answers, context, units that are missing, rows that are flagged."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.errors import ReadError
from benchapp.readers.beside import Table
from benchapp.readers.columns import Columns
from benchapp.readers.notes import Notes
from benchapp.readers.reading import Answers


def table(headings, rows, units=None, marks=None) -> Table:
    values = np.array(rows, dtype=float)
    return Table(
        headings=tuple(headings),
        units=tuple(units or [""] * len(headings)),
        values=values,
        marks=marks or {},
        lines=np.arange(2, 2 + len(values)),
        order=np.arange(len(values)),
        places=tuple(range(len(headings))),
    )


def columns(headings, rows=((1000, 2, 3), (2000, 3, 4)), units=None, marks=None, **answers):
    notes = Notes(answers=Answers(**answers))
    return Columns.of(table(headings, rows, units, marks), notes, "a.csv")


def roles(found: Columns) -> list[str]:
    return [meaning.role for meaning in found.meanings]


def test_values_come_in_si_units():
    found = columns(["f (kHz)", "Ls (mH)", "Q"])
    assert found.plain(0).tolist() == [1e6, 2e6]
    assert found.plain(1).tolist() == [2e-3, 3e-3]
    assert found.places("Ls", "Q") == [1, 2]


def test_an_answer_replaces_the_headings():
    found = columns(["a", "b", "c"], columns="f/kHz, -, R/ohm")
    assert roles(found) == ["f", "", "R"]
    assert found.plain(0).tolist() == [1e6, 2e6]


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ("f/Hz, R/ohm", r"must name the 3 columns \(got 2 names\)"),
        ("f/Hz, R/ohm, bananas", r"\(got the unknown name 'bananas'\)"),
    ],
)
def test_an_answer_that_does_not_fit_is_refused(answer, words):
    with pytest.raises(ReadError, match=words):
        columns(["a", "b", "c"], columns=answer)


def test_a_and_b_are_settled_by_the_function():
    found = columns(["Frequency(Hz)", "A", "B"]).with_function("Cp-D")
    assert roles(found) == ["f", "Cp", "D"]
    assert found.notes.assumptions[0].value == "Cp and D"


@pytest.mark.parametrize(
    ("function", "expected"),
    [
        ("LSQ", ["Ls", "Q"]),
        ("Z-thd", ["|Z|", "theta"]),
        ("ZTR", ["|Z|", "theta"]),
        ("RX", ["R", "X"]),
        ("L-Rdc", ["L", "DCR"]),
        ("Cs, D", ["Cs", "D"]),
    ],
)
def test_functions_are_known_as_instruments_write_them(function, expected):
    assert roles(columns(["f(Hz)", "Data A", "Data B"]).with_function(function))[1:] == expected


@pytest.mark.parametrize("function", ["", "sweep", "Lx-Q"])
def test_a_and_b_stay_open_without_a_known_function(function):
    assert roles(columns(["Frequency(Hz)", "A", "B"]).with_function(function)) == [
        "f",
        "first",
        "second",
    ]


def test_b_alone_is_a_susceptance():
    assert roles(columns(["f (Hz)", "G (S)", "B"])) == ["f", "G", "B"]


def test_words_mean_channels_in_a_record():
    assert roles(columns(["Time (s)", "Amplitude", "C2"])) == ["time", "voltage", "voltage"]
    assert roles(columns(["X", "CH1", "CH2"])) == ["point", "voltage", "voltage"]
    assert roles(columns(["f (Hz)", "X", "R"])) == ["f", "X", "R"]


def test_rows_can_be_chosen_with_their_marks():
    found = columns(["f (Hz)", "R", "X"], marks={(0, 1): "OL", (1, 2): "UR"})
    chosen = found.rows(np.array([False, True]))
    assert chosen.table.lines.tolist() == [3]
    assert chosen.table.marks == {(0, 2): "UR"}


def test_marks_in_used_columns_are_noted_with_the_heading():
    found = columns(["f (Hz)", "R", "X"], marks={(0, 1): "OL", (1, 2): "UR"})
    found.drop_marked([0, 1])
    assert found.notes.set_aside == {2: "no number for R (OL)"}


STATUS = ["f (Hz)", "R", "X", "Status"]


def test_rows_with_an_unusual_status_are_set_aside():
    found = columns(
        STATUS, [(1, 1, 1, 0), (2, 1, 1, 0), (3, 1, 1, 4), (4, 1, 1, 0)]
    ).without_flagged()
    assert found.table.lines.tolist() == [2, 3, 5]
    assert found.notes.set_aside == {4: "its status is 4, the usual one 0"}


def test_a_status_in_words_is_read_too():
    rows = [(n, 1, 1, np.nan) for n in range(5)]
    marks = {(n, 3): "OVLD" if n == 2 else "OK" for n in range(5)}
    found = columns(STATUS, rows, marks=marks).without_flagged()
    assert found.notes.set_aside == {4: "its status is OVLD, the usual one OK"}


@pytest.mark.parametrize("values", [(0, 1, 2, 3), (4, 4, 4, 0)])
def test_a_status_without_a_usual_zero_says_nothing(values):
    found = columns(STATUS, [(n, 1, 1, value) for n, value in enumerate(values)])
    assert found.without_flagged() is found


def test_stated_units_need_no_question():
    found = columns(["f (Hz)", "R (ohm)", "X (ohm)"])
    assert found.settle_units([0, 1, 2])
    assert found.notes.questions == []


def test_a_frequency_without_a_unit_must_be_answered():
    found = columns(["Frequency", "R (ohm)", "X (ohm)"])
    assert not found.settle_units([0, 1, 2])
    (asked,) = found.notes.questions
    assert (asked.name, asked.proposed, asked.required) == ("frequency_unit", "Hz", True)
    assert columns(["Frequency", "R (ohm)", "X (ohm)"], frequency_unit="kHz").settle_units(
        [0, 1, 2]
    )


def test_no_unit_at_all_must_be_answered_for_every_column():
    found = columns(["Frequency", "R", "X"])
    assert not found.settle_units([0, 1, 2])
    (asked,) = found.notes.questions
    assert (asked.name, asked.proposed, asked.required) == ("columns", "f/Hz, R/ohm, X/ohm", True)


def test_ohms_are_taken_where_the_frequency_has_its_unit():
    found = columns(["f (Hz)", "R", "X"])
    assert found.settle_units([0, 1, 2])
    assert found.notes.assumptions[0].value == "SI units without prefix"
    assert not found.notes.questions[0].required


@pytest.mark.parametrize(("value", "settled"), [(1.6e-3, True), (1600.0, False)])
def test_henry_is_taken_only_where_the_numbers_can_be_henry(value, settled):
    found = columns(["f (Hz)", "Ls", "Q"], [(1000, value, 50), (2000, value, 60)])
    assert found.settle_units([0, 1, 2]) is settled
    proposed = "f (Hz), Ls/H, Q" if settled else "f (Hz), Ls/uH, Q"
    assert found.notes.questions[0].proposed == proposed


def test_a_unit_of_another_quantity_must_be_answered():
    found = columns(["f (Hz)", "Ls (ohm)", "Q"])
    assert not found.settle_units([0, 1, 2])


def test_unknown_columns_of_changing_numbers_are_said():
    found = columns(["f (Hz)", "Mystery", "X"], [(1, 5, 6), (2, 7, 8)])
    found.note_unused()
    assert [made.value for made in found.notes.assumptions] == ["Mystery left out"]
    quiet = columns(["f (Hz)", "Mystery", "X"], [(1, 5, 6), (2, 5, 8)])
    quiet.note_unused()
    assert quiet.notes.assumptions == []


def test_a_whole_column_without_numbers_is_no_cause_for_warnings():
    found = columns(["f (Hz)", "Mystery", "X"], [(1, np.nan, 6), (2, np.nan, 8)])
    found.note_unused()
    assert found.notes.assumptions == []


def test_rows_are_counted_with_those_that_were_lost():
    numbered = columns(["Point", "R", "X"], [(1, 1, 1), (2, 1, 1), (4, 1, 1)])
    assert numbered.numbering().tolist() == [0, 1, 3]
    bare = columns(["A", "R", "X"], [(1, 1, 1), (1, 1, 1)])
    assert bare.numbering().tolist() == [0, 1]


def test_what_was_understood_can_be_shown():
    shown = columns(["f (Hz)", "S11 (dB)", "?"]).shown
    assert [(column.meaning, column.unit) for column in shown] == [
        ("f", "Hz"),
        ("S11 db", "dB"),
        ("", ""),
    ]
