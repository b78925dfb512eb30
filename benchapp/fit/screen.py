"""Residuals of many sweeps looked over for what a plain fit takes for granted: even noise.

A sweep that looks otherwise is not judged here; it only asks for a closer look.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray
from benchapp.fit.blocks import dot
from benchapp.fit.honesty import FEWEST_RUNS, LAG_ONE, OFF

__all__ = ["TREND", "even", "spread_limit", "wild_limit"]

_SHARE = 10.0  # ln of about twenty thousand
_SPREAD = 4.5  # normal scores
_MILDER = 0.2  # of runs, for what the balance of signs may do
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
    parts: FloatArray, level: FloatArray, room: FloatArray, *, any_kind: bool
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Tell which sweeps have residuals of one size throughout, none tied to its neighbour.

    Parameters
    ----------
    parts : (2, n, M) float
        Real and imaginary part of the relative residual.
    level : (n, M) float
        |Z|^2 or its inverse, up to a factor for each sweep.
    room : (2, n, M) float
        Contiguous; overwritten.
    any_kind : bool
        Also ask whether the size follows |Z|, as noise of another kind would make it.

    Returns
    -------
    even : (n,) bool
    power : (n,) float
        Sum of the squared residuals.
    """
    size = level.shape[1]
    total = dot(parts, parts).sum(axis=0)
    mean = total / size
    narrow = room.view(np.float32).reshape(2, *parts.shape)
    near, spare = narrow
    np.copyto(near, parts, casting="same_kind")
    good = _scattered(near, spare, mean)
    near *= near
    power = np.add(near[0], near[1], out=near[0])
    good &= _all_near(power, mean)
    sizes = np.sqrt(power, out=near[1]) @ _ones(size)
    good &= sizes >= spread_limit(size) * size * np.sqrt(mean)
    if any_kind:
        np.copyto(spare[0], level, casting="same_kind")
        good &= _no_trend(power, mean, spare[0])
    return good, total


def _ones(size: int) -> NDArray[np.float32]:
    return np.ones(size, dtype=np.float32)


def _scattered(
    parts: NDArray[np.float32], spare: NDArray[np.float32], mean: FloatArray
) -> NDArray[np.bool_]:
    """Tell where neighbours are not alike: the tests of `benchapp.fit.honesty.whiteness` by rows.

    Their products add up to nothing, with a spread of the mean power times sqrt(M / 2). Half of
    the points are taken to lie above, where most changes of sign are expected.
    """
    size = parts.shape[2]
    flat = parts.reshape(-1)  # in one go, then the ends of rows are put right
    np.multiply(flat[1:], flat[:-1], out=spare.reshape(-1)[:-1])
    spare[:, :, -1] = 0.0
    chained = (spare @ _ones(size)).sum(axis=0)
    narrow = np.min_scalar_type(size)  # several times as fast as wide numbers
    changes = np.add.reduce((spare < 0).view(np.uint8), axis=2, dtype=narrow)
    spread = math.sqrt(size * (size - 2.0) / (4.0 * (size - 1.0)))
    fewest = size + (FEWEST_RUNS + _MILDER) * math.sqrt(2.0) * spread
    good = chained <= (LAG_ONE * math.sqrt(size / 2.0)) * mean
    return np.asarray(good & (changes[0] + changes[1].astype(np.int64) >= fewest))


def _all_near(power: NDArray[np.float32], mean: FloatArray) -> NDArray[np.bool_]:
    """Tell where no point is wild, and no five neighbours lie off together.

    So many may be counted as together by `benchapp.fit.honesty.whiteness`.
    """
    count, size = power.shape
    wild = power > (wild_limit(size) * mean)[:, None].astype(np.float32)
    off = np.zeros((count, size + 4), dtype=np.bool_)  # rows end before others begin
    np.greater(power, (0.5 * OFF**2 * mean)[:, None].astype(np.float32), out=off[:, :size])
    flat = off.reshape(-1)
    pairs = flat[1:] & flat[:-1]
    fours = pairs[2:] & pairs[:-2]
    fives = fours[1:] & flat[:-4]
    good = np.ones(count, dtype=np.bool_)
    if wild.any():
        good &= ~wild.any(axis=1)
    if fives.any():
        good[np.flatnonzero(fives) // (size + 4)] = False
    return good


def _no_trend(
    power: NDArray[np.float32], mean: FloatArray, level: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """Regress |r|^2 / mean, whose variance is 1, on ln |Z|^2 and on its square, both centred.

    A score test: T. S. Breusch, A. R. Pagan, "A simple test for heteroscedasticity and random
    coefficient variation", Econometrica 47 (1979) 1287-1294.
    """
    size = level.shape[1]
    np.log(level, out=level)
    level -= (level @ _ones(size) / np.float32(size))[:, None]
    spread, slope = dot(level, level), dot(power, level) / mean
    level *= level
    bend = dot(power, level) / mean - spread
    width = dot(level, level) - spread * spread / size
    limit = TREND**2
    flat: NDArray[np.bool_] = (slope * slope <= limit * spread) & (bend * bend <= limit * width)
    return flat
