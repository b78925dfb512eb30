"""A folder into which an instrument saves: each new file is told once it is complete."""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

__all__ = ["FolderWatch"]

_LOOK_MS = 400
_NOT_CAPTURES = {".tmp", ".part", ".lock", ".toml", ".png", ".pdf", ".html"}


class FolderWatch(QObject):
    """Looks into a folder now and then; also on network drives, which report no changes.

    Signals
    -------
    found(path)
        A file that was not there when the watch began, its size the same in two looks.
    changed()
        Another folder is watched, or none.
    lost()
        The folder cannot be looked into any more.
    """

    found = Signal(str)
    changed = Signal()
    lost = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.folder = ""
        self._known: set[str] = set()
        self._growing: dict[str, int] = {}
        self._timer = QTimer(self, interval=_LOOK_MS)
        self._timer.timeout.connect(self.look)

    def start(self, folder: str) -> None:
        """Watch a folder; what lies in it already does not count."""
        self.folder = folder
        self._growing = {}
        self._known = set(_files(folder) or ())
        self._timer.start()
        self.changed.emit()

    def stop(self) -> None:
        """Watch nothing."""
        self._timer.stop()
        self.folder = ""
        self.changed.emit()

    def look(self) -> None:
        """Look into the folder now."""
        files = _files(self.folder)
        if files is None:
            self.stop()
            self.lost.emit()
            return
        for name in sorted(files.keys() - self._known):
            size = files[name]
            if size and self._growing.get(name) == size:
                self._known.add(name)
                self._growing.pop(name)
                self.found.emit(str(Path(self.folder) / name))
            else:
                self._growing[name] = size


def _files(folder: str) -> dict[str, int] | None:
    """Give the files that may be captures with their sizes; None where it cannot be read."""
    try:
        with os.scandir(folder) as entries:
            return {
                entry.name: entry.stat().st_size
                for entry in entries
                if entry.is_file()
                and not entry.name.startswith(".")
                and Path(entry.name).suffix.lower() not in _NOT_CAPTURES
            }
    except OSError:
        return None
