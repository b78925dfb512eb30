"""The plots of a lot: a click chooses what lies there; all sweeps are one drawing."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.gui.lotplots import AcceptancePlot, HistogramPlot, OverlayPlot, RunPlot
from benchapp.gui.planwords import FRACTIONS
from benchapp.lot import LotForm, LotState, PartRecord, PlanChoice, summarize
from benchapp.nominal import Nominal, Outcome
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
