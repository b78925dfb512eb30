"""What the window is working on: one nominal design, the parts that were opened, their results.

The pages read this model and call its verbs; they learn of changes by its signals. Everything
long is given to the worker as a job of `benchapp.jobs`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from benchapp.capture import Capture
from benchapp.checks import Acknowledgement, Facts
from benchapp.diagnosis import Disagreement
from benchapp.errors import BenchError, CancelledError, UsageError
from benchapp.fixture import Corrected
from benchapp.gui.words import tr
from benchapp.gui.worker import Worker
from benchapp.jobs import (
    EARLIER,
    AnswerBook,
    ComparePart,
    Examination,
    ExplainParts,
    FitChoices,
    FitOnce,
    JudgedPart,
    OpenAccuracy,
    OpenFacts,
    OpenFile,
    OpenNominal,
    fitted_once,
    part_name,
)
from benchapp.nominal import Nominal
from benchapp.readers import Answers, Reading
from benchapp.uncertainty import Accuracy

if TYPE_CHECKING:
    from benchapp.gui.desk import Desk

__all__ = ["Message", "Part", "Session"]

_PATIENCE_MS = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One sentence for the person, what to do about it, and the mark that goes with it."""

    text: str
    hint: str = ""
    mark: str = "stop"


@dataclass(slots=True, kw_only=True, eq=False)
class Part:
    """One capture that was opened, the choices made about it, and what came out.

    ``accuracy`` is what the profile of the instrument states, None where it is not known;
    ``facts`` are what the station knew when it measured, ``corrected`` what it took away then;
    ``acknowledged`` are the findings that a person has accepted.
    ``history`` holds every set of choices in the order they were made, ``place`` which of them
    holds now: undo and redo move it. ``result`` is what was found, or ``error`` why nothing was;
    while ``settled`` is False they belong to choices or a design that hold no more. ``stored``
    names the entry of the record that it is, "" for none: its result stays as it was kept until
    a choice is made. ``fitting`` is its fit by the choices that hold, worked out once for whoever
    asks. ``entry`` is its number in the record where it was kept, ``kept`` the choices of the
    result that was kept last.
    """

    path: str
    capture: Capture
    reading: Reading | None = None
    accuracy: Accuracy | None = None
    facts: Facts = field(default_factory=Facts)
    corrected: Corrected | None = None
    acknowledged: tuple[Acknowledgement, ...] = ()
    history: list[FitChoices] = field(default_factory=lambda: [FitChoices()])
    place: int = 0
    result: JudgedPart | None = None
    error: BenchError | None = None
    settled: bool = False
    stored: str = ""
    fitting: FitOnce | None = None
    entry: int | None = None
    kept: FitChoices = field(default_factory=FitChoices)

    @property
    def choices(self) -> FitChoices:
        """The choices that hold now."""
        return self.history[self.place]

    @property
    def name(self) -> str:
        """What to call the part."""
        return part_name(self.capture, self.path)


