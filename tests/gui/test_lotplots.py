"""The plots of a lot: a click chooses what lies there; all sweeps are one drawing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt

from benchapp.gui import theme
from benchapp.gui.lotplots import (
    AcceptancePlot,
    HistogramPlot,
    OverlayPlot,
    RunPlot,
    TrendPlot,
)
from benchapp.gui.planwords import FRACTIONS
from benchapp.lot import LotForm, LotState, PartRecord, PlanChoice, summarize, trends
from benchapp.nominal import Envelope, Nominal, Outcome
from benchapp.sampling import accept_hypergeometric
from tests.gui.factories import L_LIMIT, estimate, tank


def summary(values):
    nominal = Nominal(title="GA-12", circuit="tank", limits=(L_LIMIT,))
    plan = PlanChoice(kind="all").plan(len(values))
    parts = tuple(
        PartRecord(
            serial=str(at),
            outcome=Outcome.PASS,
            estimates={"L": estimate("L", value, 1e-6, "H")},
        )
        for at, value in enumerate(values)
    )
    state = LotState(form=LotForm(quantity=len(values)), plan=plan, parts=parts)
    return summarize(state, nominal).quantities[0]


VALUES = 1.62e-3 + 1e-5 * np.random.default_rng(3).normal(size=40)


@pytest.mark.parametrize("quantity", [2, 9, 150, 100_000])
def test_the_acceptance_curve_is_drawn_for_lots_of_any_size(qtbot, quantity):
    plot = AcceptancePlot()
    qtbot.addWidget(plot)
    plot.show_plan(PlanChoice().plan(quantity), (0.01, 0.1))
    x, y = plot.curve.getData()
    assert y[0] == pytest.approx(100)
    assert np.all(np.diff(y) <= 1e-9)
    assert np.all(np.diff(x) > 0)


@pytest.mark.parametrize("quantity", [9, 51, 150, 451, 3_300])
def test_the_points_of_the_acceptance_curve_lie_on_its_line(qtbot, quantity):
    plot = AcceptancePlot()
    qtbot.addWidget(plot)
    plan = PlanChoice().plan(quantity)
    plot.show_plan(plan, FRACTIONS)
    x, y = plot.points.getData()
    line = np.interp(x, *plot.curve.getData())
    assert y == pytest.approx(line, abs=0.5)
    counts = x / 100 * quantity
    assert counts == pytest.approx(np.rint(counts), abs=1e-9)
    exact = [accept_hypergeometric(quantity, plan.n, plan.accept, round(one)) for one in counts]
    assert y == pytest.approx(100 * np.array(exact))


def test_no_curve_is_drawn_without_a_plan(qtbot):
    plot = AcceptancePlot()
    qtbot.addWidget(plot)
    plot.show_plan(PlanChoice().plan(150))
    plot.show_plan(None)
    assert plot.curve.getData()[0] is None or plot.curve.getData()[0].size == 0


def test_a_click_on_a_bar_tells_its_ends(qtbot):
    plot = HistogramPlot()
    qtbot.addWidget(plot)
    found = summary(VALUES)
    plot.show_quantity(found, "L")
    told = []
    plot.chosen.connect(lambda low, high: told.append((low, high)))
    middle = float(found.edges[:2].mean())
    plot.clicked.emit(middle, 1.0)
    plot.clicked.emit(float(found.edges[-1]) + 1e-3, 1.0)
    assert told == [(pytest.approx(found.edges[0]), pytest.approx(found.edges[1]))]


def test_a_click_on_the_run_chart_tells_the_part(qtbot):
    plot = RunPlot()
    qtbot.addWidget(plot)
    plot.show_quantity(summary(VALUES), "L")
    told = []
    plot.chosen.connect(told.append)
    plot.clicked.emit(3.2, 0.0)
    plot.clicked.emit(99.0, 0.0)
    assert told == [2, 39]


def test_the_chosen_part_is_ringed_and_let_go(qtbot):
    plot = RunPlot()
    qtbot.addWidget(plot)
    plot.show_quantity(summary(VALUES), "L")
    plot.show_chosen(4)
    x, y = plot.ring.getData()
    assert (x[0], y[0]) == (5, VALUES[4])
    plot.show_chosen(None)
    assert plot.ring.getData()[0] is None or plot.ring.getData()[0].size == 0


def test_all_sweeps_are_one_drawing_and_the_nearest_is_told(qtbot):
    plot = OverlayPlot()
    qtbot.addWidget(plot)
    plot.resize(500, 400)
    plot.show()
    frequency = np.linspace(114e3, 154e3, 101)
    z = tank(frequency)
    plot.show_sweeps({"a": (frequency, z), "b": (frequency, 3 * z)}, None)
    x, y = plot.all.getOriginalDataset()
    assert x.size == 2 * 102
    assert np.isnan(y[[101, 203]]).all()
    plot.grab()
    at = 120e3
    assert plot.nearest(at, float(np.log10(np.interp(at, frequency, np.abs(3 * z))))) == "b"
    assert plot.nearest(at, float(np.log10(np.interp(at, frequency, np.abs(z))))) == "a"
    assert plot.nearest(200e3, 3.0) == ""


def trend(*means):
    design = Nominal(title="GA-12", circuit="tank", limits=(L_LIMIT,))
    lots = [
        (f"lot {at}", {"L": [estimate("L", mean + d, 1e-6, "H") for d in (-2e-6, 2e-6)]})
        for at, mean in enumerate(means, start=1)
    ]
    return trends(lots, design)[0]


def click(qtbot, plot, x, y):
    """Click a place of a plot with the mouse, in the plot's own coordinates."""
    plot.resize(500, 360)
    plot.show()
    plot.grab()
    spot = plot.plotItem.vb.mapViewToScene(QPointF(x, y))
    qtbot.mouseClick(plot.viewport(), Qt.MouseButton.LeftButton, pos=plot.mapFromScene(spot))


