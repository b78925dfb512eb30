"""Preferred series E3 to E192: membership, the nearest value, the best pair of two parts."""

from __future__ import annotations

import bisect
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal

from benchapp.errors import QuantityError, UsageError
from benchapp.marking.value import KINDS, Kind

__all__ = [
    "SERIES",
    "TOLERANCE_OF",
    "Combination",
    "Nearest",
    "best_pairs",
    "nearest",
    "series_of",
]

_E24 = (
    *(10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30),
    *(33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91),
)
_ODD_ONE = {919: 920}


def _powers(steps: int) -> tuple[int, ...]:
    rounded = (round(100 * 10 ** (step / steps)) for step in range(steps))
    return tuple(_ODD_ONE.get(value, value) for value in rounded)


SERIES: Mapping[str, tuple[int, ...]] = MappingProxyType(
    {
        "E3": _E24[::8],
        "E6": _E24[::4],
        "E12": _E24[::2],
        "E24": _E24,
        "E48": _powers(48),
        "E96": _powers(96),
        "E192": _powers(192),
    }
)
"""Name to its values: two digits up to E24, three from E48 (IEC 60063; 920 is its exception)."""

TOLERANCE_OF: Mapping[str, float | None] = MappingProxyType(
    {"E3": None, "E6": 0.2, "E12": 0.1, "E24": 0.05, "E48": 0.02, "E96": 0.01, "E192": 0.005}
)
"""The tolerance that a series is made for, a fraction; E3 is for anything wider than 20 %."""


@cache
def _thousandths(series: str) -> tuple[int, ...]:
    values = SERIES[series]
    return values if values[0] == 100 else tuple(10 * value for value in values)


def _known(series: str) -> str:
    name = series.upper()
    if name not in SERIES:
        raise UsageError(
            f"preferred series: must be one of {', '.join(SERIES)} (got '{series}').",
            hint="E12 is what most film and ceramic capacitors are stocked in.",
        )
    return name


def _positive(value: float) -> float:
    if not 0 < value < math.inf:
        raise QuantityError(
            f"wanted value: must be above zero and finite (got {value!r}).",
            hint="Give the value that the part or the pair shall have.",
        )
    return value


def _split(value: float) -> tuple[float, int]:
    """Give ``value`` as (mantissa from 100 up to 1000, power of ten)."""
    power = math.floor(math.log10(value)) - 2
    mantissa = float(f"{value:.12e}".split("e")[0]) * 100
    return mantissa, power


def _join(hundreds: int, power: int) -> float:
    return float(f"{hundreds}e{power}")


def series_of(value: float) -> str | None:
    """Name the coarsest preferred series that holds ``value`` (to 1 part in 10^6).

    Returns
    -------
    str or None
        None when no series holds it.
    """
    if not 0 < value < math.inf:
        return None
    mantissa, _ = _split(value)
    whole = round(mantissa)
    if abs(mantissa - whole) > 1e-6 * mantissa:
        return None
    return next((name for name in SERIES if whole in _thousandths(name)), None)


