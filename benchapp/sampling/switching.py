"""When inspection becomes tighter or lighter: the switching rules of MIL-STD-105E."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from benchapp.sampling.attributes import Severity

__all__ = ["LotResult", "State", "switch"]

_REJECTED_OF = (2, 5)
_ACCEPTED_TO_NORMAL = 5
_REJECTED_TO_STOP = 5
_ACCEPTED_TO_REDUCED = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class LotResult:
    """One lot as first presented: accepted or not, and how many nonconforming parts were found.

    ``in_gap`` tells that under reduced inspection the number lay between acceptance and
    rejection number. Resubmitted lots are not counted and do not belong here.
    """

    accepted: bool
    nonconforming: int = 0
    in_gap: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How the next lot is inspected, and why.

    ``severity`` 'discontinued': acceptance by sampling ends until the supplier has acted.
    ``reduced_possible`` tells that the lots allow reduced inspection, if production is steady and
    the responsible person agrees; the program does not switch to it by itself.
    """

    severity: Severity | Literal["discontinued"]
    why: str
    reduced_possible: bool = False


def switch(
    results: Sequence[LotResult], *, limit_number: int | None = None, reduced_agreed: bool = False
) -> State:
    """Follow the switching rules over the lots of one supplier and part, oldest first.

    Normal to tightened when 2 of 5 consecutive lots, or fewer, are rejected. Tightened to normal
    after 5 consecutive accepted; discontinued when 5 lots have been rejected under tightened
    inspection. Normal to reduced only after 10 consecutive accepted lots whose nonconforming parts
    together do not pass the limit number, with steady production and agreement. Reduced to
    normal at a rejected lot and at one in the gap.

    Parameters
    ----------
    results : sequence of LotResult
    limit_number : int, optional
        From Table VIII of the standard for the parts of those 10 samples together; the table is
        not part of this program. Without it reduced inspection is never proposed.
    reduced_agreed : bool
        That production is steady and the responsible person wants reduced inspection.

    Returns
    -------
    State

    Notes
    -----
    Source: MIL-STD-105E paragraph 4.7, from memory; the five rejected lots under tightened
    inspection as in ISO 2859-1. Verify against your organisation's copy.
    """
    severity: Severity = "normal"
    recent: list[LotResult] = []
    rejected = 0
    why = "inspection begins as normal"
    for result in results:
        recent.append(result)
        rejected += severity == "tightened" and not result.accepted
        if rejected >= _REJECTED_TO_STOP:
            reason = f"{_REJECTED_TO_STOP} lots rejected under tightened inspection"
            return State(severity="discontinued", why=reason)
        following, reason = _next(severity, recent, limit_number, reduced_agreed)
        if following != severity:
            severity, why, recent = following, reason, []
            rejected = 0
    possible = severity == "normal" and _allows_reduced(recent, limit_number)
    return State(severity=severity, why=why, reduced_possible=possible)


def _next(
    severity: Severity,
    recent: Sequence[LotResult],
    limit_number: int | None,
    reduced_agreed: bool,  # noqa: FBT001
) -> tuple[Severity, str]:
    """Give the severity after the last of ``recent``, all inspected under ``severity``."""
    if severity == "normal":
        most, window = _REJECTED_OF
        if sum(not result.accepted for result in recent[-window:]) >= most:
            return "tightened", f"{most} of the last {min(len(recent), window)} lots rejected"
        if reduced_agreed and _allows_reduced(recent, limit_number):
            return "reduced", f"{_ACCEPTED_TO_REDUCED} lots accepted, reduced inspection agreed"
    elif severity == "tightened":
        if _accepted(recent, _ACCEPTED_TO_NORMAL):
            return "normal", f"{_ACCEPTED_TO_NORMAL} lots accepted under tightened inspection"
    elif not recent[-1].accepted:
        return "normal", "a lot rejected under reduced inspection"
    elif recent[-1].in_gap:
        return "normal", "a lot between acceptance and rejection number"
    return severity, ""


def _accepted(recent: Sequence[LotResult], count: int) -> bool:
    return len(recent) >= count and all(result.accepted for result in recent[-count:])


def _allows_reduced(recent: Sequence[LotResult], limit_number: int | None) -> bool:
    if limit_number is None or not _accepted(recent, _ACCEPTED_TO_REDUCED):
        return False
    last = recent[-_ACCEPTED_TO_REDUCED:]
    return sum(result.nonconforming for result in last) <= limit_number
