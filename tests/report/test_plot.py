from __future__ import annotations

import numpy as np
import pytest

from benchapp.report.axis import linear_axis
from benchapp.report.plot import Panel, Plot, Trace, scene_of
from benchapp.report.scene import Area, Dots, Label, Line

ACROSS = linear_axis(0.0, 10.0, "Hz")
UP = linear_axis(0.0, 4.0, "1")


def plot(*traces, **more):
    return Plot(axis=ACROSS, label="f", panels=(Panel(label="y", axis=UP, traces=traces, **more),))


def only(scene, kind):
    return [mark for mark in scene.marks if isinstance(mark, kind)]


def test_points_stand_where_the_axes_say():
    dots = Trace(kind="dots", x=np.array([0.0, 10.0]), y=np.array([0.0, 4.0]))
    scene = scene_of(plot(dots), 640, 420)
    (found,) = only(scene, Dots)
    frame = next(mark for mark in only(scene, Line) if len(mark.points) == 5).points
    np.testing.assert_allclose(found.points[0], (frame[:, 0].min(), frame[:, 1].max()))
    np.testing.assert_allclose(found.points[1], (frame[:, 0].max(), frame[:, 1].min()))


def test_dots_outside_the_axes_are_left_out_and_lines_end_at_the_frame():
    y = np.array([1.0, 400.0])
    x = np.array([1.0, 2.0])
    scene = scene_of(plot(Trace(kind="dots", x=x, y=y), Trace(kind="line", x=x, y=y)), 640, 420)
    assert only(scene, Dots)[0].points.shape == (1, 2)
    assert min(mark.points[:, 1].min() for mark in only(scene, Line)) > 0


def test_bars_stand_on_the_axis_and_empty_ones_are_not_drawn():
    bars = Trace(kind="bars", x=np.array([0.0, 1.0, 2.0, 3.0]), y=np.array([1.0, 0.0, 3.0]))
    assert len(only(scene_of(plot(bars)), Area)) == 2


@pytest.mark.parametrize("limits", [{"across": (2.0,)}, {"along": (5.0,)}])
def test_a_limit_is_a_dashed_line_inside_the_axes_only(limits):
    dashed = [mark for mark in only(scene_of(plot(**limits)), Line) if mark.dashed]
    assert len(dashed) == 1
    outside = dict.fromkeys(limits, (99.0,))
    assert not [mark for mark in only(scene_of(plot(**outside)), Line) if mark.dashed]


def test_named_traces_are_explained_below_and_all_labels_are_on_the_sheet():
    band = Trace(kind="band", x=np.arange(3.0), y=np.ones(3), low=np.zeros(3), name="tolerance")
    scene = scene_of(plot(band, Trace(kind="rings", x=np.ones(1), y=np.ones(1), name="odd")))
    labels = only(scene, Label)
    assert {"tolerance", "odd", "f", "y"} <= {label.text for label in labels}
    assert all(0 <= label.x <= scene.width and 0 <= label.y <= scene.height for label in labels)


def test_ticks_of_a_low_panel_do_not_touch():
    low = Panel(label="a", axis=UP, traces=(), weight=0.1)
    scene = scene_of(
        Plot(axis=ACROSS, label="f", panels=(Panel(label="b", axis=UP, traces=()), low))
    )
    ends = sorted(label.y for label in only(scene, Label) if label.anchor == "end")
    assert min(np.diff(ends)) >= 9
