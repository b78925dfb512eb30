"""The verdict: measured values with their uncertainty against the limits of a design."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from benchapp.capture import Capture, Transient
from benchapp.fit import Fit, quantity
from benchapp.nominal.value import (
    Accepted,
    Decision,
    Limit,
    LimitVerdict,
    Nominal,
    Outcome,
    Verdict,
)
from benchapp.uncertainty import Accuracy, budget, combine, described, expanded, holds
from benchapp.units import Estimate, format_quantity

__all__ = ["StatedConditions", "judge", "judged_at", "stated_conditions"]

_GRAVEST_FIRST = (
    Outcome.FAIL,
    Outcome.NOT_JUDGED,
    Outcome.CONDITIONAL_FAIL,
    Outcome.CONDITIONAL_PASS,
    Outcome.PASS,
)
_REACH = 0.01  # a sweep ending this fraction short of a frequency still counts as reaching it
_WORDS = {
    "level_volt": "level",
    "level_ampere": "level",
    "bias_volt": "bias",
    "bias_ampere": "bias",
    "temperature_celsius": "temperature",
    "fixture": "fixture",
    "surroundings": "surroundings",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedConditions:
    """Conditions of a design against those of a capture, in words.

    ``contradictions`` forbid a verdict; ``unstated`` names what the capture does not say;
    ``different`` names texts (fixture, surroundings) that are not the same.
    """

    contradictions: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()
    different: tuple[str, ...] = ()


def stated_conditions(nominal: Nominal, capture: Capture) -> StatedConditions:
    """Compare the conditions that a design states with those that a capture states."""
    contradictions, unstated = [], []
    for entry in nominal.accepted:
        found = getattr(capture.conditions, entry.condition)
        if found is None:
            unstated.append(_WORDS[entry.condition])
        elif not entry.lower <= found <= entry.upper:
            contradictions.append(_contradiction(entry, found))
    different = []
    for name in ("fixture", "surroundings"):
        wanted, found = getattr(nominal.conditions, name), getattr(capture.conditions, name)
        if wanted is not None and found is None:
            unstated.append(name)
        elif wanted is not None and wanted.casefold() != found.casefold():
            different.append(f"{_WORDS[name]}: '{found}' instead of '{wanted}'")
    return StatedConditions(
        contradictions=tuple(contradictions),
        unstated=tuple(unstated),
        different=tuple(different),
    )


def _contradiction(entry: Accepted, found: float) -> str:
    low, high = (format_quantity(value, entry.unit) for value in (entry.lower, entry.upper))
    return (
        f"the limits hold at a {_WORDS[entry.condition]} of {low} to {high}, "
        f"the capture was taken at {format_quantity(found, entry.unit)}"
    )


def judged_at(nominal: Nominal, limit: Limit) -> float | None:
    """Give the frequency in Hz at which a limit holds, None where the design names none."""
    return nominal.frequency if limit.at is None else limit.at


def judge(
    nominal: Nominal, fit: Fit, capture: Capture, accuracy: Accuracy | None = None
) -> Verdict:
    """Judge a fitted part against every limit of a design.

    Parameters
    ----------
    nominal : Nominal
    fit : Fit
    capture : Sweep, Response or Transient
        What the fit was made from: tells the conditions and the frequencies covered.
    accuracy : Accuracy, optional
        What is stated about the instrument; without it U holds the scatter of the capture only.

    Returns
    -------
    Verdict
        The worst of its limits; a limit that cannot be judged outweighs all but a fail.

    Notes
    -----
    With U = k u and the guard band w U (w = ``decision.guard``), a value inside its limits by
    at least the guard band passes, inside by less passes conditionally, outside by no more than
    the guard band fails conditionally, further outside fails. Source: JCGM 106:2012, 8.3 (guard
    bands on both sides of a tolerance limit); the four names are common practice.
    """
    obstacle = _obstacle(fit, capture, accuracy, stated_conditions(nominal, capture))
    part = _Part(fit=fit, whole=combine(fit, capture, accuracy), capture=capture)
    entries = tuple(
        _judge_limit(nominal, limit, part, accuracy, obstacle) for limit in nominal.limits
    )
    found = {entry.outcome for entry in entries}
    outcome = next((each for each in _GRAVEST_FIRST if each in found), Outcome.NOT_JUDGED)
    verdict = Verdict(
        outcome=outcome,
        limits=entries,
        reason="the design has no limits",
        U_holds=holds(fit, accuracy),
    )
    return replace(verdict, reason=_summary(verdict)) if entries else verdict


def _summary(verdict: Verdict) -> str:
    if verdict.outcome is Outcome.NOT_JUDGED or verdict.deciding is None:
        reasons = (each.reason for each in verdict.limits if each.outcome is Outcome.NOT_JUDGED)
        return "; ".join(dict.fromkeys(reasons))
    return verdict.deciding.reason


def _obstacle(
    fit: Fit, capture: Capture, accuracy: Accuracy | None, conditions: StatedConditions
) -> str:
    if conditions.contradictions:
        return "; ".join(conditions.contradictions)
    if not fit.converged:
        return "the fit did not settle"
    if not described(fit, capture, accuracy):
        return f"the circuit {fit.circuit} does not describe the data"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """What is judged: the fit, the same with the instrument's part, the data."""

    fit: Fit
    whole: Fit
    capture: Capture


