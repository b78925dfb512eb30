"""Where each row's frequency comes from, and how a table is parted into sweeps."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Conditions, Origin
from benchapp.readers.columns import Columns
from benchapp.readers.facts import Facts
from benchapp.readers.frame import condition, frames, has_frequency
from tests.readers.test_columns import columns

F = np.linspace(1e3, 2e3, 5)


def rows_of(*values):
    return np.column_stack(values)


def framed(found: Columns, facts: Facts | None = None):
    return frames(found, facts or Facts(), Origin(source="a.csv"))


def facts(name="", **texts) -> Facts:
    return Facts.of({key.replace("__", " "): value for key, value in texts.items()}, ".", name)


@pytest.mark.parametrize(
    ("heading", "raw", "expected"),
    [
        ("f (kHz)", F / 1e3, F),
        ("omega (rad/s)", 2 * np.pi * F, F),
        ("period (ms)", 1e3 / F, F),
        ("log10(f)", np.log10(F), F),
        ("lg(f/kHz)", np.log10(F / 1e3), F),
    ],
)
def test_every_kind_of_frequency_column_gives_hertz(heading, raw, expected):
    (frame,) = framed(columns([heading, "R", "X"], rows_of(raw, F, F)))
    np.testing.assert_allclose(frame.frequency, expected, rtol=1e-12)


def test_the_answered_unit_is_used_where_none_is_stated():
    (frame,) = framed(columns(["Frequency", "R", "X"], rows_of(F, F, F), frequency_unit="kHz"))
    assert frame.frequency.tolist() == (F * 1e3).tolist()


def test_a_column_that_runs_evenly_over_a_few_numbers_may_be_a_logarithm():
    decades = np.linspace(3, 6, 31)
    found = columns(["Freq (Hz)", "R", "X"], rows_of(decades, decades, decades))
    (frame,) = framed(found)
    np.testing.assert_allclose(frame.frequency, 10**decades)
    assert [(asked.name, asked.proposed) for asked in found.notes.questions] == [
        ("frequency", "log10")
    ]
    answered = columns(
        ["Freq (Hz)", "R", "X"], rows_of(decades, decades, decades), frequency="as written"
    )
    assert framed(answered)[0].frequency.tolist() == decades.tolist()


START = {"start": "1 kHz", "stop": "2 kHz", "points": "5", "sweep__type": "LIN"}


def test_start_and_stop_give_the_frequency_of_numbered_rows():
    found = columns(["Point", "R", "X"], rows_of([1, 2, 3, 4, 5], F, F))
    (frame,) = framed(found, facts(**START))
    np.testing.assert_allclose(frame.frequency, F)


def test_a_lost_row_leaves_its_place_in_the_sweep():
    found = columns(["Point", "R", "X"], rows_of([2, 3, 5], F[:3], F[:3]))
    (frame,) = framed(found, facts(**START))
    np.testing.assert_allclose(frame.frequency, F[[1, 2, 4]])


def test_a_logarithmic_sweep_has_equal_ratios():
    found = columns(["R", "X", "Q"], rows_of(F, F, F))
    (frame,) = framed(found, facts(**{**START, "sweep__type": "LOG"}))
    np.testing.assert_allclose(frame.frequency, np.geomspace(1e3, 2e3, 5))


def test_spacing_and_unit_that_are_not_stated_must_be_answered():
    found = columns(["Point", "R", "X"], rows_of([1, 2, 3], F[:3], F[:3]))
    framed(found, facts(start="1000", stop="2000"))
    asked = {question.name: question for question in found.notes.questions}
    assert set(asked) == {"frequency_unit", "frequency"}
    assert all(question.required for question in asked.values())
    assert [made.subject for made in found.notes.assumptions] == ["points", "frequency"]


def test_the_frequency_may_stand_in_the_name_of_the_file():
    found = columns(["Ls (H)", "Q"], [(1e-3, 50)])
    for name, expected in (
        ("coil_100kHz.csv", 1e5),
        ("x 134.2 kHz y.csv", 134.2e3),
        ("a_1p5MHz.csv", 1.5e6),
    ):
        assert has_frequency(found, facts(name=name))
        assert framed(found, facts(name=name))[0].frequency[0] == pytest.approx(expected)


def test_the_frequency_of_one_reading_may_stand_above_the_table():
    found = columns(["Ls (H)", "Q"], [(1e-3, 50)])
    (frame,) = framed(found, facts(test__frequency="100 kHz"))
    assert frame.frequency.tolist() == [1e5]
    assert not has_frequency(found, facts(test__frequency="100"))


def test_without_any_frequency_there_is_no_frame():
    found = columns(["R", "X"], rows_of(F, F))
    assert not has_frequency(found, facts(name="coil_100kHz.csv"))
    assert framed(found) == []


def test_each_frequency_column_begins_a_block():
    found = columns(["f (Hz)", "R", "X", "f (Hz)", "R", "X"], rows_of(F, F, F, F * 2, F, F))
    first, second = framed(found)
    assert (first.members, second.members) == ((1, 2), (4, 5))
    assert second.frequency.tolist() == (F * 2).tolist()
    assert (first.origin.label, second.origin.label) == ("block 1", "block 2")


def test_a_level_column_parts_the_rows_and_becomes_a_condition():
    bias = np.repeat([0.0, 1.0], 5)
    found = columns(["Bias (A)", "f (Hz)", "R", "X"], rows_of(bias, np.tile(F, 2), bias, bias))
    first, second = framed(found)
    assert (first.conditions.bias_ampere, second.conditions.bias_ampere) == (0.0, 1.0)
    assert second.origin.label == "1.000 A"
    assert second.columns.table.lines.tolist() == [7, 8, 9, 10, 11]


def test_a_monitored_level_that_changes_all_the_time_parts_nothing():
    found = columns(["f (Hz)", "R", "X", "Level (V)"], rows_of(F, F, F, 1 + F / 1e6))
    (frame,) = framed(found)
    assert frame.conditions == Conditions()


def test_a_constant_level_is_a_condition_of_the_whole_table():
    found = columns(["f (Hz)", "R", "X", "Level (V)"], rows_of(F, F, F, np.full(5, 0.5)))
    (frame,) = framed(found)
    assert (frame.conditions.level_volt, frame.origin.label) == (0.5, "")


@pytest.mark.parametrize(
    ("role", "unit", "expected"),
    [
        ("level", "V", {"level_volt": 2.0}),
        ("level", "A", {"level_ampere": 2.0}),
        ("bias", "V", {"bias_volt": 2.0}),
        ("temperature", "degC", {"temperature_celsius": 2.0}),
        ("level", "", {}),
    ],
)
def test_a_condition_needs_its_unit(role, unit, expected):
    assert condition(Conditions(), role, 2.0, unit) == Conditions(**expected)


def test_a_condition_without_a_value_stays_unstated():
    assert condition(Conditions(), "level", np.nan, "V") == Conditions()


def test_minus_999_in_every_used_column_is_no_value():
    found = columns(["f (Hz)", "R (ohm)", "X (ohm)"], [(1, -999, -999), (2, -999, 5), (3, 1, 1)])
    (frame,) = framed(found)
    assert frame.settled([1, 2])
    assert found.notes.set_aside == {2: "-999 stands for no value"}
    assert frame.without_value([1]).tolist() == [False, False, False]


def test_labels_are_joined():
    (frame,) = framed(columns(["f (Hz)", "R", "X"], rows_of(F, F, F)))
    assert frame.labelled("S21", "").label == "S21"
