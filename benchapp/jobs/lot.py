"""A whole lot of saved captures, and one part of a lot at a time."""

from __future__ import annotations

import math
import os
import re
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from types import MappingProxyType

from benchapp.capture import Capture
from benchapp.checks import Facts
from benchapp.checks.value import counted
from benchapp.errors import BenchError, FileAccessError
from benchapp.jobs.lot_facts import examined_lot
from benchapp.jobs.lot_record import LotKeeper
from benchapp.jobs.opening import OpenFile
from benchapp.jobs.part import (
    ComparePart,
    Examination,
    FitChoices,
    JudgedPart,
    with_facts,
)
from benchapp.jobs.progress import Cancelled, Progress, not_cancelled, silent, stop_if
from benchapp.jobs.settings import AnswerBook
from benchapp.lot import (
    LotForm,
    LotPlan,
    LotState,
    LotSummary,
    PartRecord,
    PlanChoice,
    key_of,
)
from benchapp.lot.flow import Decision
from benchapp.nominal import LimitVerdict, Nominal, Outcome
from benchapp.readers import Answers
from benchapp.units import Estimate

__all__ = [
    "JudgeLot",
    "JudgedLot",
    "LotFile",
    "LotRecipe",
    "files_below",
    "judge_file",
    "record_of",
    "within_lot",
]

_NO_CAPTURES = frozenset(
    (".toml", ".md", ".html", ".pdf", ".png", ".svg", ".jpg", ".sqlite", ".py", ".log")
)
_CHUNK = 25
_FEW = 60  # below it other processes would start no sooner than the work is done
_SAID = 5
_AHEAD = 4  # chunks waiting for each process


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRecipe:
    """How each part of a lot is read, fitted and judged."""

    nominal: Nominal
    answers: Answers = field(default_factory=Answers)
    book: AnswerBook | None = None
    choices: FitChoices = field(default_factory=FitChoices)
    examination: Examination = field(default_factory=Examination)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LotFile:
    """What one file of a lot gave: judged parts, or why there is none."""

    path: str
    parts: tuple[JudgedPart, ...] = ()
    error: BenchError | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedLot:
    """A lot that was judged.

    ``parts`` belongs to ``state.parts``, one to one. ``unreadable`` holds the files that gave no
    part; while there are any the lot is not accepted unless the plan's sample is complete without
    them. ``remarks`` say what a person should know about the way it was counted. ``lot`` is the
    key of the lot in the record, empty where none was kept.
    """

    state: LotState
    summary: LotSummary
    parts: tuple[JudgedPart, ...]
    unreadable: tuple[LotFile, ...]
    remarks: tuple[str, ...]
    lot: str
    seconds: float

    @property
    def decision(self) -> Decision:
        """What the plan says; what speaks against its lot leaves an accepted one undecided.

        Files that could not be read do, where every part counts, and more parts than the lot has.
        """
        decision, plan = self.summary.decision, self.state.plan
        missing = bool(self.unreadable) and self.state.counted < plan.quantity and plan.everything
        too_many = len(self.parts) + len(self.unreadable) > plan.quantity
        return "undecided" if decision == "accept" and (missing or too_many) else decision


def files_below(folder: str) -> tuple[str, ...]:
    """Give the files below a folder that may hold captures, in the order a person counts.

    Raises
    ------
    FileAccessError
        When it is no folder or cannot be read.
    """
    root = Path(folder)
    if not root.is_dir():
        got = "a file" if root.exists() else "nothing there"
        raise FileAccessError(
            f"{folder}: must be a folder with captures (got {got}).",
            hint="Name the folder in which the captures of the lot lie.",
        )
    found = []
    for place, folders, names in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found += [
            Path(place) / name
            for name in names
            if not name.startswith(".") and Path(name).suffix.lower() not in _NO_CAPTURES
        ]
    return tuple(str(path) for path in sorted(found, key=_natural))


def _natural(path: Path) -> list[tuple[int, int, str]]:
    """Order part 9 before part 10."""
    words = re.split(r"(\d+)", str(path).casefold())
    return [(1, int(word), "") if word.isdecimal() else (0, 0, word) for word in words]


def record_of(part: JudgedPart, serial: str) -> PartRecord:
    """Give what a lot keeps of a judged part."""
    verdict = part.verdict
    estimates: dict[str, Estimate] = {}
    if verdict is not None:
        estimates = {
            key_of(entry.limit): entry.measured
            for entry in verdict.limits
            if entry.measured is not None
        }
    deciding = None if verdict is None else verdict.deciding
    return PartRecord(
        serial=serial,
        outcome=Outcome.NOT_JUDGED if verdict is None else verdict.outcome,
        estimates=MappingProxyType({**dict(part.fit.estimates), **estimates}),
        deciding="" if deciding is None else key_of(deciding.limit),
        reason="no design" if verdict is None else verdict.reason or _reason(deciding),
        path=part.path,
    )


