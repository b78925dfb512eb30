"""Every circuit has a drawing with all its elements and nothing over each other."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QImage

from benchapp.circuit import CIRCUITS
from benchapp.gui.schematic import (
    DRAWINGS,
    Element,
    Parallel,
    Schematic,
    Series,
    elements_of,
    size_of,
)

ALL = pytest.mark.parametrize("name", DRAWINGS)


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_circuit_is_drawn_with_exactly_its_elements(name):
    assert sorted(elements_of(DRAWINGS[name])) == sorted(CIRCUITS[name].elements)


def test_captures_that_are_no_impedance_are_drawn_as_a_tank():
    assert DRAWINGS["resonance"] == DRAWINGS["ring-down"] == DRAWINGS["tank"]


def test_parts_in_series_add_their_widths_and_parallel_ones_their_heights():
    one = Element("R", ("R",))
    width, height = size_of(one)
    assert size_of(Series((one, one, one))) == (3 * width, height)
    across = size_of(Parallel((one, one)))
    assert across[0] > width
    assert across[1] == 2 * height


@ALL
def test_a_drawing_fills_its_place_and_stays_inside_it(qtbot, name):
    drawing = Schematic()
    qtbot.addWidget(drawing)
    drawing.resize(440, 230)
    drawing.show_circuit(name, "title", {"L": "1.62 mH", "C": "868 pF"})
    image = drawing.grab().toImage()
    ground = image.pixel(0, 0)
    xs = [x for x in range(image.width()) if _differs(image, ground, x=x)]
    assert xs[0] > 0
    assert xs[-1] < image.width() - 1
    assert xs[-1] - xs[0] > 0.5 * image.width()


def _differs(image: QImage, ground: int, *, x: int) -> bool:
    return any(image.pixel(x, y) != ground for y in range(image.height()))


@ALL
def test_names_and_values_have_room_above_or_below_their_symbol(qtbot, name):
    """A value too long for one line goes below the symbol; no line is wider than its element."""
    drawing = Schematic()
    qtbot.addWidget(drawing)
    drawing.resize(440, 230)
    values = dict.fromkeys(elements_of(DRAWINGS[name]), "134.2 kHz")
    drawing.show_circuit(name, "title", values)
    width, height = size_of(DRAWINGS[name])
    unit = min(440 / (width + 2.4), 230 / height, 34.0)
    metrics = drawing.fontMetrics()
    if "k" in values:
        return  # three names beside one symbol: they are written without values
    assert metrics.horizontalAdvance("134.2 kHz") <= 4.0 * unit + 4


def test_a_drawing_says_what_it_shows(qtbot):
    drawing = Schematic()
    qtbot.addWidget(drawing)
    drawing.show_circuit("tank", "a coil across a capacitor", {"L": "1.62 mH"})
    assert drawing.accessibleName() == "Circuit: a coil across a capacitor. L 1.62 mH"


def test_an_unknown_circuit_leaves_the_place_empty(qtbot):
    drawing = Schematic()
    qtbot.addWidget(drawing)
    drawing.resize(300, 150)
    drawing.show_circuit("auto", "", {})
    image = drawing.grab().toImage()
    assert not any(_differs(image, image.pixel(0, 0), x=x) for x in range(image.width()))
