"""Pages are made when they are wanted, once, and take no drop of their own."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QGraphicsView,
    QLineEdit,
    QListView,
    QTableView,
)

from benchapp.gui.plots import Plots
from benchapp.gui.startpage import sample_paths
from benchapp.gui.stations import STATIONS
from tests.gui.hand import opened

KEYS = (
    *(station.key for station in STATIONS),
    *("start", "tank", "stress", "marking", "coil", "live", "thresholds", "ask", "parts"),
    *("no_nominal", "no_capture"),
)


@pytest.mark.parametrize("key", KEYS)
def test_a_page_is_made_once_and_leaves_drops_to_the_window(window, key):
    page = window.pages.give(key)
    assert window.pages.give(key) is page
    assert window.stack.indexOf(page) >= 0
    inside = page.findChildren(QLineEdit) + page.findChildren(QGraphicsView)
    assert [one for one in inside if one.acceptDrops()] == []


def test_a_page_that_nobody_makes_is_no_page(window):
    with pytest.raises(AttributeError, match="make_attic"):
        window.pages.give("attic")


CONTROLS = (QAbstractButton, QLineEdit, QComboBox, QListView, QTableView, Plots)
REACHED = (
    *("start", "nominal", "tank", "stress", "marking", "coil", "setup", "capture", "verdict"),
    *("lot", "records", "thresholds", "no_nominal", "no_capture"),
)


def controls(widget):
    """Give what a person can press, type into or choose from, as it stands there now."""
    found = {
        one
        for kind in CONTROLS
        for one in widget.findChildren(kind)
        if one.isVisible() and one.isEnabled() and not isinstance(one.parent(), QComboBox)
    }
    return {one for one in found if not isinstance(one.parent(), QTableView | QLineEdit)}


def show(window, key):
    """Show a page, also one that only stands in for another."""
    if key.startswith("no_"):
        window.stack.setCurrentWidget(window.page(key))
    else:
        window.go(key)


@pytest.fixture
def worked(qtbot, window):
    window.ahead.stop()
    opened(qtbot, window, *sample_paths())
    return window


@pytest.mark.parametrize("key", REACHED)
def test_every_control_of_a_page_is_reached_by_tab(qtbot, worked, key):
    """WCAG 2.2, 2.1.1: everything by the keyboard; the guided run's panel among it."""
    worked.guide.begin()
    show(worked, key)
    qtbot.wait(20)
    wanted = controls(worked)
    assert worked.guide_panel.leave_button in wanted
    reached = set()
    worked.line.buttons[0].setFocus()
    for _ in range(3 * len(wanted) + 40):
        reached.add(QApplication.focusWidget())
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    missed = [
        f"{type(one).__name__} {one.accessibleName() or getattr(one, 'text', str)()}"
        for one in wanted - reached
    ]
    assert missed == []


@pytest.mark.parametrize("key", REACHED)
def test_every_control_of_a_page_has_a_name_that_is_read_out(worked, key):
    """WCAG 2.2, 4.1.2."""
    show(worked, key)
    unnamed = [
        f"{type(one).__name__} in {type(one.parent()).__name__}"
        for one in controls(worked)
        if not (one.accessibleName() or (isinstance(one, QAbstractButton) and one.text()))
    ]
    assert unnamed == []
