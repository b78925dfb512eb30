"""Axis ticks: round numbers, inside the range, told apart by their labels."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.report.axis import linear_axis, log_axis

RANGES = st.tuples(
    st.floats(min_value=-1e6, max_value=1e6), st.floats(min_value=1e-2, max_value=1e9)
).map(lambda pair: (pair[0], pair[0] + pair[1]))


def test_a_sweep_around_the_reader_frequency_gets_round_kilohertz():
    axis = linear_axis(100e3, 180e3, "Hz", most=8)
    assert [text for _, text in axis.ticks] == [f"{f} kHz" for f in range(100, 190, 10)]


def test_an_impedance_over_three_decades_gets_its_decades():
    axis = log_axis(700.0, 130e3, "ohm")
    assert [text for _, text in axis.ticks] == ["1 kΩ", "10 kΩ", "100 kΩ"]
    assert [at for at, _ in axis.ticks] == [3.0, 4.0, 5.0]


def test_less_than_a_decade_gets_finer_labels():
    texts = [text for _, text in log_axis(2.1e3, 4.9e3, "ohm").ticks]
    assert texts == ["3 kΩ", "4 kΩ"]


@given(RANGES, st.integers(min_value=3, max_value=12))
def test_linear_ticks_lie_inside_evenly_and_are_never_too_many(limits, most):
    axis = linear_axis(*limits, "1", most=most)
    places = [at for at, _ in axis.ticks]
    assert len(places) <= most + 1
    slack = 1e-6 * (axis.high - axis.low)
    assert all(axis.low - slack <= at <= axis.high + slack for at in places)
    steps = [b - a for a, b in itertools.pairwise(places)]
    grain = 4 * math.ulp(max(abs(axis.low), abs(axis.high)))
    assert all(math.isclose(step, steps[0], rel_tol=1e-6, abs_tol=grain) for step in steps)


@given(
    st.floats(min_value=-3, max_value=9),
    st.floats(min_value=0, max_value=8),
)
def test_logarithmic_ticks_lie_inside_and_have_different_labels(start, decades):
    axis = log_axis(10**start, 10 ** (start + decades), "ohm")
    assert all(axis.low - 1e-9 <= at <= axis.high + 1e-9 for at, _ in axis.ticks)
    labels = [text for _, text in axis.ticks]
    assert len(set(labels)) == len(labels) <= 8


def test_a_range_without_width_is_widened_around_its_value():
    axis = linear_axis(5.0, 5.0, "V")
    assert axis.low < 5.0 < axis.high
    assert axis.fraction(5.0) == pytest.approx(0.5)


@pytest.mark.parametrize(("low", "high"), [(100e3, 100.4e3), (1.0, 1.0001), (-1e-3, 1e-3)])
def test_labels_of_a_narrow_range_are_told_apart(low, high):
    labels = [text for _, text in linear_axis(low, high, "Hz").ticks]
    assert len(set(labels)) == len(labels) >= 3
