"""The plots show the data as they are; points and bands are chosen by mouse and by key."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QGuiApplication

from benchapp.gui import theme
from benchapp.gui.plots import Plots, grid_for, half_power_frequencies, smooth_envelope
from benchapp.gui.views import VIEWS
from benchapp.jobs import FitChoices
from benchapp.nominal import Limit
from benchapp.nominal import envelope as of_design
from tests.gui.factories import (
    L_LIMIT,
    Q_LIMIT,
    envelope,
    estimate,
    fit,
    judged,
    nominal,
    response,
    sweep,
    tank,
    transient,
)
from tests.gui.stage import activate

CAPTURE = sweep(101)
RESULT = judged(CAPTURE)


@pytest.fixture
def plots(qtbot):
    made = Plots()
    qtbot.addWidget(made)
    made.resize(840, 620)
    made.set_view(VIEWS["magnitude-phase"], x_log=False, y_log=True)
    made.show_part(CAPTURE, FitChoices(), RESULT)
    activate(qtbot, made)
    qtbot.wait(20)
    return made


def place(plots, plot, index) -> QPoint:
    """Where a point of the capture is on the widget."""
    x = np.array([CAPTURE.frequency[index]])
    y = plot.trace.of(x, CAPTURE.impedance[[index]])
    across, down = plot.scene_places(x, y)[:, 0]
    return plots.mapFromScene(QPointF(across, down))


def click(qtbot, plots, at: QPoint):
    qtbot.mouseClick(plots.viewport(), Qt.MouseButton.LeftButton, pos=at)


def drag(qtbot, plots, start: QPoint, end: QPoint):
    view = plots.viewport()
    qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
    for step in range(1, 9):
        qtbot.mouseMove(view, start + (end - start) * step / 8)
        qtbot.wait(2)
    qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    qtbot.wait(2)


@given(f0=st.floats(1e3, 1e8), q=st.floats(0.6, 1e4))
def test_half_power_points_are_a_bandwidth_apart_around_the_resonance(f0, q):
    """RES: f1 f2 = f0^2 and f2 - f1 = f0 / Q (common practice)."""
    low, high = half_power_frequencies(f0, q)
    assert low < f0 < high
    assert low * high == pytest.approx(f0**2, rel=1e-9)
    assert high - low == pytest.approx(f0 / q, rel=1e-6)


def test_half_power_points_of_a_series_circuit_have_root_two_times_its_resistance():
    f0, q = 1e5, 20.0
    for f in half_power_frequencies(f0, q):
        z = 1 + 1j * q * (f / f0 - f0 / f)
        assert abs(z) == pytest.approx(np.sqrt(2), rel=1e-9)


def test_the_curve_is_drawn_finely_even_where_the_sweep_is_coarse():
    coarse = sweep(11)
    grid = grid_for(coarse, fit(coarse))
    assert np.all(np.diff(grid) > 0)
    assert grid[0] == coarse.frequency[0]
    assert grid[-1] == coarse.frequency[-1]
    near = grid[np.abs(grid - 134043.6) < 134043.6 / 78.43]
    assert near.size > 50


def test_without_a_resonance_the_grid_follows_the_sweep():
    capture = sweep(11)
    grid = grid_for(capture, fit(capture, results=(estimate("L", 1e-3, 1e-6, "H"),)))
    assert grid.size == 21


def test_measured_points_and_curve_are_plotted_as_they_are(plots):
    x, y = plots.upper.measured.getData()
    assert 10**y == pytest.approx(np.abs(CAPTURE.impedance))
    assert x == pytest.approx(CAPTURE.frequency)
    _, curve = plots.lower.curve.getData()
    assert -91 < curve.min() < curve.max() < 91


def test_points_that_the_fit_or_the_person_set_aside_are_hollow(plots):
    plots.show_part(
        CAPTURE, FitChoices(set_aside=(10,)), judged(CAPTURE, fit=fit(CAPTURE, aside=(10, 20)))
    )
    x, _ = plots.upper.aside.getData()
    assert x == pytest.approx(CAPTURE.frequency[[10, 20]])
    assert plots.upper.measured.getData()[0].size == 99
    assert plots.upper.aside.opts["symbolBrush"].style() == Qt.BrushStyle.NoBrush


def test_points_outside_the_band_are_faint_and_not_hollow(plots):
    band = (CAPTURE.frequency[30], CAPTURE.frequency[60])
    used = fit(CAPTURE, aside=(*range(30), *range(61, 101)))
    plots.show_part(CAPTURE, FitChoices(band=band), judged(CAPTURE, fit=used))
    assert plots.upper.measured.getData()[0].size == 31
    assert plots.upper.outside.getData()[0].size == 70
    shown = plots.upper.aside.getData()[0]
    assert shown is None or shown.size == 0
    assert plots._regions[0].isVisible()
    assert plots._regions[0].getRegion() == pytest.approx(band)


def test_the_envelope_is_drawn_where_the_view_has_one_and_only_there(plots):
    assert plots.upper._fill.isVisible()
    low = plots.upper._edges[0].getData()[1]
    assert 10 ** low[0] == pytest.approx(0.8 * abs(tank(CAPTURE.frequency[0])))
    plots.set_view(VIEWS["resistance-reactance"], x_log=False, y_log=True)
    assert not plots.upper._fill.isVisible()


def test_the_envelope_of_a_coarse_sweep_is_as_smooth_as_the_true_one():
    """It is worked out on a finer grid, not drawn straight from point to point."""
    coarse = sweep(11)
    limit = Limit(quantity="f0", unit="Hz", lower=132.2e3, upper=136.2e3)
    design = nominal(limits=(L_LIMIT, limit, Q_LIMIT))
    band = of_design(design, coarse.frequency)
    smooth = smooth_envelope(judged(coarse, nominal=design, envelope=band))
    assert smooth.frequency.size > 100
    assert smooth.frequency[[0, -1]] == pytest.approx(coarse.frequency[[0, -1]])
    assert smooth.magnitude_high.max() > 1.02 * band.magnitude_high.max()
    true = of_design(design, smooth.frequency)
    assert smooth.magnitude_low == pytest.approx(true.magnitude_low)


def test_an_envelope_that_cannot_be_refined_is_drawn_as_it_came():
    coarse = sweep(11)
    result = judged(coarse)
    assert smooth_envelope(result) is result.envelope
    assert smooth_envelope(judged(coarse, envelope=None)) is None


def test_a_dense_envelope_is_thinned_but_keeps_its_peaks(plots):
    dense = sweep(2001)
    band = envelope(dense.frequency)
    plots.show_part(dense, FitChoices(), judged(dense, envelope=band))
    low, high = (edge.getData()[1] for edge in plots.upper._edges)
    assert low.size <= 162
    assert 10 ** high.max() == pytest.approx(band.magnitude_high.max())
    assert 10 ** low.max() == pytest.approx(band.magnitude_low.max())


def test_an_envelope_without_an_upper_end_can_be_drawn(plots):
    band = envelope(CAPTURE.frequency)
    open_end = np.where(CAPTURE.frequency > 130e3, np.inf, band.magnitude_high)
    endless = type(band)(
        frequency=band.frequency,
        magnitude_low=band.magnitude_low,
        magnitude_high=open_end,
        theta_low_degrees=band.theta_low_degrees,
        theta_high_degrees=band.theta_high_degrees,
    )
    plots.show_part(CAPTURE, FitChoices(), judged(CAPTURE, envelope=endless))
    assert np.isfinite(plots.upper._edges[1].getData()[1]).all()


def test_resonance_and_half_power_points_are_marked(plots):
    assert plots.upper.resonance.isVisible()
    assert plots.upper.resonance.value() == pytest.approx(134043.6)
    assert plots._name.toPlainText() == "f0 134.044 kHz"
    x, _ = plots.upper.half_power.getData()
    assert x == pytest.approx(half_power_frequencies(134043.6, 78.43))


def test_a_resonance_outside_the_sweep_is_not_marked(plots):
    beyond = fit(CAPTURE, results=(estimate("f0", 1.3e6, 10.0, "Hz"),))
    plots.show_part(CAPTURE, FitChoices(), judged(CAPTURE, fit=beyond))
    assert not plots.upper.resonance.isVisible()
    assert not plots._name.isVisible()


def test_a_fit_that_did_not_settle_has_no_curve_and_no_residuals(plots):
    plots.show_part(CAPTURE, FitChoices(), judged(CAPTURE, fit=fit(CAPTURE, converged=False)))
    assert plots.upper.curve.getData()[0] is None or plots.upper.curve.getData()[0].size == 0
    assert plots.strip.measured.getData()[0] is None or (
        plots.strip.measured.getData()[0].size == 0
    )


def test_the_strip_shows_both_parts_of_the_residual_in_units_of_u(plots):
    residual = RESULT.fit.residual
    _, real = plots.strip.measured.getData()
    _, imaginary = plots.imaginary.getData()
    assert real == pytest.approx(residual.real)
    assert imaginary == pytest.approx(residual.imag)


def test_a_residual_beyond_the_strip_is_drawn_at_its_edge_and_not_hidden(plots):
    far = np.zeros(101, dtype=complex)
    far[7], far[9] = 40 + 1j, -2 - 12j
    plots.show_part(CAPTURE, FitChoices(), judged(CAPTURE, fit=fit(CAPTURE, residual=far)))
    x, y = plots.beyond.getData()
    assert x == pytest.approx(CAPTURE.frequency[[7, 9]])
    assert y == pytest.approx([5.5, -5.5])
    assert plots.strip.measured.getData()[0].size == 99


def test_the_strip_keeps_its_range_on_both_kinds_of_axis(plots):
    plots.set_view(VIEWS["magnitude-phase"], x_log=True, y_log=True)
    low, high = plots.strip.area.viewRange()[1]
    assert low < -5.5 < 5.5 < high < 7


@pytest.mark.parametrize("x_log", [False, True])
@pytest.mark.parametrize("name", ["upper", "lower"])
def test_clicking_a_point_chooses_it(qtbot, plots, x_log, name):
    plots.set_view(VIEWS["magnitude-phase"], x_log=x_log, y_log=True)
    qtbot.wait(20)
    with qtbot.waitSignal(plots.point_chosen) as told:
        click(qtbot, plots, place(plots, getattr(plots, name), 23))
    assert abs(told.args[0] - 23) <= 1


def test_clicking_beside_all_points_chooses_none(qtbot, plots):
    chosen = []
    plots.point_chosen.connect(chosen.append)
    click(qtbot, plots, place(plots, plots.upper, 23) - QPoint(0, 60))
    qtbot.wait(10)
    assert chosen == []


@pytest.mark.parametrize("x_log", [False, True])
def test_dragging_across_a_plot_chooses_a_band(qtbot, plots, x_log):
    plots.set_view(VIEWS["magnitude-phase"], x_log=x_log, y_log=True)
    qtbot.wait(20)
    start, end = (place(plots, plots.lower, index) for index in (20, 70))
    with qtbot.waitSignal(plots.band_chosen) as told:
        drag(qtbot, plots, start, end)
    expected = (CAPTURE.frequency[20], CAPTURE.frequency[70])
    assert told.args[0] == pytest.approx(expected, abs=250)


def test_dragging_to_the_left_chooses_a_rising_band_too(qtbot, plots):
    with qtbot.waitSignal(plots.band_chosen) as told:
        drag(qtbot, plots, place(plots, plots.lower, 70), place(plots, plots.lower, 20))
    assert told.args[0][0] < told.args[0][1]


def test_a_band_with_hardly_a_point_in_it_is_not_taken(qtbot, plots):
    taken = []
    plots.band_chosen.connect(taken.append)
    at = place(plots, plots.lower, 20)
    plots._drag(*(CAPTURE.frequency[20] + np.array([10.0, 60.0])), True)
    qtbot.wait(5)
    assert taken == []
    assert not plots._regions[0].isVisible()
    assert at is not None


def test_moving_one_edge_of_a_band_moves_it_in_all_plots(qtbot, plots):
    plots.show_part(CAPTURE, FitChoices(band=(120e3, 140e3)), RESULT)
    with qtbot.waitSignal(plots.band_chosen) as told:
        plots._regions[1].setRegion((125e3, 140e3))
        plots._regions[1].sigRegionChangeFinished.emit(plots._regions[1])
    assert told.args[0] == pytest.approx((125e3, 140e3))
    assert plots._regions[0].getRegion() == pytest.approx((125e3, 140e3))


def test_a_band_never_reaches_beyond_the_sweep(qtbot, plots):
    with qtbot.waitSignal(plots.band_chosen) as told:
        plots._drag(100e3, 200e3, True)
    assert told.args[0] == (CAPTURE.frequency[0], CAPTURE.frequency[-1])


def test_a_double_click_shows_the_whole_sweep_again(qtbot, plots):
    plots.upper.setXRange(130e3, 135e3, padding=0)
    view = plots.viewport()
    at = place(plots, plots.upper, 50) + QPoint(0, 40)
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=at)
    qtbot.mouseDClick(view, Qt.MouseButton.LeftButton, pos=at)
    qtbot.wait(10)
    low, high = plots.upper.area.viewRange()[0]
    assert low < 115e3 < 153e3 < high


def test_the_three_plots_share_their_abscissa(plots):
    plots.upper.setXRange(130e3, 135e3, padding=0)
    for plot in (plots.lower, plots.strip):
        assert plot.area.viewRange()[0] == pytest.approx([130e3, 135e3], rel=1e-3)


def test_the_wheel_stretches_the_abscissa_only(plots):
    for plot in (plots.upper, plots.lower):
        assert plot.area.state["mouseEnabled"] == [True, False]


def test_arrow_keys_walk_along_the_points_and_space_sets_one_aside(qtbot, plots):
    told, chosen = [], []
    plots.pointed_at.connect(told.append)
    plots.point_chosen.connect(chosen.append)
    plots.setFocus()
    qtbot.keyClick(plots, Qt.Key.Key_Home)
    qtbot.keyClick(plots, Qt.Key.Key_Right)
    qtbot.keyClick(plots, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(plots, Qt.Key.Key_Left)
    qtbot.keyClick(plots, Qt.Key.Key_Space)
    assert [words.split(" · ")[0] for words in told] == [
        "point 1",
        "point 2",
        "point 12",
        "point 11",
    ]
    assert chosen == [10]
    x, _ = plots.upper.cursor.getData()
    assert x == pytest.approx([CAPTURE.frequency[10]])


def test_the_cursor_stops_at_the_ends(qtbot, plots):
    qtbot.keyClick(plots, Qt.Key.Key_End)
    qtbot.keyClick(plots, Qt.Key.Key_Right)
    assert plots._shown.cursor == 100


def test_a_point_is_told_with_all_its_values_and_units(plots):
    assert plots._words(50).startswith("point 51 · 134 kHz · |Z| 1")
    assert plots._words(50).endswith("°")
    plots.show_part(CAPTURE, FitChoices(set_aside=(50,)), RESULT)
    assert plots._words(50).endswith("set aside")
    plots.show_part(CAPTURE, FitChoices(band=(120e3, 130e3)), RESULT)
    assert plots._words(50).endswith("outside the band")


def test_the_mouse_over_a_point_tells_it(qtbot, plots):
    with qtbot.waitSignal(plots.pointed_at) as told:
        plots.scene().sigMouseMoved.emit(QPointF(plots.mapToScene(place(plots, plots.upper, 40))))
    assert told.args[0].startswith("point 4")


def test_points_of_a_warning_are_ringed_until_the_next_result(plots):
    plots.show_pointed((3, 40, 999))
    assert plots.upper.pointed.getData()[0] == pytest.approx(CAPTURE.frequency[[3, 40]])
    plots.show_part(CAPTURE, FitChoices(), judged(CAPTURE))
    shown = plots.upper.pointed.getData()[0]
    assert shown is None or shown.size == 0


def test_the_same_state_is_not_drawn_twice(plots, monkeypatch):
    drawn = []
    monkeypatch.setattr(plots, "_redraw", lambda: drawn.append(1))
    plots.show_part(CAPTURE, plots._shown.choices, RESULT)
    assert drawn == []


def test_axes_are_labelled_with_name_and_unit(plots):
    assert plots.strip.base_axis.labelText == "frequency, kHz"
    assert plots.upper.scale_axis.labelText == "|Z|"
    assert plots.upper.base_axis.style["showValues"] == 0
    assert plots.strip.base_axis.style["showValues"] == 1


@pytest.mark.parametrize(
    "key", [key for key, view in VIEWS.items() if view.kind.__name__ == "Sweep"]
)
@pytest.mark.parametrize("logs", [(False, False), (True, True)])
def test_every_view_of_a_sweep_can_be_drawn_on_both_kinds_of_axis(qtbot, plots, key, logs):
    plots.set_view(VIEWS[key], x_log=logs[0], y_log=logs[1])
    qtbot.wait(5)
    assert not plots.grab().isNull()
    assert plots.upper.measured.getData()[0].size > 90


def test_a_response_and_a_record_over_time_are_drawn_too(qtbot, plots):
    through, ring = response(), transient()
    plots.show_part(through, FitChoices(), judged(through))
    plots.set_view(VIEWS["ratio"], x_log=False, y_log=True)
    assert plots.upper.measured.getData()[0].size == 61
    plots.show_part(ring, FitChoices(), judged(ring))
    plots.set_view(VIEWS["voltage"], x_log=True, y_log=False)
    qtbot.wait(5)
    assert plots.strip.base_axis.labelText == "time, ms"
    assert not plots.lower.isVisible()
    assert plots.upper.geometry().height() > 0.6 * plots.height()
    assert plots.upper.measured.getData()[0].size == 801
    assert plots.imaginary.getData()[0] is None or plots.imaginary.getData()[0].size == 0
    drawn = []
    plots.band_chosen.connect(drawn.append)
    plots._drag(0.0, 1e-3, True)
    assert drawn == []


def test_colours_follow_the_theme(qtbot, qapp, plots):
    theme.apply(qapp, theme.DARK)
    qtbot.wait(5)
    assert plots.backgroundBrush().color() == QColor(theme.DARK.card)
    assert plots.upper.curve.opts["pen"].color() == QColor(theme.DARK.fit)
    assert plots.upper.curve.opts["pen"].width() == 1


def test_keys_without_a_capture_do_no_harm(qtbot):
    empty = Plots()
    qtbot.addWidget(empty)
    qtbot.keyClick(empty, Qt.Key.Key_Right)
    qtbot.keyClick(empty, Qt.Key.Key_Space)
    empty.show_all()
    empty.show_pointed((1, 2))
    empty.show_part(None, FitChoices(), None)
    assert empty._shown.cursor is None


def test_the_point_that_is_told_can_be_copied(qtbot, plots):
    qtbot.keyClick(plots, Qt.Key.Key_Home)
    qtbot.keyClick(plots, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    copied = QGuiApplication.clipboard().text()
    assert copied == plots.told
    assert copied.startswith("point 1 · 114 kHz · |Z| ")