def _reason(deciding: LimitVerdict | None) -> str:
    return "" if deciding is None else deciding.reason


def judge_file(path: str, recipe: LotRecipe) -> LotFile:
    """Read, fit and judge one file of a lot; runs in any process."""
    try:
        reading = OpenFile(path=path, answers=recipe.answers, book=recipe.book)(
            silent, not_cancelled
        )
        return LotFile(
            path=path,
            parts=tuple(
                ComparePart(
                    capture=capture,
                    path=path,
                    nominal=recipe.nominal,
                    reading=reading,
                    choices=recipe.choices,
                    examination=within_lot(recipe.examination),
                    with_envelope=False,
                    thorough=False,
                )(silent, not_cancelled)
                for capture in reading.captures
            ),
        )
    except BenchError as error:
        return LotFile(path=path, error=_without_facts(error))


def within_lot(examination: Examination) -> Examination:
    """State that the part belongs to a lot: some checks are stricter there."""
    return replace(examination, facts=replace(examination.facts, in_lot=True))


def _without_facts(error: BenchError) -> BenchError:
    """Give the error without the values behind it: a whole reading need not travel."""
    return type(error)(error.message, hint=error.hint)


def _judge_files(paths: Sequence[str], recipe: LotRecipe) -> list[LotFile]:
    return [judge_file(path, recipe) for path in paths]


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeLot:
    """Read, fit and judge every capture below a folder, and the lot by them.

    ``choice`` None inspects every part, by the usual table where that asks for it too.
    ``quantity`` None takes the parts that are there for the whole lot. ``record`` is the address
    of the record in which everything is kept as it is judged; None keeps nothing. Without
    ``workers`` a large lot takes all cores. ``facts`` are those of the lot as a whole, which its
    parts are not judged by.

    Raises
    ------
    FileAccessError
        When the folder cannot be read, or holds no capture.
    UsageError
        When there is no such plan.
    RecordError
        When the record cannot be opened or written.
    CancelledError
        When the person stopped it; what was kept stays kept.
    """

    folder: str
    recipe: LotRecipe
    form: LotForm = field(default_factory=LotForm)
    choice: PlanChoice | None = None
    quantity: int | None = None
    record: str | None = None
    workers: int | None = None
    facts: Facts = field(default_factory=Facts)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> JudgedLot:
        """Judge the lot."""
        started = time.perf_counter()
        progress(f"looking into {self.folder}", 0.0)
        paths = files_below(self.folder)
        tally = _Tally()
        with ExitStack() as stack:
            keeper: LotKeeper | None = None
            for found in self._all(paths, cancelled):
                if keeper is None and self.record is not None and found.parts:
                    keeper = stack.enter_context(self._keeper(len(paths) * len(found.parts)))
                for part, serial in tally.add(found, None if keeper is None else keeper.seen):
                    if keeper is not None:
                        keeper.add(part, serial)
                done = len(tally.files)
                progress(*_progress(done, len(paths), time.perf_counter() - started))
        return self._sum_up(tally, keeper, time.perf_counter() - started)

    def _keeper(self, present: int) -> LotKeeper:
        form, plan = self._planned(present)
        accuracy = self.recipe.examination.accuracy
        return LotKeeper(self.record or "", form, plan, self.recipe.nominal, accuracy)

    def _planned(self, present: int) -> tuple[LotForm, LotPlan]:
        quantity = self.quantity or present
        form = replace(self.form, quantity=quantity)
        if self.choice is not None:
            return form, self.choice.plan(quantity)
        usual = PlanChoice().plan(quantity)
        return form, usual if usual.everything else PlanChoice(kind="all").plan(quantity)

    def _all(self, paths: Sequence[str], cancelled: Cancelled) -> Iterator[LotFile]:
        count = min(self.workers or os.cpu_count() or 1, math.ceil(len(paths) / _CHUNK))
        if count < 2 or len(paths) < _FEW:
            for path in paths:
                stop_if(cancelled)
                yield judge_file(path, self.recipe)
            return
        chunks = [paths[at : at + _CHUNK] for at in range(0, len(paths), _CHUNK)]
        yield from _in_processes(chunks, self.recipe, count, cancelled)

    def _sum_up(self, tally: _Tally, keeper: LotKeeper | None, seconds: float) -> JudgedLot:
        unreadable = tuple(found for found in tally.files if found.error is not None)
        if not tally.parts:
            raise FileAccessError(
                f"{self.folder}: must hold at least one capture that can be read "
                f"(got {counted(len(unreadable), 'file')} that cannot be read).",
                hint=f"The first: {unreadable[0].error}" if unreadable else "It holds no file.",
            )
        records = tuple(
            replace(record_of(part, serial), time=part.capture.origin.taken or "")
            for part, serial in zip(tally.parts, tally.serials, strict=True)
        )
        present = len(tally.parts) + len(unreadable)
        form, plan = self._planned(present)
        state = LotState(form=form, plan=plan, parts=records)
        remarks = tally.remarks()
        if len(tally.parts) > plan.n:
            remarks.append(
                f"{len(tally.parts)} parts were measured, the plan counts the first {plan.n}."
            )
        if present > form.quantity:
            remarks.append(
                f"The lot is stated as {counted(form.quantity, 'part')}, {present} are there."
            )
        return JudgedLot(
            state=state,
            summary=examined_lot(
                state,
                self.recipe.nominal,
                self.recipe.examination.facts.completed(self.facts),
                self.recipe.examination.thresholds,
            ),
            parts=tuple(tally.parts),
            unreadable=unreadable,
            remarks=tuple(remarks),
            lot="" if keeper is None else keeper.lot,
            seconds=seconds,
        )


