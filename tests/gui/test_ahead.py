"""What is done ahead comes in steps, waits for quiet, and stops for good."""

from __future__ import annotations

from benchapp.gui.ahead import Ahead


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
