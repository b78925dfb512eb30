"""Mutual inductance of coaxial windings, averaged over their whole winding sections.

A winding section is a rectangle in the half plane (radius, height). Either side may be zero: a
current sheet, a flat disc, or a filament. The average over both sections of Maxwell's formula
for two circles is the mutual inductance per turn and turn, and of a section with itself the
self-inductance per turn squared.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.coil.elliptic import means
from benchapp.errors import QuantityError

__all__ = ["MU_0", "Section", "mean_mutual", "mutual_of_circles"]

FloatArray = NDArray[np.float64]
Box = tuple[float, float, float, float]

MU_0 = 4e-7 * math.pi
"""Magnetic constant, H/m. The measured value (CODATA 2022) is higher by 1.3 parts in 1e10."""

_CORNER_POWER = 4
_CORNER_SHARE = 0.5  # a larger part of the radius feels the far side of the coil


def _unit_rule(order: int) -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(order)
    return 0.5 * (nodes + 1.0), 0.5 * weights


_PANEL = _unit_rule(8)
_CORNER = _unit_rule(12)
_RADIAL = _unit_rule(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Where a coaxial winding lies: from radius ``inner`` to ``outer``, ``length`` high, in m."""

    inner: float
    outer: float
    length: float = 0.0


def mutual_of_circles(first: ArrayLike, second: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Mutual inductance of coaxial circular filaments, exact.

    Parameters
    ----------
    first, second : (...) float, m
        Radii; they broadcast with the distance.
    distance : (...) float, m
        Between the planes of the circles.

    Returns
    -------
    (...) float, H

    Notes
    -----
    M = mu0 sqrt(ab) [(2/k - k) K - (2/k) E], k^2 = 4ab/((a + b)^2 + d^2).
    Source: J. C. Maxwell, *A Treatise on Electricity and Magnetism*, 3rd ed. 1891, art. 701.
    Evaluated as mu0 pi/(4 mean) * excess of the arithmetic-geometric mean of the longest and
    shortest distance between the circles, in which nothing cancels (L. V. King, *On the Direct
    Numerical Calculation of Elliptic Functions and Integrals*, 1924; from memory).
    """
    a, b, d = (np.asarray(value, float) for value in (first, second, distance))
    longest = np.hypot(a + b, d)
    shortest = np.hypot(a - b, d)
    mean, excess = means(longest, shortest)
    return (MU_0 * math.pi / 4.0) * excess / mean


@dataclass(frozen=True, slots=True)
class _Difference:
    """The difference of two values, each evenly spread over an interval."""

    low1: float
    high1: float
    low2: float
    high2: float

    def overlap(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Give the range of the first value where the difference is x."""
        low = np.maximum(self.low1, self.low2 + x)
        return low, np.maximum(low, np.minimum(self.high1, self.high2 + x))

    def density(self, x: FloatArray) -> FloatArray:
        width1, width2 = self.high1 - self.low1, self.high2 - self.low2
        if width1 > 0 and width2 > 0:
            low, high = self.overlap(x)
            return (high - low) / (width1 * width2)
        return np.full(x.shape, 1.0 / (max(width1, width2) or 1.0))

    def pieces(self, *, folded: bool) -> list[tuple[float, float]]:
        """Intervals on which the density is a polynomial and the sign does not change."""
        ends = [self.low1 - self.high2, self.high1 - self.low2]
        edges = {*ends, self.low1 - self.low2, self.high1 - self.high2}
        if ends[0] < 0 < ends[1]:
            edges.add(0.0)
        ordered = sorted(edge for edge in edges if edge >= 0 or not folded)
        if len(ordered) == 1:
            return [(ordered[0], ordered[0])]
        return list(pairwise(ordered))


def mean_mutual(one: Section, two: Section, distance: float = 0.0) -> float:
    """Mutual inductance per turn and turn of two coaxial winding sections.

    Parameters
    ----------
    one, two : Section
        Of uniform current density. The same section twice at distance 0 gives the
        self-inductance per turn squared.
    distance : float, m
        Between the middle planes of the sections.

    Returns
    -------
    float, H

    Raises
    ------
    QuantityError
        When both are filaments on the same place: their mutual inductance has no bound.

    Notes
    -----
    The average of Maxwell's formula over the difference of radii t, the difference of heights s
    and the radius, by Gauss-Legendre rules on panels that shrink towards t = s = 0, where the
    logarithm of the distance is integrated in coordinates that make it smooth. Tests hold it
    to 1e-9 against the Fourier-Bessel integral.
    """
    radial = _Difference(one.inner, one.outer, two.inner, two.outer)
    half1, half2 = one.length / 2, two.length / 2
    axial = _Difference(-half1, half1, distance - half2, distance + half2)
    same = (one.inner, one.outer) == (two.inner, two.outer)
    fold_t, fold_s = same and one.outer > one.inner, distance == 0 and max(half1, half2) > 0
    largest = _CORNER_SHARE * max(one.outer, two.outer)
    t, s, weight = _plane(radial.pieces(folded=fold_t), axial.pieces(folded=fold_s), largest)
    factor = (2.0 if fold_t else 1.0) * (2.0 if fold_s else 1.0)
    low, high = radial.overlap(t)
    nodes, weights = _RADIAL if one.outer > one.inner and two.outer > two.inner else _POINT
    first = _radius(radial, t, low, high, nodes)
    mutual = mutual_of_circles(first, first - t[:, None], s[:, None]) @ weights
    return float(factor * np.sum(weight * radial.density(t) * axial.density(s) * mutual))


_POINT = (np.array([0.5]), np.array([1.0]))


def _radius(
    radial: _Difference, t: FloatArray, low: FloatArray, high: FloatArray, nodes: FloatArray
) -> FloatArray:
    if radial.high1 > radial.low1 and radial.high2 == radial.low2:
        return (radial.low2 + t)[:, None]
    return low[:, None] + (high - low)[:, None] * nodes


def _plane(
    t_pieces: list[tuple[float, float]], s_pieces: list[tuple[float, float]], largest: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nodes and weights over the plane of both differences."""
    found: list[tuple[FloatArray, FloatArray, FloatArray]] = []
    for t0, t1 in t_pieces:
        sign_t = -1.0 if t1 <= 0 and t0 < 0 else 1.0
        near_t, far_t = sorted((abs(t0), abs(t1)))
        for s0, s1 in s_pieces:
            near_s, far_s = sorted((abs(s0), abs(s1)))
            sign_s = -1.0 if s1 <= 0 and s0 < 0 else 1.0
            for box in _graded((near_t, far_t, near_s, far_s), largest):
                t, s, weight = _corner(box) if box[0] == box[2] == 0 else _panel(box)
                found.append((sign_t * t, sign_s * s, weight))
    t, s, weight = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return t, s, weight


def _graded(box: Box, largest: float) -> Iterator[Box]:
    """Split a box of the first quadrant until no part is larger than its distance from 0.

    A part that touches 0 becomes a square no larger than ``largest``.
    """
    waiting = [box]
    while waiting:
        t0, t1, s0, s1 = waiting.pop()
        wide, high = t1 - t0, s1 - s0
        away = math.hypot(t0, s0)
        if away == 0:
            if not (wide or high):
                raise QuantityError(
                    "winding section: two filaments must not lie on the same place "
                    "(got distance 0).",
                    hint="Give the wire or the length of the winding.",
                )
            short = min(min(wide, high) or largest, largest)
            split = short if max(wide, high) > 1.5 * short else None
        else:
            split = 0.5 * max(wide, high) if max(wide, high) > away else None
        if split is None:
            yield t0, t1, s0, s1
        elif wide > high:
            waiting += [(t0, t0 + split, s0, s1), (t0 + split, t1, s0, s1)]
        else:
            waiting += [(t0, t1, s0, s0 + split), (t0, t1, s0 + split, s1)]


def _side(low: float, high: float) -> tuple[FloatArray, FloatArray]:
    if high == low:
        return np.array([low]), np.array([1.0])
    nodes, weights = _PANEL
    return low + (high - low) * nodes, (high - low) * weights


def _panel(box: Box) -> tuple[FloatArray, FloatArray, FloatArray]:
    t, t_weight = _side(box[0], box[1])
    s, s_weight = _side(box[2], box[3])
    return np.repeat(t, s.size), np.tile(s, t.size), np.outer(t_weight, s_weight).ravel()


def _corner(box: Box) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nodes for a box that touches 0: x = u^p makes log x smooth.

    In two dimensions the box is cut along its diagonal into two triangles, each mapped from a
    square by (x, y) -> (x, x y), whose Jacobian vanishes where the logarithm is infinite.
    """
    wide, high = box[1], box[3]
    u, u_weight = _CORNER
    x, x_weight = u**_CORNER_POWER, _CORNER_POWER * u ** (_CORNER_POWER - 1) * u_weight
    if not (wide and high):
        along = max(wide, high) * x
        zero = np.zeros(x.size)
        pair = (along, zero) if wide else (zero, along)
        return *pair, max(wide, high) * x_weight
    y, y_weight = _CORNER
    long, across = np.repeat(x, y.size), np.outer(x, y).ravel()
    weight = wide * high * np.outer(x * x_weight, y_weight).ravel()
    return (
        wide * np.concatenate([long, across]),
        high * np.concatenate([across, long]),
        np.concatenate([weight, weight]),
    )
