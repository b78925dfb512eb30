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
from dataclasses import dataclass, field, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from types import MappingProxyType

from benchapp.capture import Capture
from benchapp.errors import BenchError, FileAccessError, UsageError
from benchapp.jobs.opening import OpenFile
from benchapp.jobs.part import ComparePart, Examination, FitChoices, JudgedPart
from benchapp.jobs.progress import Cancelled, Progress, not_cancelled, silent, stop_if
from benchapp.jobs.settings import AnswerBook
from benchapp.lot import LotForm, LotState, LotSummary, PartRecord, PlanChoice, key_of, summarize
from benchapp.nominal import LimitVerdict, Nominal, Outcome
from benchapp.readers import Answers
from benchapp.units import Estimate

__all__ = ["JudgeLot", "JudgedLot", "LotFile", "LotRecipe", "files_below", "record_of"]

_NO_CAPTURES = frozenset(
    (".toml", ".md", ".html", ".pdf", ".png", ".svg", ".jpg", ".sqlite", ".py", ".log")
)
_CHUNK = 25
_FEW = 60  # below it other processes would start no sooner than the work is done
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
    them. ``remarks`` say what a person should know about the way it was counted.
    """

    state: LotState
    summary: LotSummary
    parts: tuple[JudgedPart, ...]
    unreadable: tuple[LotFile, ...]
    remarks: tuple[str, ...]
    seconds: float


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
                    examination=recipe.examination,
                    with_envelope=False,
                )(silent, not_cancelled)
                for capture in reading.captures
            ),
        )
    except BenchError as error:
        return LotFile(path=path, error=_without_facts(error))


def _without_facts(error: BenchError) -> BenchError:
    """Give the error without the values behind it: a whole reading need not travel."""
    return type(error)(error.message, hint=error.hint)


def _judge_files(paths: Sequence[str], recipe: LotRecipe) -> list[LotFile]:
    return [judge_file(path, recipe) for path in paths]


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeLot:
    """Read, fit and judge every capture below a folder, and the lot by them.

    ``choice`` None inspects every part. ``quantity`` None takes the parts that are there for the
    whole lot. ``keep`` is told of every file in order as it is judged, before anything is summed
    up. Without ``workers`` a large lot takes all cores.

    Raises
    ------
    FileAccessError
        When the folder cannot be read.
    UsageError
        When no capture is there, or there is no such plan.
    CancelledError
        When the person stopped it; what was kept stays kept.
    """

    folder: str
    recipe: LotRecipe
    form: LotForm = field(default_factory=LotForm)
    choice: PlanChoice | None = None
    quantity: int | None = None
    keep: Callable[[LotFile], None] | None = None
    workers: int | None = None

    def __call__(self, progress: Progress, cancelled: Cancelled) -> JudgedLot:
        """Judge the lot."""
        started = time.perf_counter()
        progress(f"looking into {self.folder}", 0.0)
        paths = files_below(self.folder)
        judged: list[LotFile] = []
        for found in self._all(paths, cancelled):
            judged.append(found)
            if self.keep is not None:
                self.keep(found)
            progress(*_progress(len(judged), len(paths), time.perf_counter() - started))
        return self._sum_up(judged, time.perf_counter() - started)

    def _all(self, paths: Sequence[str], cancelled: Cancelled) -> Iterator[LotFile]:
        count = min(self.workers or os.cpu_count() or 1, math.ceil(len(paths) / _CHUNK))
        if count < 2 or len(paths) < _FEW:
            for path in paths:
                stop_if(cancelled)
                yield judge_file(path, self.recipe)
            return
        chunks = [paths[at : at + _CHUNK] for at in range(0, len(paths), _CHUNK)]
        yield from _in_processes(chunks, self.recipe, count, cancelled)

    def _sum_up(self, judged: Sequence[LotFile], seconds: float) -> JudgedLot:
        parts = [part for found in judged for part in found.parts]
        unreadable = tuple(found for found in judged if found.error is not None)
        if not parts:
            raise UsageError(
                f"{self.folder}: must hold at least one capture that can be read "
                f"(got {len(unreadable)} files that cannot).",
                hint=f"The first: {unreadable[0].error}" if unreadable else "It holds no file.",
            )
        serials, remarks = _serials(parts)
        records = tuple(
            replace(record_of(part, serial), time=part.capture.origin.taken or "")
            for part, serial in zip(parts, serials, strict=True)
        )
        present = len(parts) + len(unreadable)
        quantity = self.quantity or present
        choice = self.choice or PlanChoice(kind="all")
        state = LotState(
            form=replace(self.form, quantity=quantity), plan=choice.plan(quantity), parts=records
        )
        if len(parts) > state.plan.n:
            remarks.append(
                f"{len(parts)} parts were measured, the plan counts the first {state.plan.n}."
            )
        if self.quantity is not None and present > self.quantity:
            remarks.append(f"The lot is stated as {quantity} parts, {present} captures are there.")
        return JudgedLot(
            state=state,
            summary=summarize(state, self.recipe.nominal),
            parts=tuple(parts),
            unreadable=unreadable,
            remarks=tuple(remarks),
            seconds=seconds,
        )


def _serials(parts: Sequence[JudgedPart]) -> tuple[list[str], list[str]]:
    """Name each part: by its serial, else by its file; what is named twice, by both."""
    stated = [_serial(part.capture, part.path) for part in parts]
    counts = Counter(stated)
    remarks = [
        f"'{serial}' stands in {count} captures: they are told apart by their files."
        for serial, count in counts.items()
        if count > 1
    ]
    serials: list[str] = []
    taken: set[str] = set()
    for name, part in zip(stated, parts, strict=True):
        serial = name if counts[name] == 1 else f"{name} ({Path(part.path).name})"
        number = 2
        while serial in taken:
            serial, number = f"{name} ({Path(part.path).name} {number})", number + 1
        taken.add(serial)
        serials.append(serial)
    return serials, remarks[:5]


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
