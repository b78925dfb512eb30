"""Colours can be told from their ground, in both themes, and follow the person's choice."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFontMetrics, QPalette

from benchapp.gui import theme
from benchapp.gui.marks import MARKS
from benchapp.gui.theme import DARK, LIGHT, TEXT_PAIRS, contrast

BOTH = pytest.mark.parametrize("dress", [LIGHT, DARK], ids=lambda one: one.name)


@pytest.mark.parametrize(
    ("first", "second", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#777777", "#FFFFFF", 4.48),
        ("#0000FF", "#FFFFFF", 8.59),
        ("#FF0000", "#FFFFFF", 4.00),
        ("#123456", "#123456", 1.0),
    ],
)
def test_contrast_is_that_of_the_web_content_guidelines(first, second, ratio):
    """Source: worked examples widely published for WCAG 2.1 (values from memory)."""
    assert contrast(first, second) == pytest.approx(ratio, abs=0.005)
    assert contrast(second, first) == contrast(first, second)


@BOTH
@pytest.mark.parametrize(("ink", "ground"), TEXT_PAIRS, ids="-on-".join)
def test_text_stands_out_from_its_ground(dress, ink, ground):
    assert contrast(getattr(dress, ink), getattr(dress, ground)) >= 4.5


@BOTH
@pytest.mark.parametrize("ground", ["card", "paper"])
@pytest.mark.parametrize("shape", ["edge", "fit", "good", "doubt", "stop", "muted"])
def test_shapes_and_edges_stand_out_too(dress, shape, ground):
    """3 : 1 for graphics and controls: WCAG 2.1, success criterion 1.4.11."""
    assert contrast(getattr(dress, shape), getattr(dress, ground)) >= 3.0


@BOTH
def test_every_text_colour_of_the_style_sheet_is_among_the_checked_pairs(dress):
    checked = {ink for ink, _ in TEXT_PAIRS}
    used = set(re.findall(r"[{;\s]color: \$(\w+)", theme._SHEET.template))
    assert used <= checked
    assert {ink for _, ink in MARKS.values()} <= checked | {"fit"}
    assert dress.ink == dress.color("ink").name().upper()


@BOTH
def test_the_three_kinds_of_result_differ_in_colour_and_shape(dress):
    assert len({dress.good, dress.doubt, dress.stop, dress.fit}) == 4
    shapes = [draw for draw, _ in MARKS.values()]
    assert len(set(shapes)) == len(shapes)


@pytest.mark.parametrize(("choice", "worn"), [("light", LIGHT), ("dark", DARK)])
def test_a_choice_is_worn_whatever_the_desktop_says(qapp, choice, worn):
    assert theme.chosen(choice) is worn
    theme.apply(qapp, theme.chosen(choice))
    assert theme.current() is worn
    assert qapp.palette().color(QPalette.ColorRole.Window) == QColor(worn.paper)
    assert qapp.palette().color(QPalette.ColorRole.Text) == QColor(worn.ink)


@pytest.mark.parametrize(
    ("scheme", "worn"),
    [
        (Qt.ColorScheme.Dark, DARK),
        (Qt.ColorScheme.Light, LIGHT),
        (Qt.ColorScheme.Unknown, LIGHT),
    ],
)
def test_the_desktop_decides_where_the_person_leaves_it_to_it(qapp, monkeypatch, scheme, worn):
    class Hints:
        def colorScheme(self):  # noqa: N802 - Qt's name
            return scheme

    monkeypatch.setattr(theme.QApplication, "styleHints", staticmethod(Hints))
    assert theme.chosen("system") is worn


def test_the_application_wears_fusion_with_digits_of_one_width(qapp):
    theme.apply(qapp, LIGHT)
    qapp.setStyleSheet("")
    assert qapp.style().name() == "fusion"
    assert qapp.font().pointSizeF() >= 10
    widths = {QFontMetrics(qapp.font()).horizontalAdvance(digit) for digit in "0123456789"}
    assert len(widths) == 1


def test_an_opacity_leaves_the_hue_alone():
    half = LIGHT.color("fit", 128)
    assert half.alpha() == 128
    assert half.name().upper() == LIGHT.fit
    assert LIGHT.band_fill.alpha() == LIGHT.band_alpha
