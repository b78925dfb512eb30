"""The row of views is pressed, by mouse and by key, and marks what is shown."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.viewrow import NOMINAL_VIEWS, ViewRow
from tests.gui.hand import press
from tests.gui.stage import activate


@pytest.fixture
def row(qtbot):
    made = ViewRow(NOMINAL_VIEWS)
    qtbot.addWidget(made)
    activate(qtbot, made)
    return made


@pytest.mark.parametrize("key", [key for key, _name, _tip in NOMINAL_VIEWS])
def test_pressing_a_button_asks_for_its_view(qtbot, row, key):
    asked = []
    row.chosen.connect(asked.append)
    press(qtbot, row.buttons[key])
    assert asked == [key]
    assert row.buttons[key].toolTip()


def test_only_the_view_that_is_shown_is_marked(row):
    row.show_chosen("coil")
    assert [key for key, button in row.buttons.items() if button.isChecked()] == ["coil"]


def test_pressing_the_view_that_is_shown_leaves_it_marked(qtbot, row):
    row.show_chosen("tank")
    press(qtbot, row.buttons["tank"])
    assert row.buttons["tank"].isChecked()


def test_arrow_keys_walk_along_the_row(qtbot, row):
    first, second, *_ = row.buttons.values()
    first.setFocus()
    qtbot.keyClick(first, Qt.Key.Key_Right)
    assert second.hasFocus()
    qtbot.keyClick(second, Qt.Key.Key_Left)
    assert first.hasFocus()


def test_the_space_bar_presses_a_button(qtbot, row):
    asked = []
    row.chosen.connect(asked.append)
    row.buttons["stress"].setFocus()
    qtbot.keyClick(row.buttons["stress"], Qt.Key.Key_Space)
    assert asked == ["stress"]
