"""The complex plane shows what the plots over frequency show, on equal axes, and is linked."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QGuiApplication

from benchapp.capture import Noise
from benchapp.gui import theme
from benchapp.gui.plots import Plots
from benchapp.gui.views import VIEWS, views_for
from benchapp.jobs import FitChoices
from tests.gui.factories import fit, judged, response, sweep
from tests.gui.stage import activate

CAPTURE = sweep(101)
REFLECTED = replace(CAPTURE, noise=Noise(kind="reflection", reference=50.0))
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def plots(qtbot):
    made = Plots()
    qtbot.addWidget(made)
    made.resize(840, 620)
    activate(qtbot, made)
    return made


def shown(qtbot, plots, key, capture=CAPTURE, choices=None, result=None):
    plots.set_view(VIEWS[key], x_log=False, y_log=True)
    plots.show_part(capture, choices or FitChoices(), result or judged(capture))
    qtbot.wait(20)
    return plots.plane


def place(plots, plane, capture, index) -> QPointF:
    """Where a point of the capture lies in the scene, by the plane alone."""
    at = plane.plane.of(capture, capture.impedance[[index]])
    return plane.area.mapViewToScene(QPointF(at[0].real, at[0].imag))


def test_the_plane_of_the_impedance_has_r_across_and_x_upward(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    across, upward = plane.measured.getData()
    assert across == pytest.approx(CAPTURE.impedance.real)
    assert upward == pytest.approx(CAPTURE.impedance.imag)
    assert plane.base_axis.labelText.startswith("Re Z = R, k")
    assert plane.scale_axis.labelText == "Im Z = X"


@pytest.mark.parametrize("key", ["impedance-plane", "reflection-plane"])
@pytest.mark.parametrize("size", [(840, 620), (660, 420), (1240, 860)])
def test_both_axes_of_the_plane_are_equally_long(qtbot, plots, key, size):
    plane = shown(qtbot, plots, key, REFLECTED)
    plots.resize(*size)
    qtbot.wait(20)
    (left, right), (bottom, top) = plane.area.viewRange()
    area = plane.area.sceneBoundingRect()
    assert area.width() / (right - left) == pytest.approx(area.height() / (top - bottom), rel=0.01)


@pytest.mark.parametrize("key", ["impedance-plane", "reflection-plane"])
def test_every_point_lies_within_the_plane(qtbot, plots, key):
    plane = shown(qtbot, plots, key, REFLECTED)
    area = plane.area.sceneBoundingRect()
    assert all(area.contains(place(plots, plane, REFLECTED, at)) for at in range(101))


def test_the_reflection_is_that_of_the_port_and_lies_within_the_unit_circle(qtbot, plots):
    """Gamma = (Z - R) / (Z + R): a passive part reflects no more than comes."""
    plane = shown(qtbot, plots, "reflection-plane", REFLECTED)
    across, upward = plane.measured.getData()
    z = REFLECTED.impedance
    assert across + 1j * upward == pytest.approx((z - 50) / (z + 50))
    assert np.hypot(across, upward).max() <= 1
    circle = plane.circle.getData()
    assert np.hypot(*circle) == pytest.approx(np.ones(circle[0].size))
    assert plane.base_axis.labelText == "Re Γ"


def test_an_impedance_opposite_to_the_port_has_no_reflection():
    """There the reflection is infinite: it is left out, and warns nobody."""
    active = replace(REFLECTED, impedance=np.where(np.arange(101) == 3, -50.0, CAPTURE.impedance))
    at = VIEWS["reflection-plane"].plane.of(active, active.impedance)
    assert np.isnan(at[3])
    assert np.isfinite(np.delete(at, 3)).all()


def test_the_plane_of_an_impedance_has_no_unit_circle(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    assert plane.circle.getData()[0] is None or plane.circle.getData()[0].size == 0


def test_planes_are_offered_where_there_is_something_to_show():
    offered = {view.key for view in views_for(CAPTURE)}
    assert "impedance-plane" in offered
    assert "reflection-plane" not in offered
    assert "reflection-plane" in {view.key for view in views_for(REFLECTED)}
    assert "ratio-plane" in {view.key for view in views_for(response())}
    sizes = replace(response(), ratio=np.abs(response().ratio), has_phase=False)
    assert "ratio-plane" not in {view.key for view in views_for(sizes)}


@pytest.mark.parametrize(("kind", "circled"), [("reflection", True), ("gain", False)])
def test_a_ratio_has_the_unit_circle_if_it_is_a_reflection(qtbot, plots, kind, circled):
    ratio = replace(response(), kind=kind)
    plane = shown(qtbot, plots, "ratio-plane", ratio)
    assert plane.measured.getData()[0] == pytest.approx(ratio.ratio.real)
    drawn = plane.circle.getData()[0]
    assert (drawn is not None and drawn.size > 0) == circled


def test_the_curve_runs_through_the_points_and_marks_resonance_and_half_power(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    curve = np.array(plane.curve.getData())
    (x,), (y,) = plane.resonance.getData()
    largest = np.abs(CAPTURE.impedance).max()
    assert np.hypot(curve[0] - x, curve[1] - y).min() < 0.01 * largest
    assert plane.half_power.getData()[0].size == 2
    assert plane.name.isVisible()
    assert plane.name.toPlainText().strip() == "f0 134.044 kHz"
    assert not plots._name.isVisible()


def test_points_set_aside_and_outside_the_band_are_told_apart(qtbot, plots):
    band = (float(CAPTURE.frequency[10]), float(CAPTURE.frequency[90]))
    used = fit(CAPTURE, aside=(*range(10), 50, *range(91, 101)))
    choices = FitChoices(set_aside=(50,), band=band)
    plane = shown(
        qtbot, plots, "impedance-plane", choices=choices, result=judged(CAPTURE, fit=used)
    )
    assert plane.aside.getData()[0] == pytest.approx(CAPTURE.impedance.real[[50]])
    assert plane.aside.opts["symbolBrush"].style() == Qt.BrushStyle.NoBrush
    assert plane.outside.getData()[0].size == 20
    assert plane.measured.getData()[0].size == 80


def test_a_click_on_a_point_of_the_plane_chooses_it(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    at = plots.mapFromScene(place(plots, plane, CAPTURE, 50))
    with qtbot.waitSignal(plots.point_chosen) as told:
        qtbot.mouseClick(plots.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert told.args == [50]


def test_a_point_under_the_mouse_is_ringed_in_every_plot(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    plots.scene().sigMouseMoved.emit(place(plots, plane, CAPTURE, 50))
    assert plane.hovered.getData()[0] == pytest.approx(CAPTURE.impedance.real[[50]])
    for plot in (plots.upper, plots.lower):
        assert plot.hovered.getData()[0] == pytest.approx(CAPTURE.frequency[[50]])
    assert plots.told.startswith("point 51 ")
    plots.scene().sigMouseMoved.emit(QPointF(1, 1))
    for plot in (plane, plots.upper, plots.lower):
        left = plot.hovered.getData()[0]
        assert left is None or left.size == 0


def test_a_point_under_the_mouse_over_frequency_is_ringed_in_the_plane(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    upper = plots.upper
    (across,), (down,) = upper.scene_places(CAPTURE.frequency[[20]], CAPTURE.impedance.real[[20]])
    plots.scene().sigMouseMoved.emit(QPointF(across, down))
    (x,), _ = plane.hovered.getData()
    nearest = int(np.argmin(np.abs(CAPTURE.impedance.real - x)))
    assert x in CAPTURE.impedance.real
    assert plots.told.startswith("point ")
    assert nearest == int(plots.told.split()[1]) - 1


def test_arrow_keys_walk_the_plane_too_and_the_point_is_copied_with_its_residual(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    qtbot.keyClick(plots, Qt.Key.Key_Home)
    qtbot.keyClick(plots, Qt.Key.Key_Right)
    assert plane.cursor.getData()[0] == pytest.approx(CAPTURE.impedance.real[[1]])
    qtbot.keyClick(plots, Qt.Key.Key_C, CONTROL)
    copied = QGuiApplication.clipboard().text()
    assert copied.startswith("point 2 · ")
    residual = judged(CAPTURE).fit.residual[1]
    assert copied.endswith(f"residual {residual.real:+.1f} and {residual.imag:+.1f} u")


def test_points_of_a_warning_are_ringed_in_the_plane(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    plots.show_pointed((3, 40))
    assert plane.pointed.getData()[0] == pytest.approx(CAPTURE.impedance.real[[3, 40]])


def test_a_double_click_brings_the_whole_plane_back(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    whole = plane.area.viewRange()
    plane.area.scaleBy((0.2, 0.2))
    at = plots.mapFromScene(plane.area.sceneBoundingRect().center())
    qtbot.mouseDClick(plots.viewport(), Qt.MouseButton.LeftButton, pos=at)
    qtbot.wait(10)
    assert np.allclose(plane.area.viewRange(), whole, rtol=0.05)


def test_the_plane_gives_its_place_back_to_the_other_plots(qtbot, plots):
    shown(qtbot, plots, "impedance-plane")
    beside = plots.upper.geometry().width()
    shown(qtbot, plots, "magnitude-phase")
    assert not plots.plane.isVisible()
    assert plots.upper.geometry().width() > 1.7 * beside
    assert plots.upper.geometry().left() < 20


def test_a_fit_that_did_not_settle_leaves_the_plane_without_curve_and_marks(qtbot, plots):
    result = judged(CAPTURE, fit=fit(CAPTURE, converged=False))
    plane = shown(qtbot, plots, "impedance-plane", result=result)
    for item in (plane.curve, plane.half_power, plane.resonance):
        assert item.getData()[0] is None or item.getData()[0].size == 0
    assert not plane.name.isVisible()
    qtbot.keyClick(plots, Qt.Key.Key_Home)
    assert "residual" not in plots.told


def test_the_ends_of_the_sweep_are_named(qtbot, plots):
    plane = shown(qtbot, plots, "impedance-plane")
    assert [item.toPlainText().strip() for item in plane.ends] == ["114.0 kHz", "154.0 kHz"]


@pytest.mark.parametrize("dress", [theme.LIGHT, theme.DARK])
def test_the_words_in_the_plane_can_be_read(qtbot, qapp, plots, dress):
    """WCAG 2.2, 1.4.3: 4.5 : 1 for text."""
    plane = shown(qtbot, plots, "impedance-plane")
    theme.apply(qapp, dress)
    qtbot.wait(5)
    for item in (*plane.ends, plane.name):
        assert theme.contrast(item.color.name(), dress.card) >= 4.5
    assert plane.curve.opts["pen"].color() == QColor(dress.fit)


def test_views_follow_each_other_in_any_order(qtbot, plots):
    keys = [view.key for view in views_for(REFLECTED)]
    for key in itertools.chain(keys, reversed(keys)):
        shown(qtbot, plots, key, REFLECTED)
        assert plots.plane.isVisible() == (VIEWS[key].plane is not None)
        assert not plots.grab().isNull()
