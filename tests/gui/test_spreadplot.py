"""The picture of a stack-up shows the core's ranges, the band, and all of the drawn tanks."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.gui.spreadplot import SpreadPlot, plan_of
from benchapp.gui.theme import current
from benchapp.tank import Band, Contributor, StackUp, simulate, stack

BAND = Band(low=132e3, high=136.5e3)
STACK_UP = StackUp(
    frequency=134.2e3,
    contributors=(
        Contributor(name="L", target="L", low=-0.03, high=0.03),
        Contributor(name="C", target="C", low=-0.02, high=0.02),
    ),
    band=BAND,
)


@pytest.fixture
def drawn():
    return simulate(STACK_UP, np.random.default_rng(3), 20_000)


def test_the_plan_holds_the_ranges_of_the_core():
    stacked = stack(STACK_UP)
    plan = plan_of(stacked, BAND, None)
    assert plan.worst == (stacked.worst_low, stacked.worst_high)
    assert plan.rss == (stacked.rss_low, stacked.rss_high)
    assert plan.low < stacked.worst_low < stacked.worst_high < plan.high
    assert plan.band == (132e3, 136.5e3)
    assert plan.outline == ()


def test_the_histogram_has_the_middle_and_the_width_of_the_drawn_tanks(drawn):
    plan = plan_of(stack(STACK_UP), BAND, drawn)
    lefts, heights = np.array(plan.outline[1:-1:2]).T
    rights = np.array(plan.outline[2::2])[:, 0]
    middles, weights = (lefts + rights) / 2, heights / heights.sum()
    mean = float(np.sum(weights * middles))
    sd = float(np.sqrt(np.sum(weights * (middles - mean) ** 2)))
    assert mean == pytest.approx(drawn.mean, rel=1e-4)
    assert sd == pytest.approx(drawn.sd, rel=0.03)
    assert heights.max() == pytest.approx(1.0)


def test_a_band_that_is_far_away_does_not_squeeze_the_picture():
    near = plan_of(stack(STACK_UP), None, None)
    far = plan_of(stack(STACK_UP), Band(low=10e3, high=1e6), None)
    assert (far.low, far.high) == (near.low, near.high)
    assert far.band == (near.low, near.high)
    assert plan_of(stack(STACK_UP), Band(high=1e3), None).band is None


def test_an_open_band_goes_to_the_end_of_the_axis():
    plan = plan_of(stack(STACK_UP), Band(low=132e3), None)
    assert plan.band == (132e3, plan.high)


def test_the_band_is_painted_where_it_is_and_said_in_words(qtbot, drawn):
    plot = SpreadPlot()
    qtbot.addWidget(plot)
    plot.resize(500, 240)
    plot.show_plan(plan_of(stack(STACK_UP), BAND, drawn))
    with_band = plot.grab().toImage()
    words = plot.accessibleName()
    assert words.startswith("Resonance 134.2 kHz; worst case 130.9 kHz to 137.6 kHz")
    assert words.endswith("; drive band 132.0 kHz to 136.5 kHz")
    plot.show_plan(plan_of(stack(STACK_UP), None, drawn))
    assert plot.grab().toImage() != with_band
    assert "band" not in plot.accessibleName()
    plot.show_plan(None)
    empty = plot.grab().toImage()
    ink = current().color("ink").rgb()
    assert all(empty.pixel(x, y) != ink for x in range(0, 500, 5) for y in range(0, 240, 5))