def test_a_trend_shows_each_mean_with_its_spread_inside_the_limits(qtbot):
    plot = TrendPlot()
    qtbot.addWidget(plot)
    means = (1.61e-3, 1.62e-3, 1.63e-3)
    plot.show_trend(trend(*means))
    x, y = plot.points.getData()
    assert list(x) == [1, 2, 3]
    assert y == pytest.approx(means)
    low, high = plot.plotItem.vb.viewRange()[1]
    assert low < L_LIMIT.lower < L_LIMIT.upper < high
    assert plot.side.quantity_unit == "H"


def test_a_lot_is_chosen_by_a_click_beside_its_point_too(qtbot):
    plot = TrendPlot()
    qtbot.addWidget(plot)
    plot.show_trend(trend(1.61e-3, 1.62e-3, 1.63e-3))
    told = []
    plot.chosen.connect(told.append)
    click(qtbot, plot, 2.2, 1.60e-3)
    qtbot.waitUntil(lambda: told == [1], timeout=5_000)
    plot.show_chosen(1)
    assert plot.ring.getData()[0][0] == 2
    plot.show_chosen(None)
    assert plot.ring.getData()[0] is None or plot.ring.getData()[0].size == 0


def test_one_lot_is_drawn_without_control_limits(qtbot):
    plot = TrendPlot()
    qtbot.addWidget(plot)
    plot.show_trend(trend(1.62e-3))
    assert len(plot._lines) == 3, "two limits and the nominal value"
    plot.show_trend(trend(1.61e-3, 1.62e-3))
    assert len(plot._lines) == 5
    plot.show_trend(trend(1.62e-3))
    assert len(plot._lines) == 3, "nothing of the trend before stays"


@pytest.mark.parametrize("kind", [AcceptancePlot, HistogramPlot, OverlayPlot, RunPlot, TrendPlot])
def test_every_plot_has_a_name_and_follows_the_theme(qtbot, qapp, kind):
    plot = kind()
    qtbot.addWidget(plot)
    assert plot.accessibleName()
    theme.apply(qapp, theme.DARK)
    try:
        qapp.processEvents()
        assert plot.backgroundBrush().color() == theme.DARK.color("card")
    finally:
        theme.apply(qapp, theme.LIGHT)


