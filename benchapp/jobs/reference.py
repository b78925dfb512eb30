"""The daily check of a station's reference coil, kept in the record."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from benchapp.capture import Capture
from benchapp.errors import UsageError
from benchapp.instruments import PARTIAL
from benchapp.jobs.part import FitCapture, FitChoices
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.logbook import default_address, open_logbook, parse_address
from benchapp.lot import Check, Gate, Reference, Review, check_of, gate, load_reference
from benchapp.uncertainty import Accuracy

__all__ = [
    "CheckReference",
    "CheckedReference",
    "KeptChecks",
    "Notes",
    "OpenReference",
    "ReadChecks",
    "RecordNotes",
    "ReviewReference",
    "StationGate",
    "station_words",
]

CHECK, REVIEW = "reference-check", "reference-review"
"""Kinds of note in the record."""


class Notes(Protocol):
    """Where notes are kept: a record that only grows."""

    def add_note(self, kind: str, note: Mapping[str, Any]) -> object:
        """Keep a note."""

    def notes(self, kind: str) -> Iterable[Mapping[str, Any]]:
        """Give all notes of a kind, the oldest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordNotes:
    """Notes in the record at an address; empty is the usual one. It is opened for each act.

    A record that is not there yet is made with the first note.
    """

    address: str = ""

    def add_note(self, kind: str, note: Mapping[str, Any]) -> None:
        """Keep a note.

        Raises
        ------
        RecordError
            When the record cannot be written.
        """
        with open_logbook(self._where) as book:
            book.add_note(kind, dict(note))

    def notes(self, kind: str) -> tuple[Mapping[str, Any], ...]:
        """Give all notes of a kind, the oldest first.

        Raises
        ------
        RecordError
            When the record cannot be read.
        """
        where = parse_address(self._where)
        if not where.on_server and not Path(where.text).exists():
            return ()
        with open_logbook(self._where, create=False) as book:
            return tuple(note.content for note in book.notes(kind))

    @property
    def _where(self) -> str:
        return self.address or default_address(os.environ)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenReference:
    """Read the file of a reference coil.

    Raises
    ------
    NominalError, FileAccessError
        When the file cannot be opened or breaks a rule of the format.
    """

    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Reference:
        """Read it."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        return load_reference(self.path)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckedReference:
    """One check, and the gate after it."""

    check: Check
    gate: Gate


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReference:
    """Judge a measurement of the reference coil and keep it; whatever it says, it stays.

    Raises
    ------
    FitError
        When the capture cannot be fitted at all.
    UsageError
        When it is part of a sweep that was broken off.
    RecordError
        When the record cannot be read or written.
    """

    reference: Reference
    capture: Capture
    notes: Notes
    accuracy: Accuracy | None = None
    who: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> CheckedReference:
        """Fit, judge, keep, and see whether the station is open."""
        if any(step.name == PARTIAL for step in self.capture.history):
            raise UsageError(
                "reference: its check must be a whole sweep (got one that was broken off).",
                hint="Measure it again.",
            )
        choices = FitChoices(circuit=self.reference.nominal.circuit)
        found = FitCapture(capture=self.capture, choices=choices)(progress, cancelled)
        taken = self.capture.origin.taken or now()
        check = check_of(self.reference, found, self.capture, taken, self.accuracy, who=self.who)
        stop_if(cancelled)
        self.notes.add_note(CHECK, check.as_note())
        station = StationGate(reference=self.reference, notes=self.notes)
        return CheckedReference(check=check, gate=station(progress, cancelled))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewReference:
    """Keep that a person looked into what locked the station; a new check must follow.

    Raises
    ------
    UsageError
        Without a name and a reason.
    RecordError
        When the record cannot be read or written.
    """

    reference: Reference
    notes: Notes
    who: str
    reason: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Gate:
        """Keep it, and see whether the station is open."""
        if not (self.who.strip() and self.reason.strip()):
            raise UsageError(
                f"review: must have a name and a reason (got {self.who!r} and {self.reason!r}).",
                hint="Say who looked into it, and what was found.",
            )
        review = Review(
            taken=now(), serial=self.reference.serial, who=self.who, reason=self.reason
        )
        self.notes.add_note(REVIEW, review.as_note())
        return StationGate(reference=self.reference, notes=self.notes)(progress, cancelled)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptChecks:
    """Every check and review that is kept."""

    checks: tuple[Check, ...] = ()
    reviews: tuple[Review, ...] = ()

    def gate(self, reference: Reference) -> Gate:
        """See whether lot work is open now."""
        return gate(reference, self.checks, self.reviews, now())


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadChecks:
    """Read every check and review that is kept.

    Raises
    ------
    RecordError
        When they cannot be read.
    """

    notes: Notes

    def __call__(self, progress: Progress, cancelled: Cancelled) -> KeptChecks:
        """Read them."""
        stop_if(cancelled)
        progress("looking at the reference", 0.0)
        return KeptChecks(
            checks=tuple(Check.from_note(note) for note in self.notes.notes(CHECK)),
            reviews=tuple(Review.from_note(note) for note in self.notes.notes(REVIEW)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StationGate:
    """See whether lot work is open at this station, now.

    Raises
    ------
    RecordError
        When the record cannot be read.
    """

    reference: Reference
    notes: Notes

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Gate:
        """Decide."""
        return ReadChecks(notes=self.notes)(progress, cancelled).gate(self.reference)


def station_words(reference: Reference, station: Gate) -> str:
    """Say in one line how a reference coil stands, as a report says it."""
    state = "open" if station.is_open else "locked"
    return f"{reference.nominal.title}: {state}; {station.reason}"


def now() -> str:
    """Give the time, as checks have it."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
