"""What recorded samples tell: a code of the converter is an interval, its end a half line."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray
from benchapp.fit.clipping import Rails

__all__ = ["Codes", "Told", "codes"]

BoolArray = NDArray[np.bool_]

_COARSE = 1.0  # converter steps of noise above which rounding is nothing but more noise
_DITHERED = 0.25  # below which too few codes are seen for their shares to tell anything
_FAR = 1e6  # noise deviations; beyond all that can be told apart
_LEAST = 1e-12  # of the weight of a sample without an end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Told:
    """What samples say about the voltage expected there, each (N,).

    ``deviance`` is -2 ln of their likelihood, ``score`` the slope of ln likelihood in 1/V and
    ``weight`` its negative curvature in 1/V^2.
    """

    deviance: FloatArray
    score: FloatArray
    weight: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Codes:
    """Samples as intervals ``lower`` to ``upper`` (N,) in V, with ``noise`` in V before them.

    Both are equal where a sample is as good as a number, and one is infinite where the converter
    was at its end. Samples not ``usable`` (N,) tell nothing.
    """

    lower: FloatArray
    upper: FloatArray
    noise: float
    usable: BoolArray

    def ended(self, part: slice) -> BoolArray:
        """Mark the samples of a part that sit at an end of the converter."""
        return np.isinf(self.lower[part]) | np.isinf(self.upper[part])

    def told(self, expected: FloatArray, part: slice) -> Told:
        """Ask a part of the samples.

        Parameters
        ----------
        expected : (K,) float, V
            What a curve gives at these samples.
        part : slice
            Which K of the N samples.

        Returns
        -------
        Told

        Notes
        -----
        With a = (lower - v)/s, b = (upper - v)/s, P = Phi(b) - Phi(a) and phi the normal density,
        d lnP/dv = (phi(a) - phi(b))/(s P), and its negative slope is the square of that plus
        (b phi(b) - a phi(a))/(s^2 P). A number x has (x - v)/s^2 and 1/s^2.

        Source: J. Tobin, Econometrica 26 (1958) 24-36 (samples cut off at a limit); W. F.
        Sheppard, Proceedings of the London Mathematical Society 29 (1898) 353-380 (rounding).
        """
        a, b = (
            np.where(np.isfinite(end), np.clip((end - expected) / self.noise, -_FAR, _FAR), end)
            for end in (self.lower[part], self.upper[part])
        )
        deviance, score, weight = a * a, a.copy(), np.ones_like(a)
        wide = a < b
        if wide.any():
            deviance[wide], score[wide], weight[wide] = _interval(a[wide], b[wide])
        for told in (deviance, score, weight):
            told[~self.usable[part]] = 0.0
        return Told(deviance=deviance, score=score / self.noise, weight=weight / self.noise**2)


def _interval(a: FloatArray, b: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Deviance, score and weight of intervals in units of the noise."""
    from scipy.special import log_ndtr  # start-up: scipy only when needed

    above = a > -b
    low, high = np.where(above, -b, a), np.where(above, -a, b)
    top, bottom = log_ndtr(high), log_ndtr(low)
    log_p = top + np.log1p(-np.exp(np.minimum(bottom - top, -1e-300)))
    at_a, at_b = (np.exp(-end * end / 2 - log_p) / math.sqrt(2 * math.pi) for end in (a, b))
    score = at_a - at_b
    lower, upper = np.where(np.isfinite(a), a, 0.0), np.where(np.isfinite(b), b, 0.0)
    return -2 * log_p, score, np.maximum(score**2 + upper * at_b - lower * at_a, _LEAST)


def codes(
    voltage: FloatArray, ends: Rails, noise: float, step: float | None, kept: BoolArray
) -> Codes:
    """Turn samples into what they tell.

    Parameters
    ----------
    voltage : (N,) float, V
    ends : Rails
    noise : float, V
        Deviation of the samples from their curve, with the rounding in it.
    step : float, V, optional
        Of the converter.
    kept : (N,) bool
        Samples to use where the ends are not stated: what seems to be an end of the converter
        may be one of an amplifier, whose samples do not tell that the voltage was beyond.

    Returns
    -------
    Codes
        Intervals where the noise before the converter is between a quarter of a step and one
        step. With less too few codes are seen, with more rounding is noise of step/sqrt(12).
    """
    half = (step or 0.0) / 2
    before = noise**2 - half**2 / 3
    rounded = (2 * _DITHERED * half) ** 2 < before < (2 * _COARSE * half) ** 2
    width = half if rounded else 0.0
    lower, upper = voltage - width, voltage + width
    if ends.high is not None:
        top = voltage >= ends.high
        lower, upper = np.where(top, ends.high - half, lower), np.where(top, np.inf, upper)
    if ends.low is not None:
        bottom = voltage <= ends.low
        upper, lower = np.where(bottom, ends.low + half, upper), np.where(bottom, -np.inf, lower)
    return Codes(
        lower=lower,
        upper=upper,
        noise=math.sqrt(before) if rounded else noise,
        usable=np.ones_like(kept) if ends.stated else kept,
    )
