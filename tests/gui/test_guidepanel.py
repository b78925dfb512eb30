"""The panel of the guided run is quiet: it covers nothing, and is reached by Tab."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import QApplication

from benchapp.gui import theme
from benchapp.gui.guidesteps import STEPS
from tests.gui.clipping import clipped, overlapping
from tests.gui.hand import press

SIZES = ((960, 540), (1093, 614), (1280, 800), (1920, 1080))


@pytest.fixture
def panel(window):
    window.ahead.stop()
    window.guide.begin()
    return window.guide_panel


def area(widget, window) -> QRect:
    return QRect(widget.mapTo(window, QPoint(0, 0)), widget.size())


def test_without_a_guided_run_there_is_no_panel(window):
    assert not window.guide_panel.isVisible()


@pytest.mark.parametrize("size", SIZES)
def test_it_covers_no_page_and_cuts_no_words(qtbot, window, panel, size):
    window.resize(*size)
    qtbot.wait(10)
    for step in STEPS:
        window.guide._passed = [one.key for one in STEPS[: STEPS.index(step)]]
        panel.refresh()
        qtbot.waitUntil(lambda: (clipped(panel), overlapping(panel)) == ([], []))
        assert not area(panel, window).intersects(area(window.stack, window))
        assert not area(panel, window).intersects(area(window.foot, window))
        assert panel.height() <= 0.2 * size[1]
    assert (window.width(), window.height()) == size


def test_it_says_how_far_the_run_is(window, panel):
    assert panel.title.text() == "Read the marking"
    assert panel.place.text() == "0 of 14 steps done"
    window.guide._passed = ["marking"]
    panel.refresh()
    assert panel.title.text() == "Work out the tank"
    assert panel.place.text() == "1 of 14 steps done"


def test_its_buttons_are_reached_by_tab_and_pressed_by_space(qtbot, window, panel):
    panel.place_button.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.keyClick(panel.place_button, Qt.Key.Key_Tab)
    assert QApplication.focusWidget() is panel.act_button
    qtbot.keyClick(panel.act_button, Qt.Key.Key_Tab)
    assert QApplication.focusWidget() is panel.leave_button
    qtbot.keyClick(panel.leave_button, Qt.Key.Key_Space)
    assert not window.guide.is_on


def test_a_click_leaves_the_keyboard_to_the_work(qtbot, window, panel):
    """Space takes the sweep, whatever was clicked last."""
    window.page("marking").code.setFocus()
    press(qtbot, panel.act_button)
    assert QApplication.focusWidget() is not panel.act_button


def test_the_place_is_shown_with_the_keyboard_where_the_step_begins(qtbot, window, panel):
    window.go("coil")
    press(qtbot, panel.place_button)
    assert window.key == "marking"
    assert QApplication.focusWidget() is window.page("marking").code


def test_nothing_is_done_while_something_is_on_its_way(qtbot, window, panel, monkeypatch):
    monkeypatch.setattr(type(window.guide), "is_waiting", property(lambda _self: True))
    panel.show_state()
    assert not panel.act_button.isEnabled()
    window.guide.act()
    assert window.sheet.texts.get("C", "") == ""


def test_full_screen_leaves_the_verdict_alone(qtbot, window, panel):
    window.go("verdict")
    qtbot.keyClick(window, Qt.Key.Key_F11)
    assert not panel.isVisible()
    qtbot.keyClick(window, Qt.Key.Key_F11)
    assert panel.isVisible()


@pytest.mark.parametrize("dress", [theme.LIGHT, theme.DARK])
def test_its_words_can_be_read(dress):
    """WCAG 2.2, 1.4.3."""
    for ink in ("ink", "muted"):
        assert theme.contrast(getattr(dress, ink), dress.notice) >= 4.5
