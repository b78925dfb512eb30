"""The sheet of a gauge study: what is next, taking back, and that nothing is lost in its table."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import CaptureError, ReadError, UsageError
from benchapp.lot import StudyPlan, StudySheet, crossed, draw_sheet, read_sheet, study_table
from tests.coil.truth import values as sections

AIAG = np.array(sections("gauge_aiag.toml")["values"]).reshape(10, 3, 3)
SMALL = StudyPlan(
    parts=("0201", "0202"),
    persons=("A. Example", "=B"),
    trials=2,
    quantity="L",
    unit="H",
    tolerance=97.2e-6,
)


def drawn(study: StudyPlan = SMALL, seed: int = 7) -> StudySheet:
    return draw_sheet(study, np.random.default_rng(seed))


def full(sheet: StudySheet) -> StudySheet:
    while sheet.next is not None:
        sheet = sheet.take(1.62e-3 + 1e-6 * sheet.taken)
    return sheet


def test_a_drawn_sheet_holds_every_part_by_every_person_in_every_trial_once():
    readings = drawn().readings
    places = Counter((one.part, one.person, one.trial) for one in readings)
    assert set(places.values()) == {1}
    assert set(places) == {(p, o, t) for p in SMALL.parts for o in SMALL.persons for t in "12"}
    assert all(one.value is None and one.blind for one in readings)


def test_values_go_to_the_measurements_in_their_order():
    sheet = drawn()
    assert (sheet.taken, sheet.position, sheet.next) == (0, 0, sheet.readings[0])
    sheet = sheet.take(1.6e-3).take(1.7e-3)
    assert [one.value for one in sheet.readings[:3]] == [1.6e-3, 1.7e-3, None]
    assert (sheet.taken, sheet.next) == (2, sheet.readings[2])


def test_the_last_value_can_be_taken_back_and_a_sheet_without_any_stays():
    sheet = drawn()
    assert sheet.undo() is sheet
    assert sheet.take(1.6e-3).undo() == sheet
    done = full(sheet)
    assert done.undo().next == sheet.readings[-1]


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_value_that_is_none_is_refused(value):
    with pytest.raises(CaptureError, match="must be a finite value of a measurement"):
        drawn().take(value)


def test_no_value_is_taken_after_the_last_one():
    with pytest.raises(CaptureError, match=r"got 1\.6 after the last one"):
        full(drawn()).take(1.6)


names = st.text(
    st.characters(exclude_categories=("C", "Z"), exclude_characters="'"), min_size=1, max_size=8
)


@given(
    st.lists(names, min_size=2, max_size=4, unique=True),
    st.lists(names, min_size=1, max_size=3, unique=True),
    st.lists(st.floats(-1e3, 1e3), max_size=8),
    st.sampled_from(["", "H", "ohm", "deg"]),
    st.booleans(),
)
def test_a_sheet_reads_back_as_it_was_written(parts, persons, values, unit, known):
    study = StudyPlan(
        parts=tuple(parts),
        persons=tuple(persons),
        trials=2,
        quantity="theta at 134.2 kHz" if known else "",
        unit=unit,
        tolerance=0.1 if known else None,
        references=tuple(float(at) for at in range(len(parts))) if known else (),
    )
    sheet = drawn(study)
    for value in values[: len(sheet.readings)]:
        sheet = sheet.take(value)
    back = read_sheet(sheet.text())
    bare = [(one.blind, one.part, one.person, one.trial) for one in back.readings]
    assert bare == [(one.blind, one.part, one.person, one.trial) for one in sheet.readings]
    for mine, its in zip(back.readings, sheet.readings, strict=True):
        assert (mine.value, mine.reference) == (its.value, its.reference)
    assert (back.quantity, back.tolerance) == (sheet.quantity, sheet.tolerance)
    assert back.unit == (unit if values or known else "")


def test_a_name_that_begins_a_formula_is_guarded_in_the_table_and_read_back():
    text = drawn().text()
    assert ",'=B," in text
    assert {one.person for one in read_sheet(text).readings} == {"A. Example", "=B"}


def test_rows_are_put_into_the_order_that_they_state():
    lines = full(drawn()).text().splitlines()
    mixed = "\n".join([lines[0], *reversed(lines[1:])])
    assert [one.blind for one in read_sheet(mixed).readings] == [
        one.blind for one in drawn().readings
    ]
    bare = mixed.replace("order", "number", 1)
    assert read_sheet(bare).readings[0].blind == drawn().readings[-1].blind


def test_the_values_of_a_complete_sheet_go_to_their_parts_persons_and_trials():
    study = StudyPlan(
        parts=tuple(str(at) for at in range(10)), persons=("A", "B", "C"), trials=3, quantity="L"
    )
    sheet = drawn(study)
    while (act := sheet.next) is not None:
        place = (int(act.part), "ABC".index(act.person), int(act.trial) - 1)
        sheet = sheet.take(float(AIAG[place]))
    table = study_table(sheet.text())
    order = np.ix_([int(part) for part in table.parts], ["ABC".index(o) for o in table.persons])
    assert np.array_equal(table.values, AIAG[order])
    assert table.quantity == "L"


def test_a_sheet_with_a_gap_is_no_complete_study():
    with pytest.raises(ReadError, match=r"study: must have a value \(got an empty cell\)"):
        crossed(drawn())


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"parts": ("1", "1")}, "every part must have a name of its own"),
        (
            {"persons": ("A", " ")},
            r"every person must have a name of its own \(got an empty one\)",
        ),
        ({"references": (1.6e-3,)}, "must state the true value of every part or of none"),
        ({"tolerance": 0.0}, "the tolerance must be above zero"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(changes, words):
    stated = {"parts": ("1", "2"), "persons": ("A",), "trials": 2, **changes}
    with pytest.raises(UsageError, match=words):
        StudyPlan(**stated)


def test_a_table_with_a_tolerance_of_nothing_is_refused():
    with pytest.raises(ReadError, match=r"worn\.csv: the tolerance must be above zero"):
        read_sheet("part,person,trial,value,tolerance\n1,A,1,2,0", "worn.csv")


def test_a_table_without_its_columns_or_names_is_refused():
    with pytest.raises(ReadError, match="must name the columns part, person, trial, value"):
        read_sheet("label,who\n1,A")
    with pytest.raises(ReadError, match=r"line 2: must have a person \(got an empty cell\)"):
        read_sheet("part,person,trial,value\n1,,1,")


def test_units_do_not_mix_and_words_are_no_values():
    with pytest.raises(ReadError, match="must have the unit of the first value, H"):
        read_sheet("part,person,trial,value\n1,A,1,2 H\n1,A,2,2 ohm")
    with pytest.raises(ReadError, match="line 2"):
        read_sheet("part,person,trial,value\n1,A,1,wide")
