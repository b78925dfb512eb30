"""What every window test stands on: no display, no leftovers, no silent Qt warning."""

from __future__ import annotations

import gc
import os
import threading
import time

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import (
    QCoreApplication,
    QEvent,
    QLocale,
    QTimer,
    QtMsgType,
    qInstallMessageHandler,
)
from PySide6.QtWidgets import QApplication

from benchapp.gui import theme
from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.gui.session import Session
from benchapp.gui.worker import Worker
from tests.gui.factories import DirectWorker

_HARMLESS = (
    "This plugin does not support propagateSizeHints()",
    "This plugin does not support raise()",
    "This plugin does not support grabbing the keyboard",
    "not accepted by receiving widget",  # what the test pressed, not what the window did
)
_GRAVE = (QtMsgType.QtWarningMsg, QtMsgType.QtCriticalMsg, QtMsgType.QtFatalMsg)


@pytest.fixture(autouse=True)
def _point_as_decimal_mark():
    before = QLocale()
    QLocale.setDefault(QLocale.c())
    yield
    QLocale.setDefault(before)


@pytest.fixture
def clock_of(monkeypatch):
    """Set the clock of this place to a time zone."""

    def set_zone(name):
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield set_zone
    monkeypatch.undo()
    time.tzset()


@pytest.fixture(autouse=True)
def _clock_in_utc(clock_of):
    clock_of("UTC")


@pytest.fixture(scope="session", autouse=True)
def _imports_are_no_garbage():
    """Keep what is imported out of every collection: there are many after these tests."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


@pytest.fixture(autouse=True)
def _no_garbage_in_other_threads():
    """Collect on this thread alone: elsewhere a collection could destroy a widget."""
    gc.disable()
    yield
    gc.enable()


@pytest.fixture(autouse=True)
def _nothing_left_behind(qapp):
    """Fail on a thread or a running timer that outlives the test, and on any Qt warning."""
    if theme.current() is not theme.LIGHT or qapp.property("theme") is None:
        theme.apply(qapp, theme.LIGHT)
    said: list[str] = []

    def listen(kind, _context, words):
        if kind in _GRAVE and not any(one in words for one in _HARMLESS):
            said.append(words)

    before = qInstallMessageHandler(listen)
    threads = set(threading.enumerate())
    yield
    for widget in QApplication.topLevelWidgets():
        widget.close()
        widget.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    qInstallMessageHandler(before)
    timers = [timer for timer in qapp.findChildren(QTimer) if timer.isActive()]
    assert [thread.name for thread in set(threading.enumerate()) - threads] == []
    assert timers == []
    assert said == []


@pytest.fixture
def memory(tmp_path):
    return Memory(tmp_path / "settings.ini")


@pytest.fixture
def direct():
    """A worker that does nothing by itself: the test says when and what a job gives."""
    return DirectWorker()


@pytest.fixture
def session(direct):
    made = Session(direct)
    yield made
    made.deleteLater()


@pytest.fixture
def worker(qapp):
    made = Worker()
    yield made
    made.close()


@pytest.fixture
def window(qtbot, memory):
    """The whole window with its real worker."""
    made = make_window(memory)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)  # a window that is not mapped yet cannot keep the focus
    made.activateWindow()
    qtbot.waitActive(made)
    yield made
    made.close()