def _judge_limit(
    nominal: Nominal, limit: Limit, part: _Part, accuracy: Accuracy | None, obstacle: str
) -> LimitVerdict:
    at, fit = judged_at(nominal, limit), part.fit
    measured = quantity(part.whole, limit.quantity, at) if fit.converged else None
    reason = obstacle or _beyond(at, fit, part.capture)
    reason = reason or _unknown(limit.quantity, part, at, measured)
    if reason or measured is None or measured.u is None:
        return LimitVerdict(
            limit=limit, outcome=Outcome.NOT_JUDGED, measured=measured, reason=reason
        )
    terms = budget(fit, part.capture, accuracy, limit.quantity, at)
    return replace(decide(limit, measured, nominal.decision), budget=terms)


def _beyond(at: float | None, fit: Fit, capture: Capture) -> str:
    """Say that the points used do not reach a frequency, empty where they do."""
    if not fit.used.any():
        return "no point of the capture was used"
    if at is None or isinstance(capture, Transient):
        return ""
    used = capture.frequency[fit.used]
    low, high = float(used[0]), float(used[-1])
    if low * (1 - _REACH) <= at <= high * (1 + _REACH):
        return ""
    span = f"{format_quantity(low, 'Hz')} to {format_quantity(high, 'Hz')}"
    return f"the sweep ({span}) does not reach {format_quantity(at, 'Hz')}"


def _unknown(name: str, part: _Part, at: float | None, measured: Estimate | None) -> str:
    if measured is None:
        if name in part.fit.undetermined:
            return f"the capture does not determine {name}"
        if quantity(part.fit, name, at) is not None:
            return f"the accuracy of the instrument leaves {name} undetermined"
        return f"a fit of {part.fit.circuit} does not give {name} there"
    return f"the uncertainty of {name} is not known" if measured.u is None else ""


def decide(limit: Limit, measured: Estimate, decision: Decision) -> LimitVerdict:
    """Decide one limit from a value with a known uncertainty.

    Parameters
    ----------
    limit : Limit
    measured : Estimate
    decision : Decision

    Returns
    -------
    LimitVerdict
    """
    uncertainty = expanded(measured, decision.coverage) or 0.0
    guard = decision.guard * uncertainty
    inside, edge = _distance(limit, measured.value)
    if inside >= guard:
        outcome = Outcome.PASS
    elif inside >= 0:
        outcome = Outcome.CONDITIONAL_PASS
    else:
        outcome = Outcome.FAIL if -inside > guard else Outcome.CONDITIONAL_FAIL
    return LimitVerdict(
        limit=limit,
        outcome=outcome,
        measured=measured,
        expanded=uncertainty,
        guard=guard,
        margin_percent=100 * inside / abs(edge) if edge else None,
        probability_outside=probability_outside(limit, measured),
        reason=_reason(outcome, limit, inside, edge, guard),
    )


def _distance(limit: Limit, value: float) -> tuple[float, float]:
    """Give the signed distance to the nearer limit (positive inside), and that limit."""
    sides = []
    if limit.lower is not None:
        sides.append((value - limit.lower, limit.lower))
    if limit.upper is not None:
        sides.append((limit.upper - value, limit.upper))
    return min(sides, default=(math.inf, 0.0))


def probability_outside(limit: Limit, measured: Estimate) -> float:
    """Give the probability that the true value lies outside the limits.

    Notes
    -----
    The knowledge of the true value is taken as normal with the measured value and its standard
    uncertainty: p = Phi((lower - y) / u) + Phi((y - upper) / u).
    Source: JCGM 106:2012, 7.2 to 7.4 (conformance probability with a normal distribution).
    """
    excess = [] if limit.lower is None else [limit.lower - measured.value]
    if limit.upper is not None:
        excess.append(measured.value - limit.upper)
    if not measured.u:
        return float(any(distance > 0 for distance in excess))
    scale = math.sqrt(2) * measured.u
    return min(1.0, sum(0.5 * math.erfc(-distance / scale) for distance in excess))


def _reason(outcome: Outcome, limit: Limit, inside: float, edge: float, guard: float) -> str:
    distance = format_quantity(abs(inside), limit.unit, digits=2)
    side = "above" if (edge == limit.lower) == (inside >= 0) else "below"
    which = "lower" if edge == limit.lower else "upper"
    edge_text = format_quantity(edge, limit.unit)
    place = f"{limit.quantity} is {distance} {side} the {which} limit {edge_text}"
    band = f"the guard band of {format_quantity(guard, limit.unit, digits=2)}"
    return (
        place
        + {
            Outcome.PASS: "",
            Outcome.CONDITIONAL_PASS: f": a pass, but within {band}",
            Outcome.CONDITIONAL_FAIL: f": a fail, but within {band}",
            Outcome.FAIL: f" and outside {band}",
        }[outcome]
    )
