"""Quantities that follow from a fitted circuit, each with its uncertainty from the fit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import CIRCUITS, EXTENDED, Circuit
from benchapp.circuit.shunted import coil_branch
from benchapp.errors import FitError
from benchapp.fit.honesty import LIMIT
from benchapp.fit.result import Fit
from benchapp.units import Estimate

__all__ = ["QUANTITIES", "circuit_of", "curve", "quantity"]

QUANTITIES = ("L", "C", "R", "Q", "D", "ESR", "DCR", "f0", "SRF", "Z_tank", "BW", "|Z|", "theta")
"""Every quantity that a nominal design may limit."""

TWO_PI = 2.0 * math.pi
_DEGREES = 180.0 / math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class _Value:
    """A value, its gradient by the elements, and whether it must be positive to have a meaning."""

    value: float
    gradient: FloatArray
    unit: str
    positive: bool = True


def circuit_of(fit: Fit) -> Circuit | None:
    """Give the circuit of a fit with the elements it has; None where it is not an impedance."""
    for table in (CIRCUITS, EXTENDED):
        circuit = table.get(fit.circuit)
        if circuit is not None and circuit.elements == fit.elements:
            return circuit
    return None


def curve(fit: Fit, frequency: ArrayLike) -> ComplexArray:
    """Give the fitted model on any grid.

    Parameters
    ----------
    fit : Fit
    frequency : (N,) float, Hz

    Returns
    -------
    (N,) complex, ohm

    Raises
    ------
    FitError
        When the fit is not one of an impedance.
    """
    circuit = circuit_of(fit)
    if circuit is None:
        raise FitError(
            f"curve: the fit must be one of an impedance (got {fit.circuit}).",
            hint="Use response_curve for a resonance; otherwise the fitted values at the points.",
        )
    return circuit.impedance(frequency, fit.values)


def quantity(fit: Fit, name: str, at: float | None = None) -> Estimate | None:
    """Give one quantity of a fit with its standard uncertainty, by the delta method.

    Parameters
    ----------
    fit : Fit
    name : str
        An element of the circuit, or one of `QUANTITIES`.
    at : float, Hz, optional
        The frequency at which it is meant. ESR, Q and D of a coil are those of the branch that
        holds the coil, without the capacitance across it. Without ``at`` they are meant at the
        resonance where the circuit has one.

    Returns
    -------
    Estimate or None
        None where the circuit has no such quantity or the data do not determine it.

    Notes
    -----
    u^2 = g' V g with the gradient g and the covariance V of the elements.
    Source: JCGM 100:2008 (GUM), 5.2.2, equation (13).
    """
    circuit = circuit_of(fit)
    if circuit is None:
        return fit.estimates.get(name)
    found = _find(circuit, fit, name, at)
    if found is None or not math.isfinite(found.value):
        return None
    variance = float(found.gradient @ fit.covariance @ found.gradient)
    u = math.sqrt(max(variance, 0.0))
    scale = abs(found.value) if found.positive else 45.0
    if not math.isfinite(u) or (found.positive and found.value <= 0) or u > LIMIT * scale:
        return None
    return Estimate(name=name, value=found.value, u=u, unit=found.unit)


def _find(circuit: Circuit, fit: Fit, name: str, at: float | None) -> _Value | None:
    with np.errstate(all="ignore"):
        if name in ("|Z|", "theta"):
            return None if at is None else _impedance(circuit, fit.values, name, at)
        if name in _AT and (at is not None or name == "ESR"):
            return _branch(circuit, fit.values, name, at)
        if name in circuit.elements:
            return _element(circuit, fit.values, name)
        if name in _PRODUCTS:
            return _product(circuit, fit.values, name)
        if name == "DCR":
            return _resistance(circuit, fit.values)
    return None


def _element(circuit: Circuit, values: FloatArray, name: str) -> _Value:
    place = circuit.elements.index(name)
    gradient = np.zeros(values.size)
    gradient[place] = 1.0
    return _Value(value=float(values[place]), gradient=gradient, unit=circuit.units[place])


def _resistance(circuit: Circuit, values: FloatArray) -> _Value | None:
    names = [name for name in ("Rdc", "R") if name in circuit.elements]
    usable = circuit.name in ("coil", "inductor")
    return _element(circuit, values, names[0]) if usable else None


# name: powers of f0, Q, and of L and C
_PRODUCTS: dict[str, tuple[str, float, float, float, float]] = {
    "f0": ("Hz", 1.0, 0.0, 0.0, 0.0),
    "SRF": ("Hz", 1.0, 0.0, 0.0, 0.0),
    "Q": ("1", 0.0, 1.0, 0.0, 0.0),
    "D": ("1", 0.0, -1.0, 0.0, 0.0),
    "BW": ("Hz", 1.0, -1.0, 0.0, 0.0),
    "Z_tank": ("ohm", 0.0, 0.0, 0.5, -0.5),
}


def _product(circuit: Circuit, values: FloatArray, name: str) -> _Value | None:
    unit, *powers = _PRODUCTS[name]
    factor, exponents = 1.0, np.zeros(values.size)
    for base, power in zip(("f0", "Q", "L", "C"), powers, strict=True):
        if not power:
            continue
        if base in circuit.products:
            exponents += power * np.array(circuit.products[base].exponents)
            factor *= circuit.products[base].factor ** power
        elif base in circuit.elements:
            exponents[circuit.elements.index(base)] += power
        else:
            return None
    used = exponents != 0
    if np.any(values[used] <= 0):
        return None
    value = float(factor * np.prod(values[used] ** exponents[used]))
    return _Value(value=value, gradient=np.where(used, value * exponents / values, 0.0), unit=unit)


def _impedance(circuit: Circuit, values: FloatArray, name: str, at: float) -> _Value:
    z = complex(circuit.impedance([at], values)[0])
    slope = circuit.gradient([at], values)[:, 0]
    if name == "|Z|":
        return _Value(value=abs(z), gradient=abs(z) * slope.real, unit="ohm")
    degrees = math.atan2(z.imag, z.real) * _DEGREES
    return _Value(value=degrees, gradient=_DEGREES * slope.imag, unit="deg", positive=False)


# from an impedance r + jx and its slopes: (value, gradient, unit)
_AT: dict[str, Callable[[complex, ComplexArray], tuple[float, FloatArray, str]]] = {
    "ESR": lambda z, dz: (z.real, dz.real, "ohm"),
    "Q": lambda z, dz: _ratio(abs(z.imag), np.sign(z.imag) * dz.imag, z.real, dz.real),
    "D": lambda z, dz: _ratio(z.real, dz.real, abs(z.imag), np.sign(z.imag) * dz.imag),
}


def _ratio(
    above: float, above_slope: FloatArray, below: float, below_slope: FloatArray
) -> tuple[float, FloatArray, str]:
    if below == 0:  # a loss of nothing: no finite ratio, and `quantity` gives none
        return math.inf, np.zeros_like(above_slope, dtype=np.float64), "1"
    value = above / below
    return value, (above_slope - value * below_slope) / below, "1"


def _branch(circuit: Circuit, values: FloatArray, name: str, at: float | None) -> _Value | None:
    if at is None:
        resonance = _product(circuit, values, "f0")
        constant = circuit.family == "series" or circuit.name == "tank"
        at = 1.0 if constant else None if resonance is None else resonance.value
        if at is None:
            return None
    z, slopes = _part(circuit, values, TWO_PI * at)
    value, gradient, unit = _AT[name](z, slopes)
    return _Value(value=value, gradient=np.asarray(gradient), unit=unit)


def _part(circuit: Circuit, values: FloatArray, omega: float) -> tuple[complex, ComplexArray]:
    """Give the impedance of the part that Q, D and ESR are about, and its slopes.

    It is the coil with its losses: R and L in series, or across each other in the parallel
    circuit. A capacitor's is R and C in series.
    """
    value = dict(zip(circuit.elements, values.tolist(), strict=True))
    if circuit.family in ("shunted", "coupled"):
        return coil_branch(circuit.elements, omega, values)
    names = circuit.elements
    if circuit.name == "capacitor":
        x = -1.0 / (omega * value["C"])
        slope = {"C": -1j * x / value["C"], "R": 1.0}
        return complex(value["R"], x), _row(names, slope)
    reactance = 1j * omega * value["L"]
    if circuit.family == "series":
        return value["R"] + reactance, _row(names, {"L": 1j * omega, "R": 1.0})
    both = value["R"] * reactance / (value["R"] + reactance)
    squares = {"L": 1j * omega * (both / reactance) ** 2, "R": (both / value["R"]) ** 2}
    return both, _row(names, squares)


def _row(names: tuple[str, ...], slope: dict[str, complex]) -> ComplexArray:
    return np.array([slope.get(name, 0.0) for name in names], dtype=np.complex128)
