"""Long work happens on one other thread; what is stale or stopped is never reported."""

from __future__ import annotations

import gc
import threading
import time

import pytest
from PySide6.QtCore import QCoreApplication, QEvent

from benchapp.errors import CancelledError, FitError
from benchapp.gui.app import Collector
from benchapp.gui.worker import Worker


class Log:
    """Collects what a job reported, with the thread on which it was told."""

    def __init__(self):
        self.results, self.errors, self.threads = [], [], set()

    def done(self, result):
        self.results.append(result)
        self.threads.add(threading.current_thread())

    def failed(self, error):
        self.errors.append(error)
        self.threads.add(threading.current_thread())


@pytest.fixture
def log():
    return Log()


class Gate:
    """A job that waits until it is let go, and then gives its name."""

    def __init__(self, name="result"):
        self.name, self.begun, self.leave = name, threading.Event(), threading.Event()
        self.saw_stop = False

    def __call__(self, _progress, cancelled):
        self.begun.set()
        self.leave.wait(5)
        self.saw_stop = cancelled()
        return self.name


def test_a_job_runs_on_another_thread_and_reports_on_this_one(qtbot, worker, log):
    seen = []
    worker.submit("a", lambda _p, _c: seen.append(threading.current_thread()), log.done)
    qtbot.waitUntil(lambda: log.results == [None])
    assert seen[0] is not threading.current_thread()
    assert seen[0].daemon
    assert log.threads == {threading.current_thread()}


def test_jobs_are_done_in_the_order_they_were_given(qtbot, worker, log):
    for name in "abcd":
        worker.submit(name, lambda _p, _c, name=name: name, log.done)
    qtbot.waitUntil(lambda: log.results == list("abcd"))


def test_a_newer_job_stops_the_older_one_and_its_result_is_dropped(qtbot, worker, log):
    slow, quick = Gate("old"), Gate("new")
    quick.leave.set()
    worker.submit("fit", slow, log.done)
    assert slow.begun.wait(5)
    worker.submit("fit", quick, log.done)
    slow.leave.set()
    qtbot.waitUntil(lambda: log.results == ["new"])
    qtbot.wait(30)
    assert log.results == ["new"]
    assert slow.saw_stop


def test_of_many_jobs_for_one_subject_only_the_last_is_reported(qtbot, worker, log):
    hold = Gate()
    worker.submit("hold", hold, log.done)
    begun = []
    for number in range(50):
        worker.submit("fit", lambda _p, _c, n=number: begun.append(n) or n, log.done)
    hold.leave.set()
    qtbot.waitUntil(lambda: not worker.is_busy)
    assert log.results == ["result", 49]
    assert begun == [49]


def test_subjects_do_not_disturb_each_other(qtbot, worker, log):
    worker.submit("read", lambda _p, _c: "file", log.done)
    worker.submit("fit", lambda _p, _c: "values", log.done)
    qtbot.waitUntil(lambda: log.results == ["file", "values"])


def test_an_expected_error_comes_as_it_is(qtbot, worker, log):
    def job(_progress, _cancelled):
        raise FitError("fit: must have points (got none).", hint="Measure again.")

    worker.submit("fit", job, log.done, log.failed)
    qtbot.waitUntil(lambda: len(log.errors) == 1)
    assert str(log.errors[0]) == "fit: must have points (got none). Measure again."
    assert log.results == []


def test_an_unexpected_fault_becomes_a_sentence_and_the_worker_goes_on(qtbot, worker, log):
    worker.submit("fit", lambda _p, _c: 1 / 0, log.done, log.failed)
    worker.submit("more", lambda _p, _c: "still here", log.done)
    qtbot.waitUntil(lambda: log.results == ["still here"])
    (error,) = log.errors
    assert "ZeroDivisionError: division by zero" in error.message
    assert error.hint.startswith("Your files are untouched.")
    assert "1 / 0" in error.facts["details"]


def test_cancelling_stops_what_runs_and_what_waits(qtbot, worker, log):
    running, waiting = Gate(), Gate()
    worker.submit("a", running, log.done, log.failed)
    worker.submit("b", waiting, log.done, log.failed)
    assert running.begun.wait(5)
    worker.cancel()
    assert not worker.is_busy
    running.leave.set()
    worker.submit("c", lambda _p, _c: "after", log.done)
    qtbot.waitUntil(lambda: log.results == ["after"])
    assert running.saw_stop
    assert not waiting.begun.is_set()
    assert log.errors == []


def test_a_job_that_notices_the_stop_is_not_an_error(qtbot, worker, log):
    def job(_progress, _cancelled):
        raise CancelledError("stopped.")

    worker.submit("a", job, log.done, log.failed)
    qtbot.waitUntil(lambda: not worker.is_busy)
    assert (log.results, log.errors) == ([], [])


def test_progress_is_told_while_the_job_runs(qtbot, worker, log):
    def job(progress, _cancelled):
        progress("fitting", 0.25)
        progress("judging", 0.75)

    told = []
    worker.progressed.connect(lambda words, fraction: told.append((words, fraction)))
    worker.submit("a", job, log.done)
    qtbot.waitUntil(lambda: log.results == [None])
    assert told == [("fitting", 0.25), ("judging", 0.75)]


def test_busy_is_told_from_the_first_job_to_the_last(qtbot, worker, log):
    told = []
    worker.busy.connect(told.append)
    worker.submit("a", lambda _p, _c: 1, log.done)
    worker.submit("b", lambda _p, _c: 2, log.done)
    qtbot.waitUntil(lambda: not worker.is_busy)
    assert told == [True, True, False]


def test_closing_ends_the_thread_even_while_a_job_runs(qapp, log):
    worker = Worker()
    thread = worker._thread
    gate = Gate()
    worker.submit("a", gate, log.done)
    assert gate.begun.wait(5)
    threading.Timer(0.05, gate.leave.set).start()
    worker.close()
    assert not thread.is_alive()
    time.sleep(0.1)
    assert log.results == []


def test_a_job_that_ends_after_the_window_tells_nobody(qapp, monkeypatch, log):
    """A job that cannot be stopped in time must not call on a window that is gone."""
    monkeypatch.setattr("benchapp.gui.worker._PATIENCE_SECONDS", 0.01)
    worker, gate = Worker(), Gate()
    thread = worker._thread
    worker.submit("a", gate, log.done, log.failed)
    gate.begun.wait(5)
    worker.close()
    worker.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gate.leave.set()
    thread.join(5)
    assert not thread.is_alive()
    assert (log.results, log.errors) == ([], [])


def test_garbage_is_collected_on_the_thread_of_the_window_only(qtbot):
    collector = Collector()
    assert not gc.isenabled()
    collected = []

    def watch(phase, _facts):
        if phase == "start":
            collected.append(threading.current_thread())

    gc.callbacks.append(watch)
    try:
        before = [{"self": {}} for _ in range(2000)]
        for one in before:
            one["self"]["back"] = one
        del before, one
        collector.collect()
    finally:
        gc.callbacks.remove(watch)
        collector.stop()
    assert collected == [threading.main_thread()]
    assert gc.isenabled()
    gc.disable()
