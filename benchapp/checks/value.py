"""What a check is, what it looks at, and what it finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Transient
from benchapp.checks.facts import Facts
from benchapp.errors import UsageError
from benchapp.fit import Fit
from benchapp.nominal import Nominal, Verdict
from benchapp.readers import Reading
from benchapp.uncertainty import Accuracy

__all__ = [
    "COMMON_PRACTICE",
    "RESONANT",
    "Acknowledgement",
    "Check",
    "Evidence",
    "Finding",
    "Level",
    "Look",
    "Sighting",
    "counted",
    "frequency_used",
    "resonance",
]

Level = Literal["stop", "warn", "note"]
"""stop: no verdict is given; warn: the verdict stands, with the warning; note: worth knowing."""

COMMON_PRACTICE = "common practice"
RESONANT = ("tank", "series-rlc", "parallel-rlc", "coupled-pair", "resonance")
"""Circuits whose result rests on a resonance inside the sweep."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledgement:
    """A person has seen what a check says, and gives a reason why the result is used all the same.

    Raises
    ------
    UsageError
        When one of the three is empty.
    """

    check: str
    name: str
    reason: str

    def __post_init__(self) -> None:
        missing = [each for each in self.__slots__ if not getattr(self, each).strip()]
        if missing:
            raise UsageError(
                f"acknowledgement: must have a check, a name and a reason (got no "
                f"{' and no '.join(missing)}).",
                hint="Say who takes the responsibility, and why.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something that a check has found: what was seen and why it matters, and what to do.

    ``points`` (0-based) are the points of the capture that it speaks of. An acknowledged finding
    stays where it is, with the name and the reason.
    """

    id: str
    level: Level
    text: str
    advice: str = ""
    points: tuple[int, ...] = ()
    source: str = ""
    acknowledged: Acknowledgement | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Everything known about one capture.

    ``accuracy`` is what is stated about the instrument, ``facts`` what is known beside the
    capture.
    """

    capture: Capture
    fit: Fit
    nominal: Nominal | None = None
    verdict: Verdict | None = None
    reading: Reading | None = None
    accuracy: Accuracy | None = None
    facts: Facts = field(default_factory=Facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """One case of what a check looks for; ``level`` and ``advice`` replace those of the check."""

    seen: str
    points: tuple[int, ...] = ()
    level: Level | None = None
    advice: str | None = None


Look = Callable[[Evidence, Mapping[str, float]], Iterator[Sighting]]
"""Gives the sightings in some evidence, under the thresholds of the check by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One row of the table.

    ``condition`` says in words when the check speaks, ``text`` why it matters; the finding joins
    the number seen and ``text``. ``thresholds`` hold the default of each number that can be
    changed.
    """

    id: str
    level: Level
    condition: str
    text: str
    advice: str
    look: Look
    source: str = COMMON_PRACTICE
    thresholds: Mapping[str, float] = field(default_factory=dict)


def counted(count: int, noun: str) -> str:
    """Give a count with its noun in the right number: ``1 point``, ``2 points``."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def resonance(evidence: Evidence) -> tuple[float, float] | None:
    """Give f0 and the half-power bandwidth in Hz where the result rests on a resonance."""
    fit = evidence.fit
    f0 = fit.estimates.get("f0")
    q = fit.estimates.get("QL", fit.estimates.get("Q"))
    if fit.circuit not in RESONANT or f0 is None or q is None:
        return None
    return f0.value, f0.value / q.value


def frequency_used(evidence: Evidence) -> NDArray[np.float64] | None:
    """Give the frequencies (N,) in Hz of the points used; None without any, or over time."""
    capture, used = evidence.capture, evidence.fit.used
    return None if isinstance(capture, Transient) or not used.any() else capture.frequency[used]
