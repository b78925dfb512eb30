"""Bars are as long as what they show."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.gui.bars import ShareBar, UseGauge, scale_of_use
from benchapp.gui.theme import current


@given(use=st.floats(0, 1e6))
def test_use_of_a_limit_stands_left_of_it_when_within_and_right_when_over(use):
    scale = scale_of_use(use)
    limit = scale.allowed[1]
    assert 0 <= scale.value <= 1
    assert (scale.value > limit + 1e-12) == (use > 1 + 1e-12)
    assert scale.off == (1 if use > 1.36 else 0)


def test_the_hatched_part_begins_at_80_percent_of_the_limit():
    scale = scale_of_use(0.8)
    assert scale.guards[0] == pytest.approx((scale.value, scale.allowed[1]))


@pytest.mark.parametrize("share", [0.0, 0.25, 1.0])
def test_a_share_is_painted_as_long_as_it_is(qtbot, share):
    bar = ShareBar()
    qtbot.addWidget(bar)
    bar.resize(200, 12)
    bar.show_share(share, "coil: 25 %")
    picture = bar.grab().toImage()
    fit = current().color("fit").rgb()
    filled = sum(picture.pixel(x, 6) == fit for x in range(picture.width()))
    assert filled == pytest.approx(share * picture.width(), abs=2)
    assert bar.toolTip() == bar.accessibleName() == "coil: 25 %"


def test_what_cannot_be_judged_has_no_gauge_but_words(qtbot):
    gauge = UseGauge()
    qtbot.addWidget(gauge)
    gauge.resize(200, 20)
    gauge.show_use(0.5, "half")
    painted = gauge.grab().toImage()
    gauge.show_use(None, "cannot be judged")
    assert gauge.scale is None
    assert gauge.grab().toImage() != painted
    assert gauge.accessibleName() == "cannot be judged"
