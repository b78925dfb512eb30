"""A free decay as samples: the best rate and frequency, amplitude and offset found on the way.

Amplitude, phase and offset of a burst enter linearly and are eliminated, so that only the decay
rate and the angular frequency are searched, however many bursts share them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from benchapp.capture import FloatArray
from benchapp.fit.least_squares import minimise, triangle

__all__ = ["Burst", "Decay", "belonging", "bend", "certain", "scan", "slopes", "solve", "swing"]

_CLIP = (0.3, 0.1)  # of the angular frequency
_ROUNDING = 1e-8  # of the largest voltage: no record has less noise
_STEEPEST = 20.0  # decay rate in units of the angular frequency
_GROWTH = 3.0  # largest exponent of a swing that grows along its burst
_OFFSETS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # spectral lines beside the strongest
_RATES = 9
_ENOUGH = 16  # samples in a period after thinning


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Burst:
    """Samples of one free decay: ``time`` (N,) in s, ``voltage`` (N,) in V."""

    time: FloatArray
    voltage: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decay:
    """What was found: decay ``rate`` in 1/s, angular frequency ``omega`` in rad/s.

    ``covariance`` (2, 2) is that of (rate, omega); ``linear`` holds for each burst the factors
    (3,) of its cosine, sine and constant, with time counted from its first sample; ``residual``
    (N,) runs through all bursts, in V; ``noise`` is its rms, never quite zero.
    """

    rate: float
    omega: float
    covariance: FloatArray
    linear: tuple[FloatArray, ...]
    residual: FloatArray
    noise: float
    dof: int
    converged: bool


def _basis(time: FloatArray, rate: float, omega: float) -> FloatArray:
    """Columns (N, 3): decaying cosine, decaying sine, constant."""
    shrink = np.exp(-rate * time)
    angle = omega * time
    return np.stack([shrink * np.cos(angle), shrink * np.sin(angle), np.ones_like(time)], axis=1)


def _by_rate_and_omega(time: FloatArray, basis: FloatArray, linear: FloatArray) -> FloatArray:
    """Differentiate a burst's curve by rate and omega, its linear factors held: (N, 2)."""
    swing = basis[:, 0] * linear[0] + basis[:, 1] * linear[1]
    across = basis[:, 0] * linear[1] - basis[:, 1] * linear[0]
    return np.stack([-time * swing, time * across], axis=1)


