"""Fit the shapes of a resonance to points, set wild ones aside, and choose between shapes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.fit.honesty import Whiteness, whiteness
from benchapp.fit.least_squares import Solution, minimise
from benchapp.fit.resonance import (
    COMPLEX,
    MAGNITUDE,
    Curve,
    Shape,
    candidates,
    curve,
    drawn,
    linear,
    slopes,
)

__all__ = ["Choice", "Points", "Solved", "choose", "halves", "roughness"]

BoolArray = NDArray[np.bool_]

_LONGEST = 50e-9  # s, ten metres of coaxial cable; a longer line needs stronger evidence
_CLEAR = 6.0  # in BIC, below which two shapes suit alike
_STRONG = 100.0  # in BIC
_ROUNDING = 1e-9  # of the largest value
_WILD = 6.0  # robust deviations beyond which a point is set aside
_ALONE = 3.0  # times the running median of residuals; less is shared with the neighbours
_ROUNDS = 8
_ITERATIONS = 60
_CLIP = (1.0, 1.0, 1.5)  # spans of the sweep, factors e of QL, radians over the span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """The points to fit: ``y`` (N,) frequency in units of ``centre`` (Hz), ``seen`` (N,) complex.

    ``weight`` (N,) multiplies residuals; ``noise`` is a rough size of the noise.
    """

    y: FloatArray
    centre: float
    seen: ComplexArray
    weight: FloatArray
    magnitude: bool
    noise: float

    @property
    def floor(self) -> float:
        """Variance below which differences are rounding."""
        return float(_ROUNDING * np.abs(self.seen).max()) ** 2 + 1e-300

    @property
    def target(self) -> Curve:
        """What the curve is compared with: complex values, or magnitudes."""
        return self.seen.real if self.magnitude else self.seen


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """One shape fitted. ``kept`` (N,) marks the points that were not wild.

    ``floor`` is a variance below which differences are rounding.
    """

    shape: Shape
    solution: Solution
    kept: BoolArray
    score: float
    white: Whiteness
    floor: float

    @property
    def p(self) -> FloatArray:
        """Parameters of the shape."""
        return self.solution.parameters

    @property
    def is_dip(self) -> bool:
        """Whether the level at the resonance is below that beside it."""
        p, place = self.p, self.shape.nonlinear
        if self.shape.magnitude:
            return bool(p[3] < 0)
        a, d = complex(p[place], p[place + 1]), complex(p[place + 2], p[place + 3])
        return abs(a + d) < abs(a)

    @property
    def bic(self) -> float:
        """Bayesian information criterion, without the terms that all shapes share."""
        size = self.solution.residual.size
        variance = max(self.solution.cost / size, self.floor)
        return size * math.log(variance) + self.shape.size * math.log(size)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """The shape chosen, those it was chosen from, and whether points were weighted."""

    best: Solved
    others: tuple[Solved, ...]
    weighted: bool


def roughness(seen: ComplexArray) -> float:
    """Estimate the size of the noise from third differences; single wild points do not matter.

    Parameters
    ----------
    seen : (N,) complex

    Returns
    -------
    float
        Never zero, so that it can be divided by.
    """
    if seen.size < 5:
        return 1e-3 * float(np.abs(seen).max()) + 1e-300
    third = np.abs(np.diff(seen, 3))
    return float(np.median(third)) / math.sqrt(20.0) + 1e-9 * float(np.abs(seen).max()) + 1e-300


def choose(points: Points, shapes: Mapping[bool, tuple[Shape, ...]]) -> Choice:
    """Fit all shapes that suit and take the one of lowest BIC.

    Parameters
    ----------
    points : Points
    shapes : mapping
        Shapes to try beside the plain one, for a peak (False) and for a dip (True).

    Returns
    -------
    Choice
        Where no shape leaves noise, all were fitted again with weights along the circle.
    """
    first = MAGNITUDE["symmetric"] if points.magnitude else COMPLEX["plain"]
    numbers = points.y.size * (1 if points.magnitude else 2)
    tried: list[Solved] = []
    for solve in (_quick, _thorough):
        plain = solve(points, first, None)
        tried = [plain]
        for shape in shapes[plain.is_dip]:
            if shape.size + 2 <= numbers:
                tried.append(solve(points, shape, plain.p))
        tried = [solved for solved in tried if _is_plausible(points, solved, plain)]
        if any(solved.white.describes for solved in tried):
            break
    tried.sort(key=_rank)
    if tried[0].white.describes or points.magnitude:
        return Choice(best=tried[0], others=tuple(tried[1:]), weighted=False)
    near = replace(points, weight=_nearness(points, tried[0].p))
    again = [_finish(near, solved.shape, solved.p, tried[0].kept) for solved in tried]
    again.sort(key=_rank)
    best = again[0]
    for _ in range(_ROUNDS):
        weight = _nearness(points, best.p)
        if np.allclose(weight, near.weight, rtol=1e-6):
            break
        near = replace(points, weight=weight)
        best = _finish(near, best.shape, best.p, best.kept)
    return Choice(best=best, others=tuple(again[1:]), weighted=True)


def _rank(solved: Solved) -> float:
    """Order shapes by BIC; one with more parameters must win clearly."""
    return solved.bic + (0.0 if solved.shape.is_plain else _CLEAR)


def _is_plausible(points: Points, solved: Solved, plain: Solved) -> bool:
    """Tell whether a free line is no longer than leads on a bench are, or beyond doubt."""
    if not solved.shape.line or solved.bic < plain.bic - _STRONG:
        return True
    return abs(float(solved.p[2])) / (2 * math.pi * points.centre) <= _LONGEST


def _nearness(points: Points, p: FloatArray) -> FloatArray:
    """Weight of each point that gives equal steps along the circle equal say."""
    x = points.y * np.exp(-p[0])
    return np.asarray(1 / np.hypot(1.0, np.exp(p[1]) * (x - 1 / x)))


def _quick(points: Points, shape: Shape, near: FloatArray | None) -> Solved:
    """Fit one shape from the likeliest start."""
    front = next(candidates(points.y, points.seen, phase=not points.magnitude))
    fronts = [front] if near is None else [near[:2], front]
    return _best(points, shape, _starts(points, shape, fronts), 1)


def _thorough(points: Points, shape: Shape, near: FloatArray | None) -> Solved:
    """Fit one shape from the best three of all starts."""
    fronts = list(candidates(points.y, points.seen, phase=not points.magnitude))
    if near is not None:
        fronts.append(near[:2])
    return _best(points, shape, _starts(points, shape, fronts), 3)


def _starts(points: Points, shape: Shape, fronts: Iterable[FloatArray]) -> list[FloatArray]:
    """Complete start vectors; with a line in front, for no delay and for the usual one."""
    if not shape.line:
        return [linear(shape, points.y, points.target, front) for front in fronts]
    steps = np.angle(points.seen[1:] * np.conj(points.seen[:-1])) / np.diff(points.y)
    turns = (0.0, -float(np.median(steps)))
    starts = []
    for turn in turns:
        straight = points.seen * np.exp(1j * turn * (points.y - 1))
        pole = next(candidates(points.y, straight, phase=True))
        starts += [
            linear(shape, points.y, points.target, np.append(front, turn))
            for front in (*fronts, pole)
        ]
    return starts


def _best(points: Points, shape: Shape, starts: list[FloatArray], count: int) -> Solved:
    """Refine the ``count`` best of the start vectors and give the best result."""
    ranked = sorted(
        (_score(points, curve(shape, points.y, p)), place) for place, p in enumerate(starts)
    )
    everything = np.ones(points.y.size, dtype=np.bool_)
    found = [_finish(points, shape, starts[place], everything) for _, place in ranked[:count]]
    return min(found, key=lambda solved: solved.score)


def _score(points: Points, model: Curve) -> float:
    """Disagreement that grows only slowly with single wild points."""
    ratio = np.abs(points.target - model) / points.noise
    return float(np.sum(np.log1p(ratio**2)))


def _finish(points: Points, shape: Shape, start: FloatArray, kept: BoolArray) -> Solved:
    """Least squares from a start vector, setting wild points aside."""
    p = start
    for _ in range(_ROUNDS):
        solution = _minimum(points, shape, p, kept)
        p = solution.parameters
        residual = (points.target - drawn(shape, points.y, p)) * points.weight
        again = ~_wild(residual, math.sqrt(points.floor))
        again &= np.isfinite(curve(shape, points.y, p))
        if np.array_equal(again, kept) or np.count_nonzero(again) <= (shape.size + 1) // 2 + 1:
            break
        kept = again
    left: Curve = residual[kept]
    white = whiteness(left if not points.magnitude else halves(left.real))
    return Solved(
        shape=shape,
        solution=solution,
        kept=kept,
        score=_score(points, curve(shape, points.y, p)),
        white=white,
        floor=points.floor,
    )


def _minimum(points: Points, shape: Shape, start: FloatArray, kept: BoolArray) -> Solution:
    y, seen, weight = points.y[kept], points.target[kept], points.weight[kept]
    span = float(y[-1] - y[0])
    clip = np.full(shape.size, np.inf)
    clip[: shape.nonlinear] = (np.array(_CLIP) * [span, 1, 1 / span])[: shape.nonlinear]
    return minimise(
        lambda p: (curve(shape, y, p) - seen) * weight,
        lambda p: slopes(shape, y, p) * weight[:, None],
        start,
        clip=clip,
        iterations=_ITERATIONS,
    )


def _wild(residual: Curve, floor: float) -> BoolArray:
    """Mark points that stick out of the residuals and of their neighbours, and stand alone.

    Where the neighbours lie off the same way, the curve does not fit there: that is structure.
    """
    size: FloatArray = np.abs(residual)
    middle = _middle(residual)
    away: FloatArray = np.abs(residual - middle)
    # the median modulus of noise is 1.18 component deviations, of real noise 0.67
    limit = _WILD / (1.18 if np.iscomplexobj(residual) else 0.67)
    alone = np.abs(middle) < size / _ALONE
    return (
        alone
        & (size > limit * float(np.median(size)) + floor)
        & (away > limit * float(np.median(away)) + floor)
    )


def _middle(residual: Curve) -> Curve:
    """Take the running median of five, component by component."""
    padded = np.pad(residual, 2, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5)
    if not np.iscomplexobj(residual):
        return np.asarray(np.median(windows, axis=1))
    return np.asarray(np.median(windows.real, axis=1) + 1j * np.median(windows.imag, axis=1))


def halves(residual: FloatArray) -> ComplexArray:
    """Lay the halves of real residuals (N,) side by side, as the test of complex ones wants."""
    half = residual.size // 2
    return residual[:half] + 1j * residual[half : 2 * half]
