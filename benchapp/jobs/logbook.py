"""Work with the stored record: list, open, fit again, verify, copy, merge."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from benchapp.errors import BenchError, RecordError, UsageError
from benchapp.fixture import Corrected
from benchapp.jobs.again import job_of, reading_of
from benchapp.jobs.lot_record import basis_of
from benchapp.jobs.part import ComparePart, Examination, FitChoices, JudgedPart
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.logbook import (
    Broken,
    Choices,
    LotRow,
    Merged,
    PartEntry,
    PartRow,
    Search,
    Standing,
    StoredEntry,
    open_logbook,
    parse_address,
)
from benchapp.readers import Reading

if TYPE_CHECKING:
    from benchapp.logbook.store import Logbook

__all__ = [
    "AskServer",
    "BackUpLogbook",
    "LotsOf",
    "MergeLogbook",
    "OpenEntry",
    "OpenLogbook",
    "RefitEntry",
    "Refitted",
    "SearchLogbook",
    "VerifyLogbook",
]

_THERE = Choices(create=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenLogbook:
    """Open a record, and make it where there is none; whoever asked closes it.

    Raises
    ------
    RecordError, UsageError
        When the record cannot be opened, or the address is none.
    """

    record: str
    choices: Choices = field(default_factory=Choices)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Logbook:
        """Open it."""
        stop_if(cancelled)
        progress("opening the record", 0.0)
        return open_logbook(self.record, choices=self.choices)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchLogbook:
    """List the stored measurements that fit.

    Raises
    ------
    RecordError
        When the record cannot be opened or read.
    """

    record: str
    wanted: Search = field(default_factory=Search)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[PartRow, ...]:
        """Look them up."""
        stop_if(cancelled)
        progress("searching the record", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            return book.search(self.wanted)


@dataclass(frozen=True, slots=True, kw_only=True)
class LotsOf:
    """List the lots of a record, the newest first.

    Raises
    ------
    RecordError
        When the record cannot be opened or read.
    """

    record: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[LotRow, ...]:
        """Look them up."""
        stop_if(cancelled)
        progress("listing the lots", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            return book.lots()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenEntry:
    """Open one stored measurement, with the same numbers as when it was kept.

    Raises
    ------
    RecordError
        When it is not there, or was written by a newer version.
    """

    record: str
    number: int

    def __call__(self, progress: Progress, cancelled: Cancelled) -> StoredEntry:
        """Open it."""
        stop_if(cancelled)
        progress(f"opening entry {self.number}", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            return book.entry(self.number)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Refitted:
    """A stored measurement and what this version makes of it."""

    stored: StoredEntry
    part: JudgedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class RefitEntry:
    """Fit and judge a stored measurement with this version; the result is kept beside the old.

    Without ``choices`` and ``examination`` it is done as it was done then.

    Raises
    ------
    RecordError
        When it is not there, or holds no capture.
    FitError
        When the capture cannot be fitted.
    """

    record: str
    number: int
    choices: FitChoices | None = None
    examination: Examination | None = None

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Refitted:
        """Fit, judge, keep."""
        stop_if(cancelled)
        with open_logbook(self.record, choices=_THERE) as book:
            entry = book.entry(self.number).entry
            part = self._job(entry)(progress, cancelled)
            stop_if(cancelled)
            book.refit(self.number, part.fit, part.verdict, part.findings, basis=basis_of(part))
            return Refitted(stored=book.entry(self.number), part=part)

    def _job(self, entry: PartEntry) -> ComparePart:
        if entry.capture is None:
            raise RecordError(
                f"entry {self.number}: must hold a capture to be fitted (got none).",
                hint="Its file could not be read then: export its bytes and look at them.",
            )
        raw = entry.measured or entry.capture
        whole = Corrected(capture=entry.capture, raw=raw, by=entry.corrections)
        job = job_of(entry, self._reading(entry), whole)
        return replace(
            job,
            choices=self.choices or job.choices,
            examination=self.examination or job.examination,
            thorough=True,
        )

    def _reading(self, entry: PartEntry) -> Reading | None:
        """Read the kept bytes once more: some checks ask for what the file says beside."""
        try:
            return reading_of(entry)
        except BenchError:
            return None  # the stored capture does without


@dataclass(frozen=True, slots=True, kw_only=True)
class VerifyLogbook:
    """Look through a whole record for anything that was changed, removed, added or cut off.

    Raises
    ------
    RecordError
        When it cannot be opened at all.
    """

    record: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[Broken, ...]:
        """Verify it."""
        stop_if(cancelled)
        progress("verifying the record", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            return book.verify()


@dataclass(frozen=True, slots=True, kw_only=True)
class BackUpLogbook:
    """Copy a record to a new file while it stays in use.

    Raises
    ------
    RecordError
        When the file is there already or cannot be written.
    """

    record: str
    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Copy it; give the path."""
        stop_if(cancelled)
        progress(f"copying the record to {self.path}", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            if parse_address(self.record).on_server:
                with open_logbook(self.path, choices=Choices(bench=book.bench)) as copy:
                    copy.merge(book)
                return self.path
            return book.backup(self.path)


@dataclass(frozen=True, slots=True, kw_only=True)
class AskServer:
    """Ask the server of a record; once it answers, what was kept locally is brought over.

    Raises
    ------
    RecordError
        When the server refuses, or is away and the address names no standby.
    """

    record: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Standing:
        """Ask it; say where new entries go now."""
        stop_if(cancelled)
        progress("asking the server of the record", 0.0)
        with open_logbook(self.record) as book:
            return book.standing


@dataclass(frozen=True, slots=True, kw_only=True)
class MergeLogbook:
    """Bring what one record holds into another; doing it again changes nothing.

    Raises
    ------
    RecordError
        When one is missing, damaged, or both continue one chain differently.
    UsageError
        When both are the same.
    """

    source: str
    record: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Merged:
        """Merge."""
        stop_if(cancelled)
        if parse_address(self.source).text == parse_address(self.record).text:
            raise UsageError(
                "merge: must be of two records (got one twice).",
                hint="Name the record to take from, and with --record the one to bring it to.",
            )
        progress("merging", 0.0)
        with (
            open_logbook(self.source, choices=_THERE) as source,
            open_logbook(self.record) as target,
        ):
            return target.merge(source)
