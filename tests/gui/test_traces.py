"""One plot draws every kind of point with a sign of its own."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
import pytest
from PySide6.QtCore import Qt

from benchapp.gui.theme import DARK, LIGHT
from benchapp.gui.traces import TracePlot
from benchapp.gui.views import VIEWS

MAGNITUDE = VIEWS["magnitude-phase"].upper
NOTHING = np.empty(0)


@pytest.fixture
def plot(qtbot):
    area = pg.GraphicsLayoutWidget()
    qtbot.addWidget(area)
    made = TracePlot(bottom=True)
    area.addItem(made)
    made.set_trace(MAGNITUDE, x_log=False, y_log=True)
    made.dress(LIGHT)
    made.holder = area
    return made


def test_points_are_sorted_into_used_set_aside_and_outside(plot):
    x, y = np.arange(1.0, 7.0), np.full(6, 10.0)
    used = np.array([True, True, False, False, False, True])
    aside = np.array([False, False, True, False, False, False])
    plot.show_points(x, y, used, aside)
    assert plot.measured.getData()[0] == pytest.approx([1, 2, 6])
    assert plot.aside.getData()[0] == pytest.approx([3])
    assert plot.outside.getData()[0] == pytest.approx([4, 5])


def test_points_without_a_value_are_left_out(plot):
    x, y = np.arange(1.0, 4.0), np.array([1.0, np.nan, 3.0])
    plot.show_points(x, y, np.ones(3, dtype=bool), np.zeros(3, dtype=bool))
    assert plot.measured.getData()[0] == pytest.approx([1, 3])


def test_a_curve_has_gaps_where_it_has_no_value(plot):
    assert plot.curve.opts["connect"] == "finite"


def test_no_envelope_draws_no_band(plot):
    plot.show_envelope(NOTHING, NOTHING, NOTHING)
    assert not plot._fill.isVisible()
    plot.show_envelope(np.array([1.0, 2.0]), np.array([1.0, 1.0]), np.array([2.0, 2.0]))
    assert plot._fill.isVisible()


def test_an_envelope_of_infinities_alone_is_drawn_without_a_fault(plot):
    plot.show_envelope(np.array([1.0, 2.0]), np.array([1.0, 1.0]), np.full(2, np.inf))
    assert plot._edges[0].getData()[1] == pytest.approx([0, 0])


def test_marks_can_be_set_and_taken_away(plot):
    plot.show_marks(np.array([2.0]), np.array([5.0]), 2.5)
    assert plot.resonance.isVisible()
    assert plot.half_power.getData()[0] == pytest.approx([2.0])
    plot.show_marks(NOTHING, NOTHING, None)
    assert not plot.resonance.isVisible()


@pytest.mark.parametrize("dress", [LIGHT, DARK], ids=lambda one: one.name)
def test_set_aside_and_ringed_points_are_hollow_in_both_themes(plot, dress):
    plot.dress(dress)
    for item in (plot.aside, plot.pointed, plot.cursor):
        assert item.opts["symbolBrush"].style() == Qt.BrushStyle.NoBrush
        assert item.opts["symbolPen"].style() == Qt.PenStyle.SolidLine
    assert plot.measured.opts["symbolBrush"].style() == Qt.BrushStyle.SolidPattern
    assert plot.curve.opts["pen"].color().name().upper() == dress.fit


def test_rings_of_different_meaning_differ_in_size(plot):
    sizes = {item.opts["symbolSize"] for item in (plot.aside, plot.pointed, plot.cursor)}
    assert len(sizes) == 3


def test_the_plotting_library_offers_no_menu_of_its_own(plot):
    assert not plot.area.menuEnabled()
    assert not plot.menuEnabled()
