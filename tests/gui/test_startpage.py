"""A first start is not empty: it offers the sample, and to open something."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from benchapp.gui import startpage
from benchapp.gui.startpage import StartPage, sample_lot, sample_paths
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL


@pytest.fixture
def page(qtbot, memory):
    made = StartPage(memory)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    made.show()
    return made


def test_the_sample_is_a_capture_with_its_design():
    names = [Path(path).name for path in sample_paths()]
    assert names == [SAMPLE_CAPTURE, SAMPLE_NOMINAL]


def test_three_offers_are_made_and_each_does_what_it_says(qtbot, page):
    guide, bench, sample, lot, capture, design = page.buttons
    with qtbot.waitSignal(page.wants_guide):
        qtbot.mouseClick(guide, Qt.MouseButton.LeftButton)
    with qtbot.waitSignal(page.wants_bench):
        qtbot.mouseClick(bench, Qt.MouseButton.LeftButton)
    for button, paths in ((sample, sample_paths()), (lot, sample_lot())):
        with qtbot.waitSignal(page.wants_paths) as told:
            qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        assert told.args == [paths]
    with qtbot.waitSignal(page.wants_capture):
        qtbot.mouseClick(capture, Qt.MouseButton.LeftButton)
    design.setFocus()
    with qtbot.waitSignal(page.wants_nominal):
        qtbot.keyClick(design, Qt.Key.Key_Space)


def test_the_sample_lot_is_its_design_and_thirteen_parts():
    design, *parts = sample_lot()
    assert Path(design).name == SAMPLE_NOMINAL
    assert [Path(path).stem for path in parts] == [f"{201 + at:04d}" for at in range(13)]


def test_a_guided_run_that_was_left_can_be_gone_on_with(page):
    page.show_guide(is_begun=True)
    assert page.buttons[0].text() == "Go on with the guided run"
    page.show_guide(is_begun=False)
    assert page.buttons[0].text() == "Begin the guided run"


def test_an_installation_without_samples_offers_none(qtbot, memory, monkeypatch, tmp_path):
    monkeypatch.setattr(startpage, "sample_folder", lambda: tmp_path)
    bare = StartPage(memory)
    qtbot.addWidget(bare)
    assert [button.text() for button in bare.buttons] == [
        "Begin the guided run",
        "Start the bench alone",
        "Open a capture…",
        "Open a design…",
    ]
    assert bare.buttons[0].property("role") == "main"


def test_files_opened_last_are_offered_with_their_folder(qtbot, memory, tmp_path):
    file = tmp_path / "coil 7.csv"
    file.touch()
    memory.remember(str(file))
    page = StartPage(memory)
    qtbot.addWidget(page)
    button = next(one for one in page.findChildren(QPushButton) if one.text() == "coil 7.csv")
    with qtbot.waitSignal(page.wants_paths) as told:
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert told.args == [[str(file)]]
    assert button.toolTip() == str(file)


def test_offers_are_explained_to_a_screen_reader(page):
    assert all(button.accessibleDescription() for button in page.buttons)
    assert "no instrument is needed" in page.buttons[0].accessibleDescription()


def test_lines_stay_short_on_a_wide_screen(qtbot, page):
    page.resize(2400, 1200)
    qtbot.wait(5)
    middle = page.widget().layout().itemAt(1).widget()
    assert middle.width() <= 1180
