"""A folder into which an instrument saves: each new file is told once it is complete."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QObject, Signal

from benchapp.errors import BenchError
from benchapp.gui.worker import Worker
from benchapp.jobs import Arrived, AwaitFiles, files_now

__all__ = ["FolderWatch"]

_SUBJECT = "watch"


class FolderWatch(QObject):
    """Looks into a folder on a thread of its own; network drives too, which report no changes.

    Signals
    -------
    found(path)
        A file that was not there when the watch began, or was written anew since, is complete.
    changed()
        Another folder is watched, or none.
    lost(error)
        The folder cannot be looked into: a `BenchError`.
    """

    found = Signal(str)
    changed = Signal()
    lost = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.folder = ""
        self._worker: Worker | None = None

    def start(self, folder: str) -> None:
        """Watch a folder; what lies in it already does not count."""
        self.stop()
        try:
            seen = files_now(folder)
        except BenchError as error:
            self.lost.emit(error)
            return
        self.folder = folder
        self._worker = Worker(self)
        self._wait(Arrived(paths=(), seen=seen))
        self.changed.emit()

    def stop(self) -> None:
        """Watch nothing."""
        worker, self._worker = self._worker, None
        if worker is None:
            return
        worker.close()
        worker.deleteLater()
        self.folder = ""
        self.changed.emit()

    def _wait(self, arrived: Arrived) -> None:
        """Wait for what comes next; tell what came."""
        worker, folder = self._worker, self.folder
        if worker is None:
            return
        worker.submit(
            _SUBJECT,
            AwaitFiles(folder=folder, seen=arrived.seen),
            self._wait,
            partial(self._lose, folder),
        )
        for path in arrived.paths:
            self.found.emit(path)

    def _lose(self, folder: str, error: BenchError) -> None:
        if folder == self.folder:
            self.stop()
            self.lost.emit(error)
