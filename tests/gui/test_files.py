"""Files in and out: dialogs, a saved design, what was opened last."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from benchapp.gui.startpage import sample_paths
from benchapp.jobs import sample_folder
from tests.gui.hand import judged, opened, press

CONTROL = Qt.KeyboardModifier.ControlModifier
SAMPLE, DESIGN = sample_paths()
COIL = str(sample_folder() / "ga12_coil.csv")


def test_a_saved_design_is_the_one_that_is_open(qtbot, window, tmp_path):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.go("nominal")
    target = tmp_path / "mine.toml"
    window.page("nominal").wants_place.disconnect()
    window.page("nominal").wants_place.connect(lambda words: window.files.save(str(target), words))
    press(qtbot, window.page("nominal").saver)
    qtbot.waitUntil(lambda: window.session.nominal_path == str(target))
    assert window.page("nominal").file.text() == "mine.toml"
    assert target.read_text(encoding="utf-8").startswith('title = "Gate antenna coil GA-12"')


def test_a_place_that_cannot_be_written_is_told_and_the_design_stays(qtbot, window, tmp_path):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.files.save(str(tmp_path), "words")
    assert window.message.isVisible()
    assert "cannot be written" in window.message.words.text()
    assert window.session.nominal_path == DESIGN


def test_the_dialog_opens_what_is_chosen_in_it(qtbot, window):
    qtbot.keyClick(window, Qt.Key.Key_O, CONTROL)
    (dialog,) = window.findChildren(QFileDialog)
    assert dialog.fileMode() == QFileDialog.FileMode.ExistingFiles
    assert any("*.csv" in one and "*.toml" in one for one in dialog.nameFilters())
    dialog.filesSelected.emit([SAMPLE])
    dialog.close()
    qtbot.waitUntil(lambda: judged(window), timeout=20_000)


def test_the_dialog_to_save_hands_over_the_text(qtbot, window, tmp_path):
    window.files.save_dialog("title = 1")
    (dialog,) = window.findChildren(QFileDialog)
    assert dialog.acceptMode() == QFileDialog.AcceptMode.AcceptSave
    dialog.fileSelected.emit(str(tmp_path / "x.toml"))
    dialog.close()
    assert (tmp_path / "x.toml").read_text(encoding="utf-8") == "title = 1"
    qtbot.waitUntil(window.message.isVisible)


def test_recent_files_are_offered_and_opened(qtbot, window):
    opened(qtbot, window, SAMPLE)
    window.menu.recent.aboutToShow.emit()
    (action,) = window.menu.recent.actions()
    assert action.text() == Path(SAMPLE).name
    window.session.close_part()
    action.trigger()
    qtbot.waitUntil(lambda: window.session.part is not None and judged(window), timeout=20_000)


def test_with_no_recent_files_the_menu_says_so(window):
    window.menu.recent.aboutToShow.emit()
    (action,) = window.menu.recent.actions()
    assert action.text() == "nothing yet"
    assert not action.isEnabled()
