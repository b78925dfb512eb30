from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtGui import QColor, QImage

from benchapp.errors import FileAccessError
from benchapp.report.drawing import save_png, save_scene
from benchapp.report.scene import Area, Dots, Label, Line, Scene
from tests.report.samples import subject


def painted(folder, *marks):
    path = str(folder / "scene.png")
    save_scene(Scene(width=60, height=40, marks=marks), path)
    return QImage(path)


def colour(image, x, y):
    return QColor(image.pixel(x, y)).name()


def test_marks_stand_at_their_places(tmp_path):
    square = np.array([(10.0, 10.0), (20.0, 10.0), (20.0, 20.0), (10.0, 20.0)])
    image = painted(
        tmp_path,
        Area(points=square, colour="#ff0000"),
        Dots(points=np.array([(40.0, 15.0)]), radius=4, colour="#00ff00"),
        Line(points=np.array([(0.0, 30.5), (60.0, 30.5)]), colour="#0000ff", width=3),
    )
    assert (image.width(), image.height()) == (60, 40)
    assert colour(image, 15, 15) == "#ff0000"
    assert colour(image, 40, 15) == "#00ff00"
    assert colour(image, 30, 30) == "#0000ff"
    assert colour(image, 50, 5) == "#ffffff"


def test_a_line_is_interrupted_where_a_point_is_not_finite(tmp_path):
    points = np.array([(0.0, 10.5), (20.0, 10.5), (np.nan, 0.0), (40.0, 10.5), (60.0, 10.5)])
    image = painted(tmp_path, Line(points=points, colour="#0000ff", width=3))
    assert [colour(image, x, 10) for x in (10, 30, 50)] == ["#0000ff", "#ffffff", "#0000ff"]


def test_a_label_ends_where_it_is_anchored(tmp_path):
    image = painted(tmp_path, Label(x=30, y=25, text="MM", anchor="end", colour="#000000"))
    dark = [x for x in range(60) for y in range(40) if colour(image, x, y) != "#ffffff"]
    assert dark
    assert max(dark) <= 30


def test_a_ring_is_hollow(tmp_path):
    ring = Dots(points=np.array([(30.0, 20.0)]), radius=8, colour="#ff0000", hollow=True)
    assert colour(painted(tmp_path, ring), 30, 20) == "#ffffff"


def test_a_capture_and_its_fit_become_a_picture(tmp_path):
    part = subject()
    path = str(tmp_path / "fit.png")
    save_png(part.capture, part.fit, part.name, path)
    image = QImage(path)
    assert (image.width(), image.height()) == (1100, 780)


def test_a_place_that_cannot_be_written_is_named(tmp_path):
    with pytest.raises(FileAccessError, match="the picture must go to a folder"):
        save_scene(Scene(width=5, height=5, marks=()), str(tmp_path / "no" / "x.png"))