def _orthonormal(matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Split a tall matrix into orthonormal columns (N, K) and a triangle (K, K)."""
    r = triangle(matrix)
    return np.asarray(matrix @ np.linalg.pinv(r), dtype=np.float64), r


def _project(
    bursts: Sequence[Burst], rate: float, omega: float
) -> tuple[FloatArray, FloatArray, tuple[FloatArray, ...]]:
    """Give what linear factors leave of the voltages, its slopes (N, 2), and the factors."""
    rests, columns, factors = [], [], []
    for burst in bursts:
        time = burst.time - burst.time[0]
        basis = _basis(time, rate, omega)
        q, r = _orthonormal(basis)
        inner = q.T @ burst.voltage
        linear = np.asarray(np.linalg.lstsq(r, inner, rcond=None)[0], dtype=np.float64)
        bent = _by_rate_and_omega(time, basis, linear)
        rests.append(q @ inner - burst.voltage)
        columns.append(bent - q @ (q.T @ bent))
        factors.append(linear)
    return np.concatenate(rests), np.concatenate(columns), tuple(factors)


def solve(bursts: Sequence[Burst], rate: float, omega: float) -> Decay:
    """Fit bursts that share decay rate and frequency, from a start nearby.

    Parameters
    ----------
    bursts : sequence of Burst
    rate : float, 1/s
    omega : float, rad/s

    Returns
    -------
    Decay

    Notes
    -----
    v = exp(-rate t) (a cos omega t + b sin omega t) + c with its own a, b, c for each burst. The
    slopes leave out the change of the projection itself, which vanishes with the residual.

    Source: G. H. Golub, V. Pereyra, SIAM Journal on Numerical Analysis 10 (1973) 413-432;
    L. Kaufman, BIT 15 (1975) 49-57.
    """

    @lru_cache(maxsize=2)
    def seen(rate: float, omega: float) -> tuple[FloatArray, FloatArray, tuple[FloatArray, ...]]:
        return _project(bursts, rate * scale, omega * scale)

    def rest(p: FloatArray) -> FloatArray:
        inside = p[1] > 0 and -_GROWTH / span < p[0] * scale < _STEEPEST * scale
        return seen(float(p[0]), float(p[1]))[0] if inside else np.full(1, np.inf)

    def bent(p: FloatArray) -> FloatArray:
        return seen(float(p[0]), float(p[1]))[1] * scale

    scale = omega
    span = max(float(burst.time[-1] - burst.time[0]) for burst in bursts)
    rate = min(max(rate, -1 / span), scale)
    found = minimise(rest, bent, [rate / scale, 1.0], clip=_CLIP)
    x, y = (float(value) for value in found.parameters)
    dof = found.residual.size - 2 - 3 * len(bursts)
    largest = max(float(np.abs(burst.voltage).max()) for burst in bursts)
    variance = max(found.cost / max(dof, 1), (_ROUNDING * largest) ** 2)
    return Decay(
        rate=x * scale,
        omega=y * scale,
        covariance=found.covariance * variance * scale**2,
        linear=seen(x, y)[2],
        residual=-found.residual,
        noise=math.sqrt(variance),
        dof=dof,
        converged=found.converged,
    )


def swing(decay: Decay, burst: int, time: FloatArray) -> FloatArray:
    """Give the curve (N,) of one burst, in V.

    Parameters
    ----------
    decay : Decay
    burst : int
        Which of its bursts.
    time : (N,) float, s
        Counted from the first sample of the burst; may be negative.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        return np.asarray(_basis(time, decay.rate, decay.omega) @ decay.linear[burst])


def scan(burst: Burst, omega: float) -> tuple[float, float, float]:
    """Try rates and frequencies around a spectral line.

    Parameters
    ----------
    burst : Burst
    omega : float, rad/s

    Returns
    -------
    rate, omega, cost : float
        The best pair and the sum of squares that it leaves of all samples, over that of a
        constant.
    """
    time, voltage = _thinned(burst, omega)
    span = float(time[-1])
    best = (1 / span, omega, math.inf)
    line = 2 * math.pi / span
    for frequency in omega + np.array(_OFFSETS) * min(line, 0.3 * omega):
        for rate in np.geomspace(0.3 / span, max(frequency / 1.5, 1 / span), _RATES):
            basis = _basis(time, float(rate), float(frequency))
            cost = _left(basis, voltage)
            if cost < best[2]:
                best = (float(rate), float(frequency), cost)
    plain = float(np.sum((burst.voltage - burst.voltage.mean()) ** 2))
    rest = _left(_basis(burst.time - burst.time[0], best[0], best[1]), burst.voltage)
    return best[0], best[1], rest / plain if plain > 0 else 1.0


def _left(basis: FloatArray, voltage: FloatArray) -> float:
    """Give the sum of squares that the columns of a basis leave."""
    columns = basis / (np.linalg.norm(basis, axis=0) + 1e-300)
    rest = voltage - columns @ np.linalg.lstsq(columns.T @ columns, columns.T @ voltage)[0]
    return float(rest @ rest)


def _thinned(burst: Burst, omega: float) -> tuple[FloatArray, FloatArray]:
    """Average neighbours of a finely sampled burst; a search needs no more."""
    time, voltage = burst.time - burst.time[0], burst.voltage
    step = float(time[-1]) / max(time.size - 1, 1)
    size = int(2 * math.pi / omega / step / _ENOUGH)
    if size < 2 or time.size // size < 8:
        return time, voltage
    whole = time.size // size * size
    return (
        time[:whole].reshape(-1, size).mean(axis=1),
        voltage[:whole].reshape(-1, size).mean(axis=1),
    )


def slopes(decay: Decay, burst: int, time: FloatArray) -> FloatArray:
    """Differentiate the curve of one burst by rate, omega and its factors.

    Parameters
    ----------
    decay : Decay
    burst : int
        Which of its bursts.
    time : (N,) float, s
        Counted from the first sample of the burst; may be negative.

    Returns
    -------
    (N, 5) float
        In V s, V s/rad and, for the three factors, 1.
    """
    basis = _basis(time, decay.rate, decay.omega)
    bent = _by_rate_and_omega(time, basis, decay.linear[burst])
    return np.column_stack([bent, basis])


def certain(decay: Decay, burst: Burst, time: FloatArray) -> int:
    """Count the samples right before a burst at which its decay is still known well.

    Parameters
    ----------
    decay : Decay
        Of that burst alone.
    burst : Burst
    time : (K,) float, s
        The samples before it, in order.

    Returns
    -------
    int
        How many of the last of them have an extrapolated voltage with a standard uncertainty
        below that of one sample.
    """
    bent = slopes(decay, 0, time - burst.time[0])
    spread = np.einsum("ij,jk,ik->i", bent, _inverse(decay, burst), bent)
    vague = np.flatnonzero(~(spread < 1.0))
    return time.size - (int(vague[-1]) + 1 if vague.size else 0)


def _inverse(decay: Decay, burst: Burst) -> FloatArray:
    """Give the covariance (5, 5) of one burst's parameters for noise of 1."""
    bent = slopes(decay, 0, burst.time - burst.time[0])
    scale = np.linalg.norm(bent, axis=0) + 1e-300
    inverse = np.linalg.pinv(triangle(bent / scale))
    return np.asarray(inverse @ inverse.T / np.outer(scale, scale))


def belonging(decay: Decay, burst: Burst, time: FloatArray, voltage: FloatArray) -> int:
    """Count the samples right before a burst that belong to its decay.

    Parameters
    ----------
    decay : Decay
        Of that burst alone.
    burst : Burst
    time, voltage : (K,) float
        The samples before it, in order; those not finite have no say.

    Returns
    -------
    int

    Notes
    -----
    Going backwards, the squares of the gaps are summed in units of the noise, after the decay
    has been adjusted to them within its uncertainty. The sum minus twice the number of samples
    falls as long as they belong to the decay; where it is least they begin not to. A single odd
    sample does not matter.

    Source: E. S. Page, Biometrika 41 (1954) 100-115 (cumulative sums).
    """
    before = time - burst.time[0]
    known = np.isfinite(voltage)[::-1]
    gap = np.where(known, (voltage - swing(decay, 0, before))[::-1] / decay.noise, 0.0)
    covariance = _inverse(decay, burst)
    scale = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    bent = np.where(known[:, None], slopes(decay, 0, before)[::-1] * scale, 0.0)
    pairs = np.cumsum(bent[:, :, None] * bent[:, None, :], axis=0)
    pairs += np.linalg.pinv(covariance / np.outer(scale, scale))
    pulls = np.cumsum(bent * gap[:, None], axis=0)
    size = np.sqrt(np.maximum(np.einsum("ijj->ij", pairs), 1e-300))
    even = pairs / (size[:, :, None] * size[:, None, :]) + 1e-10 * np.eye(5)
    pulls /= size
    explained = np.einsum("ij,ij->i", pulls, np.linalg.solve(even, pulls[:, :, None])[:, :, 0])
    track = np.cumsum(gap**2) - explained - 2.0 * np.cumsum(known)
    return int(np.argmin(np.concatenate(([0.0], track))))


def bend(decay: Decay, bursts: Sequence[Burst]) -> tuple[float, float]:
    """Ask whether rate or frequency change along the decay.

    Parameters
    ----------
    decay : Decay
        Fitted to these bursts.
    bursts : sequence of Burst

    Returns
    -------
    chi_square : float
        Of the two numbers that a changing rate and a changing frequency would add.
    change : float
        Relative change of the rate over the first time constant.

    Notes
    -----
    Two columns, -t^2/2 times the curve and t^2/2 times the curve a quarter period later, are
    cleared of what the fit can explain and compared with the residual (a score test).

    Source: C. R. Rao, Mathematical Proceedings of the Cambridge Philosophical Society 44 (1948)
    50-57.
    """
    columns = []
    for place, burst in enumerate(bursts):
        time = burst.time - burst.time[0]
        basis = _basis(time, decay.rate, decay.omega)
        bent = _by_rate_and_omega(time, basis, decay.linear[place])
        both = np.concatenate([bent, bent * time[:, None] / 2], axis=1)
        q = _orthonormal(basis)[0]
        columns.append(both - q @ (q.T @ both))
    matrix = np.concatenate(columns)
    scale = np.linalg.norm(matrix, axis=0)
    if not np.all(scale > 0):
        return 0.0, 0.0
    q, r = _orthonormal(matrix / scale)
    score = q.T @ decay.residual / decay.noise
    size = float(np.linalg.solve(r, score)[2]) * decay.noise / float(scale[2])
    change = size / decay.rate**2 if decay.rate else 0.0
    return float(score[2] ** 2 + score[3] ** 2), change
