"""Fits that wild points cannot ruin.

Source of the search: M. A. Fischler, R. C. Bolles, "Random sample consensus", Communications of
the ACM 24 (1981) 381-395, scored by the median (P. J. Rousseeuw, "Least median of squares
regression", J. American Statistical Association 79 (1984) 871-880); of the weights: A. E.
Beaton, J. W. Tukey, "The fitting of power series", Technometrics 16 (1974) 147-185.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.fit.honesty import whiteness
from benchapp.fit.noise import View
from benchapp.fit.refine import Optimum, polish, refine
from benchapp.fit.screen import spread_limit, wild_limit
from benchapp.fit.start import models, rough

__all__ = ["keep", "scattered", "suspicious", "without_wild"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]

_FEWEST = 12
_DRAWS = 300
_SAMPLE = 6
_CUT = 6.0
_REJECT = 4.0
_MOST = 0.45
_ROUNDS = 8
_AREA = 50.0
_FEW = 0.97
_MEDIAN = math.sqrt(2.0 * math.log(2.0))  # median of |r| for unit components
_STILL = 1e-2  # of a standard uncertainty
_CHANCE = 1e-5
_FEW_TOGETHER = 5
_STEPS = np.sqrt(np.array([2.0, 3.0, 5.0, 7.0, 11.0, 13.0]))


def suspicious(residual: ComplexArray) -> bool:
    """Tell whether residuals have a tail that noise of one size has not."""
    power = np.abs(residual) ** 2
    size, mean = power.size, float(power.mean())
    if size < _FEWEST or mean == 0:
        return False
    even = float(np.sqrt(power).mean()) >= spread_limit(size) * math.sqrt(mean)
    return float(power.max()) > wild_limit(size) * mean or not even


def keep(residual: ComplexArray) -> BoolArray:
    """Tell which points are not wild, by the median of the residuals."""
    size = np.abs(residual)
    return np.asarray(size <= _REJECT * float(np.median(size)) / _MEDIAN)


def without_wild(
    circuit: Circuit, y: FloatArray, view: View, plain: Optimum | None = None
) -> tuple[BoolArray, Optimum] | None:
    """Fit what most of the points agree on.

    Parameters
    ----------
    circuit : Circuit
    y : (N,) float
        Frequency relative to the reference of the coordinates.
    view : View
    plain : Optimum, optional
        The fit to all points, which is near enough where only a few of them are wild.

    Returns
    -------
    (N,) bool, Optimum
        The points kept, and the fit to them. None where no nine in twenty agree.
    """
    with np.errstate(all="ignore"):
        if plain is not None:
            few = _clean(circuit, y, view, plain.point)
            if few is not None and np.mean(few[0]) >= _FEW and _even(few[1].residual):
                return few
        if circuit.family == "coupled":
            point = None if plain is None else plain.point
        else:
            point = _consensus(circuit, y, view)
        if point is not None:
            point = _weighted(circuit, y, view, point)
        return None if point is None else _clean(circuit, y, view, point)


def _even(residual: ComplexArray) -> bool:
    return not suspicious(residual) and whiteness(residual).describes


def _draws(size: int) -> NDArray[np.intp]:
    """Draw samples of points (n, 6) by irrational steps, so that a sweep has one answer.

    Source: R. D. Richtmyer, "The evaluation of definite integrals, and a quasi-Monte-Carlo
    method based on the properties of algebraic numbers", Los Alamos report LA-1342 (1951).
    """
    places = np.modf(np.arange(1, _DRAWS + 1)[:, None] * _STEPS)[0]
    chosen = np.sort((places * size).astype(np.intp), axis=1)
    return chosen[(np.diff(chosen, axis=1) > 0).all(axis=1)]


def _consensus(circuit: Circuit, y: FloatArray, view: View) -> FloatArray | None:
    """Of fits to six points each, the one that leaves the smallest median residual."""
    chosen, weight = _draws(y.size), view.sensitivity()
    if not chosen.size:
        return None
    points = rough(circuit, y[chosen], view.measured[chosen], weight[chosen])
    away = np.abs(models(circuit, y, points) - view.measured) * weight
    score = np.median(away, axis=1)
    best = int(np.argmin(np.where(np.isfinite(score), score, np.inf)))
    return points[best] if np.isfinite(score[best]) else None


def _weighted(circuit: Circuit, y: FloatArray, view: View, point: FloatArray) -> FloatArray | None:
    """Bisquare weights, wide at first, from the median residual of the moment."""
    for cut in (4.0 * _CUT, 2.0 * _CUT, *[_CUT] * 8):
        residual, _ = view.weigh(*circuit.kernel(y, point))
        scale = float(np.median(np.abs(residual))) / _MEDIAN
        if not scale > 0:
            break
        ratio = np.minimum(np.abs(residual) / (cut * scale), 1.0)
        trial = polish(circuit.kernel, y, replace(view, weight=1.0 - ratio**2), point)
        if trial is None:
            return None
        moved = np.abs(trial.point - point) / np.sqrt(trial.covariance.diagonal())
        point = trial.point
        if cut == _CUT and float(moved.max()) < _STILL:
            break
    return point


def _clean(
    circuit: Circuit, y: FloatArray, view: View, point: FloatArray
) -> tuple[BoolArray, Optimum] | None:
    """Set the wild points aside and fit the rest, until the same are set aside again."""
    residual, _ = view.weigh(*circuit.kernel(y, point))
    kept = keep(residual)
    for _ in range(_ROUNDS):
        if np.count_nonzero(kept) < _MOST * kept.size:
            return None
        found = refine(circuit.kernel, y[kept], view.take(kept), [point])
        if found is None or not found.converged:
            return None
        residual, _ = view.weigh(*circuit.kernel(y, found.point))
        limit = _limit(float(np.mean(~kept)), kept.size)
        again = np.abs(residual) <= limit * math.sqrt(found.variance / _left(limit))
        if np.array_equal(again, kept):
            break
        kept = again
    found = refine(circuit.kernel, y[kept], view.take(kept), [point])
    return None if found is None or not found.converged else (kept, found)


def _limit(share: float, size: int) -> float:
    """Give the residual, in standard deviations, beyond which a point is rather wild than not.

    The share exp(-x^2 / 2) of the good points comes that far, and wild ones are spread over an
    area some fifty times that of the noise.
    """
    share = min(max(share, 1.0 / size), 0.5)
    return math.sqrt(2.0 * math.log(_AREA * (1.0 - share) / share))


def _left(limit: float) -> float:
    """Give the variance of noise cut off beyond a limit, over the whole."""
    beyond = math.exp(-0.5 * limit * limit)
    return 1.0 - 0.5 * limit * limit * beyond / (1.0 - beyond)


def scattered(kept: BoolArray) -> bool:
    """Tell whether the points set aside lie scattered, as wild points do.

    A few may lie side by side. More must form as many groups as points strewn by chance do but
    once in a hundred thousand times.

    Notes
    -----
    m points strewn among N - m others form r groups in C(m - 1, r - 1) C(N - m + 1, r) of all
    C(N, m) ways. Source: A. Wald, J. Wolfowitz, "On a test whether two samples are from the same
    population", Annals of Mathematical Statistics 11 (1940) 147-162.
    """
    aside = np.concatenate(([False], ~kept))
    count, groups = np.count_nonzero(aside), np.count_nonzero(aside[1:] & ~aside[:-1])
    if count <= _FEW_TOGETHER:
        return True
    factorials = np.concatenate(([0.0], np.cumsum(np.log(np.arange(1.0, kept.size + 2)))))

    def ways(size: int, part: IntArray) -> FloatArray:
        return np.asarray(factorials[size] - factorials[part] - factorials[size - part])

    others = int(kept.size - count + 1)
    fewer = np.arange(1, min(int(groups), others) + 1)
    whole = float(ways(kept.size, np.array(count)))
    chance = np.exp(np.add(ways(int(count) - 1, fewer - 1), ways(others, fewer)) - whole)
    return float(np.sum(chance)) > _CHANCE