Connection = Literal["series", "parallel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """The preferred value nearest to a wanted one; ``error`` is (value - wanted)/wanted."""

    series: str
    value: float
    error: float


def nearest(wanted: float, series: str) -> Nearest:
    """Find the preferred value with the least relative error.

    Parameters
    ----------
    wanted : float
        In any unit, above zero.
    series : str
        ``E3`` to ``E192``.

    Returns
    -------
    Nearest

    Raises
    ------
    UsageError
        When there is no such series.
    QuantityError
        When ``wanted`` is not above zero and finite.
    """
    name = _known(series)
    value = min(_around(_positive(wanted), name), key=lambda near: abs(near - wanted))
    return Nearest(series=name, value=value, error=value / wanted - 1)


def _around(wanted: float, series: str) -> tuple[float, ...]:
    """Give the preferred values just below and just above ``wanted``."""
    values = _thousandths(series)
    mantissa, power = _split(wanted)
    above = bisect.bisect_left(values, mantissa - 1e-9 * mantissa)
    below = above - 1
    return (
        _join(values[below], power - (below < 0)),
        _join(values[above % len(values)], power + above // len(values)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """Two parts that together come near a wanted value.

    ``larger_voltage`` and ``larger_current`` are the shares (0 to 1) of voltage and current that
    the larger-valued part takes; the smaller one takes the rest where the share is not common to
    both (in series the current is, in parallel the voltage is: then the share is 1 for each).
    """

    kind: Kind
    connection: Connection
    larger: float
    smaller: float
    value: float
    error: float
    larger_voltage: float
    smaller_voltage: float
    larger_current: float
    smaller_current: float

    @property
    def caution(self) -> str:
        """What the shares leave out, '' where they leave out nothing."""
        if self.kind == "capacitor" and self.connection == "series":
            return (
                "The shares hold for AC. A DC voltage divides by leakage, not by capacitance: "
                "fit balancing resistors. Each capacitor keeps its own charge: discharge both."
            )
        if self.kind == "inductor":
            return "Without coupling between the two: keep them apart or at right angles."
        return ""


def _adds(kind: Kind, connection: str) -> bool:
    return (kind == "capacitor") == (connection == "parallel")


def _combine(
    kind: Kind, connection: Connection, pair: tuple[float, float], wanted: float
) -> Combination:
    small, large = sorted(pair)
    total = small + large
    value = total if _adds(kind, connection) else small * large / total
    larger_share = large / total
    takes_more = larger_share if kind != "capacitor" else 1 - larger_share
    voltage = (takes_more, 1 - takes_more) if connection == "series" else (1.0, 1.0)
    current = (1.0, 1.0) if connection == "series" else (1 - takes_more, takes_more)
    return Combination(
        kind=kind,
        connection=connection,
        larger=large,
        smaller=small,
        value=value,
        error=value / wanted - 1,
        larger_voltage=voltage[0],
        smaller_voltage=voltage[1],
        larger_current=current[0],
        smaller_current=current[1],
    )


def best_pairs(
    wanted: float, series: str, kind: Kind, *, count: int = 5, span: int = 3
) -> tuple[Combination, ...]:
    """Find the pairs of preferred values, in series and in parallel, nearest to a wanted value.

    Parameters
    ----------
    wanted : float
        F, H or ohm, above zero.
    series : str
        ``E3`` to ``E192``.
    kind : {'capacitor', 'inductor', 'resistor'}
        Capacitors add in parallel, the others in series.
    count : int
        How many pairs to give, the least error first; of equal errors the more equal parts first.
    span : int
        How many decades the two parts may lie apart.

    Returns
    -------
    tuple of Combination

    Raises
    ------
    UsageError
        When there is no such series or kind.
    QuantityError
        When ``wanted`` is not above zero and finite.
    """
    name = _known(series)
    if kind not in KINDS:
        raise UsageError(
            f"kind of part: must be one of {', '.join(KINDS)} (got '{kind}').",
            hint="Capacitors add in parallel, inductors and resistors in series.",
        )
    _positive(wanted)
    found: dict[tuple[str, float, float], Combination] = {}
    connections: tuple[Connection, ...] = ("series", "parallel")
    for connection in connections:
        sums = _adds(kind, connection)
        for first in _candidates(wanted, name, span, below=sums):
            rest = wanted - first if sums else first * wanted / (first - wanted)
            for second in _around(rest, name):
                entry = _combine(kind, connection, (first, second), wanted)
                found[connection, entry.smaller, entry.larger] = entry
    ordered = sorted(
        found.values(), key=lambda pair: (round(abs(pair.error), 9), pair.larger / pair.smaller)
    )
    return tuple(ordered[:count])


def _candidates(wanted: float, series: str, span: int, *, below: bool) -> list[float]:
    """Give the first parts to try: below ``wanted`` where the two add, else above it."""
    _, power = _split(wanted)
    powers = range(power - span, power + 1) if below else range(power, power + span + 1)
    values = (_join(value, decade) for decade in powers for value in _thousandths(series))
    margin = 1e-9 * wanted
    return [
        value
        for value in values
        if (value < wanted - margin if below else value > wanted + margin)
    ]
