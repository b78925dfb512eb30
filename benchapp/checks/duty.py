"""Checks of the part at work: stress on the capacitor, drive band, side of the resonance."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from benchapp.checks.value import Check, Evidence, Sighting
from benchapp.tank import StressLimit, judge_stress
from benchapp.units import format_quantity

__all__ = ["CHECKS"]

_CLASS_TWO = re.compile(r"\b([XYZ][4-9][PRSTUV]|class[ -]?(2|II))\b", re.IGNORECASE)
_AC_VOLTAGE = "rms voltage at the frequency"


def _limits(evidence: Evidence) -> tuple[StressLimit, ...]:
    duty, ratings = evidence.facts.duty, evidence.facts.ratings
    return () if duty is None or ratings is None else judge_stress(duty, ratings).limits


def _amount(unit: str, value: float | None) -> str:
    """Write a value of a limit; dV/dt in the unit of data sheets."""
    if unit == "V/s":
        return f"{(value or 0.0) / 1e6:.4g} V/µs"
    return format_quantity(value or 0.0, unit, digits=4)


def _overstressed(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for each in _limits(evidence):
        if each.use is not None and each.use > limit["use"]:
            seen, allowed = (_amount(each.unit, value) for value in (each.seen, each.allowed))
            over = "beyond what is" if each.use > 1 else "close to what is"
            yield Sighting(
                seen=f"The {each.name} of the capacitor, {seen}, is {over} allowed ({allowed})."
            )


def _no_curve(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    duty, ratings = evidence.facts.duty, evidence.facts.ratings
    if duty is None or duty.frequency <= limit["frequency"]:
        return
    if ratings is None:
        yield Sighting(seen="No rating of the capacitor is known.")
        return
    for each in _limits(evidence):
        if each.name == _AC_VOLTAGE and each.outcome == "cannot be judged":
            known = "a DC rating" if ratings.dc_volt else "no AC rating"
            known = "a rating for mains frequency" if ratings.mains_volt else known
            known = "a curve that ends elsewhere" if ratings.curve else known
            yield Sighting(
                seen=f"For AC at {format_quantity(duty.frequency, 'Hz')} the capacitor has "
                f"{known} only."
            )


def _class_two(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    words = evidence.facts.dielectric
    if words and _CLASS_TWO.search(words):
        yield Sighting(seen=f"The dielectric of the capacitor is {words}.")


def _cold(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.facts.duty is not None and evidence.facts.duty_q_loaded is False:
        yield Sighting(seen="The duty of the capacitor was worked out with the Q without load.")


def _band(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    facts, f0 = evidence.facts, evidence.fit.estimates.get("f0")
    if facts.band is None or f0 is None:
        return
    spread = max((facts.f0_tolerance or 0.0) * f0.value, 2 * (f0.u or 0.0))
    low, high = facts.band
    below, above = low - (f0.value - spread), f0.value + spread - high
    if below <= 0 and above <= 0:
        return
    outside = max(below, 0.0) + max(above, 0.0)
    share = min(outside / (2 * spread), 1.0) if spread else 1.0
    yield Sighting(
        seen=f"f0 {format_quantity(f0.value, 'Hz', digits=5)} ± "
        f"{format_quantity(spread, 'Hz', digits=2)} reaches beyond the band "
        f"{format_quantity(low, 'Hz', digits=5)} to {format_quantity(high, 'Hz', digits=5)}; "
        f"spread evenly, {100 * share:.2g} % lie outside."
    )


def _side(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    drive, f0 = evidence.facts.drive_frequency, evidence.fit.estimates.get("f0")
    if drive is not None and f0 is not None and 0 < drive < f0.value:
        yield Sighting(
            seen=f"The drive at {format_quantity(drive, 'Hz', digits=5)} lies below the resonance "
            f"at {format_quantity(f0.value, 'Hz', digits=5)}."
        )


CHECKS = (
    Check(
        id="capacitor-overstressed",
        level="warn",
        condition="a stated duty of the capacitor is above 80 % of a stated rating: peak with DC, "
        "rms at the frequency, current, dV/dt, heat",
        text="Such capacitors fail in service, and some with fire.",
        advice="Take one with a higher rating at this frequency, share the load, or lower Q.",
        thresholds={"use": 0.8},
        look=_overstressed,
    ),
    Check(
        id="capacitor-rating-missing",
        level="warn",
        condition="above 1 kHz no rating for AC at the frequency of the duty is stated",
        text="A DC or mains rating says nothing of heating at this frequency: not judged.",
        advice="Ask the maker for the curve of AC voltage over frequency.",
        thresholds={"frequency": 1e3},
        look=_no_curve,
    ),
    Check(
        id="capacitor-class-two",
        level="warn",
        condition="the stated dielectric is a class 2 ceramic, such as X7R, X5R or Y5V",
        text="Its capacitance moves with voltage, temperature and age, and it is lossy.",
        advice="Use polypropylene film or class 1 ceramic in a tank.",
        source="IEC 60384-1 and -9 (class 2 dielectrics); from memory",
        look=_class_two,
    ),
    Check(
        id="duty-without-load",
        level="note",
        condition="the duty of the capacitor is stated to come from the Q without load",
        text="In use the voltage is lower; once the load is removed it becomes real.",
        advice="Look at both cases, and let the rating bear the one without load.",
        look=_cold,
    ),
    Check(
        id="band-edge",
        level="warn",
        condition="f0 with its stated tolerance, or with U, reaches beyond the stated band",
        text="Part of the units will not resonate within it.",
        advice="Trim C, narrow the tolerances, or centre the design.",
        look=_band,
    ),
    Check(
        id="drive-below-resonance",
        level="note",
        condition="the stated drive frequency lies below f0",
        text="A series tank is capacitive there, and a bridge switches hard.",
        advice="Drive from above the resonance, or lower f0.",
        look=_side,
    ),
)
