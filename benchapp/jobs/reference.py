"""The daily check of a station's reference coil, kept in the record."""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from benchapp.capture import Capture
from benchapp.errors import RecordError, UsageError
from benchapp.instruments import PARTIAL
from benchapp.jobs.part import FitCapture, FitChoices
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.lot import Check, Gate, Reference, Review, check_of, gate, load_reference
from benchapp.uncertainty import Accuracy

__all__ = [
    "CheckReference",
    "CheckedReference",
    "NoteFile",
    "Notes",
    "OpenReference",
    "ReviewReference",
    "StationGate",
]

CHECK, REVIEW = "reference-check", "reference-review"
"""Kinds of note in the record."""


class Notes(Protocol):
    """Where notes are kept: a record that only grows."""

    def add_note(self, kind: str, note: Mapping[str, Any]) -> object:
        """Keep a note."""

    def notes(self, kind: str) -> Iterable[Mapping[str, Any]]:
        """Give all notes of a kind, the oldest first."""


class NoteFile:
    """Notes in a text file that only grows, one JSON object a line.

    Parameters
    ----------
    path : str or Path
        Made with the first note.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)

    @classmethod
    def beside(cls, path: str | Path) -> NoteFile:
        """Give the file of the checks that stands beside the file of a reference."""
        return cls(Path(path).with_suffix(".checks.jsonl"))

    def add_note(self, kind: str, note: Mapping[str, Any]) -> None:
        """Keep a note.

        Raises
        ------
        RecordError
            When the file cannot be written.
        """
        line = json.dumps({"kind": kind, "note": note}, ensure_ascii=True, allow_nan=False)
        try:
            with self.path.open("a", encoding="ascii", newline="\n") as file:
                file.write(line + "\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as cause:
            raise RecordError(
                f"{self.path}: the checks must be written here (got {cause.strerror}).",
                hint="Put the file of the reference into a folder that can be written.",
            ) from cause

    def notes(self, kind: str) -> tuple[Mapping[str, Any], ...]:
        """Give all notes of a kind, the oldest first.

        Raises
        ------
        RecordError
            When the file cannot be read, or a line of it is no note.
        """
        try:
            lines = self.path.read_text(encoding="ascii").splitlines()
        except FileNotFoundError:
            return ()
        except (OSError, UnicodeDecodeError) as cause:
            raise RecordError(
                f"{self.path}: the checks must be a text file that can be read (got {cause}).",
                hint="Restore the file from a copy.",
            ) from cause
        found = [self._read(number, line) for number, line in enumerate(lines, 1)]
        return tuple(note for known, note in found if known == kind)

    def _read(self, number: int, line: str) -> tuple[str, Mapping[str, Any]]:
        try:
            entry = json.loads(line)
            return str(entry["kind"]), dict(entry["note"])
        except (ValueError, TypeError, KeyError) as cause:
            raise RecordError(
                f"{self.path}, line {number}: must be a note (got {line[:40]!r}).",
                hint="The file was changed or is damaged: restore it from a copy.",
            ) from cause


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
        stop_if(cancelled)
        progress("looking at the reference", 0.0)
        checks = [Check.from_note(note) for note in self.notes.notes(CHECK)]
        reviews = [Review.from_note(note) for note in self.notes.notes(REVIEW)]
        return gate(self.reference, checks, reviews, now())


def now() -> str:
    """Give the time, as checks have it."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
