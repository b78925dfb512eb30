"""Ticks are round, few enough, inside the axis, and written with prefixes."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtGui import QFontMetrics

from benchapp.gui.axis import EngineeringAxis, linear_ticks, log_ticks, prefixed, tick_words

SPANS = st.tuples(
    st.floats(-1e9, 1e9, allow_nan=False), st.floats(1e-6, 1e9, allow_nan=False)
).map(lambda pair: (pair[0], pair[0] + pair[1] + abs(pair[0]) * 1e-6))
LOG_SPANS = st.tuples(st.floats(-12, 9), st.floats(0.01, 9)).map(
    lambda pair: (10.0 ** pair[0], 10.0 ** (pair[0] + pair[1]))
)


@given(span=SPANS, most=st.integers(2, 20))
def test_linear_ticks_lie_inside_evenly_and_are_few_enough(span, most):
    ticks = linear_ticks(*span, most)
    width = span[1] - span[0]
    assert len(ticks) <= most + 1
    assert all(span[0] - 1e-6 * width <= tick <= span[1] + 1e-6 * width for tick in ticks)
    steps = [after - before for before, after in itertools.pairwise(ticks)]
    assert all(step == pytest.approx(steps[0], rel=1e-3) for step in steps)


@given(span=LOG_SPANS, most=st.integers(2, 14))
def test_log_ticks_lie_inside_rise_and_are_few_enough(span, most):
    ticks = log_ticks(*span, most)
    assert len(ticks) <= most + 1
    assert ticks == sorted(set(ticks))
    assert all(span[0] * 0.999999 <= tick <= span[1] * 1.000001 for tick in ticks)


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (100.0, 180.0, 5, [100, 120, 140, 160, 180]),
        (0.0, 1.0, 4, [0, 0.25, 0.5, 0.75, 1.0]),
        (-5.5, 5.5, 4, [-5, 0, 5]),
        (1.0, 1.0, 5, []),
        (0.0, 1.0, 0, []),
    ],
)
def test_linear_ticks_are_those_a_person_would_draw(low, high, most, ticks):
    assert linear_ticks(low, high, most) == pytest.approx(ticks)


def test_phase_is_ticked_in_parts_of_a_right_angle():
    axis = EngineeringAxis("left", "deg")
    assert axis.tickValues(-95.0, 95.0, 100)[0][1] == pytest.approx([-90, 0, 90])
    assert axis.tickValues(-95.0, 95.0, 160)[0][1] == pytest.approx([-90, -45, 0, 45, 90])
    assert axis.tickValues(85.0, 91.0, 120)[0][1] == pytest.approx([86, 88, 90])


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (1e3, 1e6, 4, [1e3, 1e4, 1e5, 1e6]),
        (900.0, 12e3, 5, [1e3, 2e3, 5e3, 1e4]),
        (2.1e3, 4.9e3, 6, [2.5e3, 3e3, 3.5e3, 4e3, 4.5e3]),
        (1e-3, 1e9, 4, [1e-3, 1e1, 1e5, 1e9]),
        (0.0, 1.0, 4, []),
        (-1.0, 1.0, 4, []),
    ],
)
def test_log_ticks_thin_out_over_many_decades_and_fill_in_within_one(low, high, most, ticks):
    assert log_ticks(low, high, most) == pytest.approx(ticks)


@pytest.mark.parametrize(
    ("largest", "scale", "prefix"),
    [
        (154e3, 1e3, "k"),
        (13.56e6, 1e6, "M"),
        (999.0, 1.0, ""),
        (2e-3, 1e-3, "m"),
        (1e-15, 1e-12, "p"),
        (1e12, 1e9, "G"),
        (0.0, 1.0, ""),
    ],
)
def test_a_prefix_puts_the_largest_value_between_one_and_a_thousand(largest, scale, prefix):
    assert prefixed(largest) == (pytest.approx(scale), prefix)


@pytest.mark.parametrize(
    ("values", "unit", "words"),
    [
        ([1e3, 1e4, 1e5], "ohm", ["1 kΩ", "10 kΩ", "100 kΩ"]),
        ([1.6e-3, 1.62e-3, 1.64e-3], "H", ["1.6 mH", "1.62 mH", "1.64 mH"]),
        ([-90.0, 0.0, 90.0], "deg", ["−90°", "0°", "90°"]),
        ([0.0, 20.0, 40.0], "1", ["0", "20", "40"]),
        ([-2.5e-12, 0.0], "F", ["−2.5 pF", "0"]),
    ],
)
def test_ticks_carry_prefix_and_unit_without_needless_zeros(values, unit, words):
    assert tick_words(values, unit, with_unit=True, scale=1.0) == words


def test_bare_ticks_are_numbers_in_the_unit_of_the_axis_label():
    assert tick_words([114e3, 134.2e3], "Hz", with_unit=False, scale=1e3) == ["114", "134.2"]


def test_neighbouring_ticks_never_read_the_same():
    for low, high in ((133.99e3, 134.01e3), (0.99999, 1.00001), (1.6201e-3, 1.6202e-3)):
        ticks = linear_ticks(low, high, 5)
        words = tick_words(ticks, "Hz", with_unit=True, scale=1.0)
        assert len(set(words)) == len(words)


def test_ticks_use_the_decimal_mark_of_the_desktop(monkeypatch):
    monkeypatch.setattr("benchapp.gui.axis.decimal_mark", lambda: ",")
    assert tick_words([1.5e3, 2e3], "ohm", with_unit=True, scale=1.0) == ["1,5 kΩ", "2 kΩ"]
    assert tick_words([134.2e3], "Hz", with_unit=False, scale=1e3) == ["134,2"]


def test_an_axis_writes_its_values_in_plain_units_on_a_log_scale(qapp):
    axis = EngineeringAxis("left", "ohm")
    axis.logMode = True
    ((_, ticks),) = axis.tickValues(3.0, 6.0, 200)
    assert ticks == pytest.approx([3, 4, 5, 6])
    assert axis.tickStrings(ticks, 1.0, 1.0) == ["1 kΩ", "10 kΩ", "100 kΩ", "1 MΩ"]


def test_an_axis_says_in_which_prefixed_unit_its_bare_ticks_are(qapp):
    axis = EngineeringAxis("bottom", "Hz", with_unit=False)
    assert axis.set_scale_by(154e3) == "kHz"
    assert axis.tickStrings([140e3], 1.0, 1.0) == ["140"]


def test_labels_have_room_beside_each_other(qapp):
    """As many ticks as 84 pixels each allow: no label is wider than that in the window's font."""
    axis = EngineeringAxis("bottom", "Hz", with_unit=False)
    axis.set_scale_by(154e3)
    for width in (240, 500, 760, 1300):
        ((_, ticks),) = axis.tickValues(114e3, 154e3, width)
        words = axis.tickStrings(ticks, 1.0, 1.0)
        needed = sum(QFontMetrics(qapp.font()).horizontalAdvance(word) + 6 for word in words)
        assert needed <= width
        assert math.isclose(ticks[-1] - ticks[-2], ticks[1] - ticks[0])
