"""Curves of a single resonance in a ratio over frequency, and where a fit of them can start.

With x = f/f0 and t = x - 1/x, the resonant part of a reflection, transmission or gain is
d L with L = 1 / (1 + j QL t): a circle in the complex plane. Beside it stands what would be seen
without the resonance: a constant a, a leakage that changes with t, the phase of a line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray

__all__ = [
    "COMPLEX",
    "MAGNITUDE",
    "Curve",
    "Shape",
    "candidates",
    "curve",
    "drawn",
    "linear",
    "slopes",
]

Curve = NDArray[Any]
"""Complex values, or real ones where the phase is not known."""

_PASSES = 6
_SMALLEST = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One form of the curve.

    Parameters: ln x0 (f0 = exp(ln x0) in units of the centre), ln QL, the line's phase in rad
    per unit of relative frequency where it is free, then the linear ones: real and imaginary
    parts of a, d and, where there is one, of the third coefficient; for a magnitude the real
    A0, A1 and, where skewed, A2.

    Complex: (a + d L + b g) exp(-j phase (y - 1)), y = f/fc. The third column g is t (a leakage
    that changes with frequency) or L (x + 1/x)/2 (the low-pass and high-pass forms of a tank).
    Magnitude: |S|^2 = A0 + (A1 + A2 u) / (1 + u^2), u = QL t; A0 holds background and noise.
    """

    name: str
    title: str
    magnitude: bool = False
    line: bool = False
    leak: bool = False
    tilt: bool = False
    skew: bool = False

    @property
    def is_plain(self) -> bool:
        """Whether it has no more parameters than it must."""
        return not (self.line or self.leak or self.tilt or self.skew)

    @property
    def nonlinear(self) -> int:
        """Number of parameters in front of the linear ones."""
        return 2 + self.line

    @property
    def size(self) -> int:
        """Number of real parameters."""
        if self.magnitude:
            return 4 + self.skew
        return self.nonlinear + 4 + 2 * (self.leak or self.tilt)


COMPLEX = {
    "plain": Shape(name="plain", title="constant background"),
    "line": Shape(name="line", title="background behind a line", line=True),
    "leak": Shape(name="leak", title="background that changes with frequency", leak=True),
    "tilt": Shape(name="tilt", title="low-pass or high-pass side", tilt=True),
}
MAGNITUDE = {
    "symmetric": Shape(name="symmetric", title="symmetric magnitude", magnitude=True),
    "skewed": Shape(name="skewed", title="skewed magnitude", magnitude=True, skew=True),
}


def _columns(shape: Shape, y: FloatArray, p: FloatArray) -> Curve:
    """Columns (N, K) whose sum with the linear coefficients is the curve (or its square)."""
    x = y * np.exp(-p[0])
    t = x - 1 / x
    if shape.magnitude:
        u = np.exp(p[1]) * t
        bell = 1 / (1 + u * u)
        parts = [np.ones_like(u), bell, u * bell]
        return np.stack(parts[: 2 + shape.skew], axis=1)
    circle = 1 / (1 + 1j * np.exp(p[1]) * t)
    columns = [np.ones_like(circle), circle]
    if shape.leak:
        columns.append(t.astype(np.complex128))
    if shape.tilt:
        columns.append(circle * (x + 1 / x) / 2)
    turned = np.stack(columns, axis=1)
    if shape.line:
        turned = turned * np.exp(-1j * p[2] * (y - 1))[:, None]
    return turned


def _coefficients(shape: Shape, p: FloatArray) -> Curve:
    tail = p[shape.nonlinear :]
    return tail if shape.magnitude else tail[::2] + 1j * tail[1::2]


def curve(shape: Shape, y: FloatArray, p: FloatArray) -> Curve:
    """Give the curve: complex, or the magnitude (infinite where its square is negative).

    Parameters
    ----------
    shape : Shape
    y : (N,) float
        Frequency in units of the centre.
    p : (P,) float

    Returns
    -------
    (N,) complex or float
    """
    total: Curve = _columns(shape, y, p) @ _coefficients(shape, p)
    if not shape.magnitude:
        return total
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(total > 0, np.sqrt(np.maximum(total, 0.0)), np.inf))


def drawn(shape: Shape, y: FloatArray, p: FloatArray) -> Curve:
    """Give the curve with zero where the square of a magnitude is negative.

    That can happen between or beside the points that were fitted only.
    """
    values = curve(shape, y, p)
    return np.asarray(np.where(np.isfinite(values), values, 0.0))


def slopes(shape: Shape, y: FloatArray, p: FloatArray) -> Curve:
    """Give the derivatives (N, P) of the curve by its parameters."""
    x = y * np.exp(-p[0])
    t, s = x - 1 / x, x + 1 / x
    u = np.exp(p[1]) * t
    u_by_x = -np.exp(p[1]) * s
    c = _coefficients(shape, p)
    columns = _columns(shape, y, p)
    if shape.magnitude:
        bell = columns[:, 1]
        by_u = -2 * u * bell**2 * c[1]
        if shape.skew:
            by_u = by_u + (1 - u * u) * bell**2 * c[2]
        square = np.stack([by_u * u_by_x, by_u * u, *columns.T], axis=1)
        return np.asarray(square / (2 * curve(shape, y, p)[:, None]))
    return _complex_slopes(shape, y, p, columns, (t, s, u, u_by_x))


