"""Residuals of many sweeps looked over for what a plain fit takes for granted: even noise.

A sweep that looks otherwise is not judged here; it only asks for a closer look.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray
from benchapp.fit.blocks import dot
from benchapp.fit.honesty import FEWEST_RUNS, LAG_ONE

__all__ = ["TREND", "even", "spread_limit", "wild_limit"]

_SHARE = 10.0  # ln of about twenty thousand
_SPREAD = 4.5  # normal scores
TREND = 4.0
"""Normal score at which the size of the noise is taken to follow |Z|."""


def wild_limit(points: int) -> float:
    """Give the squared residual over its mean that noise exceeds in one sweep of twenty thousand.

    |r|^2 of complex Gaussian noise is exponential, so that the largest of N exceeds
    ln N + ln 20,000 times the mean that often.
    """
    return math.log(points) + _SHARE


def spread_limit(points: int) -> float:
    """Give the mean of |r| over its root mean square below which noise hardly ever comes.

    It is sqrt(pi) / 2 for complex Gaussian noise, found with a spread of 0.1345 / sqrt(N), and
    smaller for anything with a tail or of more than one size. Source: R. C. Geary, "The ratio
    of the mean deviation to the standard deviation as a test of normality", Biometrika 27
    (1935) 310-332, for both components together.
    """
    return math.sqrt(math.pi) / 2.0 - _SPREAD * 0.1345 / math.sqrt(points)


def even(
    real: FloatArray, imag: FloatArray, level: FloatArray, *, any_kind: bool
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Tell which sweeps have residuals of one size throughout, none tied to its neighbour.

    Parameters
    ----------
    real, imag : (n, M) float
        Parts of the relative residual; overwritten.
    level : (n, M) float
        |Z|^2 or its inverse, up to a factor for each sweep; overwritten.
    any_kind : bool
        Also ask whether the size follows |Z|, as noise of another kind would make it.

    Returns
    -------
    even : (n,) bool
    power : (n,) float
        Sum of the squared residuals.
    """
    size = real.shape[1]
    chained = dot(real[:, 1:], real[:, :-1]) + dot(imag[:, 1:], imag[:, :-1])
    few = _few_runs(real, imag)
    real *= real
    imag *= imag
    power = real
    power += imag
    total: FloatArray = power.sum(axis=1)
    mean = total / size
    good: NDArray[np.bool_] = power.max(axis=1) <= wild_limit(size) * mean
    # neighbours' products add up to nothing, with a spread of the mean power times sqrt(M / 2)
    good &= chained <= (LAG_ONE * math.sqrt(size / 2.0)) * mean
    good &= ~few
    sizes = np.sqrt(power, out=imag).sum(axis=1)
    good &= sizes >= spread_limit(size) * size * np.sqrt(mean)
    if any_kind:
        good &= _no_trend(power.astype(np.float32), mean, level.astype(np.float32))
    return good, total


def _few_runs(*parts: FloatArray) -> NDArray[np.bool_]:
    """Tell where signs last long: the test of `benchapp.fit.honesty.whiteness` by rows."""
    size = parts[0].shape[1]
    excess, spread = 0.0, 0.0
    for part in parts:
        sign = np.copysign(1.0, part)
        total = sign.sum(axis=1)
        twice = (size * size - total * total) / (2.0 * size)  # expected changes
        excess = excess + (size - 1.0 - dot(sign[:, 1:], sign[:, :-1])) / 2.0 - twice
        spread = spread + twice * (twice - 1.0)
    return np.asarray(excess < FEWEST_RUNS * np.sqrt(spread / (size - 1.0)))


def _no_trend(
    power: NDArray[np.float32], mean: FloatArray, level: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """Regress |r|^2 / mean, whose variance is 1, on ln |Z|^2 and on its square, both centred.

    A score test: T. S. Breusch, A. R. Pagan, "A simple test for heteroscedasticity and random
    coefficient variation", Econometrica 47 (1979) 1287-1294.
    """
    np.log(level, out=level)
    level -= level.mean(axis=1, keepdims=True)
    spread, slope = dot(level, level), dot(power, level) / mean
    level *= level
    bend = dot(power, level) / mean - spread
    width = dot(level, level) - spread * spread / level.shape[1]
    limit = TREND**2
    flat: NDArray[np.bool_] = (slope * slope <= limit * spread) & (bend * bend <= limit * width)
    return flat
