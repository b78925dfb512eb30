"""What is done ahead comes in steps, waits for quiet, and stops for good."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel, QWidget

from benchapp.gui.ahead import Ahead, LoadModules, Pieces


def test_steps_come_one_by_one_in_their_order(qtbot):
    done = []
    ahead = Ahead([lambda: done.append(1), lambda: done.append(2)], lambda: True)
    ahead.start(0)
    qtbot.waitUntil(lambda: done == [1])
    assert not ahead.is_done
    qtbot.waitUntil(lambda: ahead.is_done)
    assert done == [1, 2]


def test_a_step_waits_until_nothing_else_goes_on(qtbot):
    done, quiet = [], []
    ahead = Ahead([lambda: done.append(1)], lambda: bool(quiet))
    ahead.start(0)
    qtbot.wait(150)
    assert done == []
    quiet.append(True)
    qtbot.waitUntil(lambda: done == [1])


def test_nothing_is_done_after_a_stop(qtbot):
    done = []
    ahead = Ahead([lambda: done.append(1)], lambda: True)
    ahead.start(0)
    ahead.stop()
    qtbot.wait(50)
    assert done == []
    assert ahead.is_done


def test_a_piece_is_made_once_and_given_once(qtbot):
    owner = QWidget()
    qtbot.addWidget(owner)
    made = []

    def maker():
        made.append(QLabel("piece"))
        return made[-1]

    pieces = Pieces({"piece": maker}, owner)
    pieces.make("piece")
    pieces.make("piece")
    assert pieces.take("piece") is made[0]
    assert len(made) == 1
    pieces.make("piece")
    assert len(made) == 1, "its page has it already"


def test_a_piece_that_was_not_made_ahead_is_made_with_its_page(qtbot):
    owner = QWidget()
    qtbot.addWidget(owner)
    assert Pieces({"piece": lambda: QLabel("late")}, owner).take("piece").text() == "late"


def test_modules_are_loaded_until_the_person_wants_something():
    asked = []

    def cancelled():
        asked.append(True)
        return len(asked) > 1

    with pytest.raises(ModuleNotFoundError, match="no_such_module"):
        LoadModules(("no_such_module",))(lambda *_: None, lambda: False)
    LoadModules(("json", "no_such_module"))(lambda *_: None, cancelled)
    assert len(asked) == 2


def test_the_end_is_told(qtbot):
    ahead = Ahead([lambda: None], lambda: True)
    with qtbot.waitSignal(ahead.finished):
        ahead.start(0)
