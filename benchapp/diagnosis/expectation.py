"""What a design lets expect of a good part: element values, and how far good parts scatter."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.fit import Fit, quantity
from benchapp.nominal import Limit, Nominal, judged_at

__all__ = ["NAMES", "Expectation", "Observation", "expectation", "observation"]

FloatArray = NDArray[np.float64]

NAMES = ("L", "C", "DC loss", "AC loss")
"""Ln of L and C, and the losses over the whole loss of a good part at the reference frequency."""

_PER_TOLERANCE = 3.0  # standard deviations in half a tolerance: a maker who just keeps it
_LEAST_SPREAD = 1e-3
_TWO_PI = 2 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class _Centre:
    """Where good parts lie, and the standard deviation of its logarithm."""

    value: float
    spread: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """Good parts of a design: None where the design does not say it.

    ``loss`` is the whole series resistance of the coil in ohm at ``frequency`` Hz, ``dc`` that at
    direct current; spreads are relative standard deviations.
    """

    frequency: float
    L: float
    L_spread: float
    C: float | None
    C_spread: float
    loss: float | None
    loss_spread: float
    dc: float | None
    dc_spread: float

    @property
    def q(self) -> float | None:
        """Reactance of the coil over its loss."""
        return None if self.loss is None else _TWO_PI * self.frequency * self.L / self.loss

    @property
    def dc_share(self) -> float:
        """Part of the loss that is there at direct current, one half where it is not known."""
        if self.loss is None or self.dc is None:
            return 0.5
        return min(max(self.dc / self.loss, 0.0), 1.0)


def _centre(limit: Limit | None) -> _Centre | None:
    if limit is None or not limit.lower or not limit.upper:
        return None
    middle = limit.nominal or math.sqrt(limit.lower * limit.upper)
    spread = math.log(limit.upper / limit.lower) / 2 / _PER_TOLERANCE
    return _Centre(value=middle, spread=max(spread, _LEAST_SPREAD))


def expectation(nominal: Nominal) -> Expectation | None:
    """Say what good parts of a design look like.

    Parameters
    ----------
    nominal : Nominal

    Returns
    -------
    Expectation or None
        None where the design does not limit L on both sides (or f0 and C, from which it follows).

    Notes
    -----
    A tolerance is taken as three standard deviations of good parts: a process that just keeps its
    limits (Cp = 1; common practice).
    """
    limits = {limit.quantity: limit for limit in reversed(nominal.limits)}
    inductance, f0, farad = (_centre(limits.get(name)) for name in ("L", "f0", "C"))
    if inductance is None and f0 is not None and farad is not None:
        inductance = _Centre(
            value=1 / (farad.value * (_TWO_PI * f0.value) ** 2),
            spread=math.hypot(2 * f0.spread, farad.spread),
        )
    if inductance is None:
        return None
    if farad is None and f0 is not None:
        filled = (2 * f0.spread) ** 2 - inductance.spread**2
        farad = _Centre(
            value=1 / (inductance.value * (_TWO_PI * f0.value) ** 2),
            spread=math.sqrt(max(filled, (0.5 * inductance.spread) ** 2)),
        )
    frequency = nominal.frequency or (f0.value if f0 is not None else None)
    loss, at = _loss(nominal, limits, inductance.value, frequency)
    dc = _centre(limits.get("DCR"))
    if at is None:
        return None
    return Expectation(
        frequency=at,
        L=inductance.value,
        L_spread=inductance.spread,
        C=None if farad is None else farad.value,
        C_spread=0.0 if farad is None else farad.spread,
        loss=None if loss is None else loss.value,
        loss_spread=0.0 if loss is None else loss.spread,
        dc=None if dc is None else dc.value,
        dc_spread=0.0 if dc is None else dc.spread,
    )


def _loss(
    nominal: Nominal, limits: dict[str, Limit], henry: float, frequency: float | None
) -> tuple[_Centre | None, float | None]:
    """Give the loss resistance of the coil and the frequency it belongs to."""
    for name in ("ESR", "R", "Q", "D"):
        centre = _centre(limits.get(name))
        if centre is None:
            continue
        at = judged_at(nominal, limits[name]) or frequency
        if at is None:
            continue
        reactance = _TWO_PI * at * henry
        ohm = {"Q": reactance / centre.value, "D": reactance * centre.value}
        return _Centre(value=ohm.get(name, centre.value), spread=centre.spread), at
    return None, frequency


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observation:
    """How a part differs from what is expected, in the order of `NAMES` as far as it is known.

    ``known`` (4,) are the places of `NAMES` that are told apart; without a known loss at direct
    current the last stands for the whole loss. ``seen`` (D,) are the differences, ``covariance``
    (D, D) that of the fit.
    """

    known: tuple[int, ...]
    seen: FloatArray
    covariance: FloatArray


def observation(expected: Expectation, found: Fit) -> Observation | None:
    """Say how a fitted part differs from what is expected of it.

    Returns
    -------
    Observation or None
        None where the fit says nothing: not settled, or without L.
    """
    if not found.converged:
        return None
    rows = list(_rows(expected, found))
    if not rows or rows[0][0] != 0:
        return None
    slopes = np.array([slope for _, _, slope in rows])
    return Observation(
        known=tuple(place for place, _, _ in rows),
        seen=np.array([value for _, value, _ in rows]),
        covariance=slopes @ found.covariance @ slopes.T,
    )


def _rows(expected: Expectation, found: Fit) -> Iterator[tuple[int, float, FloatArray]]:
    """Give (place, difference, slopes by the elements) of what fit and design have in common."""
    elements = dict(zip(found.elements, found.values.tolist(), strict=True))

    def slope(**parts: float) -> FloatArray:
        return np.array([parts.get(name, 0.0) for name in found.elements])

    if elements.get("L", 0.0) > 0 and quantity(found, "L") is not None:
        yield 0, math.log(elements["L"] / expected.L), slope(L=1 / elements["L"])
    if expected.C is not None and elements.get("C", 0.0) > 0 and quantity(found, "C") is not None:
        yield 1, math.log(elements["C"] / expected.C), slope(C=1 / elements["C"])
    if expected.loss is None or found.circuit not in ("tank", "coil", "series-rlc", "inductor"):
        return
    root, whole = math.sqrt(expected.frequency), expected.loss
    dc = elements.get("Rdc", elements.get("R", 0.0))
    ac = elements.get("Rac", 0.0) * root
    if "Rcore" in elements:
        return
    split = expected.dc is not None and "Rac" in elements
    if split and expected.dc is not None:
        yield 2, (dc - expected.dc) / whole, slope(Rdc=1 / whole)
        yield 3, (ac - whole + expected.dc) / whole, slope(Rac=root / whole)
    else:
        yield 3, (dc + ac - whole) / whole, slope(Rdc=1 / whole, R=1 / whole, Rac=root / whole)
