"""Frequency and quality factor of a decay from its zero crossings and its extrema."""

from __future__ import annotations

import math

import numpy as np

from benchapp.capture import FloatArray
from benchapp.fit.half_power import Found, Straight

__all__ = ["decrement"]

_ABOVE = 5.0  # noise deviations by which an extremum must stand out
_FEWEST = 3


def decrement(time: FloatArray, voltage: FloatArray, noise: float, period: float) -> Found | None:
    """Give f0 and Q of a free decay by counting.

    Parameters
    ----------
    time : (N,) float, s
        Of the samples of one burst; gaps (clipped samples) are allowed.
    voltage : (N,) float, V
        Without offset.
    noise : float, V
        Standard uncertainty of a sample.
    period : float, s
        Of the swing, roughly.

    Returns
    -------
    Found or None
        None where fewer than three extrema or crossings stand out.

    Notes
    -----
    A line through the times of the zero crossings gives the damped frequency, a line through ln
    of the extrema over half periods half the logarithmic decrement d. Then Q = sqrt((pi/d)^2 +
    1/4) and f0 = fd/sqrt(1 - 1/(4 Q^2)).

    Source: common practice; d = pi/sqrt(Q^2 - 1/4) follows from the circuit.
    """
    crossings = _crossings(time, voltage, noise, period)
    if crossings is None:
        return None
    moments, spread = crossings
    order = np.round((moments - moments[0]) / (period / 2))
    if moments.size < _FEWEST or np.unique(order).size < moments.size:
        return None
    beat = Straight.through(order, moments - moments[0], spread, 1)
    half, u_half = float(beat.coefficients[1]), math.sqrt(float(beat.covariance[1, 1]))
    tops = _tops(time, voltage, noise, moments[0] + float(beat.coefficients[0]), half)
    if tops is None:
        return None
    fall = Straight.through(*tops, 1)
    d, u_d = -2 * float(fall.coefficients[1]), 2 * math.sqrt(float(fall.covariance[1, 1]))
    if d <= 0:
        return None
    Q = math.hypot(math.pi / d, 0.5)
    u_Q = math.pi**2 / d**3 / Q * u_d
    damped, rest = 1 / (2 * half), math.sqrt(1 - 1 / (4 * Q * Q))
    f0 = damped / rest
    by_Q = 1 / (4 * Q**3) / rest**2
    return Found(f0=f0, u_f0=f0 * math.hypot(u_half / half, by_Q * u_Q), Q=Q, u_q=u_Q)


def _near(time: FloatArray, middle: float, reach: float) -> slice:
    """Give the samples not farther than ``reach`` from a moment."""
    return slice(
        int(np.searchsorted(time, middle - reach)), int(np.searchsorted(time, middle + reach))
    )


def _crossings(
    time: FloatArray, voltage: FloatArray, noise: float, period: float
) -> tuple[FloatArray, FloatArray] | None:
    """Give the times at which the voltage passes zero, each from a line through samples near."""
    signs = np.flatnonzero(np.signbit(voltage[1:]) != np.signbit(voltage[:-1]))
    moments: list[float] = []
    spread: list[float] = []
    for place in signs.tolist():
        middle = float(time[place] + time[place + 1]) / 2
        if moments and middle - moments[-1] < 0.35 * period:
            continue
        if np.abs(voltage[_near(time, middle, period / 2)]).max(initial=0.0) < _ABOVE * noise:
            break
        close = _near(time, middle, period / 16)
        near = slice(min(close.start, place), max(close.stop, place + 2))
        t, v = time[near] - middle, voltage[near]
        if t[-1] - t[0] > period / 4:
            continue
        line = Straight.through(t, v, np.full(t.size, noise), 1)
        slope = float(line.coefficients[1])
        if slope == 0:
            continue
        zero = -float(line.coefficients[0]) / slope
        moments.append(middle + zero)
        spread.append(line.at(zero)[1] / abs(slope))
    if len(moments) < _FEWEST:
        return None
    return np.array(moments), np.array(spread)


def _tops(
    time: FloatArray, voltage: FloatArray, noise: float, first: float, half: float
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Give number, ln height and its uncertainty of the voltage midway between crossings."""
    numbers, heights, spread = [], [], []
    for number in range(-1, int((time[-1] - first) / half) + 1):
        middle = first + (number + 0.5) * half
        near = _near(time, middle, half / 4)
        t, v = (time[near] - middle) / half, np.abs(voltage[near])
        if t.size < 4 or t[-1] - t[0] < 1 / 3:
            continue
        bow = Straight.through(t, v, np.full(t.size, noise), 3 if t.size >= 8 else 2)
        height, u, _ = bow.at(0.0)
        if height < _ABOVE * noise:
            break
        numbers.append(float(number))
        heights.append(math.log(height))
        spread.append(u / height)
    if len(numbers) < _FEWEST:
        return None
    return np.array(numbers), np.array(heights), np.array(spread)
