"""The gauge study on the bench: what is measured next by whom, and what it comes to."""

from __future__ import annotations

import re
import secrets
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from benchapp.errors import BenchError, QuantityError
from benchapp.gui.recorder import Recorder, compare_of
from benchapp.gui.session import Message, Part, Session
from benchapp.gui.words import decimal_mark, tr
from benchapp.jobs import (
    AnalysedStudy,
    AnalyseSheet,
    KeepStudy,
    MeasureStudied,
    OpenStudy,
    Place,
    PlanStudy,
    RecordNotes,
    SaveStudy,
    not_cancelled,
    silent,
)
from benchapp.lot import StudyPlan, StudySheet
from benchapp.nominal.file import LIMIT_UNITS
from benchapp.units import parse_quantity

__all__ = ["Study"]

_BARE = re.compile(r"\s*[+\-−]?[\d.,]+(?:[eE][+\-−]?\d+)?\s*")
_WITH_UNIT = re.compile(_BARE.pattern + r"([^\d\s.,]+)\s*")
_FAR = 3.0  # from the least to the largest value: beyond it a unit or a decimal mark slipped


class Study(QObject):
    """One study, measured value by value in a random order under blind labels.

    Every value is in the file of the study before the next one is asked for.

    Signals
    -------
    changed()
        Another measurement is next, a capture is on its way, or the study is worked out. Where
        it cannot be, ``trouble`` says why.
    told(message)
        Something to tell the person.
    """

    changed = Signal()
    told = Signal(object)

    def __init__(
        self, recorder: Recorder, session: Session, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._recorder, self._session = recorder, session
        self.sheet: StudySheet | None = None
        self.path = ""
        self.found: AnalysedStudy | None = None
        self.trouble = ""
        self.is_waiting = False
        self.typed_unit = ""

    @property
    def is_measuring(self) -> bool:
        """Whether a measurement is to be made."""
        return self.sheet is not None and self.sheet.next is not None

    @property
    def can_undo(self) -> bool:
        """Whether a value can be taken back."""
        return self.sheet is not None and self.sheet.taken > 0 and not self.is_waiting

    def begin(self, plan: StudyPlan, path: str, seed: int | None = None) -> bool:
        """Draw the order of a study, to be kept in a file; ``seed`` draws the same order again.

        False where the plan cannot be, and the person is told.
        """
        drawn = secrets.randbits(32) if seed is None else seed
        try:
            sheet = PlanStudy(study=plan, seed=drawn)(silent, not_cancelled)
        except BenchError as error:
            self._fail(error)
            return False
        self._use(sheet, path)
        self._save()
        return True

    def open(self, path: str) -> None:
        """Go on with a study, or look at a complete one."""
        job = OpenStudy(path=path)
        self._recorder.do(job, lambda sheet: self._go_on(sheet, path), self._fail)

    def _go_on(self, sheet: StudySheet, path: str) -> None:
        self._use(sheet, path)
        if sheet.next is None:
            self._work_out(keep=False)

    def _use(self, sheet: StudySheet | None, path: str) -> None:
        self.sheet, self.path, self.found = sheet, path, None
        self.is_waiting, self.typed_unit, self.trouble = False, "", ""
        self.changed.emit()

    def leave(self) -> None:
        """Put the study away; it can be gone on with at any time."""
        self._use(None, "")

    def read(self, words: str) -> float:
        """Give the value that was typed; without a unit it has the one of the value before.

        The first value of a study that states no unit and no known quantity brings it.

        Raises
        ------
        QuantityError
            When it is no number, has no unit yet, or another one than the study.
        """
        sheet = self.sheet
        with_unit = _WITH_UNIT.fullmatch(words)
        if sheet.unit and _BARE.fullmatch(words):
            if not self.typed_unit:
                raise QuantityError(
                    f"value: must have its unit (got {words!r}).",
                    hint="Write it once, such as 1.62 mH: the next values may do without.",
                )
            words = f"{words} {self.typed_unit}"
        known = sheet.quantity.partition(" at ")[0] in LIMIT_UNITS
        free = not (sheet.unit or known or sheet.taken)
        found = parse_quantity(words, None if free else sheet.unit or "1", mark=decimal_mark())
        if free and found.unit not in ("", "1"):
            self.sheet = replace(sheet, unit=found.unit)
        if with_unit:
            self.typed_unit = with_unit[1]
        return found.value

    def is_far(self, value: float) -> bool:
        """Whether a value lies so far from the others, near each other, that it may be a slip."""
        taken = [one.value for one in self.sheet.readings if one.value is not None]
        if not taken or min(taken) * max(taken) <= 0:
            return False
        ratios = [one / taken[0] for one in (*taken, value)]
        near = max(ratios[:-1]) < _FAR * min(ratios[:-1])
        return near and (ratios[-1] <= 0 or max(ratios) >= _FAR * min(ratios))

    def take(self, value: float) -> None:
        """Take the value of the measurement that is next; the last one completes the study."""
        if not self.is_measuring or self.is_waiting:
            return
        self.sheet = self.sheet.take(value)
        self._save()
        if self.sheet.next is None:
            self._work_out(keep=True)
        self.changed.emit()

    def undo(self) -> None:
        """Take the last value back, to be measured once more."""
        if self.can_undo:
            self.sheet, self.found = self.sheet.undo(), None
            self._save()
            self.changed.emit()

    def take_part(self, part: Part) -> None:
        """Measure the quantity of the study in a capture, and keep the capture in the record."""
        sheet = self.sheet
        if self.is_waiting:
            self._say(
                tr("{name} came while another capture was measured: it does not count."),
                tr("Take one measurement after the other."),
                part,
            )
            return
        if not sheet.quantity:
            self._say(
                tr("The study does not say which quantity it is of: {name} does not count."),
                tr("Type the values."),
                part,
            )
            return
        self.is_waiting = True
        compare = compare_of(part, self._session.nominal, self._recorder.examination())
        job = MeasureStudied(compare=compare, quantity=sheet.quantity, unit=sheet.unit)
        act = sheet.next

        def arrive(value: float) -> None:
            if self.sheet is sheet:
                self.is_waiting = False
                self.take(value)

        def lose(error: BenchError) -> None:
            if self.sheet is sheet:
                self.is_waiting = False
                self._fail(error)
                self.changed.emit()

        self._recorder.do(job, arrive, lose)
        if self._recorder.is_on:
            place = Place(serial=act.part, operator=act.person)
            self._recorder.keep(compare, place, lambda _kept: None, lambda _error: None)
        self.changed.emit()

    def _save(self) -> None:
        job = SaveStudy(path=self.path, sheet=self.sheet)
        self._recorder.do(job, lambda _path: None, self._not_saved)

    def _not_saved(self, error: BenchError) -> None:
        hint = tr("The values are still here: they are saved with the next one.")
        self.told.emit(Message(text=error.message, hint=f"{error.hint} {hint}"))

    def _work_out(self, *, keep: bool) -> None:
        sheet = self.sheet

        def show(found: AnalysedStudy) -> None:
            if self.sheet is not sheet:
                return
            self.found = found
            nominal = self._session.nominal
            if keep and nominal is not None and sheet.quantity and self._recorder.is_on:
                notes = RecordNotes(address=self._recorder.address)
                job = KeepStudy(notes=notes, part=nominal.title, study=found)
                self._recorder.do(job, lambda _none: None, self._fail)
            self.changed.emit()

        name = Path(self.path).name
        self.trouble = ""
        self._recorder.do(AnalyseSheet(sheet=sheet, name=name), show, self._give_up)

    def _give_up(self, error: BenchError) -> None:
        """Say why the study cannot be worked out: values can be taken back, or it is put away."""
        self.trouble = f"{error.message} {error.hint}".strip()
        self.changed.emit()

    def _fail(self, error: BenchError) -> None:
        self.told.emit(Message(text=error.message, hint=error.hint))

    def _say(self, words: str, hint: str, part: Part) -> None:
        self.told.emit(Message(text=words.format(name=part.name), hint=hint, mark="doubt"))
