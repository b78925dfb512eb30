"""Residuals of many sweeps looked over for what a plain fit takes for granted: even noise.

A sweep that looks otherwise is not judged here; it only asks for a closer look.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray
from benchapp.fit.blocks import dot

__all__ = ["even", "wild_limit"]

_SHARE = 7.0  # one sweep in a thousand of clean ones
_TAIL = 5.0
_CHAIN = 4.0
_TREND = 3.0


def wild_limit(points: int) -> float:
    """Give the squared residual over its mean that noise exceeds in one sweep of a thousand.

    |r|^2 of complex Gaussian noise is exponential, so that the largest of N exceeds
    ln N + ln 1000 times the mean that often.
    """
    return math.log(points) + _SHARE


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
    real *= real
    imag *= imag
    power = real
    power += imag
    total: FloatArray = power.sum(axis=1)
    mean = total / size
    # E |r|^4 = 2 (E |r|^2)^2 for noise, with a spread of sqrt(20 / M) about it; neighbours'
    # products add up to nothing, with a spread of the mean power times sqrt(M / 2)
    tail = dot(power, power) / (mean * total)
    good: NDArray[np.bool_] = power.max(axis=1) <= wild_limit(size) * mean
    good &= np.abs(tail - 2.0) <= _TAIL * math.sqrt(20.0 / size)
    good &= chained <= (_CHAIN * math.sqrt(size / 2.0)) * mean
    if any_kind:
        good &= _no_trend(power.astype(np.float32), mean, level.astype(np.float32))
    return good, total


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
    limit = _TREND**2
    flat: NDArray[np.bool_] = (slope * slope <= limit * spread) & (bend * bend <= limit * width)
    return flat
