"""The menu and the keys of its acts."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from benchapp.gui import theme
from benchapp.gui.startpage import sample_paths
from benchapp.gui.stations import STATIONS
from benchapp.jobs import sample_folder
from tests.gui.hand import judged, opened

CONTROL = Qt.KeyboardModifier.ControlModifier
SAMPLE, DESIGN = sample_paths()
COIL = str(sample_folder() / "ga12_coil.csv")


def test_control_and_a_number_go_to_the_stations(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    keys = [Qt.Key(Qt.Key.Key_1 + number) for number in range(6)]
    for number, (key, station) in enumerate(zip(keys, STATIONS, strict=True)):
        qtbot.keyClick(window, key, CONTROL)
        assert window.stack.currentWidget() is window.page(station.key)
        assert window.line.buttons[number].isChecked()


def test_colours_are_chosen_and_kept(qtbot, window, memory):
    window.menu.themes["dark"].trigger()
    assert theme.current() is theme.DARK
    assert memory.theme == "dark"
    assert window.menu.themes["dark"].isChecked()
    assert not window.menu.themes["light"].isChecked()
    window.menu.themes["system"].trigger()
    QGuiApplication.styleHints().colorSchemeChanged.emit(Qt.ColorScheme.Dark)
    assert window.menu.themes["system"].isChecked()


def test_next_and_previous_capture_have_keys(qtbot, window):
    opened(qtbot, window, SAMPLE, COIL)
    qtbot.waitUntil(lambda: len(window.session.parts) == 2 and judged(window), timeout=20_000)
    qtbot.keyClick(window, Qt.Key.Key_PageUp, CONTROL)
    assert window.session.position == 0
    qtbot.keyClick(window, Qt.Key.Key_PageDown, CONTROL)
    assert window.session.position == 1
    qtbot.waitUntil(lambda: judged(window))


def test_f5_fits_again(qtbot, window):
    opened(qtbot, window, SAMPLE)
    before = window.session.result
    qtbot.keyClick(window, Qt.Key.Key_F5)
    qtbot.waitUntil(lambda: window.session.result is not before and judged(window))


def test_every_act_that_is_listed_or_not_answers_to_its_key(window):
    keys = [key.toString() for action in window.actions() for key in action.shortcuts()]
    assert len(keys) == len(set(keys))
    assert {"Ctrl+O", "Ctrl+S", "Ctrl+Z", "F5", "F8", "F9", "F10", "F11", "Esc"} <= set(keys)


def test_the_menu_opens_by_its_key(qtbot, window):
    shown = []
    window.menu.aboutToShow.connect(lambda: shown.append(True))
    window.menu.aboutToShow.connect(window.menu.close, Qt.ConnectionType.QueuedConnection)
    qtbot.keyClick(window, Qt.Key.Key_F10)
    assert shown == [True]
