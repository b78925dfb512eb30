"""The lot on the bench: what counts, what is next, what is taken back, how it ends."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication

from benchapp.capture import Sweep
from benchapp.errors import BenchError
from benchapp.gui.memory import Memory
from benchapp.gui.recorder import Recorder, compare_of, note_entry
from benchapp.gui.session import Message, Part
from benchapp.gui.words import outcome_words, tr
from benchapp.jobs import (
    BeginLot,
    ConcludeLot,
    KeptPart,
    OpenedLot,
    OpenLot,
    Place,
    TakeBack,
    within_lot,
)
from benchapp.lot import Conclusion, LotForm, LotPlan, LotState, PartRecord
from benchapp.nominal import Nominal, Outcome

__all__ = ["Desk"]

FloatArray = NDArray[np.float64]
Impedances = Mapping[str, tuple[FloatArray, NDArray[np.complex128]]]


class Desk(QObject):
    """One lot under inspection. Everything that counts is in the record before it counts here.

    Signals
    -------
    changed()
        The lot, or what is next, changed.
    opened(nominal)
        A lot was begun or gone on with; its design holds from now on.
    selected(serial)
        A part was chosen somewhere; "" none.
    told(message)
        Something to tell the person.
    """

    changed = Signal()
    opened = Signal(object)
    selected = Signal(str)
    told = Signal(object)

    def __init__(self, recorder: Recorder, memory: Memory, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.recorder, self._memory = recorder, memory
        self.state: LotState | None = None
        self.nominal: Nominal | None = None
        self.key = ""
        self.serial = ""
        self.again = ""
        self.cause = ""
        self.paused = False
        self.beyond = False
        self.last: PartRecord | None = None
        self.chosen = ""
        self._coming: list[str] = []
        self._unkept: dict[str, int | None] = {}
        self._sweeps: dict[str, tuple[FloatArray, NDArray[np.complex128]]] = {}

    @property
    def sweeps(self) -> Impedances:
        """Sweeps that were measured since the lot was opened here, by serial."""
        return MappingProxyType(self._sweeps)

    @property
    def is_open(self) -> bool:
        """Whether a lot is on the bench that is not concluded."""
        return self.state is not None and self.state.conclusion is None

    @property
    def is_busy(self) -> bool:
        """Whether a measurement is on its way into the record."""
        return bool(self._coming)

    @property
    def is_decided(self) -> bool:
        """Whether the plan needs no further part."""
        return self.state is not None and self.state.decision != "open"

    @property
    def is_counting(self) -> bool:
        """Whether the next capture counts as a part of the lot."""
        stopped = self.is_decided and not (self.beyond or self.again)
        return self.is_open and not self.paused and not stopped

    @property
    def next_serial(self) -> str:
        """The serial that the next part has unless it is typed, scanned or in its file."""
        if self.again or self.serial or self.state is None:
            return self.again or self.serial
        serial = self.state.next_serial
        taken = {*self.state.latest, *self._coming, *self._unkept}
        place = len(taken)
        while serial in taken:
            place += 1
            serial = f"{place:04d}"
        return serial

    def begin(self, form: LotForm, plan: LotPlan, nominal: Nominal) -> None:
        """Begin a lot."""
        self._memory.operator = form.operator
        job = BeginLot(
            record=self.recorder.address,
            form=form,
            plan=plan,
            nominal=nominal,
            seed=secrets.randbits(63),
        )
        self.recorder.do(job, self._take_up, self._fail)

    def resume(self, key: str) -> None:
        """Go on with a lot of the record, or look at a concluded one."""
        self.recorder.do(OpenLot(record=self.recorder.address, key=key), self._take_up, self._fail)

    def _take_up(self, lot: OpenedLot) -> None:
        self.state, self.key, self.nominal = lot.state, lot.key, lot.nominal
        self.last = lot.state.parts[-1] if lot.state.parts else None
        self._reset()
        self._sweeps.clear()
        self._unkept.clear()
        self.chosen = ""
        self.paused = self.beyond = False
        self.opened.emit(lot.nominal)
        self.changed.emit()

    def _reset(self) -> None:
        self.serial = self.again = self.cause = ""

    def leave(self) -> None:
        """Put the lot away; it can be gone on with at any time."""
        self.state = self.nominal = self.last = None
        self.key = self.chosen = ""
        self._reset()
        self._sweeps.clear()
        self.changed.emit()

    def name(self, serial: str) -> None:
        """Take a serial that was typed or scanned for the next part."""
        self.serial = serial.strip()
        self.changed.emit()

    def pause(self, *, paused: bool) -> None:
        """Let captures not count for a while, or again."""
        self.paused = paused
        self.changed.emit()

    def go_on(self, *, beyond: bool) -> None:
        """Inspect further parts although the plan is decided, or stop."""
        self.beyond = beyond
        self.changed.emit()

    def retest(self, serial: str, cause: str) -> None:
        """Let the next measurement be one of a part that was measured already."""
        if not cause.strip():
            self._say(tr("A retest needs a reason."), tr("Type why; it goes into the record."))
            return
        self.again, self.cause = serial, cause.strip()
        self.changed.emit()

    def drop_retest(self) -> None:
        """Measure a new part next, after all."""
        self.again = self.cause = ""
        self.changed.emit()

    def take(self, part: Part, *, anew: bool = False) -> bool:
        """Count a capture as the next part; False where it cannot, and the person is told.

        A file that was written ``anew`` under its old name does not tell the part by that name.
        """
        state = self.state
        if state is None:
            return False
        stated = part.capture.origin.part or "" if anew else _stated(part)
        serial = self.again or self.serial or stated or self.next_serial
        if not self.again and serial in {*state.latest, *self._coming}:
            self._say(
                tr("{serial} was measured already in this lot: it does not count again.").format(
                    serial=serial
                ),
                tr("Choose it in the list and press 'Measure again', or type another serial."),
            )
            return False
        before = state.latest.get(serial) if self.again else None
        drawn = len({*state.latest, *self._coming, *self._unkept})
        position = state.positions[drawn] if drawn < len(state.positions) else None
        position = self._unkept.get(serial, position)
        place = Place(
            serial=serial,
            lot=self.key,
            position=position if before is None else before.position,
            attempt=1 if before is None else before.attempt + 1 + self._coming.count(serial),
            cause=self.cause,
            unexplained=_unexplained(state, serial),
            operator=state.form.operator,
        )
        self._coming.append(serial)
        self._reset()
        key = self.key
        compare = compare_of(part, self.nominal, within_lot(self.recorder.examination()))

        def count(kept: KeptPart) -> None:
            note_entry(part, compare, kept)
            self._count(key, serial, kept)

        def begin_again() -> None:
            self._coming.append(serial)
            self.changed.emit()

        self.recorder.keep(
            compare, place, count, lambda _error: self._lose(key, place), begin_again
        )
        self.changed.emit()
        return True

    def _count(self, key: str, serial: str, kept: KeptPart) -> None:
        self._coming.remove(serial)
        self._unkept.pop(serial, None)
        if key != self.key or self.state is None:
            self.changed.emit()
            return
        record = kept.record
        self.state = self.state.retest(record) if record.attempt > 1 else self.state.add(record)
        self.last = record
        if isinstance(kept.capture, Sweep):
            self._sweeps[serial] = (kept.capture.frequency, kept.capture.impedance)
        if self._memory.sounds and record.outcome is not Outcome.PASS:
            QApplication.beep()
        self.choose(serial)
        self.changed.emit()

    def _lose(self, key: str, place: Place) -> None:
        """Hold serial and position for a part that is measured but not in the record."""
        self._coming.remove(place.serial)
        if key == self.key:
            self._unkept[place.serial] = place.position
        self.changed.emit()

    def choose(self, serial: str) -> None:
        """Choose a part, everywhere."""
        self.chosen = serial
        self.selected.emit(serial)

    @property
    def can_undo(self) -> bool:
        """Whether a measurement can be taken back."""
        return self.is_open and bool(self.state.parts) and not self._coming

    def undo(self) -> None:
        """Take the last measurement out of the count; it stays in the record."""
        if not self.can_undo:
            return
        last = self.state.parts[-1]
        job = TakeBack(
            record=self.recorder.address,
            entry=last.entry or 0,
            name=self.state.form.operator or tr("the bench"),
            reason=tr("taken back at the bench"),
        )
        self.recorder.do(job, lambda _entry: self._undone(last), self._fail)

    def _undone(self, last: PartRecord) -> None:
        if self.state is None or not self.state.parts or self.state.parts[-1] is not last:
            return
        self.state = self.state.undo()
        self.last = self.state.parts[-1] if self.state.parts else None
        self._sweeps.pop(last.serial, None)
        self.choose("" if self.last is None else self.last.serial)
        words = tr("{serial} ({outcome}) is taken back; it stays in the record as taken back.")
        text = words.format(serial=last.serial, outcome=outcome_words(last.outcome))
        self.told.emit(Message(text=text, mark="note"))
        self.changed.emit()

    def conclude(self, outcome: str, name: str, reason: str) -> None:
        """Sign how the lot ends."""
        if self.state is None:
            return
        if self._coming:
            self._say(
                tr("A measurement is still on its way into the record."),
                tr("Sign when it is there: it may change what the plan says."),
            )
            return
        conclusion = Conclusion(outcome=outcome, name=name.strip(), reason=reason.strip())
        try:
            self.state.conclude(conclusion)
        except BenchError as error:
            self._fail(error)
            return
        job = ConcludeLot(record=self.recorder.address, key=self.key, conclusion=conclusion)
        self.recorder.do(job, self._concluded, self._fail)

    def _concluded(self, conclusion: Conclusion) -> None:
        if self.state is not None:
            self.state = replace(self.state, conclusion=conclusion)
            self.changed.emit()

    def _fail(self, error: BenchError) -> None:
        self._say(error.message, error.hint)

    def _say(self, text: str, hint: str = "") -> None:
        self.told.emit(Message(text=text, hint=hint))


def _unexplained(state: LotState, serial: str) -> int:
    """Count the retests of a part that no cause was stated for."""
    return sum(
        record.serial == serial and record.attempt > 1 and not record.cause
        for record in state.parts
    )


def _stated(part: Part) -> str:
    """Give the serial that a capture states itself: its part, or the name of its file.

    What was measured here is one capture of its part: its label tells nothing apart.
    """
    origin = part.capture.origin
    if origin.part and not part.path:
        return origin.part
    base = origin.part or Path(part.path).stem
    return f"{base} {origin.label}".strip() if base else ""
