"""Take away what lies between instrument and part, from readings that were saved."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from benchapp.capture import Capture, Sweep
from benchapp.errors import UsageError
from benchapp.fixture import Compensation, Corrected, Corrections, correct, drift
from benchapp.jobs.opening import OpenFile
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.readers import Answers
from benchapp.units import format_quantity

__all__ = ["CorrectCapture", "Nulling", "OpenCorrections", "OpenStandard", "Recheck"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nulling:
    """Files of what was read of the fixture; ``load_value`` in ohm is the true one of the load."""

    opened: str | None = None
    shorted: str | None = None
    load: str | None = None
    load_value: complex | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenStandard:
    """Read one saved reading of the fixture.

    Raises
    ------
    FileAccessError, ReadError
        When the file cannot be opened or holds no capture.
    UsageError
        When it holds other than one sweep of impedance.
    """

    path: str
    answers: Answers = field(default_factory=Answers)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Sweep:
        """Read it."""
        job = OpenFile(path=self.path, answers=self.answers)
        captures = job(progress, cancelled).captures
        if len(captures) != 1 or not isinstance(captures[0], Sweep):
            kinds = ", ".join(type(one).__name__.lower() for one in captures) or "no capture"
            raise UsageError(
                f"{self.path}: a reading of the fixture must be one sweep of impedance (got "
                f"{kinds}).",
                hint="Save open, short and load in a file each, with the settings of the sweep; "
                "'benchapp read' says what a file holds and asks.",
            )
        return captures[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCorrections:
    """Read the files of a compensation, and put them with the other corrections.

    Raises
    ------
    FileAccessError, ReadError
        When a file cannot be opened or holds no capture.
    UsageError
        When a file holds other than one sweep of impedance.
    CaptureError
        When open, short and load do not go together.
    """

    nulling: Nulling
    others: Corrections = field(default_factory=Corrections)
    answers: Answers = field(default_factory=Answers)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Corrections:
        """Read what there is."""
        given = {name: getattr(self.nulling, name) for name in ("opened", "shorted", "load")}
        read = {
            name: OpenStandard(path=path, answers=self.answers)(progress, cancelled)
            for name, path in given.items()
            if path is not None
        }
        if not read and self.nulling.load_value is None:
            return self.others
        compensation = Compensation(**read, load_value=self.nulling.load_value)
        return replace(self.others, compensation=compensation)


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectCapture:
    """Correct one capture; the raw one stays in the result.

    Raises
    ------
    CaptureError
        When a correction cannot be made.
    """

    capture: Capture
    corrections: Corrections

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Corrected:
        """Correct it."""
        stop_if(cancelled)
        progress("correcting", 0.0)
        return correct(self.capture, self.corrections)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recheck:
    """Say in words how much a part would change if the fixture were nulled again.

    Raises
    ------
    CaptureError
        When one of the compensations does not suit the sweep.
    """

    sweep: Sweep
    before: Compensation
    again: Compensation

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Compare the two."""
        stop_if(cancelled)
        progress("comparing", 0.0)
        change = drift(self.before, self.again, self.sweep)
        place = int(np.argmax(np.abs(change)))
        rms = math.sqrt(float(np.mean(change**2)))
        at = format_quantity(float(self.sweep.frequency[place]), "Hz")
        return (
            f"re-check of the fixture: |Z| of the part would change by {change[place]:+.2%} at "
            f"most, at {at}; {rms:.2%} rms"
        )
