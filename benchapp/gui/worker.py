"""The one thread that does the window's long work, and the way its results come back.

Jobs are callables ``(progress, cancelled) -> result``. A job belongs to a `subject`; when a newer
job for the same subject is given, the older one is stopped and its result, should it still come,
is dropped. All callbacks are called on the thread of the window.
"""

from __future__ import annotations

import queue
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from benchapp.errors import BenchError, CancelledError

__all__ = ["Job", "Worker"]

_PATIENCE_SECONDS = 5.0  # for a job that does not stop when the window closes
_FINISH_SECONDS = 60.0  # for jobs that must be finished

Job = Callable[[Callable[[str, float], None], Callable[[], bool]], Any]


def _nothing(_value: Any) -> None:
    """Take a result and do nothing with it."""


@dataclass(slots=True, eq=False)
class _Task:
    job: Job
    subject: str
    done: Callable[[Any], None]
    failed: Callable[[BenchError], None]
    stop: threading.Event = field(default_factory=threading.Event)


class Worker(QObject):
    """Does jobs one after the other on a daemon thread of its own.

    Signals
    -------
    progressed(text, fraction)
        What is being done, and how much of it is done (0 to 1).
    busy(bool)
        Whether there is anything to do.
    """

    progressed = Signal(str, float)
    busy = Signal(bool)
    _reported = Signal(object, str, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._tasks: queue.SimpleQueue[_Task | None] = queue.SimpleQueue()
        self._latest: dict[str, _Task] = {}
        self._ended = threading.Event()
        self._reported.connect(self._deliver, Qt.ConnectionType.QueuedConnection)
        self._thread = threading.Thread(target=self._work, name="benchapp-work", daemon=True)
        self._thread.start()

    @property
    def is_busy(self) -> bool:
        """Whether a job is waiting or being done."""
        return bool(self._latest)

    def submit(
        self,
        subject: str,
        job: Job,
        done: Callable[[Any], None],
        failed: Callable[[BenchError], None] = _nothing,
    ) -> None:
        """Do ``job``, then call ``done`` with its result or ``failed`` with its error."""
        self._stop(subject)
        task = _Task(job, subject, done, failed)
        self._latest[subject] = task
        self._tasks.put(task)
        self.busy.emit(True)

    def cancel(self) -> None:
        """Stop everything that is waiting or being done; nothing is reported for it."""
        for subject in tuple(self._latest):
            self._stop(subject)
        self.busy.emit(False)

    def close(self, *, finish: bool = False) -> None:
        """End the thread: stop everything, or ``finish`` what is waiting first."""
        if not finish:
            self._ended.set()
            self.cancel()
        self._tasks.put(None)
        self._thread.join(timeout=_FINISH_SECONDS if finish else _PATIENCE_SECONDS)
        self._ended.set()

    def _stop(self, subject: str) -> None:
        task = self._latest.pop(subject, None)
        if task is not None:
            task.stop.set()

    def _work(self) -> None:
        while (task := self._tasks.get()) is not None:
            if not task.stop.is_set():
                self._do(task)

    def _do(self, task: _Task) -> None:
        def progress(text: str, fraction: float) -> None:
            self._report(task, "progress", (text, fraction))

        try:
            result = task.job(progress, task.stop.is_set)
        except CancelledError:
            self._report(task, "cancelled", None)
        except BenchError as error:
            self._report(task, "failed", error)
        except Exception as cause:  # noqa: BLE001 - one of the two places: the window must go on
            self._report(task, "failed", _unexpected(cause))
        else:
            self._report(task, "done", result)

    def _report(self, task: _Task, kind: str, value: Any) -> None:
        """Tell the window's thread; after the end nobody is there to be told."""
        if not self._ended.is_set():
            self._reported.emit(task, kind, value)

    @Slot(object, str, object)
    def _deliver(self, task: _Task, kind: str, value: Any) -> None:
        if self._latest.get(task.subject) is not task:
            return
        if kind == "progress":
            self.progressed.emit(*value)
            return
        del self._latest[task.subject]
        if kind == "done":
            task.done(value)
        elif kind == "failed":
            task.failed(value)
        if not self._latest:
            self.busy.emit(False)


def _unexpected(cause: Exception) -> BenchError:
    """Turn a fault of the program into a sentence; the details go along for a report."""
    return BenchError(
        f"the program: must not fail here, but it did ({type(cause).__name__}: {cause}).",
        hint="Your files are untouched. Try again, and report this sentence with the file.",
        details="".join(traceback.format_exception(cause)),
    )
