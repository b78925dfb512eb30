"""Rows in any order become runs that rise strictly, and nothing is lost without a word."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers.axis import Run, arrange, take
from benchapp.readers.notes import Notes
from benchapp.readers.reading import Answers

RISING = np.arange(1.0, 11.0)


def run(axis, values=None) -> Run:
    axis = np.asarray(axis, dtype=float)
    values = axis * 10 if values is None else np.asarray(values)
    return Run(axis=axis, values=values[:, None], lines=np.arange(1, axis.size + 1))


def arranged(axis, values=None, subject="frequency"):
    notes = Notes(answers=Answers())
    return arrange(run(axis, values), notes, subject=subject), notes


def test_rows_in_order_stay_as_they_are():
    (only,), notes = arranged(RISING)
    assert only.axis.tolist() == RISING.tolist()
    assert (notes.assumptions, notes.set_aside) == ([], {})


def test_falling_rows_are_turned_with_their_values():
    (only,), notes = arranged(RISING[::-1])
    assert only.axis.tolist() == RISING.tolist()
    assert only.values[:, 0].tolist() == (RISING * 10).tolist()
    assert [made.value for made in notes.assumptions] == ["falling"]


def test_a_restart_begins_a_new_run():
    parts, notes = arranged([1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4])
    assert [part.axis.tolist() for part in parts] == [[1, 2, 3, 4]] * 3
    assert [part.label for part in parts] == ["sweep 1", "sweep 2", "sweep 3"]
    assert [made.subject for made in notes.assumptions] == ["sweeps"]


def test_an_up_and_down_sweep_is_parted_at_its_turning_point():
    (up, down), _ = arranged([1, 2, 3, 4, 5, 4, 3, 2, 1], [1, 2, 3, 4, 5, 6, 7, 8, 9])
    assert up.values[:, 0].tolist() == [1, 2, 3, 4, 5]
    assert down.axis.tolist() == [1, 2, 3, 4]
    assert down.values[:, 0].tolist() == [9, 8, 7, 6]
    assert down.label == "sweep 2, falling"


def test_a_turning_point_that_stands_twice_belongs_to_both_runs():
    (up, down), notes = arranged([1, 2, 3, 3, 2, 1], [1, 2, 3, 4, 5, 6])
    assert up.values[:, 0].tolist() == [1, 2, 3]
    assert down.values[:, 0].tolist() == [6, 5, 4]
    assert notes.set_aside == {}


def test_a_restart_after_a_repeated_row_keeps_both_runs_whole():
    (first, second), notes = arranged([1, 2, 3, 3, 1, 2, 3], [1, 2, 3, 3, 1, 2, 3])
    assert first.axis.tolist() == second.axis.tolist() == [1, 2, 3]
    assert list(notes.set_aside) == [4]


def test_a_wild_frequency_is_set_aside_with_its_line():
    axis = RISING.copy()
    axis[4] = 90.0
    (only,), notes = arranged(axis)
    assert only.axis.tolist() == np.delete(RISING, 4).tolist()
    assert notes.set_aside == {5: "the frequency is out of order (90)"}


def test_a_row_that_only_changed_its_place_is_moved_back():
    (only,), notes = arranged([1, 2, 3, 5, 4, 6, 7, 8, 9, 10])
    assert only.axis.tolist() == RISING.tolist()
    assert [made.value for made in notes.assumptions] == ["1 rows moved"]
    assert notes.set_aside == {}


def test_rows_without_any_order_are_sorted_with_low_confidence():
    axis = np.random.default_rng(1).permutation(np.arange(1.0, 31.0))
    (only,), notes = arranged(axis)
    assert only.axis.tolist() == np.arange(1.0, 31.0).tolist()
    assert only.values[:, 0].tolist() == (np.arange(1.0, 31.0) * 10).tolist()
    assert notes.assumptions[0].confidence <= 0.5


def test_a_repeated_row_is_dropped_and_said():
    (only,), notes = arranged([1, 2, 2, 3], [10, 20, 20, 30])
    assert only.axis.tolist() == [1, 2, 3]
    assert notes.set_aside == {3: "the row repeats the one before it"}


def test_repeats_that_nearly_agree_are_averaged_and_said():
    (only,), notes = arranged([1, 2, 2, 3], [10.0, 20.0, 20.2, 30.0])
    assert only.values[1, 0] == pytest.approx(20.1)
    assert [made.value for made in notes.assumptions] == ["averaged"]


def test_repeats_that_contradict_each_other_are_set_aside():
    (only,), notes = arranged([1, 2, 2, 3], [10, 20, 40, 30])
    assert only.axis.tolist() == [1, 3]
    assert set(notes.set_aside) == {2, 3}
    assert notes.set_aside[2] == "2 stands twice with different values"


@pytest.mark.parametrize("wrong", [0.0, -5.0])
def test_a_frequency_not_above_zero_is_set_aside(wrong):
    (only,), notes = arranged([wrong, 2, 3], [1, 2, 3])
    assert only.axis.tolist() == [2, 3]
    assert notes.set_aside == {1: f"the frequency is not above zero ({wrong:g})"}


def test_time_may_be_below_zero():
    (only,), notes = arranged([-2, -1, 0, 1], subject="time")
    assert only.axis.tolist() == [-2, -1, 0, 1]
    assert notes.set_aside == {}


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_missing_values_are_set_aside(bad):
    (only,), notes = arranged([1, 2, 3], [10, bad, 30])
    assert only.axis.tolist() == [1, 3]
    assert notes.set_aside == {2: "a value is missing or no number"}


def test_no_usable_row_gives_no_run():
    found, notes = arranged([0.0, -1.0])
    assert found == []
    assert len(notes.set_aside) == 2


def test_one_row_is_a_run():
    (only,), _ = arranged([5.0])
    assert only.axis.tolist() == [5.0]


def test_taking_rows_keeps_the_label_unless_a_new_one_is_given():
    labelled = Run(axis=RISING, values=RISING[:, None], lines=np.arange(10), label="a")
    assert take(labelled, np.array([3, 1])).label == "a"
    assert take(labelled, np.array([3, 1])).axis.tolist() == [4.0, 2.0]
    assert take(labelled, np.array([3]), "b").label == "b"


@given(st.lists(st.floats(-10, 1e9) | st.just(np.nan), max_size=60), st.booleans())
def test_every_run_rises_strictly_and_every_row_is_accounted_for(axis, twice):
    axis = axis + axis if twice else axis
    notes = Notes(answers=Answers())
    found = arrange(run(axis, np.ones(len(axis))), notes)
    for part in found:
        assert np.all(np.diff(part.axis) > 0)
        assert np.all(part.axis > 0)
    used = {int(line) for part in found for line in part.lines}
    assert used | set(notes.set_aside) == set(range(1, len(axis) + 1))
    assert not used & set(notes.set_aside)


def test_a_stretch_turned_round_goes_back_to_its_place():
    axis = np.arange(1.0, 41.0)
    axis[10:14] = axis[10:14][::-1]
    (only,), notes = arranged(axis)
    assert only.axis.tolist() == list(range(1, 41))
    assert only.values[:, 0].tolist() == (only.axis * 10).tolist()
    assert [(made.subject, made.value) for made in notes.assumptions] == [
        ("order", "4 rows moved")
    ]


def test_averaging_most_of_the_rows_is_doubted():
    axis = np.repeat(RISING, 2)
    values = axis * 10 + np.tile([-0.1, 0.1], 10)
    _, notes = arranged(axis, values)
    assert [made.confidence for made in notes.assumptions] == [0.6]