def test_a_plan_by_variables_has_no_curve(qtbot):
    plot = AcceptancePlot()
    qtbot.addWidget(plot)
    plot.show_plan(PlanChoice(kind="variables").plan(150))
    assert plot.curve.getData()[0] is None or plot.curve.getData()[0].size == 0


@pytest.mark.parametrize("quantity", [51, 150, 451])
def test_a_plan_without_a_rejected_part_keeps_out_what_it_was_made_for(qtbot, quantity):
    """At the share that must be kept out the curve has fallen to the risk, and not far below."""
    plot = AcceptancePlot()
    qtbot.addWidget(plot)
    plan = PlanChoice(kind="zero", fraction=0.05, risk=0.1).plan(quantity)
    plot.show_plan(plan)
    x, y = plot.curve.getData()
    bad = -(-quantity * 5 // 100)  # the whole number of parts that is 5 % or just above
    assert np.interp(100 * bad / quantity, x, y) <= 10 + 0.5
    fewer = replace(plan, n=plan.n - 1)
    assert fewer.acceptance(np.array([bad / quantity]))[0] > 0.1


def test_odd_points_of_a_run_are_those_of_the_statistics(qtbot):
    plot = RunPlot()
    qtbot.addWidget(plot)
    values = VALUES.copy()
    values[17] = 1.66e-3
    found = summary(values)
    plot.show_quantity(found, "L")
    wanted = {one.index for one in found.outliers}
    wanted |= {point for one in found.charts.location.signals for point in one.points}
    assert 17 in wanted
    assert set(plot.odd.getData()[0].astype(int) - 1) == wanted


def test_a_click_on_the_run_chart_reaches_the_nearest_part(qtbot):
    plot = RunPlot()
    qtbot.addWidget(plot)
    plot.show_quantity(summary(VALUES), "L")
    told = []
    plot.chosen.connect(told.append)
    click(qtbot, plot, 12.1, float(VALUES.mean()))
    qtbot.waitUntil(lambda: told == [11], timeout=5_000)


def test_a_quantity_without_values_draws_no_bar_and_tells_no_click(qtbot):
    plot = HistogramPlot()
    qtbot.addWidget(plot)
    told = []
    plot.chosen.connect(lambda low, high: told.append((low, high)))
    plot.show_quantity(summary(VALUES), "L")
    plot.show_quantity(replace(summary(VALUES), edges=None, counts=None), "L")
    plot.clicked.emit(1.62e-3, 1.0)
    assert told == []
    assert plot.bars.getData()[1].sum() == 0


def test_the_band_of_the_design_lies_under_the_sweeps(qtbot):
    plot = OverlayPlot()
    qtbot.addWidget(plot)
    frequency = np.linspace(114e3, 154e3, 101)
    z = tank(frequency)
    band = Envelope(
        frequency=frequency,
        magnitude_low=0.9 * np.abs(z),
        magnitude_high=1.1 * np.abs(z),
        theta_low_degrees=None,
        theta_high_degrees=None,
    )
    plot.show_sweeps({"a": (frequency, z)}, band)
    assert plot.low.getData()[1] == pytest.approx(np.log10(0.9 * np.abs(z)))
    assert plot.high.getData()[1] == pytest.approx(np.log10(1.1 * np.abs(z)))
    plot.show_sweeps({}, None)
    assert plot.low.getData()[0].size == 0


def test_a_click_far_from_every_sweep_chooses_none(qtbot):
    plot = OverlayPlot()
    qtbot.addWidget(plot)
    frequency = np.linspace(114e3, 154e3, 101)
    plot.show_sweeps({"a": (frequency, tank(frequency))}, None)
    told = []
    plot.chosen.connect(told.append)
    at = float(frequency[10])
    level = float(np.log10(np.abs(tank(at))))
    click(qtbot, plot, at, level)
    qtbot.waitUntil(lambda: told == ["a"], timeout=5_000)
    click(qtbot, plot, at, level + 0.6)
    qtbot.wait(50)
    assert told == ["a"]
