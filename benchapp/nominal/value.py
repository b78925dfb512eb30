"""The nominal design, its limits, and the verdict on one part."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal, NoReturn

from benchapp.capture import Conditions
from benchapp.uncertainty import Budget
from benchapp.units import Estimate

__all__ = [
    "Accepted",
    "Construction",
    "Decision",
    "Limit",
    "LimitVerdict",
    "Nominal",
    "Outcome",
    "Revision",
    "Verdict",
]


class Outcome(StrEnum):
    """What was decided about a limit or a part, best first, undecided last."""

    PASS = "pass"  # noqa: S105 - no password but an outcome
    CONDITIONAL_PASS = "conditional-pass"  # noqa: S105 - the same
    CONDITIONAL_FAIL = "conditional-fail"
    FAIL = "fail"
    NOT_JUDGED = "not-judged"

    @property
    def words(self) -> str:
        """The outcome as it is written on screen and paper."""
        return self.value.replace("-", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit of a design, in SI units. A side that is None has no limit.

    ``at`` is the frequency in Hz at which the quantity is meant, None where it has none.
    """

    quantity: str
    unit: str
    lower: float | None = None
    upper: float | None = None
    nominal: float | None = None
    at: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """How a limit is decided: guard band = guard * U, U = coverage * u."""

    guard: float = 1.0
    coverage: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """How far a capture may stray from one stated condition and still be judged.

    ``condition`` is a field of `Conditions`.
    """

    condition: str
    unit: str
    stated: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Construction:
    """How the part is built, as far as it is stated: it narrows what can be wrong with it.

    ``strands`` is the number of strands of the wire, 1 for a solid one.
    """

    turns: float | None = None
    strands: int | None = None
    core: Literal["air", "ferrite"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """One entry of the history of a design: revision, date (ISO 8601), by whom, what changed."""

    revision: str
    date: str
    by: str = ""
    change: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nominal:
    """What a part should be, and under which conditions its limits hold."""

    title: str
    circuit: str
    limits: tuple[Limit, ...]
    revision: str = ""
    frequency: float | None = None
    conditions: Conditions = field(default_factory=Conditions)
    accepted: tuple[Accepted, ...] = ()
    decision: Decision = field(default_factory=Decision)
    construction: Construction = field(default_factory=Construction)
    history: tuple[Revision, ...] = ()
    source: str = ""
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitVerdict:
    """One limit decided.

    ``expanded`` is U and ``guard`` the width of the guard band, both in the limit's unit.
    ``margin_percent`` is the distance to the nearer limit in percent of that limit, positive
    inside. ``probability_outside`` is the chance that the true value lies outside (JCGM 106).
    ``budget`` holds what U is made of. ``reason`` says in words why, or why not judged.
    """

    limit: Limit
    outcome: Outcome
    measured: Estimate | None = None
    expanded: float | None = None
    guard: float | None = None
    margin_percent: float | None = None
    probability_outside: float | None = None
    budget: Budget | None = None
    reason: str = ""

    @property
    def probability_conforming(self) -> float | None:
        """Chance that the true value lies within the limits (JCGM 106:2012, 7.1)."""
        return None if self.probability_outside is None else 1 - self.probability_outside

    @property
    def probability_false_accept(self) -> float | None:
        """Chance that a part accepted here is outside all the same; None where it is not accepted.

        Specific consumer's risk, JCGM 106:2012, 9.3.2.
        """
        accepted = self.outcome in (Outcome.PASS, Outcome.CONDITIONAL_PASS)
        return self.probability_outside if accepted else None

    @property
    def probability_false_reject(self) -> float | None:
        """Chance that a part rejected here is within all the same; None where it is not rejected.

        Specific producer's risk, JCGM 106:2012, 9.3.2.
        """
        rejected = self.outcome in (Outcome.FAIL, Outcome.CONDITIONAL_FAIL)
        return self.probability_conforming if rejected else None

    @property
    def false_accept_at_limit(self) -> float | None:
        """Chance that a part exactly on a limit passes with this guard band and this U.

        The most that any part outside can have: Phi(-guard / u). JCGM 106:2012, 8.3.2.
        """
        if self.guard is None or self.measured is None or not self.measured.u:
            return None
        return 0.5 * math.erfc(self.guard / self.measured.u / math.sqrt(2))

    @property
    def margin_u(self) -> float | None:
        """Distance to the nearer limit in standard uncertainties, positive inside."""
        if self.outcome is Outcome.NOT_JUDGED or self.measured is None or not self.measured.u:
            return None
        value, sides = self.measured.value, []
        if self.limit.lower is not None:
            sides.append(value - self.limit.lower)
        if self.limit.upper is not None:
            sides.append(self.limit.upper - value)
        return min(sides, default=math.inf) / self.measured.u

    @property
    def uncertainty_ratio(self) -> float | None:
        """Width of the limits over 2 U (test uncertainty ratio), None without two limits."""
        lower, upper = self.limit.lower, self.limit.upper
        if lower is None or upper is None or not self.expanded:
            return None
        return (upper - lower) / (2 * self.expanded)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The decision on one part: the worst of its limits, or not judged with the reason.

    ``U_holds`` says whether U counts the scatter of the capture alone, or the instrument as well.
    """

    outcome: Outcome
    limits: tuple[LimitVerdict, ...] = ()
    reason: str = ""
    U_holds: str = "scatter"

    def __bool__(self) -> NoReturn:
        """Refuse: a verdict has five outcomes and is not a truth value."""
        raise TypeError("a verdict is not true or false: compare its outcome")

    @property
    def deciding(self) -> LimitVerdict | None:
        """The limit that decides: the worst outcome, then the smallest margin."""
        judged = [entry for entry in self.limits if entry.outcome == self.outcome]

        def margin(entry: LimitVerdict) -> float:
            return float("inf") if entry.margin_percent is None else entry.margin_percent

        return min(judged, key=margin, default=None)
