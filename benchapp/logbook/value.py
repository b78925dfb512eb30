"""What is put into the record, and what comes out of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from benchapp.capture import Capture
from benchapp.checks import Facts, Finding
from benchapp.fit import Fit
from benchapp.fit.setting import FitChoices
from benchapp.fixture import Corrections
from benchapp.lot import Conclusion, LotForm, LotPlan
from benchapp.nominal import Nominal, Outcome, Verdict
from benchapp.readers import Answers, Assumption
from benchapp.uncertainty import Accuracy
from benchapp.units import Estimate

__all__ = [
    "WITHDRAWN",
    "Basis",
    "Broken",
    "Correction",
    "LotRow",
    "Merged",
    "Note",
    "PartEntry",
    "PartRow",
    "Refit",
    "Search",
    "Standing",
    "StoredEntry",
]

WITHDRAWN = "withdrawn"
"""The correction that takes a part out of the count of its lot; the entry itself stays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """How a result came out of its capture, so that it can be worked out again.

    The choices of the fit, what was stated about the instrument, which thresholds of checks
    differed from the usual, what was known beside the capture, and whether other methods were
    asked as well. What a person acknowledged stands in the findings.
    """

    choices: FitChoices = field(default_factory=FitChoices)
    accuracy: Accuracy | None = None
    thresholds: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    facts: Facts = field(default_factory=Facts)
    thorough: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartEntry:
    """Everything kept about one measurement of one part.

    ``raw`` holds the bytes of the file as read, ``answers`` what it was read with, and ``sweep``
    which of its captures it is, counted from 1; ``measured`` is the capture as it came and
    ``corrections`` what was taken away from it, where anything was. ``nominal_text`` and
    ``accuracy_text`` are the texts of those files; conditions, origin and the steps of
    compensation stand in the capture, what a person acknowledged in the findings. ``basis`` says
    how the result came about, None in entries of older versions. ``time`` is ISO 8601 in UTC. A
    file that could not be read or fitted is kept as well, without a capture or a fit.
    """

    serial: str
    time: str
    lot: str | None = None
    position: int | None = None
    attempt: int = 1
    retest_reason: str = ""
    operator: str = ""
    instrument: str = ""
    path: str = ""
    raw: bytes = b""
    sweep: int | None = None
    capture: Capture | None = None
    measured: Capture | None = None
    corrections: Corrections | None = None
    answers: Answers = field(default_factory=Answers)
    assumptions: tuple[Assumption, ...] = ()
    nominal: Nominal | None = None
    nominal_text: str = ""
    accuracy_text: str = ""
    fit: Fit | None = None
    verdict: Verdict | None = None
    findings: tuple[Finding, ...] = ()
    basis: Basis | None = None
    software: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Refit:
    """A newer result for a stored measurement, beside the old one."""

    id: int
    key: str
    time: str
    software: str
    fit: Fit
    verdict: Verdict | None
    findings: tuple[Finding, ...]
    basis: Basis | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a person says about a stored entry afterwards; the entry itself never changes."""

    id: int
    key: str
    time: str
    what: str
    name: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoredEntry:
    """A measurement as it was put in, with everything that was added to it since.

    ``key`` names it in every record it is copied to, ``id`` in this record only.
    """

    id: int
    key: str
    bench: str
    digest: str
    entry: PartEntry
    refits: tuple[Refit, ...] = ()
    corrections: tuple[Correction, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """The few values of a measurement that lists show."""

    id: int
    key: str
    lot: str | None
    serial: str
    part: str
    position: int | None
    attempt: int
    time: str
    operator: str
    outcome: Outcome
    deciding: str
    reason: str
    path: str
    retest_reason: str
    estimates: Mapping[str, Estimate]
    withdrawn: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRow:
    """One lot: what was stated about it, how many measurements it has, and how it ended."""

    id: int
    key: str
    time: str
    bench: str
    form: LotForm
    plan: LotPlan
    positions: tuple[int, ...]
    nominal: Nominal | None
    measurements: int
    conclusion: Conclusion | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something else that is kept: a gauge study, a reading of the reference coil."""

    id: int
    key: str
    time: str
    kind: str
    content: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """Which measurements are wanted; None leaves a field open. Times are ISO 8601 in UTC.

    ``serial_like`` and ``part_like`` are patterns: ``*`` stands for any signs, also for none, and
    capitals do not count. ``lots`` are keys of lots: a measurement of any of them is wanted.
    ``newest_first`` turns the order round, so that a ``limit`` leaves the newest.
    """

    serial: str | None = None
    part: str | None = None
    lot: str | None = None
    serial_like: str | None = None
    part_like: str | None = None
    lots: tuple[str, ...] | None = None
    since: str | None = None
    until: str | None = None
    outcome: Outcome | None = None
    limit: int | None = None
    newest_first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """One thing that is wrong with the record: ``where`` names the entry or the place."""

    where: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """What a merge did: entries copied, and entries that were there already."""

    copied: int
    present: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where new entries go now.

    ``kept``: into the record that was asked for; ``waiting``: the server is away and is asked
    again; ``kept locally``: it is away and ``waiting`` entries stand in the local file meanwhile
    (at most so many, where the work began without the server: some may be there already).
    """

    state: Literal["kept", "waiting", "kept locally"]
    waiting: int = 0
    reason: str = ""
