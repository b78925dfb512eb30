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
    real: FloatArray, imag: FloatArray, level: FloatArray, *, any_kind: bool
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Tell which sweeps have residuals of one size throughout, none tied to its neighbour.

    Parameters
    ----------
    real, imag : (n, M) float
        Parts of the relative residual.
    level : (n, M) float
        |Z|^2 or its inverse, up to a factor for each sweep.
    any_kind : bool
        Also ask whether the size follows |Z|, as noise of another kind would make it.

    Returns
    -------
    even : (n,) bool
    power : (n,) float
        Sum of the squared residuals.
    """
    size = real.shape[1]
    total = dot(real, real) + dot(imag, imag)
    mean = total / size
    x, y = real.astype(np.float32), imag.astype(np.float32)
    # neighbours' products add up to nothing, with a spread of the mean power times sqrt(M / 2)
    chained = dot(x[:, 1:], x[:, :-1]) + dot(y[:, 1:], y[:, :-1])
    good: NDArray[np.bool_] = chained <= (LAG_ONE * math.sqrt(size / 2.0)) * mean
    good &= ~_few_runs(x, y)
    x *= x
    y *= y
    x += y
    good &= x.max(axis=1) <= wild_limit(size) * mean
    good &= ~_clustered(x, mean)
    good &= np.sqrt(x, out=y).sum(axis=1) >= spread_limit(size) * size * np.sqrt(mean)
    if any_kind:
        good &= _no_trend(x, mean, level.astype(np.float32))
    return good, total


def _few_runs(*parts: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Tell where signs last long: the test of `benchapp.fit.honesty.whiteness` by rows.

    Half of the points are taken to lie above, where most changes are expected.
    """
    size = parts[0].shape[1]
    expected, spread = size / 2.0, math.sqrt(size * (size - 2.0) / (4.0 * (size - 1.0)))
    score = (FEWEST_RUNS + _MILDER) * math.sqrt(len(parts)) * spread
    changes = sum(_changes(part > 0) for part in parts)
    return np.asarray(changes < len(parts) * expected + score)


def _changes(above: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Count along each row how often neighbours differ."""
    differ = (above[:, 1:] ^ above[:, :-1]).view(np.uint8)
    narrow = np.min_scalar_type(above.shape[1])  # several times as fast as wide numbers
    return np.asarray(np.add.reduce(differ, axis=1, dtype=narrow), dtype=np.int64)


def _clustered(power: NDArray[np.float32], mean: FloatArray) -> NDArray[np.bool_]:
    """Tell where so many neighbours lie off that `whiteness` may count them as together."""
    off = power > (0.5 * OFF**2 * mean)[:, None].astype(np.float32)
    pairs = off[:, 1:] & off[:, :-1]
    fours = pairs[:, 2:] & pairs[:, :-2]
    return np.asarray((fours[:, 1:] & off[:, :-4]).any(axis=1))  # five in a row


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
