"""Reports on what the record holds, and on a lot that was just judged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from benchapp.checks import Facts
from benchapp.errors import RecordError
from benchapp.jobs.lot import JudgedLot
from benchapp.jobs.lot_facts import FactsOfGauge, examined_lot
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.jobs.reference import RecordNotes
from benchapp.jobs.report import ReportChoices, digest_of, part_file
from benchapp.logbook import StoredEntry, open_logbook
from benchapp.lot import PartRecord
from benchapp.nominal import Nominal

if TYPE_CHECKING:
    from benchapp.logbook.store import Logbook
    from benchapp.report.lot import LotSubject
    from benchapp.report.part import PartFile

__all__ = ["WriteEntryReport", "WriteLotReport", "WriteStoredLotReport"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WriteLotReport:
    """Write the report on a lot that was judged; ``reference`` says how the reference coil stood.

    Raises
    ------
    UsageError, FileAccessError
        When the ending is not known, a file is in the way, or it cannot be written.
    """

    lot: JudgedLot
    nominal: Nominal
    choices: ReportChoices
    reference: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.lot import LotSubject  # start-up: reports only when needed

        found = self.lot
        named = zip(found.parts, found.state.parts, strict=True)
        subject = LotSubject(
            state=found.state,
            summary=found.summary,
            nominal=self.nominal,
            decision=found.decision,
            parts=tuple(replace(part_file(part), name=record.serial) for part, record in named),
            unreadable=tuple((one.path, str(one.error)) for one in found.unreadable),
            remarks=found.remarks,
            reference=self.reference,
        )
        return _write(subject, self.choices, progress, cancelled)


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteStoredLotReport:
    """Write the report on a lot as the record holds it.

    ``reference`` says how the reference coil stood, ``facts`` what is known of the lot beside.

    Raises
    ------
    RecordError
        When it is not there, or was begun without a design.
    UsageError, FileAccessError
        As for `WriteLotReport`.
    """

    record: str
    key: str
    choices: ReportChoices
    reference: str = ""
    facts: Facts = field(default_factory=Facts)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.lot import LotSubject  # start-up: reports only when needed

        self.choices.checked()
        stop_if(cancelled)
        with open_logbook(self.record, create=False) as book:
            nominal, state = book.lot(self.key).nominal, book.lot_state(self.key)
            if nominal is None or not state.parts:
                raise RecordError(
                    f"lot {self.key}: must have a design and a measured part to be reported on.",
                    hint="The list of lots says how many parts each has.",
                )
            parts = tuple(_stored(book, state.parts, progress, cancelled))
        gauge = FactsOfGauge(nominal=nominal, notes=RecordNotes(address=self.record))
        facts = self.facts.completed(gauge(progress, cancelled))
        summary = examined_lot(state, nominal, facts)
        subject = LotSubject(
            state=state,
            summary=summary,
            nominal=nominal,
            decision=summary.decision,
            parts=parts,
            reference=self.reference,
        )
        return _write(subject, self.choices, progress, cancelled)


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteEntryReport:
    """Write the report on one stored measurement, with the numbers as they were kept.

    Raises
    ------
    RecordError
        When it is not there, or was not fitted.
    UsageError, FileAccessError
        As for `WriteLotReport`.
    """

    record: str
    number: int
    choices: ReportChoices

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.part import part_report  # start-up: reports only when needed

        choices = self.choices.checked()
        stop_if(cancelled)
        progress(f"writing {choices.path}", 0.0)
        with open_logbook(self.record, create=False) as book:
            part = _part(book.entry(self.number))
        if part is None:
            raise RecordError(
                f"entry {self.number}: must have been fitted to be reported on (it was not).",
                hint="Its file could not be read or fitted then; the record shows why.",
            )
        issue = choices.issue(digest_of(part.capture.digest, part.sha256))
        return choices.write(part_report(part, issue))


def _stored(
    book: Logbook, records: Sequence[PartRecord], progress: Progress, cancelled: Cancelled
) -> Iterator[PartFile]:
    """Give the parts of a lot that were fitted."""
    for done, record in enumerate(records):
        stop_if(cancelled)
        progress("fetching sweeps", done / len(records))
        part = None if record.entry is None else _part(book.entry(record.entry))
        if part is not None:
            yield part


def _part(stored: StoredEntry) -> PartFile | None:
    from benchapp.report.part import PartFile  # start-up: reports only when needed

    entry = stored.entry
    if entry.capture is None or entry.fit is None:
        return None
    return PartFile(
        name=entry.serial,
        path=entry.path,
        sha256=entry.capture.origin.sha256,
        capture=entry.capture,
        fit=entry.fit,
        findings=entry.findings,
        nominal=entry.nominal,
        verdict=entry.verdict,
    )


def _write(
    subject: LotSubject, choices: ReportChoices, progress: Progress, cancelled: Cancelled
) -> str:
    from benchapp.report.lot import lot_report  # start-up: reports only when needed

    choices.checked()
    stop_if(cancelled)
    progress(f"writing {choices.path}", 0.0)
    issue = choices.issue(digest_of(*(part.capture.digest for part in subject.parts)))
    return choices.write(lot_report(subject, issue))
