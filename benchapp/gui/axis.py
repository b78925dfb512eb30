"""Plot axes with engineering ticks that never overlap, on linear and on logarithmic scales."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import pyqtgraph as pg

from benchapp.gui.words import decimal_mark
from benchapp.units import format_quantity, unit_symbol

__all__ = ["EngineeringAxis", "linear_ticks", "log_ticks", "prefixed", "tick_words"]

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_DEGREES = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0, 180.0)
# Positions within a decade, from few to many.
_DECADES = ((1.0,), (1.0, 3.0), (1.0, 2.0, 5.0), (1.0, 1.5, 2.0, 3.0, 5.0, 7.0))
_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}


def linear_ticks(low: float, high: float, most: int, steps: Sequence[float] = ()) -> list[float]:
    """Give at most ``most`` round values from ``low`` to ``high``.

    ``steps``, rising, are distances that are taken before round decimal ones where one fits.
    """
    if not high > low or most < 1:
        return []
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    round_steps = [power * one for one in _STEPS]
    if steps and steps[0] <= rough <= steps[-1]:
        round_steps = list(steps)
    step = next(one for one in round_steps if one >= rough * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [0.0 if k == 0 else k * step for k in range(first, last + 1)]


def log_ticks(low: float, high: float, most: int) -> list[float]:
    """Give at most ``most`` round values from ``low`` to ``high`` (both above 0), evenly in log.

    Within less than a decade they are spaced linearly, over many decades some are left out.
    """
    if not 0 < low < high or most < 1:
        return []
    start, stop = math.floor(math.log10(low)), math.ceil(math.log10(high))
    found: list[float] = []
    for mantissas in _DECADES:
        ticks = [
            one * 10.0**power
            for power in range(start, stop + 1)
            for one in mantissas
            if low * (1 - 1e-9) <= one * 10.0**power <= high * (1 + 1e-9)
        ]
        if len(ticks) <= most:
            found = max(found, ticks, key=len)
    if len(found) < 3 and high < 10 * low:
        even = linear_ticks(low, high, most)
        return even if len(even) > len(found) else found
    if not found:
        stride = math.ceil((stop - start + 1) / most)
        found = [
            10.0**power for power in range(start, stop + 1, stride) if low <= 10.0**power <= high
        ]
    return found


def prefixed(largest: float) -> tuple[float, str]:
    """Give the power of 1000 and its prefix that put ``largest`` between 1 and 1000."""
    if not largest > 0:
        return 1.0, ""
    power = 3 * math.floor(math.log10(largest) / 3 + 1e-9)
    power = min(max(power, min(_PREFIXES)), max(_PREFIXES))
    return 10.0**power, _PREFIXES[power]


def tick_words(values: Sequence[float], unit: str, *, with_unit: bool, scale: float) -> list[str]:
    """Write tick values: each with its own prefix and unit, or bare in units of ``scale``."""
    mark = decimal_mark()
    if with_unit:
        finest = min((abs(b - a) for a, b in pairwise(values)), default=1.0)
        return [_short(value, unit, finest, mark) for value in values]
    return [f"{value / scale:.7g}".replace(".", mark).replace("-", "−") for value in values]


def _short(value: float, unit: str, step: float, mark: str) -> str:
    """Write ``value`` with as many digits as tell it from its neighbours, and no more."""
    if value == 0:
        return "0" if unit_symbol(unit) != "°" else "0°"
    digits = max(1, math.floor(math.log10(abs(value))) - math.floor(math.log10(step)) + 2)
    text = format_quantity(value, unit, digits=min(digits, 7))
    head, blank, tail = text.partition(" ")
    if not tail and head.endswith("°"):
        head, tail = head[:-1], "°"
    if "." in head:
        head = head.rstrip("0").rstrip(".")
    return f"{head}{blank}{tail}".replace(".", mark).replace("-", "−")


class EngineeringAxis(pg.AxisItem):
    """An axis whose ticks are round, far enough apart, and written with prefixes.

    Parameters
    ----------
    orientation : {'left', 'bottom'}
    unit : str
        Plain unit of the values, as in `benchapp.units`.
    with_unit : bool
        Write the unit at every tick; otherwise ticks are bare and `scale_prefix` says in which
        prefixed unit, for the axis label.
    """

    def __init__(self, orientation: str, unit: str = "1", *, with_unit: bool = True) -> None:
        super().__init__(orientation)
        self.quantity_unit = unit
        self._with_unit = with_unit
        self._scale = 1.0
        self.enableAutoSIPrefix(False)
        self.setStyle(tickLength=4, hideOverlappingLabels=True if orientation == "bottom" else 12)

    def set_scale_by(self, largest: float) -> str:
        """Choose the prefix for bare ticks by the largest value; give the prefixed unit."""
        self._scale, prefix = prefixed(largest)
        self.picture = None
        self.update()
        return f"{prefix}{unit_symbol(self.quantity_unit)}"

    def tickValues(self, minVal: float, maxVal: float, size: float) -> list[tuple]:
        """Give labelled ticks at round places, as many as the length has room for."""
        room = 30 if self.orientation in ("left", "right") else 84
        most = max(3, int(size / room))
        if self.logMode:
            values = log_ticks(10.0**minVal, 10.0**maxVal, most)
            return [(1.0, [math.log10(value) for value in values])]
        degrees = self.quantity_unit == "deg"
        values = linear_ticks(minVal, maxVal, most, _DEGREES if degrees else ())
        return [(values[1] - values[0] if len(values) > 1 else 1.0, values)]

    def tickStrings(self, values: Sequence[float], _scale: float, _spacing: float) -> list[str]:
        """Write the ticks."""
        plain = [10.0**value for value in values] if self.logMode else list(values)
        return tick_words(plain, self.quantity_unit, with_unit=self._with_unit, scale=self._scale)
