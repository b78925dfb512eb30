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

__all__ = ["TREND", "even", "tail_limit", "wild_limit"]

_SHARE = 9.0  # ln of about ten thousand
_TAIL = 6.0
TREND = 3.5
"""Normal score at which the size of the noise is taken to follow |Z|."""


def wild_limit(points: int) -> float:
    """Give the squared residual over its mean that noise exceeds in one sweep of ten thousand.

    |r|^2 of complex Gaussian noise is exponential, so that the largest of N exceeds
    ln N + ln 10,000 times the mean that often.
    """
    return math.log(points) + _SHARE


def tail_limit(points: int) -> float:
    """Give the mean |r|^4 over the squared mean |r|^2 that noise hardly ever exceeds.

    It is 2 for complex Gaussian noise, and found with a spread of 2 / sqrt(N).
    """
    return 2.0 + _TAIL * math.sqrt(4.0 / points)


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
    few = _few_runs(np.stack((real > 0, imag > 0)))
    real *= real
    imag *= imag
    power = real
    power += imag
    total: FloatArray = power.sum(axis=1)
    mean = total / size
    # neighbours' products add up to nothing, with a spread of the mean power times sqrt(M / 2)
    tail = dot(power, power) / (mean * total)
    good: NDArray[np.bool_] = power.max(axis=1) <= wild_limit(size) * mean
    good &= tail <= tail_limit(size)
    good &= chained <= (LAG_ONE * math.sqrt(size / 2.0)) * mean
    good &= ~few
    if any_kind:
        good &= _no_trend(power.astype(np.float32), mean, level.astype(np.float32))
    return good, total


def _few_runs(above: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell where signs (2, n, M) last long: the test of `benchapp.fit.honesty.whiteness`."""
    size = above.shape[2]
    count = np.count_nonzero(above, axis=2)
    twice = (2.0 / size) * count * (size - count)
    changes = np.count_nonzero(above[:, :, 1:] ^ above[:, :, :-1], axis=(0, 2))
    expected, spread = twice.sum(axis=0), (twice * (twice - 1.0)).sum(axis=0) / (size - 1.0)
    return np.asarray(changes - expected < FEWEST_RUNS * np.sqrt(spread))


def _no_trend(
    power: NDArray[np.float32], mean: FloatArray, level: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """Regress |r|^2 / mean, whose variance is 1, on ln |Z|^2 and on its square, both centred.

    A score test: T. S. Breusch, A. R. Pagan, "A simple test for heteroscedasticity and random
    coefficient variation", Econometrica 47 (1979) 1287-1294.
    """
    size = level.shape[1]
    np.log(level, out=level)
    first, second, pull = level.sum(axis=1) / size, dot(level, level), dot(power, level) / mean
    square = level * level
    third, fourth, bent = dot(square, level), dot(square, square), dot(power, square) / mean
    spread = second - size * first**2
    slope = pull - size * first
    bend = bent - second - 2.0 * first * slope
    width = fourth - 4.0 * first * third + 6.0 * first**2 * second - 3.0 * size * first**4
    width -= spread * spread / size
    limit = TREND**2
    flat: NDArray[np.bool_] = (slope * slope <= limit * spread) & (bend * bend <= limit * width)
    return flat
