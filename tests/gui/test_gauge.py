"""The band gauge shows where a value lies, and says so when it is off the scale."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from benchapp.gui.gauge import BandGauge, paint_gauge, scale_of
from benchapp.gui.theme import DARK, LIGHT
from benchapp.nominal import Limit, LimitVerdict, Outcome
from tests.gui.factories import ESR_LIMIT, L_LIMIT, estimate, judged_limit


def entry(limit, value, expanded=0.0, guard=None):
    return LimitVerdict(
        limit=limit,
        outcome=Outcome.PASS,
        measured=estimate(limit.quantity, value, expanded / 2, limit.unit),
        expanded=expanded,
        guard=expanded if guard is None else guard,
    )


BOTH_SIDES = Limit(quantity="Q", unit="1", lower=60.0, upper=110.0)
LOWER_ONLY = Limit(quantity="Q", unit="1", lower=60.0)


def test_the_nominal_of_a_symmetrical_limit_is_in_the_middle():
    scale = scale_of(judged_limit(value=1.62e-3))
    assert scale.value == pytest.approx(0.5)
    assert scale.nominal == pytest.approx(0.5)
    assert sum(scale.allowed) == pytest.approx(1.0)


def test_the_limits_leave_room_outside_for_values_that_break_them():
    scale = scale_of(entry(BOTH_SIDES, 115.0))
    assert 0.1 < scale.allowed[0] < scale.allowed[1] < scale.value < 1.0
    assert scale.off == 0


@pytest.mark.parametrize(("value", "off", "end"), [(500.0, 1, 1.0), (-40.0, -1, 0.0)])
def test_a_value_beyond_the_ends_is_shown_as_off_the_scale(value, off, end):
    scale = scale_of(entry(BOTH_SIDES, value))
    assert scale.off == off
    assert scale.value == end


def test_guard_bands_are_inside_the_limits_and_as_wide_as_they_are():
    scale = scale_of(entry(BOTH_SIDES, 80.0, guard=5.0))
    width = (scale.allowed[1] - scale.allowed[0]) / 50.0 * 5.0
    (low, low_end), (high_start, high) = scale.guards
    assert low == scale.allowed[0]
    assert high == scale.allowed[1]
    assert low_end - low == pytest.approx(width)
    assert high - high_start == pytest.approx(width)


def test_simple_acceptance_has_no_guard_band():
    assert scale_of(entry(BOTH_SIDES, 80.0, expanded=4.0, guard=0.0)).guards == ()


def test_a_guard_band_wider_than_the_range_fills_it_and_no_more():
    scale = scale_of(entry(BOTH_SIDES, 80.0, guard=400.0))
    for guard in scale.guards:
        assert guard == pytest.approx(scale.allowed)


def test_an_upper_limit_alone_starts_at_zero():
    scale = scale_of(entry(ESR_LIMIT, 11.0))
    assert scale.allowed[0] == 0.0
    assert scale.value == pytest.approx(scale.allowed[1] / 2)
    assert len(scale_of(entry(ESR_LIMIT, 11.0, guard=1.0)).guards) == 1


def test_a_lower_limit_alone_is_open_to_the_right():
    scale = scale_of(entry(LOWER_ONLY, 80.0))
    assert scale.allowed[1] == 1.0
    assert scale.allowed[0] < scale.value < 1.0


def test_a_value_far_above_a_lower_limit_is_off_the_scale():
    assert scale_of(entry(LOWER_ONLY, 5000.0)).off == 1


def test_what_was_not_measured_has_no_diamond():
    scale = scale_of(LimitVerdict(limit=L_LIMIT, outcome=Outcome.NOT_JUDGED))
    assert scale.value is None
    assert scale.whisker is None


@given(
    low=st.floats(-1e3, 1e3),
    width=st.floats(1e-3, 1e3),
    value=st.floats(-1e4, 1e4),
    spread=st.floats(0, 1e3),
)
def test_everything_stands_between_the_ends_in_order(low, width, value, spread):
    limit = Limit(quantity="theta", unit="deg", lower=low, upper=low + width)
    scale = scale_of(entry(limit, value, expanded=spread))
    assert 0 <= scale.allowed[0] < scale.allowed[1] <= 1
    assert 0 <= scale.whisker[0] <= scale.value <= scale.whisker[1] <= 1
    inside = low <= value <= low + width
    shown_inside = scale.allowed[0] - 1e-9 <= scale.value <= scale.allowed[1] + 1e-9
    assert inside <= shown_inside


@pytest.mark.parametrize("dress", [LIGHT, DARK], ids=lambda one: one.name)
def test_the_diamond_is_painted_where_the_value_is(qapp, dress):
    """Ink in the uppermost rows is the diamond's tip: nothing else reaches there."""
    for value in (1.58e-3, 1.62e-3, 1.66e-3):
        image = QImage(400, 24, QImage.Format.Format_RGB32)
        image.fill(dress.color("card"))
        scale = scale_of(judged_limit(value=value))
        painter = QPainter(image)
        paint_gauge(painter, QRectF(image.rect()), scale, dress)
        painter.end()
        card = dress.color("card").rgb()
        inked = [x for x in range(400) if image.pixel(x, 2) != card]
        middle = sum(inked) / len(inked)
        assert middle == pytest.approx(12 + scale.value * (400 - 24), abs=2)


def test_a_gauge_says_in_words_what_it_shows(qapp):
    gauge = BandGauge()
    gauge.show_limit(judged_limit(Outcome.CONDITIONAL_PASS, value=1.6653e-3, expanded=4.2e-6))
    said = gauge.accessibleName()
    assert "L 1.6653 ± 0.0042 mH, allowed 1.62 mH ±3 %: conditional pass" in said
    assert "guard band of 4.2 µH" in said
    assert "off scale" not in said
    gauge.show_limit(judged_limit(Outcome.FAIL, value=3e-3))
    assert "off scale" in gauge.accessibleName()
    assert gauge.toolTip() == gauge.accessibleName()


def test_a_gauge_keeps_its_height_when_it_is_narrow(qapp):
    gauge = BandGauge(18)
    assert gauge.minimumSizeHint().height() == 18
    gauge.set_height(40)
    assert gauge.sizeHint().height() == gauge.minimumSizeHint().height() == 40
