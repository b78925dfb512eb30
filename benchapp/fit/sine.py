"""Amplitude, phase and frequency of a sine in a scope record, with their uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray, Transient
from benchapp.errors import FitError
from benchapp.fit.clipping import rails
from benchapp.fit.honesty import LIMIT, whiteness
from benchapp.fit.least_squares import minimise
from benchapp.units import Estimate

__all__ = ["Sine", "fit_sine"]

BoolArray = NDArray[np.bool_]

_TWO_PI = 2 * math.pi
_FEWEST = 6
_ROUNDS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sine:
    """A cos(2 pi f t + phase) + offset, fitted to a record.

    ``frequency`` (Hz), ``amplitude`` (V, peak), ``phase`` (deg, at time zero of the record),
    ``offset`` (V). ``covariance`` (2, 2), V^2, is that of the real and imaginary part of
    `phasor`. ``noise`` is the rms residual in V, ``used`` (N,) marks the samples fitted,
    ``residual`` (N,) is measured minus fitted in V. ``determined`` is False where amplitude or
    frequency are not known to 30 %; ``describes`` is False where the residual is no noise.
    """

    frequency: Estimate
    amplitude: Estimate
    phase: Estimate
    offset: Estimate
    covariance: FloatArray
    noise: float
    used: BoolArray
    residual: FloatArray
    determined: bool
    describes: bool

    @property
    def phasor(self) -> complex:
        """Complex peak amplitude in V: amplitude times exp(j phase)."""
        angle = math.radians(self.phase.value)
        return self.amplitude.value * complex(math.cos(angle), math.sin(angle))


def fit_sine(capture: Transient, frequency: Estimate | None = None) -> Sine:
    """Fit a sine with offset to a record; samples need not be evenly spaced.

    Parameters
    ----------
    capture : Transient
    frequency : Estimate, Hz, optional
        The frequency where it is known: three parameters are fitted instead of four. Its own
        uncertainty is carried into the phase.

    Returns
    -------
    Sine

    Raises
    ------
    FitError
        When there are too few samples or the frequency is not above zero.

    Notes
    -----
    Columns cos wt, sin wt and 1 are fitted linearly; with an unknown w a fourth column holds
    the derivative by w and the solution is iterated. A = hypot(a, b), phase = atan2(-b, a).
    Samples at the ends of the converter are left out. Bounds of the uncertainty for even
    sampling: u(A) = s sqrt(2/N), u(f) = (s/A) sqrt(24 / (N (N^2 - 1))) / 2 pi per sample.

    Source: IEEE Std 1057 (three- and four-parameter sine fit, from memory); D. C. Rife and
    R. R. Boorstyn, IEEE Transactions on Information Theory 20 (1974) 591-598.
    """
    _check(capture, frequency)
    ends = rails(capture)
    used = ~ends.reached(capture.voltage)
    if np.count_nonzero(used) < _FEWEST:
        raise FitError(
            f"record: at least {_FEWEST} samples must be within the range of the scope "
            f"(got {np.count_nonzero(used)}).",
            hint="Choose a larger voltage range.",
        )
    known = None if frequency is None else frequency.value
    p = _start(capture.time, capture.voltage, used, known)
    for _ in range(_ROUNDS):
        p, covariance, noise = _solve(capture, used, p, free=known is None)
        expected = _curve(p, capture.time)
        ends = ends.confirmed(expected, capture.voltage, noise)
        keep = ~ends.beyond(expected, noise)
        if np.array_equal(keep, used) or np.count_nonzero(keep) < _FEWEST:
            break
        used = keep
    if frequency is not None:
        covariance = _known(capture, used, p, covariance, frequency.u or 0.0)
    return _sine(capture, used, p, covariance, noise)


def _check(capture: Transient, frequency: Estimate | None) -> None:
    if capture.time.size < _FEWEST:
        raise FitError(
            f"record: must have at least {_FEWEST} samples for a sine (got {capture.time.size}).",
            hint="Record at least one period.",
        )
    if frequency is not None and frequency.value <= 0:
        raise FitError(
            f"frequency: must be above zero (got {frequency.value:g} Hz).",
            hint="Leave it out to let it be found.",
        )


def _columns(omega: float, time: FloatArray) -> FloatArray:
    angle = omega * time
    return np.stack([np.cos(angle), np.sin(angle), np.ones_like(time)], axis=1)


def _curve(p: FloatArray, time: FloatArray) -> FloatArray:
    return np.asarray(_columns(p[0], time) @ p[1:])


def _slopes(p: FloatArray, time: FloatArray) -> FloatArray:
    columns = _columns(p[0], time)
    by_omega = time * (p[2] * columns[:, 0] - p[1] * columns[:, 1])
    return np.column_stack([by_omega, columns])


def _start(
    time: FloatArray, voltage: FloatArray, used: BoolArray, known: float | None
) -> FloatArray:
    """Frequency of the greatest spectral line, refined on a grid of linear fits."""
    t, v = time[used], voltage[used]
    if known is not None:
        candidates = np.array([_TWO_PI * known])
    else:
        span = (time[-1] - time[0]) * time.size / (time.size - 1)
        line = _line(time, voltage)
        around = line + np.linspace(-1.5, 1.5, 13)
        slow = np.linspace(0.25, 2.0, 8)
        turns = np.concatenate([around[around > 0.2], slow])
        candidates = _TWO_PI * turns / span
    best, lowest = None, np.inf
    for omega in candidates:
        columns = _columns(omega, t)
        linear = np.linalg.lstsq(columns, v, rcond=None)[0]
        cost = float(np.sum((columns @ linear - v) ** 2))
        if cost < lowest or best is None:
            best, lowest = np.concatenate(([omega], linear)), cost
    return np.asarray(best)


def _line(time: FloatArray, voltage: FloatArray) -> float:
    """Count the turns over the record of the strongest line of the spectrum."""
    even = np.linspace(time[0], time[-1], time.size)
    resampled = np.interp(even, time, voltage)
    window = np.hanning(time.size)
    spectrum = np.abs(np.fft.rfft(window * (resampled - resampled.mean())))
    return float(np.argmax(spectrum))


def _solve(
    capture: Transient, used: BoolArray, start: FloatArray, *, free: bool
) -> tuple[FloatArray, FloatArray, float]:
    """Least squares of all four parameters, or of the last three."""
    t, v = capture.time[used], capture.voltage[used]
    first = 0 if free else 1

    def whole(part: FloatArray) -> FloatArray:
        return np.concatenate([start[:first], part])

    found = minimise(
        lambda part: _curve(whole(part), t) - v,
        lambda part: _slopes(whole(part), t)[:, first:],
        start[first:],
    )
    variance = found.variance or 0.0
    covariance = np.zeros((4, 4))
    covariance[first:, first:] = found.covariance * variance
    return whole(found.parameters), covariance, math.sqrt(variance)


def _known(
    capture: Transient, used: BoolArray, p: FloatArray, covariance: FloatArray, u: float
) -> FloatArray:
    """Carry the uncertainty of a known frequency into the other parameters."""
    slopes = _slopes(p, capture.time[used])
    pull = np.linalg.lstsq(slopes[:, 1:], -slopes[:, 0], rcond=None)[0]
    direction = np.concatenate(([1.0], pull)) * _TWO_PI * u
    return covariance + np.outer(direction, direction)


def _sine(
    capture: Transient, used: BoolArray, p: FloatArray, covariance: FloatArray, noise: float
) -> Sine:
    residual = capture.voltage - _curve(p, capture.time)
    turn = covariance[1:3, 1:3] * np.array([[1.0, -1.0], [-1.0, 1.0]])
    amplitude = math.hypot(p[1], p[2])
    angle = math.atan2(-p[2], p[1])
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-math.sin(angle), math.cos(angle)])
    u_amplitude = math.sqrt(max(float(along @ turn @ along), 0.0))
    u_angle = math.sqrt(max(float(across @ turn @ across), 0.0)) / max(amplitude, 1e-300)
    u_omega = math.sqrt(max(float(covariance[0, 0]), 0.0))
    return Sine(
        frequency=Estimate(
            name="f", value=p[0] / _TWO_PI, u=_finite(u_omega / _TWO_PI), unit="Hz"
        ),
        amplitude=Estimate(name="amplitude", value=amplitude, u=_finite(u_amplitude), unit="V"),
        phase=Estimate(
            name="phase", value=math.degrees(angle), u=_finite(math.degrees(u_angle)), unit="deg"
        ),
        offset=Estimate(
            name="offset", value=float(p[3]), u=_finite(math.sqrt(covariance[3, 3])), unit="V"
        ),
        covariance=turn,
        noise=noise,
        used=used,
        residual=residual,
        determined=u_amplitude <= LIMIT * amplitude and u_omega <= LIMIT * abs(p[0]),
        describes=whiteness(_halves(residual[used])).describes,
    )


def _halves(residual: FloatArray) -> NDArray[np.complex128]:
    """Lay the two halves of real residuals side by side, as the test of complex ones wants."""
    half = residual.size // 2
    return residual[:half] + 1j * residual[half : 2 * half]


def _finite(u: float) -> float | None:
    return u if math.isfinite(u) else None
