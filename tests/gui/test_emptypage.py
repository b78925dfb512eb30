"""An empty station says how to fill it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from benchapp.gui.emptypage import EmptyPage


def test_an_empty_station_says_how_to_fill_it(qtbot):
    pressed = []
    page = EmptyPage("Nothing here", "Open one.", [("Open…", lambda: pressed.append(1))])
    qtbot.addWidget(page)
    (button,) = page.findChildren(QPushButton)
    assert button.property("role") == "main"
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert pressed == [1]
