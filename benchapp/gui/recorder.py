"""What keeps everything that is measured: a thread of its own, which always finishes."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from benchapp.errors import BenchError
from benchapp.gui.memory import Memory
from benchapp.gui.session import Message, Part
from benchapp.gui.standin import StandIn
from benchapp.gui.words import plural, tr
from benchapp.gui.worker import Job, Worker
from benchapp.jobs import ComparePart, Examination, KeepPart, KeepResult, KeptPart, Place
from benchapp.logbook import Standing, parse_address
from benchapp.nominal import Nominal

__all__ = ["Recorder", "compare_of", "note_entry"]


def compare_of(part: Part, nominal: Nominal | None, examination: Examination) -> ComparePart:
    """Give the job that judges an open part as it came, by the fit that the page shows too."""
    return ComparePart(
        capture=part.capture,
        path=part.path,
        nominal=nominal,
        reading=part.reading,
        fitting=part.fitting,
        corrected=part.corrected,
        examination=replace(
            examination,
            accuracy=part.accuracy or examination.accuracy,
            facts=examination.facts.completed(part.facts),
        ),
    )


def note_entry(part: Part, compare: ComparePart, kept: KeptPart) -> None:
    """Note where in the record an open part is, and by which choices it was judged."""
    part.entry, part.kept = kept.entry, compare.choices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unkept:
    """A measurement that could not be kept, with what it takes to try again."""

    compare: ComparePart
    place: Place
    done: Callable[[KeptPart], None]
    failed: Callable[[BenchError], None]
    begun: Callable[[], None] | None = None

    def is_same(self, place: Place) -> bool:
        """Tell whether it is this measurement of a lot: the part was put in again meanwhile."""
        mine = self.place
        return place.lot is not None and (mine.lot, mine.serial, mine.attempt) == (
            place.lot,
            place.serial,
            place.attempt,
        )


class Recorder(QObject):
    """Puts measurements into the record, one after the other.

    ``examination`` gives how every result is looked at when it is kept.

    Signals
    -------
    changed()
        Something was kept, or it is switched on or off.
    told(message)
        Something to tell the person.
    """

    changed = Signal()
    told = Signal(object)

    def __init__(self, memory: Memory, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._memory = memory
        self._worker: Worker | None = None
        self._numbers = itertools.count(1)
        self._waiting = 0
        self._unkept: list[Unkept] = []
        self.kept = 0
        self.server = StandIn(memory, self._ask_server, self)
        self.server.changed.connect(self.changed)
        self.server.told.connect(self.told)
        self.examination: Callable[[], Examination] = Examination

    @property
    def address(self) -> str:
        """Where the record is, for jobs: a server's with the file that stands in for it."""
        return self.server.address

    @property
    def place(self) -> str:
        """Where the record is, for a person."""
        return self._memory.record

    @property
    def own_place(self) -> str:
        """Where the person's own record is."""
        return self._memory.own_record

    def move(self, place: str) -> None:
        """Use another record from now on; it is made where it is not there yet.

        Raises
        ------
        UsageError
            When the place is none.
        """
        parse_address(place)
        self._memory.record = place
        self.server.forget()
        self.changed.emit()

    @property
    def failed(self) -> int:
        """How many measurements could not be kept and wait for another try."""
        return len(self._unkept)

    @property
    def may_exist(self) -> bool:
        """Whether there may be a record; one that cannot be looked at tells so when opened."""
        if self.server.on_server:
            return True
        try:
            return Path(self.place).exists()
        except OSError:
            return True

    @property
    def is_on(self) -> bool:
        """Whether everything measured is kept; the parts of a lot always are."""
        return self._memory.keeps

    def switch(self, *, on: bool) -> None:
        """Keep everything that is measured from now on, or only the parts of lots."""
        self._memory.keeps = on
        self.changed.emit()

    @property
    def is_busy(self) -> bool:
        """Whether something is on its way into the record."""
        return self._waiting > 0

    @property
    def words(self) -> str:
        """Say whether and where what is measured is kept."""
        if self.failed:
            return plural(self.failed, tr("NOT KEPT: 1 measurement"), tr("NOT KEPT: %n"))
        if self._waiting:
            return tr("keeping…")
        if self.server.is_away:
            return self.server.short_words
        name = self.place if self.server.on_server else Path(self.place).name
        if not self.is_on:
            return tr("keeping is off (lots are kept in {name})").format(name=name)
        if not self.kept:
            return tr("what is measured is kept in {name}").format(name=name)
        return plural(self.kept, tr("1 measurement kept in"), tr("%n measurements kept in")) + (
            f" {name}"
        )

    @property
    def short_words(self) -> str:
        """Say in a few words what the record does."""
        if self.kept:
            return plural(self.kept, tr("1 kept here"), tr("%n kept here"))
        return tr("search, open, compare")

    def keep(
        self,
        compare: ComparePart,
        place: Place,
        done: Callable[[KeptPart], None],
        failed: Callable[[BenchError], None],
        begun: Callable[[], None] | None = None,
    ) -> None:
        """Judge a capture and keep it; ``done`` is called when it is durable.

        What could not be kept waits for `retry`, which calls ``begun`` first.
        """
        waiting = Unkept(compare=compare, place=place, done=done, failed=failed, begun=begun)

        def kept(found: KeptPart) -> None:
            self.kept += 1
            self._unkept = [one for one in self._unkept if not one.is_same(place)]
            done(found)

        def lost(error: BenchError) -> None:
            self._unkept.append(waiting)
            self.told.emit(Message(text=error.message, hint=_keep_by_hand(error)))
            failed(error)

        self.do(KeepPart(record=self.address, place=place, compare=compare), kept, lost)

    def retry(self) -> None:
        """Try once more to keep what could not be kept, in the order in which it was measured."""
        waiting, self._unkept = self._unkept, []
        for one in waiting:
            if one.begun is not None:
                one.begun()
            self.keep(one.compare, one.place, one.done, one.failed, one.begun)

    def keep_measured(self, part: Part, nominal: Nominal | None) -> None:
        """Keep a measurement that belongs to no lot, where that is switched on."""
        if not self.is_on:
            return
        serial = part.capture.origin.part or tr("no serial")
        place = Place(serial=serial, operator=self._memory.operator)
        compare = compare_of(part, nominal, self.examination())
        self.keep(
            compare, place, lambda kept: note_entry(part, compare, kept), lambda _error: None
        )

    def keep_choice(self, part: Part) -> None:
        """Keep what came of the choices about a part that is in the record already."""
        if part.entry is None or part.result is None:
            return
        before, part.kept = part.kept, part.choices

        def kept(_entry: int) -> None:
            words = tr("{name}: the result by these choices is kept beside the first one.")
            hint = tr("In a lot the first one counts; to count anew, measure again with a reason.")
            self.told.emit(Message(text=words.format(name=part.name), hint=hint, mark="note"))

        def lost(error: BenchError) -> None:
            part.kept = before
            self.told.emit(Message(text=error.message, hint=error.hint))

        job = KeepResult(record=self.address, number=part.entry, part=part.result)
        self.do(job, kept, lost)

    def do(
        self,
        job: Job,
        done: Callable[[object], None],
        failed: Callable[[BenchError], None],
    ) -> None:
        """Do a job on the record, after those given before, and whatever else is cancelled."""
        if self._worker is None:
            self._worker = Worker(self)
        self._waiting += 1

        def rest(act: Callable[[object], None], found: object) -> None:
            self._waiting -= 1
            act(found)
            self.server.settle(found)
            self.changed.emit()

        self._worker.submit(
            f"record {next(self._numbers)}",
            job,
            lambda found: rest(done, found),
            lambda error: rest(failed, error),
        )
        self.changed.emit()

    def _ask_server(
        self,
        job: Job,
        done: Callable[[Standing], None],
        failed: Callable[[BenchError], None],
    ) -> None:
        if self._worker is None:
            self._worker = Worker(self)
        self._worker.submit("server", job, done, failed)

    def close(self) -> None:
        """Finish what is waiting, and end."""
        self.server.close()
        if self._worker is not None:
            self._worker.close(finish=True)
            self._worker = None


def _keep_by_hand(error: BenchError) -> str:
    by_hand = tr(
        "Press Retry at the foot of the window once that is done. The measurement is still open "
        "here: save it with Ctrl+S."
    )
    return f"{error.hint} {by_hand}" if error.hint else by_hand
