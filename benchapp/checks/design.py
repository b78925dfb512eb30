"""Checks of the result against the design: slips of unit, factors, conditions, decision."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from benchapp.checks.value import Check, Evidence, Sighting
from benchapp.fit import quantity
from benchapp.nominal import Limit, LimitVerdict, judged_at, stated_conditions
from benchapp.units import format_quantity

__all__ = ["CHECKS"]

_RATIOS = ("Q", "D", "theta")  # pure numbers and angles have no prefix to slip
_SQUARE_ROOTS = ("f0", "SRF", "Z_tank")  # follow the square root of L or C
_FACTORS = (
    (2.0, "a setting for 50 ohm or high impedance, or two capacitors taken as one"),
    (math.sqrt(2), "peak and rms values, or the wrong one of two half-power points"),
    (2 * math.sqrt(2), "a peak-to-peak voltage taken as rms"),
    (math.sqrt(3), "decibels of voltage and of power"),
    (math.pi, "periods of a ring-down counted to 1/e and taken as Q"),
    (2 * math.pi, "frequency and angular frequency"),
    (20 / math.log(10), "decibel and neper"),
    (10.0, "the factor of a probe"),
)
_COPPER = 0.00393


def _targets(evidence: Evidence) -> Iterator[tuple[Limit, float, float, float]]:
    """Give each limit with its lower end, its upper end and the value measured."""
    nominal = evidence.nominal
    if nominal is None or not evidence.fit.converged:
        return
    for limit in nominal.limits:
        centre = limit.nominal
        low, high = limit.lower or centre, limit.upper or centre
        found = quantity(evidence.fit, limit.quantity, judged_at(nominal, limit))
        if found is not None and found.value > 0 and low and high:
            yield limit, low, high, found.value


def _unit_slip(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for entry, low, high, value in _targets(evidence):
        if entry.quantity in _RATIOS or low * 0.1 < value < high * 10:
            continue
        powers = [10.0**n for n in (-9, -6, -3, 3, 6, 9)]
        if entry.quantity in _SQUARE_ROOTS:
            powers += [10.0**n for n in (-1.5, 1.5)]
        for power in powers:
            if low * (1 - limit["within"]) <= value / power <= high * (1 + limit["within"]):
                yield Sighting(seen=_ratio_text(entry, value, power))


def _ratio_text(entry: Limit, value: float, power: float) -> str:
    size = power if power > 1 else 1 / power
    word = "times" if power > 1 else "times below"
    return (
        f"{entry.quantity} is {format_quantity(value, entry.unit)}, "
        f"{size:,.4g} {word} what the design asks."
    )


def _familiar_factor(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for entry, low, high, value in _targets(evidence):
        if entry.nominal is None or low <= value <= high:
            continue
        ratio = value / entry.nominal
        for factor, cause in _FACTORS:
            if abs(abs(math.log(ratio)) - math.log(factor)) <= limit["within"]:
                side = "above" if ratio > 1 else "below"
                yield Sighting(
                    seen=f"{entry.quantity} is {factor:.3g} times {side} nominal "
                    f"({format_quantity(value, entry.unit)}): as if by {cause}."
                )
                break


def _contradictions(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.nominal is not None:
        for text in stated_conditions(evidence.nominal, evidence.capture).contradictions:
            yield Sighting(seen=f"{text[:1].upper()}{text[1:]}.")


def _unstated(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.nominal is None:
        return
    missing = stated_conditions(evidence.nominal, evidence.capture).unstated
    if missing:
        yield Sighting(seen=f"The design states {', '.join(missing)}; the capture does not say.")


def _different(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.nominal is not None:
        for text in stated_conditions(evidence.nominal, evidence.capture).different:
            yield Sighting(seen=f"Other {text}.")


def _warm_copper(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    nominal = evidence.nominal
    if nominal is None or not {"ESR", "DCR", "R", "Q"} & {
        each.quantity for each in nominal.limits
    }:
        return
    wanted = nominal.conditions.temperature_celsius
    found = evidence.capture.conditions.temperature_celsius
    if wanted is not None and found is not None and abs(found - wanted) > limit["kelvin"]:
        change = 100 * _COPPER * (found - wanted)
        yield Sighting(
            seen=f"The capture was taken {found - wanted:+.1f} K from the design's temperature; "
            f"copper alone changes by {change:+.1f} %."
        )


def _stack_up(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    nominal = evidence.nominal
    limits = {} if nominal is None else {each.quantity: each for each in nominal.limits}
    bounds = [
        (limits[name].lower, limits[name].upper) if name in limits else (None, None)
        for name in ("L", "C", "f0")
    ]
    (l_low, l_high), (c_low, c_high), (least, most) = bounds
    if not (l_low and l_high and c_low and c_high and least and most):
        return
    low, high = (0.5 / math.pi / math.sqrt(x) for x in (l_high * c_high, l_low * c_low))
    if low < least or high > most:
        reach, asked = (
            " to ".join(format_quantity(f, "Hz", digits=5) for f in pair)
            for pair in ((low, high), (least, most))
        )
        yield Sighting(
            seen=f"L and C within their limits let f0 lie from {reach}; asked is {asked}."
        )


def _judged(evidence: Evidence) -> tuple[LimitVerdict, ...]:
    return () if evidence.verdict is None else evidence.verdict.limits


def _other_circuit(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    nominal, fit = evidence.nominal, evidence.fit
    if nominal is None or nominal.circuit == "auto" or fit.kind != "sweep":
        return
    if fit.circuit != nominal.circuit:
        yield Sighting(
            seen=f"The capture was fitted as {fit.circuit}, the design is a {nominal.circuit}."
        )


def _wide_uncertainty(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for entry in _judged(evidence):
        ratio = entry.uncertainty_ratio
        if ratio is None or ratio >= limit["enough"]:
            continue
        seen = f"The limits of {entry.limit.quantity} are {ratio:.2g} times as wide as ± U."
        if ratio < limit["least"]:
            seen += " This measurement is not adequate for this tolerance."
        yield Sighting(seen=seen)


def _no_guard(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.nominal is not None and evidence.nominal.decision.guard == 0:
        yield Sighting(seen="The design has no guard band.")


def _scatter_only(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.verdict is not None and evidence.verdict.U_holds == "scatter":
        stated = evidence.accuracy is not None and bool(evidence.accuracy.stated)
        what = "says nothing that a capture of this kind rests on" if stated else "is not stated"
        yield Sighting(seen=f"The accuracy of the instrument {what}.")


CHECKS = (
    Check(
        id="unit-slip",
        level="stop",
        condition="a value lies a factor 10^3, 10^6 or 10^9 outside its limits (a resonance or "
        "a characteristic impedance also 31.6), within 10 %",
        text="A prefix was probably misread or mistyped: nF for µF, µH for mH, kHz for Hz.",
        advice="Check the units in the file's headings and in the design, then read it again.",
        thresholds={"within": 0.10},
        look=_unit_slip,
    ),
    Check(
        id="familiar-factor",
        level="warn",
        condition="a value outside its limits is 2, sqrt(2), 2.83, sqrt(3), pi, 2 pi, 8.69 or 10 "
        "times above or below nominal, within 2 %",
        text="A faulty part seldom hits such a factor.",
        advice="Rule that cause out before calling the part bad. Nothing was corrected.",
        thresholds={"within": 0.02},
        look=_familiar_factor,
    ),
    Check(
        id="conditions-contradict",
        level="stop",
        condition="level, bias or temperature stated by the capture lie outside what the design "
        "accepts (level and bias ±20 %, temperature ±5 K unless it says otherwise)",
        text="Inductance and loss depend on them, so the limits do not apply to this capture.",
        advice="Measure again under the conditions of the design.",
        look=_contradictions,
    ),
    Check(
        id="conditions-not-stated",
        level="note",
        condition="the design states a condition that the capture does not",
        text="The verdict holds only if they were the same.",
        advice="Confirm them, and let the instrument or the file state them next time.",
        look=_unstated,
    ),
    Check(
        id="set-up-differs",
        level="note",
        condition="fixture or surroundings are named otherwise than in the design",
        text="A clip, a plate or metal nearby can move L by more than its tolerance.",
        advice="Check that both names mean the same set-up.",
        look=_different,
    ),
    Check(
        id="copper-temperature",
        level="note",
        condition="temperatures of capture and design differ by more than 5 K, and a loss is "
        "limited",
        text="Resistance and Q move with the temperature of the winding.",
        advice="State the temperature beside the value, or let the part reach that of the design.",
        source="IEC 60028: annealed copper, 0.00393 per kelvin at 20 °C",
        thresholds={"kelvin": 5.0},
        look=_warm_copper,
    ),
    Check(
        id="circuit-not-of-design",
        level="warn",
        condition="a sweep was fitted with another circuit than the design names",
        text="L, R and Q of another circuit are other quantities, or those of another part.",
        advice="Check that the whole part was connected, or name the right circuit in the design.",
        look=_other_circuit,
    ),
    Check(
        id="uncertainty-too-wide",
        level="warn",
        condition="the width of two limits is less than 4 times 2 U",
        text="Many good parts then fall into the guard band.",
        advice="More averages, a better fixture or another method; below a ratio of 2 use another "
        "instrument.",
        source="JCGM 106:2012, 7.6 (measurement capability); the ratios are common practice",
        thresholds={"enough": 4.0, "least": 2.0},
        look=_wide_uncertainty,
    ),
    Check(
        id="tolerances-exceed-resonance",
        level="note",
        condition="parts that keep the limits of L and C can miss the limits of f0",
        text="Each of L and C moves f0 by half of its own change.",
        advice="Narrow L or C, sort them in pairs, or judge the tank by f0 alone.",
        source="f0 = 1 / (2 pi sqrt(L C)), worst case of both tolerances",
        look=_stack_up,
    ),
    Check(
        id="accuracy-not-stated",
        level="note",
        condition="a verdict is given without the accuracy of the instrument",
        text="U holds the scatter of this sweep only; an error common to all points is not in it.",
        advice="State the accuracy of instrument and fixture in an accuracy file.",
        source="JCGM 100:2008, 4.3 (type B evaluation)",
        look=_scatter_only,
    ),
    Check(
        id="no-guard-band",
        level="note",
        condition="the design decides without a guard band",
        text="A part on its limit is then accepted in one of two cases.",
        advice="Agree on the decision rule with whoever relies on it; guard = 1 is usual.",
        source="JCGM 106:2012, 8.2 (simple acceptance)",
        look=_no_guard,
    ),
)
