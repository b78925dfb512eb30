"""The control chart as it is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.gui.controlplot import ControlPlot
from benchapp.lot import Control
from benchapp.lot.chart import Chart, signals
from benchapp.nominal import Limit

LIMIT = Limit(quantity="L", unit="H", lower=0.99e-3, upper=1.01e-3, nominal=1e-3)
SIGMA = 1e-6


def control(values, *, charted=True):
    points = np.array(values, dtype=float)
    chart = Chart(
        title="L",
        points=points,
        centre=1e-3,
        lower=1e-3 - 3 * SIGMA,
        upper=1e-3 + 3 * SIGMA,
        signals=signals(points, 1e-3, SIGMA),
    )
    return Control(
        limit=LIMIT,
        key="L",
        points=points,
        times=tuple("2026-03-02" for _ in points),
        chart=chart if charted else None,
    )


def drawn(qtbot):
    made = ControlPlot()
    qtbot.addWidget(made)
    return made


def test_checks_stand_in_percent_of_the_stated_value(qtbot):
    plot = drawn(qtbot)
    plot.show_control(control([1e-3, 1.001e-3]))
    x, y = plot.trace.getData()
    assert x.tolist() == [1, 2]
    np.testing.assert_allclose(y, [0.0, 0.1], atol=1e-9)
    assert plot.lines["stated_upper"].value() == pytest.approx(1.0)
    assert plot.lines["upper"].value() == pytest.approx(0.3)


def test_points_of_a_signal_are_marked(qtbot):
    plot = drawn(qtbot)
    plot.show_control(control([1e-3, 1.005e-3, 1e-3]))
    assert plot.marked.getData()[0].tolist() == [2]


def test_without_control_limits_their_lines_are_hidden(qtbot):
    plot = drawn(qtbot)
    plot.show_control(control([1e-3], charted=False))
    assert not plot.lines["upper"].isVisible()
    assert plot.lines["stated_upper"].isVisible()


def test_without_a_stated_value_it_is_the_centre_or_the_mean(qtbot):
    plot = drawn(qtbot)
    bare = replace(LIMIT, nominal=None, upper=None)
    plot.show_control(replace(control([2e-3, 4e-3], charted=False), limit=bare))
    np.testing.assert_allclose(plot.trace.getData()[1], [-100 / 3, 100 / 3])
    plot.show_control(replace(control([1.001e-3]), limit=bare))
    np.testing.assert_allclose(plot.trace.getData()[1], [0.1])


def test_only_the_last_sixty_are_drawn(qtbot):
    plot = drawn(qtbot)
    plot.show_control(control(np.full(100, 1e-3)))
    x, _ = plot.trace.getData()
    assert (x[0], x[-1], x.size) == (41, 100, 60)


def test_every_line_lies_within_the_picture(qtbot):
    plot = drawn(qtbot)
    plot.show_control(control([1.02e-3]))
    low, high = plot.viewRange()[1]
    assert low < -1.0
    assert high > 2.0
