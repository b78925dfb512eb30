"""A reading in words, the same on screen, on paper and at the command line."""

from __future__ import annotations

import re

from benchapp.marking.preferred import Combination
from benchapp.marking.value import Rating, Reading
from benchapp.units import format_quantity

__all__ = ["cautions", "describe", "describe_pair", "plain"]


def plain(value: float, unit: str) -> str:
    """Write a nominal value without trailing zeros: ``4.7 nF``, ``100 kΩ``."""
    text = format_quantity(value, unit, digits=5)
    return re.sub(r"\.?0+(?= |$)", "", text) if "." in text else text


def describe(reading: Reading) -> str:
    """Say in one line what a reading is.

    Parameters
    ----------
    reading : Reading

    Returns
    -------
    str
        For example ``capacitor 100 nF -20/+80 %, 630 V DC, polypropylene, class X2``.
    """
    parts = [reading.kind if reading.value is None else _value(reading)]
    parts += [_rating(rating) for rating in reading.ratings]
    if reading.dielectric is not None:
        parts.append(reading.dielectric.name)
    if reading.safety_class is not None:
        parts.append(f"class {reading.safety_class}")
    return ", ".join(parts)


def _value(reading: Reading) -> str:
    text = f"{reading.kind} {plain(reading.value or 0.0, reading.unit)}"
    low, high = reading.tolerance_low, reading.tolerance_high
    if reading.absolute_tolerance is not None:
        return f"{text} ±{plain(reading.absolute_tolerance, reading.unit)}"
    if low is None or high is None:
        return text
    if low == -high:
        return f"{text} ±{100 * high:g} %"
    return f"{text} {100 * low:+g}/{100 * high:+g} %"


def _rating(rating: Rating) -> str:
    return f"{rating.volt:g} V {rating.kind.upper()}"


def cautions(readings: tuple[Reading, ...]) -> tuple[str, ...]:
    """Give what to bear in mind about these readings, at most one sentence of each sort."""
    found = []
    values = {(entry.kind, entry.value) for entry in readings if entry.value is not None}
    if len(values) > 1:
        found.append("More than one value is possible: measure the part before you rely on one.")
    ratings = [rating for entry in readings for rating in entry.ratings]
    if any(rating.kind == "dc" for rating in ratings):
        found.append(
            "A DC rating is no AC rating: for a tank, ask the maker for the AC voltage over "
            "frequency."
        )
    if any(rating.kind == "ac" for rating in ratings):
        found.append(
            "An AC rating holds at mains frequency: at higher frequencies the capacitor heats up "
            "at a lower voltage. Ask the maker for the AC voltage over frequency."
        )
    if any(entry.dielectric is not None and entry.dielectric.class_2 for entry in readings):
        found.append("A class 2 ceramic changes with voltage and temperature: not for a tank.")
    return tuple(found)


def describe_pair(pair: Combination, unit: str) -> str:
    """Say in one line what a pair of parts is and how far it is from what was wanted."""
    return (
        f"{plain(pair.larger, unit)} and {plain(pair.smaller, unit)} in {pair.connection}: "
        f"{plain(pair.value, unit)} ({100 * pair.error:+.3g} %)"
    )
