"""How large the noise is at each point, found from the residuals where nobody knows its kind.

The variance of an impedance error is taken as a sum of three kinds with weights >= 0: relative,
constant in ohm, and constant in the reflection coefficient at 50 ohm,

    v = a |Z|^2 + b + c |(Z + Zr)^2 / (2 Zr)|^2.

The squared residuals of a fit are regressed on these, weighed by the result of the round before.
Source: feasible generalised least squares, R. J. Carroll, D. Ruppert, Transformation and
Weighting in Regression (1988), chapter 3.
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np

from benchapp.capture import ComplexArray, FloatArray
from benchapp.fit.noise import Law, shapes
from benchapp.fit.screen import TREND

__all__ = ["follows_level", "law_of", "one_port_law"]

_ROUNDS = 3
_EXACT = 1e-32  # squared relative error that is rounding alone
_RIDGE = 1e-12
_FEW_POINTS = 2.0  # a score that rests on one point has the tail of its power
_LEAST = 1e-8  # of the largest variance relative to |Z|^2
_CHOSEN = np.array([subset for subset in product((False, True), repeat=3) if any(subset)])


def follows_level(residual: ComplexArray, model: ComplexArray) -> bool:
    """Tell whether the size of relative residuals follows |Z|.

    A score test: T. S. Breusch, A. R. Pagan, "A simple test for heteroscedasticity and random
    coefficient variation", Econometrica 47 (1979) 1287-1294, on ln |Z| and its square; and on
    the kinds of noise themselves, where a few points at a sharp resonance may hold all of it.
    """
    power = np.abs(residual) ** 2
    mean = power.mean()
    if power.size < 4 or not mean > 0:
        return False
    level = np.log(np.abs(model))
    level -= level.mean()
    bend = level**2 - np.mean(level**2)
    excess = power / mean - 1.0
    kinds = shapes(model)[1:]
    kinds -= kinds.mean(axis=1, keepdims=True)
    rows = [(level, TREND), (bend, TREND), *((kind, _FEW_POINTS * TREND) for kind in kinds)]
    return any(abs(excess @ row) > limit * math.sqrt(row @ row) for row, limit in rows)


def one_port_law(deviation: ComplexArray, model: ComplexArray) -> Law:
    """Take all deviations for noise of a one-port reflection: a law to start from.

    Weights that are wrong for such noise make a fit pass through the few points at the top of a
    sharp resonance, where nearly all of it is; what is left then does not show its law.

    Parameters
    ----------
    deviation : (N,) complex, ohm
    model : (N,) complex, ohm

    Returns
    -------
    Law
    """
    kind = shapes(model)[2]
    squared = (np.abs(deviation) / np.abs(model)) ** 2
    part = max(float(squared.mean() / kind.mean()), _EXACT)
    variance = part * kind
    parts = np.array([0.0, 0.0, part])
    return Law(parts=parts, floor=float(variance.min()), spread=variance).of(model)


def law_of(deviation: ComplexArray, model: ComplexArray) -> Law:
    """Find the law of the noise from what is left of the data.

    Parameters
    ----------
    deviation : (N,) complex, ohm
        Measured minus model.
    model : (N,) complex, ohm

    Returns
    -------
    Law
    """
    kinds = shapes(model)
    squared = (np.abs(deviation) / np.abs(model)) ** 2
    parts = np.array([max(float(squared.mean()), _EXACT), 0.0, 0.0])
    variance = parts @ kinds
    for _ in range(_ROUNDS):
        parts = _regress(kinds, squared, variance)
        variance = parts @ kinds
        variance = np.maximum(variance, max(_LEAST * float(variance.max()), _EXACT))
    return Law(parts=parts, floor=float(variance.min()), spread=variance).of(model)


def _regress(kinds: FloatArray, squared: FloatArray, variance: FloatArray) -> FloatArray:
    """Weighted least squares with coefficients >= 0, by trying all subsets of the kinds.

    A kind must earn its place: ln N of the weighted sum of squares, as information criteria ask.
    """
    rows = kinds / variance
    scale = np.sqrt(np.einsum("ij,ij->i", rows, rows))
    rows /= scale[:, None]
    normal = (rows @ rows.T + _RIDGE * np.eye(3)) * (_CHOSEN[:, :, None] & _CHOSEN[:, None, :])
    normal += np.eye(3) * ~_CHOSEN[:, :, None]
    pull = rows @ (squared / variance) * _CHOSEN
    weights = np.linalg.solve(normal, pull[:, :, None])[:, :, 0]
    gain = (weights * pull).sum(axis=1) - _CHOSEN.sum(axis=1) * math.log(squared.size)
    gain[~(weights >= 0).all(axis=1)] = -np.inf
    best = int(np.argmax(gain))
    return np.asarray(weights[best] / scale if np.isfinite(gain[best]) else np.zeros(3))
