"""The station's reference coil: its file, its checks, and whether lot work is open."""

from __future__ import annotations

import time
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from benchapp.capture import Capture
from benchapp.errors import BenchError
from benchapp.gui.memory import Memory
from benchapp.gui.session import Message
from benchapp.gui.words import tr
from benchapp.gui.worker import Worker
from benchapp.jobs import (
    CheckedReference,
    CheckReference,
    KeptChecks,
    OpenReference,
    ReadChecks,
    RecordNotes,
    ReviewReference,
    station_words,
)
from benchapp.lot import Gate, Reference
from benchapp.uncertainty import Accuracy

__all__ = ["ReferenceCoil"]

_FRESH = 1.0  # s: so long a gate is not decided anew


class ReferenceCoil(QObject):
    """The reference coil of this station, none at first.

    Signals
    -------
    changed()
        Another coil, or another check.
    told(message)
        Something to tell the person.
    """

    changed = Signal()
    told = Signal(object)

    def __init__(self, worker: Worker, memory: Memory, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._worker, self._memory = worker, memory
        self.path = ""
        self.who = ""
        self.reference: Reference | None = None
        self._kept = KeptChecks()
        self._seen: tuple[float, Gate] | None = None
        self.changed.connect(self._look_again)
        if memory.reference:
            self.open(memory.reference)

    @property
    def gate(self) -> Gate | None:
        """Whether lot work is open now, to the second; None without a reference coil."""
        if self.reference is None:
            return None
        now = time.monotonic()
        if self._seen is None or now - self._seen[0] > _FRESH:
            self._seen = (now, self._kept.gate(self.reference))
        return self._seen[1]

    def _look_again(self) -> None:
        self._seen = None

    @property
    def words(self) -> str:
        """How the coil stands now, as a report says it; "" without one."""
        gate = self.gate
        return "" if gate is None else station_words(self.reference, gate)

    @property
    def obstacle(self) -> str:
        """Why no lot may be worked on; empty where the reference coil does not forbid it."""
        if self.reference is None and self.path:
            return tr("The file of the reference coil cannot be read: look at the Set-up page.")
        gate = self.gate
        if gate is None or gate.is_open:
            return ""
        return tr("Lot work is locked: {reason}.").format(reason=gate.reason)

    def open(self, path: str) -> None:
        """Use the reference coil of a file, and the checks of it in the record."""
        self.path, self.reference = path, None

        def job(progress: object, cancelled: object) -> tuple[Reference, KeptChecks]:
            reference = OpenReference(path=path)(progress, cancelled)
            return reference, ReadChecks(notes=RecordNotes())(progress, cancelled)

        self._worker.submit("reference", job, self._use, self._fail)

    def forget(self) -> None:
        """Use no reference coil; its checks stay where they are kept."""
        self.path, self.reference, self._kept = "", None, KeptChecks()
        self._memory.reference = ""
        self.changed.emit()

    def check(self, capture: Capture, accuracy: Accuracy | None) -> None:
        """Take a capture as the check of the coil."""
        if self.reference is not None:
            job = CheckReference(
                reference=self.reference,
                capture=capture,
                notes=RecordNotes(),
                accuracy=accuracy,
                who=self.who.strip(),
            )
            self._worker.submit("reference", job, self._checked, self._fail)

    def review(self, reason: str) -> None:
        """Keep that a person looked into what locked the station."""
        if self.reference is not None:
            job = ReviewReference(
                reference=self.reference,
                notes=RecordNotes(),
                who=self.who,
                reason=reason,
            )
            self._worker.submit("reference", job, lambda _gate: self._read(), self._fail)

    def _read(self) -> None:
        job = ReadChecks(notes=RecordNotes())
        self._worker.submit("reference", job, self._take, self._fail)

    def _use(self, found: tuple[Reference, KeptChecks]) -> None:
        self.reference, self._kept = found
        self._memory.reference = self.path
        self.changed.emit()

    def _take(self, kept: KeptChecks) -> None:
        self._kept = kept
        self.changed.emit()

    def _checked(self, found: CheckedReference) -> None:
        gate = found.gate
        words = tr("The reference coil is within its limits: lot work is open.")
        if not gate.is_open:
            words = tr("Lot work is locked: {reason}.").format(reason=gate.reason)
        self.told.emit(Message(text=words, mark="good" if gate.is_open else "stop"))
        self._read()

    def _fail(self, error: BenchError) -> None:
        name = Path(self.path).name
        text = error.message.replace(self.path, name) if self.path else error.message
        self.told.emit(Message(text=text, hint=error.hint))
        self.changed.emit()
