"""Every state has a shape of its own that can be told without its colour."""

from __future__ import annotations

import itertools

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from benchapp.gui.marks import MARKS, ROLES, Mark, mark_of, paint_mark
from benchapp.gui.theme import DARK, LIGHT
from benchapp.nominal import Outcome

SIDE = 64


def picture(mark: str, dress=LIGHT) -> QImage:
    image = QImage(SIDE, SIDE, QImage.Format.Format_RGB32)
    image.fill(dress.color("card"))
    painter = QPainter(image)
    paint_mark(painter, QRectF(0, 0, SIDE, SIDE), mark, dress, "card")
    painter.end()
    return image


def silhouette(mark: str, dress=LIGHT) -> set[tuple[int, int]]:
    """Pixels that differ from the ground: the shape without its colour."""
    image, card = picture(mark, dress), dress.color("card").rgb()
    return {
        (x, y) for x, y in itertools.product(range(SIDE), repeat=2) if image.pixel(x, y) != card
    }


@pytest.mark.parametrize(("first", "second"), [*itertools.combinations(MARKS, 2)], ids="-".join)
def test_two_marks_differ_in_shape_alone(first, second):
    one, other = silhouette(first), silhouette(second)
    assert len(one ^ other) > 0.03 * SIDE * SIDE


@pytest.mark.parametrize("mark", MARKS)
def test_a_mark_has_the_same_shape_in_both_themes(mark):
    light, dark = silhouette(mark, LIGHT), silhouette(mark, DARK)
    assert len(light ^ dark) < 0.02 * SIDE * SIDE
    assert len(light) > 0.05 * SIDE * SIDE


def test_every_outcome_has_its_own_mark():
    marks = [mark_of(outcome) for outcome in Outcome]
    assert len(set(marks)) == len(Outcome)
    assert set(marks) <= set(MARKS)
    assert ROLES[Outcome.PASS] == "good"
    assert ROLES[Outcome.FAIL] == "stop"


def test_a_mark_is_painted_inside_its_place():
    image = QImage(100, 40, QImage.Format.Format_RGB32)
    image.fill(LIGHT.color("card"))
    painter = QPainter(image)
    paint_mark(painter, QRectF(0, 0, 100, 40), "stop", LIGHT, "card")
    painter.end()
    card = LIGHT.color("card").rgb()
    assert all(image.pixel(x, y) == card for x in (5, 25, 75, 95) for y in range(40))
    assert image.pixel(36, 20) != card


def test_a_mark_as_a_widget_says_what_it_means(qtbot):
    mark = Mark(16)
    qtbot.addWidget(mark)
    mark.set_mark("doubt", "warning")
    assert mark.mark == "doubt"
    assert mark.accessibleName() == "warning"
    assert (mark.width(), mark.height()) == (16, 16)
    assert not mark.grab().isNull()
