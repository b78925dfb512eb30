"""What a design allows is drawn before anything is measured."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtGui import QColor

from benchapp.gui import theme
from benchapp.gui.preview import Preview, preview_span
from benchapp.nominal import Limit, envelope
from tests.gui.factories import L_LIMIT, Q_LIMIT, nominal
from tests.gui.stage import activate

F0_LIMIT = Limit(quantity="f0", unit="Hz", lower=132.187e3, upper=136.213e3, nominal=134.2e3)
DESIGN = nominal(limits=(L_LIMIT, F0_LIMIT, Q_LIMIT))


@pytest.fixture
def preview(qtbot):
    made = Preview()
    qtbot.addWidget(made)
    made.resize(700, 400)
    activate(qtbot, made)
    return made


def test_the_envelope_of_the_design_is_drawn(preview):
    assert preview.show_nominal(DESIGN)
    x, low = preview.upper._edges[0].getData()
    band = envelope(DESIGN, x)
    assert 10**low == pytest.approx(band.magnitude_low)
    _, angle = preview.lower._edges[1].getData()
    assert angle == pytest.approx(band.theta_high_degrees[: angle.size], abs=20)


def test_both_plots_show_the_same_frequencies(preview):
    preview.show_nominal(DESIGN)
    for plot in (preview.upper, preview.lower):
        low, high = plot.area.viewRange()[0]
        assert (low, high) == pytest.approx(preview_span(DESIGN), rel=1e-6)


def test_the_axes_are_labelled(preview):
    preview.show_nominal(DESIGN)
    assert preview.lower.base_axis.labelText == "frequency, kHz"
    assert preview.upper.scale_axis.labelText == "|Z|"


def test_limits_that_bound_nothing_are_said_to_show_nothing(preview):
    assert not preview.show_nominal(nominal(limits=(L_LIMIT,)))
    assert not preview.show_nominal(nominal(limits=(L_LIMIT,), frequency=None))


def test_another_design_replaces_the_picture(preview):
    preview.show_nominal(DESIGN)
    before = preview.upper._edges[0].getData()[1].copy()
    tighter = Limit(quantity="Q", unit="1", lower=100.0, upper=110.0, at=134.2e3)
    preview.show_nominal(nominal(limits=(L_LIMIT, F0_LIMIT, tighter)))
    after = preview.upper._edges[0].getData()[1]
    assert np.max(after) > np.max(before)


def test_the_mouse_does_not_move_it(preview):
    for plot in (preview.upper, preview.lower):
        assert plot.area.state["mouseEnabled"] == [False, False]


def test_colours_follow_the_theme(qtbot, qapp, preview):
    theme.apply(qapp, theme.DARK)
    qtbot.wait(5)
    assert preview.backgroundBrush().color() == QColor(theme.DARK.card)


@pytest.mark.parametrize(
    ("limit", "centre"),
    [
        (Limit(quantity="f0", unit="Hz", upper=100e3), 100e3),
        (Limit(quantity="SRF", unit="Hz", lower=1.2e6), 1.2e6),
        (Limit(quantity="ESR", unit="ohm", upper=2.0, at=50e3), 50e3),
    ],
)
def test_the_centre_is_found_from_whatever_the_design_states(limit, centre):
    low, high = preview_span(nominal(frequency=None, limits=(limit,)))
    assert (low, high) == pytest.approx((0.85 * centre, 1.15 * centre))