def _complex_slopes(
    shape: Shape,
    y: FloatArray,
    p: FloatArray,
    columns: Curve,
    detuning: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
) -> ComplexArray:
    t, s, u, u_by_x = detuning
    c = _coefficients(shape, p)
    circle = 1 / (1 + 1j * u)
    height = c[1] * np.ones_like(circle)
    by_x = np.zeros_like(circle)
    if shape.leak:
        by_x = -s * c[2]
    if shape.tilt:
        height = c[1] + c[2] * s / 2
        by_x = -c[2] * circle * t / 2
    by_u = -1j * circle**2 * height
    front = [by_u * u_by_x + by_x, by_u * u]
    if shape.line:
        turn = np.exp(-1j * p[2] * (y - 1))
        front = [part * turn for part in front]
        front.append(-1j * (y - 1) * (columns @ c))
    paired = np.stack([columns, 1j * columns], axis=2).reshape(y.size, -1)
    return np.column_stack([*front, paired])


def linear(shape: Shape, y: FloatArray, measured: Curve, front: FloatArray) -> FloatArray:
    """Complete nonlinear parameters by the linear ones that suit the measured curve best.

    Parameters
    ----------
    shape : Shape
    y : (N,) float
    measured : (N,) complex, or (N,) float for a magnitude
    front : (2,) or (3,) float
        The nonlinear parameters.

    Returns
    -------
    (P,) float
    """
    columns = _columns(shape, y, front)
    if shape.magnitude:
        weight = 1 / np.maximum(np.abs(measured), 0.02 * np.abs(measured).max() + _SMALLEST)
        square = measured.real**2
        c = np.linalg.lstsq(columns * weight[:, None], square * weight, rcond=None)[0]
        lowest = float(np.min(columns @ c))
        c[0] += max(0.0, 1e-6 * float(square.max()) + _SMALLEST - lowest)
        return np.concatenate([front, c])
    c = np.linalg.lstsq(columns, measured, rcond=None)[0]
    return np.concatenate([front, np.stack([c.real, c.imag], axis=1).ravel()])


def candidates(y: FloatArray, measured: ComplexArray, *, phase: bool) -> Iterator[FloatArray]:
    """Give pairs (ln x0, ln QL) near which the resonance may lie, likely ones first.

    Parameters
    ----------
    y : (N,) float
        Frequency in units of the centre.
    measured : (N,) complex
    phase : bool
        Whether the phase is known; otherwise ``measured`` holds magnitudes.

    Notes
    -----
    First the pole of a rational function that is linear in ln f (a quotient of two lines for a
    complex ratio, of two parabolas for a squared magnitude), found by repeated linear least
    squares weighted by the last denominator. Then the greatest step away from the ends, with its
    half width, and a grid.

    Source: C. K. Sanathanan, J. Koerner, IEEE Transactions on Automatic Control 8 (1963) 56-58.
    """
    t = 2 * np.log(y)
    pole = _pole(t, measured) if phase else _pole_of_power(t, np.abs(measured) ** 2)
    if pole is not None:
        yield pole
    yield from _bumps(t, measured if phase else np.abs(measured) ** 2 + 0j)
    span = float(t[-1] - t[0])
    for place in np.linspace(t[0], t[-1], 11):
        for width in span / np.array([1.0, 3.0, 10.0, 30.0]):
            yield np.array([place / 2, -np.log(width)])


def _pair(place: complex) -> FloatArray | None:
    """From a pole at t = 2 ln x0 + j / QL to the two parameters."""
    if not np.isfinite(place) or abs(place.imag) < _SMALLEST or abs(place.real) > 20:
        return None
    return np.array([place.real / 2, -np.log(abs(place.imag))])


def _pole(t: FloatArray, measured: ComplexArray) -> FloatArray | None:
    middle, half = (t[0] + t[-1]) / 2, (t[-1] - t[0]) / 2
    s = (t - middle) / half
    weight = np.ones_like(s)
    a = 0j
    for _ in range(_PASSES):
        columns = np.stack([np.ones_like(s), s, -s * measured], axis=1) * weight[:, None]
        a = complex(np.linalg.lstsq(columns, measured * weight, rcond=None)[0][2])
        weight = 1 / np.maximum(np.abs(1 + a * s), 1e-6)
    return _pair(middle - half / a) if a else None


def _pole_of_power(t: FloatArray, power: FloatArray) -> FloatArray | None:
    middle, half = (t[0] + t[-1]) / 2, (t[-1] - t[0]) / 2
    s = (t - middle) / half
    weight = 1 / np.maximum(power, 1e-4 * power.max() + _SMALLEST)
    a = np.zeros(2)
    for _ in range(_PASSES):
        columns = np.stack([np.ones_like(s), s, s * s, -s * power, -s * s * power], axis=1)
        a = np.linalg.lstsq(columns * weight[:, None], power * weight, rcond=None)[0][3:]
        model = np.maximum(power, 1e-4 * power.max() + _SMALLEST)
        weight = 1 / (model * np.maximum(np.abs(1 + a[0] * s + a[1] * s * s), 1e-6))
    if not a[1]:
        return None
    return _pair(complex(middle + half * np.roots([a[1], a[0], 1.0])[0]))


def _bumps(t: FloatArray, measured: ComplexArray) -> Iterator[FloatArray]:
    """Farthest point from the line through the ends, and the width at half that distance."""
    share = (t - t[0]) / (t[-1] - t[0])
    away = np.abs(measured - measured[0] - (measured[-1] - measured[0]) * share)
    top = int(np.argmax(away))
    near = away > away[top] / 2
    left = top - int(np.argmin(near[top::-1])) if not near[: top + 1].all() else 0
    right = top + int(np.argmin(near[top:])) if not near[top:].all() else t.size - 1
    width = max(float(t[right] - t[left]), float(t[-1] - t[0]) / t.size)
    for factor in (1.0, 0.3, 3.0):
        yield np.array([t[top] / 2, -np.log(width * factor)])
