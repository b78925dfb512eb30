"""Resonance and quality factor from three places of a curve: its extremum and its edges."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from benchapp.capture import FloatArray

__all__ = ["Found", "Straight", "half_power", "of_tank", "phase_slope", "slope_of_tank"]

_SIDE = (1.35, 3.0)  # powers over the extremum's between which an edge is fitted
_MIDDLE = 1.6
_PARABOLA = 5  # points from which a parabola is fitted; else it goes through three
_DEGREES = ((24, 5), (8, 3), (5, 2), (0, 1))  # of a polynomial through so many points
_ROUNDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Resonance frequency in Hz and quality factor, each with its standard uncertainty."""

    f0: float
    u_f0: float
    Q: float
    u_q: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Straight:
    """A polynomial through points of known noise: coefficients by rising power, covariance."""

    coefficients: FloatArray
    covariance: FloatArray

    @classmethod
    def through(cls, s: FloatArray, y: FloatArray, u: FloatArray, degree: int) -> Straight:
        """Fit a polynomial of ``degree`` to ``y`` (N,) of standard uncertainties ``u`` (N,)."""
        columns = s[:, None] ** np.arange(degree + 1) / u[:, None]
        scale = np.linalg.norm(columns, axis=0)
        inverse = np.linalg.pinv(columns / scale)
        return cls(
            coefficients=(inverse @ (y / u)) / scale,
            covariance=inverse @ inverse.T / np.outer(scale, scale),
        )

    def at(self, s: float) -> tuple[float, float, float]:
        """Give value, its standard uncertainty, and slope at ``s``."""
        powers = s ** np.arange(self.coefficients.size)
        value = float(powers @ self.coefficients)
        u = math.sqrt(max(float(powers @ self.covariance @ powers), 0.0))
        steep = np.arange(1, self.coefficients.size) * self.coefficients[1:]
        return value, u, float(powers[:-1] @ steep)

    def cross(self, level: float, near: float) -> float | None:
        """Give the place nearest to ``near`` at which the polynomial has a value."""
        shifted = self.coefficients.copy()
        shifted[0] -= level
        roots = np.roots(shifted[::-1])
        real = roots[np.abs(roots.imag) < 1e-9 * (1 + np.abs(roots))].real
        return float(real[np.argmin(np.abs(real - near))]) if real.size else None


def half_power(frequency: FloatArray, power: FloatArray, u: FloatArray) -> Found | None:
    """Give resonance and quality factor from the width at twice the least power.

    Parameters
    ----------
    frequency : (N,) float, Hz
    power : (N,) float
        With its minimum at the resonance: |Z|^2 of a series circuit, |Z|^-2 of a parallel one,
        |S|^-2 of a transmission peak. A dip is thus read upwards from its lowest point.
    u : (N,) float
        Standard uncertainty of ln(power).

    Returns
    -------
    Found or None
        None where the extremum or an edge is not inside the sweep.

    Notes
    -----
    f0 = sqrt(f1 f2), Q = f0/(f2 - f1): exact where power = 1 + Q^2 (f/f0 - f0/f)^2. Extremum and
    edges come from short polynomials in ln f through the points around them.

    Source: half-power bandwidth, common practice; the geometric mean follows from the formula.
    """
    s, low = np.log(frequency / frequency[0]), int(np.argmin(power))
    y = power / power[low]
    u = u * y
    bottom = _bottom(s, y, u, _run(y < _MIDDLE, low), low)
    edges: list[tuple[float, float, float]] = []
    for side in (-1, 1):
        edge = _edge(s, y, u, low, side, 2 * bottom[0])
        if edge is None:
            return None
        edges.append(edge)
    (left, u_left, steep_left), (right, u_right, steep_right) = edges
    width = right - left
    by_bottom = 2 * bottom[1] * np.array([1 / steep_left, 1 / steep_right])
    apart = math.hypot(u_left, u_right, float(by_bottom[1] - by_bottom[0]))
    both = math.hypot(u_left, u_right, float(by_bottom[1] + by_bottom[0])) / 2
    f0 = float(frequency[0]) * math.exp((left + right) / 2)
    Q = 1 / (2 * math.sinh(width / 2))
    return Found(f0=f0, u_f0=f0 * both, Q=Q, u_q=Q * apart / width)


def _run(marks: np.ndarray[tuple[int], np.dtype[np.bool_]], inside: int) -> slice:
    """Give the unbroken run of marks around a marked place."""
    off = np.flatnonzero(~marks)
    before, after = off[off < inside], off[off > inside]
    start = int(before[-1]) + 1 if before.size else 0
    return slice(start, int(after[0]) if after.size else marks.size)


def _bottom(
    s: FloatArray, y: FloatArray, u: FloatArray, part: slice, low: int
) -> tuple[float, float]:
    """Give the least power and its standard uncertainty."""
    if part.stop - part.start < _PARABOLA:
        part = slice(max(low - 1, 0), low + 2)
    place = float(s[low])
    bowl = Straight.through(s[part] - place, y[part], u[part], 2)
    a, b = float(bowl.coefficients[2]), float(bowl.coefficients[1])
    within = -b / (2 * a) if a > 0 else 0.0
    within = min(max(within, float(s[part][0]) - place), float(s[part][-1]) - place)
    value, spread, _ = bowl.at(within)
    return value, spread