class Session(QObject):
    """The work in the window.

    Signals
    -------
    nominal_changed()
        Another design, or none.
    parts_changed()
        Parts were opened or closed, or another one was chosen.
    choices_changed()
        The choices about the shown part changed; its result follows.
    result_changed()
        The result or error of the shown part changed. A result that is long in coming is None
        meanwhile; until then the former one stays.
    asked(reading)
        A file is to be shown beside what was read of it: it cannot be used before its questions
        are answered, or a person wants to see.
    told(message)
        Something to tell the person (a `Message`), or None when it is settled.
    opened(path)
        A file was read.
    explained(entries)
        Why the open captures disagree: a tuple of `Disagreement`.
    arrived(part)
        A capture was opened or measured, not merely read again: a `Part`.
    """

    nominal_changed = Signal()
    parts_changed = Signal()
    choices_changed = Signal()
    result_changed = Signal()
    asked = Signal(object)
    told = Signal(object)
    opened = Signal(str)
    explained = Signal(object)
    arrived = Signal(object)

    def __init__(
        self, worker: Worker, book: AnswerBook | None = None, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._worker = worker
        self._book = book
        self._parts: list[Part] = []
        self._at = 0
        self._nominal: Nominal | None = None
        self._nominal_path = ""
        self._reading: set[str] = set()
        self._arriving: set[str] = set()
        self.desk: Desk | None = None
        self.gate: Callable[[], str] = lambda: ""
        self._examination = Examination()
        self._accuracy_path = ""
        self._asks_why = False
        self._patience = QTimer(self, singleShot=True, interval=_PATIENCE_MS)
        self._patience.timeout.connect(self._blank)

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every part that is open."""
        return tuple(self._parts)

    @property
    def part(self) -> Part | None:
        """The part that is shown."""
        return self._parts[self._at] if self._parts else None

    @property
    def position(self) -> int:
        """Place of the shown part among `parts`."""
        return self._at

    @property
    def lot_obstacle(self) -> str:
        """Why no lot may be worked on now; empty where nothing is in the way."""
        return self.gate()

    @property
    def is_reading(self) -> bool:
        """Whether a capture is on its way."""
        return bool(self._reading)

    @property
    def result(self) -> JudgedPart | None:
        """Result of the shown part."""
        return None if self.part is None else self.part.result

    @property
    def nominal(self) -> Nominal | None:
        """The design that parts are judged by."""
        return self._nominal

    @property
    def nominal_path(self) -> str:
        """File of the design, empty where it was not read from one."""
        return self._nominal_path

    @property
    def examination(self) -> Examination:
        """How every result is looked at: errors of the instrument, thresholds, facts."""
        return self._examination

    def examination_of(self, part: Part) -> Examination:
        """Give how the result of a part is looked at: what is stated goes before what is known."""
        return replace(
            self._examination,
            accuracy=part.accuracy or self._examination.accuracy,
            facts=self._examination.facts.completed(part.facts),
        )

    @property
    def accuracy_path(self) -> str:
        """File about the instrument that counts, empty where none was opened."""
        return self._accuracy_path

    def open_accuracy(self, path: str) -> None:
        """Count the stated errors of an instrument, from their file or its profile, in every U."""
        self._worker.submit(
            "stated",
            OpenAccuracy(path=path),
            lambda found: self.use_accuracy(found, path),
            lambda error: self._fail(error, path),
        )

    def use_accuracy(self, accuracy: Accuracy | None, path: str = "") -> None:
        """Count these errors from now on; None leaves U with the scatter alone."""
        self._accuracy_path = path
        self.examine_by(replace(self._examination, accuracy=accuracy))

    def open_facts(self, path: str) -> None:
        """Count what is known beside the captures, from its file, in every result."""
        self._worker.submit(
            "facts",
            OpenFacts(path=path),
            lambda facts: self.examine_by(replace(self._examination, facts=facts)),
            lambda error: self._fail(error, path),
        )

    def use_thresholds(self, changes: Mapping[str, Mapping[str, float]]) -> None:
        """Use these thresholds of checks from now on, the defaults for all others."""
        self.examine_by(replace(self._examination, thresholds=changes))

    def examine_by(self, examination: Examination) -> None:
        """Look at every result in another way from now on."""
        self._examination = examination
        for part in self._parts:
            part.settled = False
        self._judge()

    def acknowledge(self, check: str, name: str, reason: str) -> bool:
        """Accept a finding of the shown part; False, and told why, where that cannot be."""
        part = self.part
        if part is None:
            return False
        try:
            entry = Acknowledgement(check=check, name=name.strip(), reason=reason.strip())
        except UsageError as error:
            self._fail(error)
            return False
        self.told.emit(None)
        self._accept(part, (*_without(part.acknowledged, check), entry))
        return True

    def withdraw(self, check: str) -> None:
        """Take the acceptance of a finding of the shown part back."""
        if self.part is not None:
            self._accept(self.part, _without(self.part.acknowledged, check))

    def _accept(self, part: Part, entries: tuple[Acknowledgement, ...]) -> None:
        part.acknowledged = entries
        part.settled = False
        self._judge()

    @property
    def comparable(self) -> tuple[JudgedPart, ...]:
        """Results of the open captures, the shown one first."""
        rest = [part for part in self._parts if part is not self.part]
        all_parts = rest if self.part is None else [self.part, *rest]
        return tuple(part.result for part in all_parts if part.result is not None)

    def explain(self) -> None:
        """Ask why the open captures disagree, each against the shown one; fit those that wait.

        The question stays until it is answered or the work is stopped.
        """
        self._asks_why = True
        waiting = [part for part in self._parts if not part.settled]
        if waiting:
            self._submit(waiting[0])
            return
        self._asks_why = False
        self._worker.submit(
            "explain", ExplainParts(parts=self.comparable), self._explained, self._fail
        )

    def _explained(self, entries: tuple[Disagreement, ...]) -> None:
        self.explained.emit(entries)

    def open(self, paths: Iterable[str]) -> None:
        """Open nominal designs (``.toml``), then captures, each in the order given."""
        self.told.emit(None)
        for path in sorted(paths, key=lambda path: not _is_design(path)):
            if _is_design(path):
                self.open_nominal(path)
            else:
                self._arriving.add(path)
                self.read(path, Answers())

    def open_nominal(self, path: str) -> None:
        """Open a design and judge by it."""
        self._worker.submit(
            "nominal",
            OpenNominal(path=path),
            lambda found: self._take(found, path),
            lambda error: self._fail(error, path),
        )

    def read(self, path: str, answers: Answers) -> None:
        """Read ``path``, again if it is open already, with the person's answers.

        The answers are kept for files laid out alike.
        """
        self._reading.add(path)
        self._worker.submit(
            f"read {path}",
            OpenFile(path=path, answers=answers, book=self._book, remember=True),
            lambda reading: self._add(path, reading),
            lambda error: self._refuse(error, path),
        )

    def look_beside(self, reading: Reading) -> None:
        """Show what was read of a file beside its rows."""
        self.asked.emit(reading)

    def look(
        self,
        path: str,
        given: dict[str, object],
        done: Callable[[Reading], None],
        failed: Callable[[BenchError], None],
    ) -> None:
        """Try answers on a file without opening it: tell what would be read of it."""
        try:
            answers = Answers.from_mapping(given)
        except UsageError as error:
            failed(error)
            return
        self._worker.submit("look", OpenFile(path=path, answers=answers), done, failed)

    def use_nominal(self, nominal: Nominal | None, path: str = "") -> None:
        """Judge by ``nominal`` from now on; None takes the design away."""
        self._nominal, self._nominal_path = nominal, path
        for part in self._parts:
            part.settled = False
            part.settled = bool(part.stored) and part.place == 0
        self.nominal_changed.emit()
        self._judge()

    def _take(self, nominal: Nominal, path: str) -> None:
        self.use_nominal(nominal, path)
        self.opened.emit(path)

    def _refuse(self, error: BenchError, path: str) -> None:
        """Ask where a file only lacks answers; else say why it cannot be read."""
        reading = error.facts.get("reading")
        if isinstance(reading, Reading) and reading.questions:
            self._reading.discard(path)
            self.asked.emit(reading)
        else:
            self._fail(error, path)

    def _add(self, path: str, reading: Reading) -> None:
        self._reading.discard(path)
        fresh = [Part(path=path, capture=one, reading=reading) for one in reading.captures]
        places = [at for at, part in enumerate(self._parts) if part.path == path]
        start = places[0] if places else len(self._parts)
        kept = [part for part in self._parts if part.path != path]
        self._parts = [*kept[:start], *fresh, *kept[start:]]
        self._at = start
        for entry in reading.assumptions:
            if entry.subject == EARLIER:
                words = tr("{file}: {subject}: {value}").format(
                    file=Path(path).name, subject=entry.subject, value=entry.value
                )
                self.told.emit(Message(text=words, hint=entry.reason, mark="note"))
        self.opened.emit(path)
        self.parts_changed.emit()
        self._judge()
        if path in self._arriving:
            self._arriving.discard(path)
            for part in fresh:
                self._compare(part)
                self.arrived.emit(part)

    def add_capture(
        self,
        capture: Capture,
        accuracy: Accuracy | None = None,
        facts: Facts | None = None,
        corrected: Corrected | None = None,
    ) -> None:
        """Show a capture that was measured here, after the others."""
        part = Part(path="", capture=capture, accuracy=accuracy, facts=facts or Facts())
        part.corrected = corrected
        self._parts.append(part)
        self._at = len(self._parts) - 1
        self.parts_changed.emit()
        self._judge()
        self._compare(part)
        self.arrived.emit(self._parts[self._at])

    def show_stored(self, result: JudgedPart, name: str) -> None:
        """Show a measurement of the record with the very result that was kept."""
        part = Part(path=result.path, capture=result.capture, reading=result.reading)
        part.result, part.settled, part.stored = result, True, name
        self._parts.append(part)
        self._at = len(self._parts) - 1
        self.parts_changed.emit()
        self.result_changed.emit()

    def choose_part(self, position: int) -> None:
        """Show another of the open parts."""
        if not 0 <= position < len(self._parts) or position == self._at:
            return
        self._at = position
        self.parts_changed.emit()
        self._judge()

    def next_part(self) -> bool:
        """Show the next open part; False where there is none."""
        more = self._at + 1 < len(self._parts)
        self.choose_part(self._at + 1)
        return more

    def close_part(self) -> None:
        """Close the shown part; its file is untouched and can be opened again."""
        if self._parts:
            del self._parts[self._at]
            self._at = max(0, min(self._at, len(self._parts) - 1))
            self.parts_changed.emit()
            self._judge()

    def choose_circuit(self, circuit: str) -> None:
        """Fit with ``circuit``; ``auto`` leaves it to the design or to the data."""
        self._change(circuit=circuit)

    def restrict(self, band: tuple[float, float] | None) -> None:
        """Fit only the points within ``band`` in Hz; None fits them all."""
        self._change(band=band)

    def toggle_points(self, points: Iterable[int]) -> None:
        """Set points aside, or take those back that are aside already."""
        if self.part is not None:
            aside = set(self.part.choices.set_aside) ^ set(points)
            self._change(set_aside=tuple(sorted(aside)))

    def _change(self, **changes: object) -> None:
        part = self.part
        if part is None:
            return
        choices = replace(part.choices, **changes)
        if choices != part.choices:
            part.history[part.place + 1 :] = [choices]
            self._go(part.place + 1)

    @property
    def can_undo(self) -> bool:
        """Whether a choice about the shown part can be undone."""
        return self.part is not None and self.part.place > 0

    @property
    def can_redo(self) -> bool:
        """Whether an undone choice can be made again."""
        return self.part is not None and self.part.place + 1 < len(self.part.history)

    def undo(self) -> None:
        """Take the last choice about the shown part back."""
        if self.can_undo:
            self._go(self.part.place - 1)

    def redo(self) -> None:
        """Make the choice again that was undone last."""
        if self.can_redo:
            self._go(self.part.place + 1)

    def _go(self, place: int) -> None:
        part = self.part
        part.place = place
        part.settled = False
        self.choices_changed.emit()
        self._judge()

    @property
    def is_settled(self) -> bool:
        """Whether the shown part's result belongs to the choices and the design that hold."""
        return self.part is None or self.part.settled

    def _judge(self) -> None:
        """Have the shown part's result found where it is not known, and tell the pages."""
        part = self.part
        if part is not None and not part.settled:
            self._submit(part)
        if part is None or part.settled or part.result is None:
            self.result_changed.emit()

    def _compare(self, part: Part) -> ComparePart:
        """Give the judgement of a part by what holds now; it is fitted once for all who ask."""
        compare = ComparePart(
            capture=part.capture,
            path=part.path,
            nominal=self._nominal,
            reading=part.reading,
            choices=part.choices,
            examination=replace(self.examination_of(part), acknowledged=part.acknowledged),
            corrected=part.corrected,
        )
        part.fitting = fitted_once(compare, part.fitting)
        return replace(compare, fitting=part.fitting)

    def _submit(self, part: Part) -> None:
        self._worker.submit(
            "result",
            self._compare(part),
            lambda result: self._finish(part, result, None),
            lambda error: self._finish(part, None, error),
        )
        self._patience.start()

    def _blank(self) -> None:
        if self.part is not None and not self.part.settled:
            self.part.result = self.part.error = None
            self.result_changed.emit()

    def _finish(self, part: Part, result: JudgedPart | None, error: BenchError | None) -> None:
        self._patience.stop()
        if isinstance(error, UsageError) and part.acknowledged:
            self._fail(error)  # what was accepted has become a stop
            self._accept(part, ())
            return
        part.result, part.error, part.settled = result, error, True
        if part is self.part:
            self.result_changed.emit()
        if self._asks_why:
            self.explain()

    def _fail(self, error: BenchError, path: str = "") -> None:
        self._reading.discard(path)
        text = error.message.replace(path, Path(path).name) if path else error.message
        self.told.emit(Message(text=text, hint=error.hint))

    def cancel(self) -> None:
        """Stop the work that is being done; what was opened stays."""
        self._worker.cancel()
        self._reading.clear()
        self._asks_why = False
        self._patience.stop()
        part = self.part
        if part is not None and not part.settled:
            part.result, part.settled = None, True
            part.error = CancelledError(
                "The work was stopped.", hint="Press F5 to start it again."
            )
            self.result_changed.emit()

    def refit(self) -> None:
        """Find the shown part's result once more."""
        if self.part is not None:
            self.part.settled, self.part.fitting = False, None
            self._judge()

    def answer(self, path: str, given: dict[str, object]) -> None:
        """Read ``path`` again with what a person answered.

        An answer that cannot be one is told, and nothing changes.
        """
        try:
            answers = Answers.from_mapping(given)
        except UsageError as error:
            self._fail(error)
            return
        self.told.emit(None)
        self.read(path, answers)


def _without(entries: tuple[Acknowledgement, ...], check: str) -> tuple[Acknowledgement, ...]:
    return tuple(entry for entry in entries if entry.check != check)


def _is_design(path: str) -> bool:
    return Path(path).suffix.lower() == ".toml"
