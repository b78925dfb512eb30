"""The job line is navigation and live state in one, by mouse, key and screen reader."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from benchapp.gui.jobline import JobLine, StationState
from tests.gui.stage import activate

GOOD = StationState(mark="good", word="fitted", line="part 0147 · 201 points")


@pytest.fixture
def line(qtbot):
    made = JobLine(["Nominal", "Capture", "Verdict"])
    qtbot.addWidget(made)
    made.resize(1280, made.sizeHint().height())
    activate(qtbot, made)
    return made


def test_a_station_is_chosen_by_a_click(qtbot, line):
    with qtbot.waitSignal(line.chosen) as told:
        qtbot.mouseClick(line.buttons[2], Qt.MouseButton.LeftButton)
    assert told.args == [2]


def test_stations_are_reached_by_tab_and_chosen_by_space(qtbot, line):
    line.buttons[0].setFocus()
    qtbot.keyClick(line.buttons[0], Qt.Key.Key_Tab)
    assert line.buttons[1].hasFocus()
    with qtbot.waitSignal(line.chosen) as told:
        qtbot.keyClick(line.buttons[1], Qt.Key.Key_Space)
    assert told.args == [1]


def test_focus_can_be_seen(qtbot, line):
    button = line.buttons[1]
    line.buttons[0].setFocus()
    before = button.grab().toImage()
    button.setFocus()
    assert button.grab().toImage() != before


def test_a_station_says_name_state_and_line_to_a_screen_reader(line):
    line.buttons[1].set_state(GOOD)
    assert line.buttons[1].accessibleName() == "Capture: fitted. part 0147 · 201 points"
    assert line.buttons[1].toolTip().endswith("Ctrl+2 goes here")
    assert line.buttons[1].state is GOOD


def test_only_the_chosen_station_is_shown_as_chosen(line):
    line.show_chosen(1)
    assert [button.isChecked() for button in line.buttons] == [False, True, False]
    line.show_chosen(-1)
    assert not any(button.isChecked() for button in line.buttons)


def test_stations_are_wide_and_equal(line):
    widths = {button.width() for button in line.buttons}
    assert max(widths) - min(widths) <= 1
    assert min(widths) > 300


def test_six_stations_fit_a_small_window(qtbot):
    names = ["Nominal", "Set-up", "Capture", "Verdict", "Lot", "Records"]
    line = JobLine(names)
    qtbot.addWidget(line)
    line.add_at_end(QPushButton("Menu"))
    line.resize(960, 60)
    line.show()
    assert line.minimumSizeHint().width() <= 960
    for button in line.buttons:
        bold = button.fontMetrics().horizontalAdvance(button.text()) * 1.2
        assert bold < button.width() - 52


def test_the_state_mark_changes_the_picture_without_its_colour(line):
    button = line.buttons[0]
    pictures = []
    for mark in ("good", "doubt", "stop", "empty", "working", "unknown"):
        button.set_state(StationState(mark=mark, word="", line=""))
        grey = button.grab().toImage().convertToFormat(button.grab().toImage().Format.Format_Mono)
        pictures.append(grey)
    for at, one in enumerate(pictures):
        assert all(one != other for other in pictures[at + 1 :])


STATES = (
    StationState(mark="empty", word="none", line="open a design"),
    StationState(mark="empty", word="", line="no instrument"),
    StationState(mark="empty", word="none", line="open or drop a file"),
    StationState(mark="unknown", word="not judged", line="no nominal design"),
    StationState(mark="empty", word="", line="no lot is open"),
    StationState(mark="empty", word="", line="search, open, compare"),
)


def six(qtbot, width, states=STATES):
    line = JobLine(["Nominal", "Set-up", "Capture", "Verdict", "Lot", "Records"])
    qtbot.addWidget(line)
    line.add_at_end(QPushButton("Menu"))
    for button, state in zip(line.buttons, states, strict=True):
        button.set_state(state)
    line.resize(width, line.sizeHint().height())
    line.show()
    return line


@pytest.mark.parametrize("width", [1280, 1920])
def test_the_words_of_a_first_start_are_shown_whole(qtbot, width):
    line = six(qtbot, width)
    for button, state in zip(line.buttons, STATES, strict=True):
        assert button.shown_words() == (state.word, state.line)


def test_a_word_without_room_beside_the_name_goes_below_whole(qtbot):
    """As wide as on a screen of 1366 pixels at 125 %."""
    line = six(qtbot, 1093)
    beside, below = line.buttons[3].shown_words()
    assert beside == ""
    assert below.startswith("not judged")


def test_parts_of_a_line_are_left_out_whole(qtbot):
    state = StationState(mark="good", word="fitted", line="0147 · 401 points · 114 to 154 kHz")
    line = six(qtbot, 1280, (*STATES[:2], state, *STATES[3:]))
    assert line.buttons[2].shown_words() == ("fitted", "0147 · 401 points …")
    assert "114 to 154 kHz" in line.buttons[2].toolTip()


def test_a_first_part_that_is_too_long_is_cut_with_a_sign(qtbot):
    state = StationState(mark="good", word="fitted", line="a_very_long_name_of_a_capture.csv")
    line = six(qtbot, 1093, (*STATES[:2], state, *STATES[3:]))
    assert line.buttons[2].shown_words()[1].endswith("…")
