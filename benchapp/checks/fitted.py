"""Checks of the fit: whether it can be believed, and what its circuit implies."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from benchapp.capture import Sweep
from benchapp.checks.value import Check, Evidence, Sighting
from benchapp.fit import quantity
from benchapp.nominal import Limit, judged_at
from benchapp.uncertainty import correlation, described
from benchapp.units import format_estimate, format_quantity

__all__ = ["CHECKS"]

_TOLD_ELSEWHERE = (
    "ambiguous",
    "clipped",
    "misfit",
    "not-converged",
    "undetermined",
    "uneven decay",
    "window",
)


def _unsettled(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if not evidence.fit.converged:
        yield Sighting(seen=f"The fit of {evidence.fit.circuit} did not settle.")


def _misfit(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    fit = evidence.fit
    if fit.converged and not described(fit, evidence.capture, evidence.accuracy):
        said = [remark.text for remark in fit.remarks if remark.name in ("misfit", "residuals")]
        yield Sighting(seen=said[0] if said else f"{fit.circuit} does not describe the data.")


def _undetermined(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    names = evidence.fit.undetermined
    if not names:
        return
    limits = () if evidence.nominal is None else evidence.nominal.limits
    wanted = {limit.quantity for limit in limits} & set(names)
    yield Sighting(
        seen=f"The data do not determine {', '.join(names)}.", level="warn" if wanted else None
    )


def _set_aside(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    used = np.flatnonzero(evidence.fit.used)
    if evidence.fit.kind == "transient" or not used.size:
        return
    first, last = int(used[0]), int(used[-1])  # what lies outside was left out on purpose
    points = tuple(point for point in evidence.fit.set_aside if first < point < last)
    if points:
        share = len(points) / (last - first + 1)
        yield Sighting(
            seen=f"Of {last - first + 1} points {len(points)} were not used "
            f"({100 * share:.2g} %).",
            points=points,
            level="warn" if share > limit["share"] else None,
        )


def _correlated(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    fit = evidence.fit
    r = correlation(fit.covariance)
    with np.errstate(all="ignore"):
        relative = np.sqrt(np.maximum(fit.covariance.diagonal(), 0)) / np.abs(fit.values)
    rows, columns = np.triu_indices(len(fit.elements), k=1)
    for first, second in zip(rows.tolist(), columns.tolist(), strict=True):
        loose = min(relative[first], relative[second]) > limit["relative"]
        if loose and abs(r[first, second]) > limit["correlation"]:
            yield Sighting(
                seen=f"{fit.elements[first]} and {fit.elements[second]} can hardly be told apart "
                f"(correlation {r[first, second]:+.3f})."
            )


def _disagree(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for opinion in evidence.fit.opinions:
        if not opinion.agrees:
            own = evidence.fit.estimates.get(opinion.estimate.name)
            fitted = "" if own is None else f", the fit {format_estimate(own, 2)}"
            yield Sighting(
                seen=f"{opinion.method} gives {opinion.estimate.name} = "
                f"{format_estimate(opinion.estimate, 2)}{fitted}."
            )


def _ambiguous(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for remark in evidence.fit.remarks:
        if remark.name == "ambiguous":
            yield Sighting(seen=remark.text)


def _other_remarks(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    residuals_told = not evidence.fit.describes and evidence.fit.converged
    for remark in evidence.fit.remarks:
        told = remark.name in _TOLD_ELSEWHERE or (remark.name == "residuals" and residuals_told)
        if not told:
            yield Sighting(seen=remark.text, points=remark.points)


def _low_q(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    fit = evidence.fit
    q = fit.estimates.get("Q")
    if fit.circuit != "tank" or q is None or q.value >= limit["q"]:
        return
    if q.value <= 1:
        yield Sighting(seen=f"At Q = {q.value:.2g} the phase of a tank never passes zero.")
        return
    zero = math.sqrt(1 - 1 / q.value**2)
    peak = math.sqrt(math.sqrt(1 + 2 / q.value**2) - 1 / q.value**2)
    yield Sighting(
        seen=f"At Q = {q.value:.2g} zero phase lies {100 * (1 - zero):.2g} % below f0 and the "
        f"greatest |Z| {100 * (1 - peak):.2g} % below it."
    )


def _limits_of(evidence: Evidence, *names: str) -> Iterator[tuple[Limit, float]]:
    nominal = evidence.nominal
    if nominal is None:
        return
    for limit in nominal.limits:
        at = judged_at(nominal, limit)
        if limit.quantity in names and at is not None:
            yield limit, at


def _near_self_resonance(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    own = evidence.fit.estimates.get("f0")
    if evidence.fit.circuit != "coil" or own is None:
        return
    for _, at in _limits_of(evidence, "L"):
        share = at / own.value
        place = f"{format_quantity(at, 'Hz')} is {share:.2g} of the self-resonance"
        if share >= 1:
            yield Sighting(
                seen=f"{place}: the coil is capacitive there and has no inductance to be read.",
                level="warn",
            )
        elif share >= limit["note"]:
            excess = 100 * (1 / (1 - share**2) - 1)
            yield Sighting(
                seen=f"{place}: a meter reads {excess:.2g} % more than the L of the coil itself.",
                level="warn" if share >= limit["warn"] else None,
            )


def _mostly_resistive(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.fit.circuit not in ("coil", "inductor") or not evidence.fit.converged:
        return
    for entry, at in _limits_of(evidence, "L", "Q"):
        q = quantity(evidence.fit, "Q", at)
        if q is not None and q.value < limit["q"]:
            yield Sighting(
                seen=f"At {format_quantity(at, 'Hz')}, where {entry.quantity} is limited, Q is "
                f"{q.value:.2g}."
            )
            return


def _q_beyond_phase(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    phase, fit = None if evidence.accuracy is None else evidence.accuracy.phase, evidence.fit
    z = fit.fitted[fit.used]
    if phase is None or not phase.bound or fit.circuit not in ("coil", "inductor", "capacitor"):
        return
    accuracy = math.degrees(phase.bound)
    q = float(np.max(np.abs(z.imag) / np.maximum(z.real, 1e-300), initial=0.0))
    error = q * math.radians(accuracy)
    if error > limit["relative"]:
        most = limit["relative"] / math.radians(accuracy)
        yield Sighting(
            seen=f"{accuracy:.3g}° of phase accuracy makes {100 * error:.2g} % at Q = {q:.3g}; "
            f"up to Q = {most:.2g} it is within {100 * limit['relative']:.0f} %."
        )


def _model_open(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture, reading = evidence.capture, evidence.reading
    asked = () if reading is None else reading.questions
    if not isinstance(capture, Sweep) or all(question.name != "model" for question in asked):
        return
    z = capture.impedance
    lossy = np.abs(z.imag) < limit["q"] * np.abs(z.real)
    if np.count_nonzero(lossy) > limit["share"] * lossy.size:
        least = float(np.min(np.abs(z.imag) / np.maximum(np.abs(z.real), 1e-300)))
        yield Sighting(
            seen="The file does not say whether its pair is that of the series or of the "
            f"parallel equivalent circuit, and X/R goes down to {least:.2g}.",
            points=tuple(int(point) for point in np.flatnonzero(lossy)),
        )


_TANK = (
    "two-terminal network theory: zero phase at f0 sqrt(1 - 1/Q^2), greatest |Z| close above it"
)

CHECKS = (
    Check(
        id="fit-unsettled",
        level="stop",
        condition="the fit did not reach an optimum",
        text="Its values are a rough guess.",
        advice="Choose another circuit, leave bad points out, or measure again.",
        look=_unsettled,
    ),
    Check(
        id="fit-misses-data",
        level="stop",
        condition="the deviations from the fitted curve are neither noise nor within the stated "
        "accuracy of the instrument",
        text="Values and uncertainties of a circuit that is not that of the part mean little.",
        advice="Look at the residuals; choose another circuit or a narrower band.",
        look=_misfit,
    ),
    Check(
        id="not-determined",
        level="note",
        condition="the uncertainty of a quantity is so large that no value is given (a warning "
        "where the design limits it)",
        text="No value is shown rather than a wrong one.",
        advice="Sweep where the quantity shows itself, or state a known element.",
        look=_undetermined,
    ),
    Check(
        id="points-left-out",
        level="note",
        condition="points of the capture were not used (a warning above 10 %)",
        text="They are marked in the plot.",
        advice="See whether they have a cause: a loose clip, a range change, a disturbance.",
        thresholds={"share": 0.10},
        look=_set_aside,
    ),
    Check(
        id="elements-correlated",
        level="note",
        condition="two elements are correlated above 0.98, and neither is known to 2 %",
        text="An error in one is made up by the other: their combination is sound, each alone is "
        "not.",
        advice="Widen the sweep, or state one of them from another measurement.",
        source="JCGM 100:2008, 5.2.2 (correlated estimates); the thresholds are common practice",
        thresholds={"correlation": 0.98, "relative": 0.02},
        look=_correlated,
    ),
    Check(
        id="methods-disagree",
        level="warn",
        condition="an independent method gives another value than the fit",
        text="One of the two is disturbed.",
        advice="Look at the residuals around the resonance before using either value.",
        look=_disagree,
    ),
    Check(
        id="circuit-ambiguous",
        level="note",
        condition="another circuit describes the data as well",
        text="The values depend on which one is right.",
        advice="Name the circuit if you know it, or sweep a wider band.",
        look=_ambiguous,
    ),
    Check(
        id="remark-of-the-fit",
        level="note",
        condition="the fit has said something that no other check tells",
        text="",
        advice="",
        look=_other_remarks,
    ),
    Check(
        id="low-q-resonance",
        level="note",
        condition="a tank has Q below 10",
        text="Its resonance is then not one frequency; f0 here is 1 / (2 pi sqrt(L C)).",
        advice="State which definition is meant when comparing with another instrument.",
        source=_TANK,
        thresholds={"q": 10},
        look=_low_q,
    ),
    Check(
        id="near-self-resonance",
        level="note",
        condition="L is limited at a frequency above 0.1 of the coil's self-resonance (a warning "
        "above 0.22)",
        text="The value judged is that of the coil without its stray capacitance.",
        advice="State which of the two the design means, or measure below a tenth of the "
        "self-resonance.",
        source="L of a coil with parallel capacitance reads L / (1 - (f / SRF)^2); network theory",
        thresholds={"note": 0.1, "warn": 0.22},
        look=_near_self_resonance,
    ),
    Check(
        id="mostly-resistive",
        level="warn",
        condition="Q of a coil is below 1 where L or Q is limited",
        text="A small error of phase is then a large error of inductance.",
        advice="Measure at a higher frequency.",
        thresholds={"q": 1},
        look=_mostly_resistive,
    ),
    Check(
        id="q-beyond-phase-accuracy",
        level="warn",
        condition="Q comes from the phase alone, and times the stated phase accuracy exceeds 10 %",
        text="dQ / Q = Q dtheta: such a Q is only known to be large.",
        advice="Take Q from a resonance with a good capacitor, or from a ring-down.",
        thresholds={"relative": 0.10},
        look=_q_beyond_phase,
    ),
    Check(
        id="series-or-parallel-open",
        level="stop",
        condition="the equivalent circuit of the file's columns is not stated, and X/R is below "
        "10 at more than 5 % of the points",
        text="Lp = Ls (1 + 1/Q^2): 1 % at Q = 10, 11 % at Q = 3.",
        advice="Answer the question of the reader: series or parallel.",
        source="series and parallel equivalents of one impedance; network theory",
        thresholds={"q": 10, "share": 0.05},
        look=_model_open,
    ),
)
