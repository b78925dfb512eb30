"""A file that does not say everything is asked about beside its first lines."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from benchapp.gui.askpage import AskPage, EmptyPage
from tests.gui.factories import PORT, reading

ASKING = reading(
    questions=(PORT,),
    source="/far/away/through.s2p",
    sample=tuple(f"line {number}" for number in range(12)),
)


@pytest.fixture
def page(qtbot, session, memory):
    made = AskPage(session, memory)
    qtbot.addWidget(made)
    made.show()
    session.asked.emit(ASKING)
    return made


def test_the_file_is_named_and_its_first_lines_are_shown(page):
    assert page.title.text() == "through.s2p does not say everything"
    assert page.lines.text().splitlines() == [f"line {number}" for number in range(8)]


def test_long_lines_are_cut(page, session):
    session.asked.emit(reading(questions=(PORT,), sample=("x" * 500,)))
    assert len(page.lines.text()) == 110


def test_answers_are_kept_and_the_file_is_read_with_them(qtbot, page, direct, memory):
    page.understood.fields["port"].setCurrentText("series-through")
    qtbot.mouseClick(page.understood.button, Qt.MouseButton.LeftButton)
    job = direct.take("read /far/away/through.s2p").job
    assert job.answers.port == "series-through"
    assert memory.answers(ASKING.layout) == {"port": "series-through"}


def test_before_anything_is_asked_an_answer_does_nothing(qtbot, session, memory, direct):
    page = AskPage(session, memory)
    qtbot.addWidget(page)
    page.understood.answered.emit({"port": "reflection"})
    assert direct.tasks == []


def test_an_empty_station_says_how_to_fill_it(qtbot):
    pressed = []
    page = EmptyPage("Nothing here", "Open one.", [("Open…", lambda: pressed.append(1))])
    qtbot.addWidget(page)
    (button,) = page.findChildren(QPushButton)
    assert button.property("role") == "main"
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert pressed == [1]