class _Tally:
    """What the files gave so far, each part with a serial of its own."""

    def __init__(self) -> None:
        self.files: list[LotFile] = []
        self.parts: list[JudgedPart] = []
        self.serials: list[str] = []
        self._stated: Counter[str] = Counter()
        self._first: dict[str, str] = {}
        self._taken: set[str] = set()

    def add(
        self, found: LotFile, met: Callable[[str], str | None] | None = None
    ) -> list[tuple[JudgedPart, str]]:
        """Take the parts of one more file; give them with their serials.

        ``met`` says where the record has a serial; a part that was met before, there or in an
        earlier file, is examined once more.
        """
        self.files.append(replace(found, parts=()) if found.parts else found)
        fresh = []
        for part in found.parts:
            stated = _serial(part.capture, part.path)
            before = self._first.setdefault(stated, Path(part.path).name)
            seen = f"in this lot, in {before}" if self._stated[stated] else None
            if seen is None and met is not None:
                seen = met(stated)
            known = part if seen is None else with_facts(part, Facts(serial_seen=seen))
            fresh.append((known, self._serial_of(stated, part)))
        self.parts += [part for part, _ in fresh]
        self.serials += [serial for _, serial in fresh]
        return fresh

    def _serial_of(self, stated: str, part: JudgedPart) -> str:
        """Give a serial of its own: the one that is stated where that is free."""
        self._stated[stated] += 1
        serial, number = stated, 2
        while serial in self._taken:
            name = Path(part.path).name
            serial = f"{stated} ({name})" if number == 2 else f"{stated} ({name} {number})"
            number += 1
        self._taken.add(serial)
        return serial

    def remarks(self) -> list[str]:
        """Say which serials stand in several captures."""
        twice = [(serial, count) for serial, count in self._stated.items() if count > 1]
        return [
            f"'{serial}' stands in {count} captures: they are told apart by their files."
            for serial, count in twice[:_SAID]
        ]


def _serial(capture: Capture, path: str) -> str:
    base = capture.origin.part or Path(path).stem
    return f"{base} {capture.origin.label}".strip()


def _progress(done: int, total: int, seconds: float) -> tuple[str, float]:
    left = seconds / done * (total - done)
    words = f"{left:.0f} s" if left < 90 else f"{left / 60:.0f} min"
    return f"part {done} of {total}, {words} left", done / total


def _in_processes(
    chunks: Sequence[Sequence[str]], recipe: LotRecipe, count: int, cancelled: Cancelled
) -> Iterator[LotFile]:
    """Judge chunks of files in other processes; results come in the order of the files.

    A file that brings a process down is named and left out: the others of its chunk are judged
    one by one.
    """
    work = partial(_judge_files, recipe=recipe)
    pool = _pool(count)
    try:
        waiting: list[tuple[Sequence[str], Future[list[LotFile]]]] = []
        left = iter(chunks)
        while True:
            while len(waiting) < _AHEAD * count and (chunk := next(left, None)) is not None:
                waiting.append((chunk, pool.submit(work, chunk)))
            if not waiting:
                return
            stop_if(cancelled)
            chunk, future = waiting.pop(0)
            try:
                yield from future.result()
            except BrokenProcessPool:
                pool.shutdown(cancel_futures=True)
                yield from _one_by_one(chunk, work)
                pool = _pool(count)
                waiting = [(rest, pool.submit(work, rest)) for rest, _ in waiting]
    finally:
        pool.shutdown(cancel_futures=True)


def _one_by_one(
    chunk: Sequence[str], work: Callable[[Sequence[str]], list[LotFile]]
) -> Iterator[LotFile]:
    pool = _pool(1)
    for path in chunk:
        try:
            yield from pool.submit(work, [path]).result()
        except BrokenProcessPool:
            pool.shutdown(cancel_futures=True)
            pool = _pool(1)
            trouble = FileAccessError(
                f"{path}: must be a file that can be worked on (got the end of the process).",
                hint="The other parts are judged; report this file.",
            )
            yield LotFile(path=path, error=trouble)
    pool.shutdown()


def _pool(count: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"))
