"""Axis ticks at round numbers, with labels in engineering notation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchapp.units import format_quantity

__all__ = ["Axis", "linear_axis", "log_axis"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A range and its labelled ticks; on a logarithmic axis all numbers are log10 of the value."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]

    def fraction(self, position: float) -> float:
        """Give where a position lies in the range, 0 at the low end and 1 at the high end."""
        return (position - self.low) / (self.high - self.low)


def _step(span: float, most: int) -> float:
    """Give the smallest of 1, 2, 5 times a power of ten that needs at most ``most`` steps."""
    raw = span / most
    decade: float = 10.0 ** math.floor(math.log10(raw))
    return next(k * decade for k in (1, 2, 5, 10) if k * decade >= raw * (1 - 1e-9))


def linear_axis(low: float, high: float, unit: str, *, most: int = 6) -> Axis:
    """Make a linear axis with at most ``most`` + 1 ticks inside the range.

    A range without width is widened by half its value (or by 1) on both sides.
    """
    if not low < high:
        half = 0.5 * abs(low) or 1.0
        low, high = low - half, high + half
    step = _step(high - low, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    digits = max(1, math.ceil(math.log10(max(abs(low), abs(high)) / step)) + 1)
    ticks = []
    for index in range(first, last + 1):
        value = index * step
        text = "0" if index == 0 else format_quantity(value, unit, digits=digits, padded=False)
        ticks.append((value, text))
    return Axis(low=low, high=high, ticks=tuple(ticks))


def log_axis(low: float, high: float, unit: str, *, most: int = 7) -> Axis:
    """Make a logarithmic axis; ``low`` and ``high`` are values above zero, in ``unit``."""
    start, end = math.log10(low), math.log10(high)
    if end - start < 0.05:
        start, end = start - 0.025, end + 0.025
    decades = range(math.floor(start), math.ceil(end) + 1)
    mantissas = (
        (1,) if end - start > 2 else (1, 2, 5) if end - start > 0.7 else tuple(range(1, 10))
    )
    places = [(math.log10(m) + decade, m * 10.0**decade) for decade in decades for m in mantissas]
    inside = [(at, value) for at, value in places if start - 1e-9 <= at <= end + 1e-9]
    every = max(1, math.ceil(len(inside) / most))
    ticks = tuple(
        (at, format_quantity(value, unit, digits=2, padded=False)) for at, value in inside[::every]
    )
    return Axis(low=start, high=end, ticks=ticks)
