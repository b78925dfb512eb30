"""What is done ahead comes in steps, waits for quiet, and stops for good."""

from __future__ import annotations

import sys

import pytest
from PySide6.QtWidgets import QLabel, QWidget

from benchapp.gui.ahead import Ahead, LoadModules, Pieces, page_steps


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


class Handed:
    """A worker that only notes what it is given."""

    def __init__(self):
        self.jobs = []

    def submit(self, subject, job, _done):
        self.jobs.append((subject, job))


def test_every_costly_page_is_made_ahead_and_the_one_in_front_stays(qtbot, window):
    window.ahead.stop()
    front, worker = window.stack.currentWidget(), Handed()
    steps = page_steps(window, worker)
    for step in steps:
        step()
    assert [subject for subject, _ in worker.jobs] == ["ahead"]
    assert isinstance(worker.jobs[0][1], LoadModules)
    assert window.stack.currentWidget() is front
    before = window.stack.count()
    for key in ("capture", "verdict", "nominal", "setup", "lot", "tank", "coil"):
        assert window.page(key).size() == window.stack.size(), key
    assert window.stack.count() == before, "they are there already"


def test_a_piece_comes_in_a_step_of_its_own_before_its_page(qtbot, window):
    window.ahead.stop()
    made = []
    window.pieces.make = made.append
    window.pages.give = lambda key: made.append(key) or window.stack.currentWidget()
    for step in page_steps(window, Handed()):
        step()
    for piece, page in (("plots", "capture"), ("card", "setup"), ("lot form", "lot")):
        assert made.index(piece) < made.index(page)


def test_every_module_that_is_loaded_ahead_is_there():
    LoadModules()(lambda *_: None, lambda: False)
    assert "benchapp.gui.supplierpage" in sys.modules