def _edge(
    s: FloatArray, y: FloatArray, u: FloatArray, low: int, side: int, level: float
) -> tuple[float, float, float] | None:
    """Give where an edge passes a level, its own uncertainty, and the slope there."""
    outward = slice(low, None) if side > 0 else slice(low, None, -1)
    s_out, y_out, u_out = s[outward], y[outward], u[outward]
    beyond = np.flatnonzero(y_out > level)
    if not beyond.size or beyond[0] == 0:
        return None
    first = int(beyond[0])
    bounds = level / 2 * np.array(_SIDE)
    near = np.flatnonzero((y_out > bounds[0]) & (y_out < bounds[1]))
    near = near[np.abs(near - first) <= max(2 * near.size, 2)]
    if near.size < _PARABOLA:
        last = min(first + 1, y_out.size - 1)
        near = np.arange(max(last - 2, 0), last + 1)
    place = float(s_out[first])
    line = Straight.through(s_out[near] - place, y_out[near], u_out[near], 2)
    found = line.cross(level, 0.0)
    if found is None:
        return None
    _, spread, slope = line.at(found)
    if slope * side <= 0:
        return None
    return place + found, spread / abs(slope), slope


def phase_slope(frequency: FloatArray, ratio: FloatArray, u: FloatArray) -> Found | None:
    """Give resonance and quality factor from the slope of X/R where it passes zero.

    Parameters
    ----------
    frequency : (N,) float, Hz
    ratio : (N,) float
        X/R, the tangent of the phase.
    u : (N,) float
        Standard uncertainty of the phase in rad.

    Returns
    -------
    Found or None
        None where no zero with enough points around it is inside the sweep.

    Notes
    -----
    Q = |d(X/R)/d ln f|/2, at the zero of X; exact for R, L, C in series or all across each other.

    Source: common practice (f0/2 times the slope of the phase).
    """
    changes = np.flatnonzero(np.signbit(ratio[1:]) != np.signbit(ratio[:-1]))
    if not changes.size:
        return None
    s = np.log(frequency / frequency[0])
    steep = np.abs(np.diff(ratio) / np.diff(s))[changes]
    small = np.maximum(np.abs(ratio[changes]), np.abs(ratio[changes + 1])) < 2
    if not small.any():
        return None
    at = int(changes[np.argmax(np.where(small, steep, -1.0))])
    part = _run(np.abs(ratio) < 1.0, at if abs(ratio[at]) < 1 else at + 1)
    count = part.stop - part.start
    if count < 3 or not part.start <= at < part.stop:
        return None
    place = float(s[at])
    spread = u[part] * (1 + ratio[part] ** 2)
    degree = next(degree for least, degree in _DEGREES if count >= least)
    line = Straight.through(s[part] - place, ratio[part], spread, degree)
    zero = line.cross(0.0, 0.0)
    if zero is None:
        return None
    _, u_zero, slope = line.at(zero)
    if slope == 0:
        return None
    powers = np.arange(line.coefficients.size) * zero ** np.maximum(
        np.arange(line.coefficients.size) - 1, 0
    )
    u_slope = math.sqrt(max(float(powers @ line.covariance @ powers), 0.0))
    f0 = float(frequency[0]) * math.exp(place + zero)
    return Found(f0=f0, u_f0=f0 * u_zero / abs(slope), Q=abs(slope) / 2, u_q=u_slope / 2)


def _seen_at(Q: float) -> tuple[float, float]:
    """Give Q and f0 that the half-power width of |Z| shows of a coil with R across C."""
    q = 1 / (Q * Q)
    X = math.sqrt(1 + 2 * q) - q
    least = ((1 - X) ** 2 + X * q) / (q + X)
    half = 1 - q / 2 + least
    root = math.sqrt(max(half * half - (1 - 2 * least * q), 0.0))
    low, high = math.sqrt(max(half - root, 1e-12)), math.sqrt(half + root)
    return 1 / (2 * math.sinh(math.log(high / low) / 2)), math.sqrt(low * high)


def _slope_at(Q: float) -> tuple[float, float]:
    """Give Q and f0 that the slope of X/R shows of a coil with R across C."""
    rest = 1 - 1 / (Q * Q)
    return Q * rest**1.5, math.sqrt(rest)


def of_tank(found: Found) -> Found | None:
    """Turn the half-power reading of a coil with R across C into its f0 and Q.

    The least |Z|^-2 lies at x^2 = sqrt(1 + 2/Q^2) - 1/Q^2 and the edges follow from a quadratic
    equation in x^2. Source: closed formulas of the circuit, common practice.
    """
    return _undone(found, _seen_at, 1.1)


def slope_of_tank(found: Found) -> Found | None:
    """Turn the slope reading of a coil with R across C into its f0 and Q.

    X/R = Q x (1 - x^2 - 1/Q^2), zero at x^2 = 1 - 1/Q^2 with a slope of -2 Q (1 - 1/Q^2)^1.5.
    Source: closed formula of the circuit, common practice.
    """
    return _undone(found, _slope_at, 1.01)


def _undone(
    found: Found, reading: Callable[[float], tuple[float, float]], least: float
) -> Found | None:
    low, high = least, 3 * found.Q + 3
    for _ in range(_ROUNDS):
        Q = math.sqrt(low * high)
        low, high = (Q, high) if reading(Q)[0] < found.Q else (low, Q)
    Q = math.sqrt(low * high)
    seen, shift = reading(Q)
    if abs(seen / found.Q - 1) > 1e-6:
        return None
    up, high_shift = reading(Q * 1.001)
    gain = 0.001 * Q / (up - seen)
    u_Q = gain * found.u_q
    by_Q = (high_shift - shift) / (0.001 * Q) / shift
    f0 = found.f0 / shift
    return Found(f0=f0, u_f0=f0 * math.hypot(found.u_f0 / found.f0, by_Q * u_Q), Q=Q, u_q=u_Q)
