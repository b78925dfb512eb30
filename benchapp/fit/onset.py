"""A decay whose first sample is not known: fitted from every sample it may begin at, and weighed.

Near the end of an exciter that runs into the decay without a jump, the samples suit both. To
choose one first sample would let their noise choose; here each has a say by its likelihood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchapp.capture import FloatArray
from benchapp.fit.codes import Codes, Told
from benchapp.fit.decay import Burst, Decay, slopes, solve, swing

__all__ = ["Onset", "around", "settle"]

_ROUNDS = 3
_STILL = 1e-3  # standard uncertainties
_FURTHEST = 2.0  # standard uncertainties from the plain solution; more is no refinement
_BEFORE = (8, 20)  # samples that show the exciter: times those in doubt, and more
_FEWEST = 12
_STRANGE = 25.0  # deviance of a sample that an exciter beyond the converter's end would not give
_RIDGE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Onset:
    """Where one burst may begin: samples ``earliest`` to ``latest``, ``start`` most likely.

    The exciter is seen from ``exciter`` on, the decay up to ``stop`` (behind its last sample).
    """

    exciter: int
    start: int
    earliest: int
    latest: int
    stop: int


def around(span: tuple[int, int], doubt: int, first: int, seen: Codes) -> Onset:
    """Allow a burst to begin some samples earlier or later than it was found to.

    Parameters
    ----------
    span : (int, int)
        First sample of the decay as found, and the one behind its last.
    doubt : int
        How many samples.
    first : int
        First sample that may belong to this burst's exciter.
    seen : Codes

    Returns
    -------
    Onset
    """
    start, stop = span
    exciter = max(start - _BEFORE[0] * doubt - _BEFORE[1], first)
    earliest = min(max(start - doubt, exciter + _FEWEST), start)
    latest = max(min(start + doubt, (start + 3 * stop) // 4), earliest)
    if np.count_nonzero(seen.usable[exciter:start]) < _FEWEST:
        exciter = earliest = latest = start
    return Onset(
        exciter=exciter, start=start, earliest=earliest, latest=latest, stop=stop
    )  # fmt: skip


def settle(
    time: FloatArray,
    seen: Codes,
    onsets: Sequence[Onset],
    origins: Sequence[float],
    decay: Decay,
) -> Decay:
    """Improve a decay by what the samples tell, with its first sample left open.

    Parameters
    ----------
    time : (N,) float, s
    seen : Codes
        All N samples of the record.
    onsets : sequence of Onset
        One for each burst of the decay.
    origins : sequence of float, s
        For each burst the time from which its factors count.
    decay : Decay
        Near the optimum; given back as it is where the steps lead more than two standard
        uncertainties away, as they do when too little of the exciter is seen.

    Returns
    -------
    Decay

    Notes
    -----
    For each first sample m, one Newton step of the decay's five parameters on the likelihood of
    the samples from m on, and one of a swing before m. The results are averaged with weights
    exp(-deviance/2) over m, and their spread is added to the covariance. Bursts are put together
    by their information.

    Source: J. A. Hoeting, D. Madigan, A. E. Raftery, C. T. Volinsky, Statistical Science 14
    (1999) 382-417 (averaging); J. Tobin, Econometrica 26 (1958) 24-36 (cut off samples).
    """
    exciters = [_exciter(time, seen, onset, decay.omega) for onset in onsets]
    found = decay
    for _ in range(_ROUNDS):
        steps = []
        for place, onset in enumerate(onsets):
            curve = (found, place, origins[place])
            step, exciters[place] = _average(time, seen, curve, onset, exciters[place])
            steps.append(step)
        moved = _together(found, steps)
        if moved is None or not _near(moved, decay, _FURTHEST):
            return decay
        settled, found = _near(moved, found, _STILL), moved
        if settled:
            break
    return found


def _near(one: Decay, other: Decay, limit: float) -> bool:
    """Whether two solutions are the same within so many standard uncertainties."""
    apart = np.array([one.rate - other.rate, one.omega - other.omega])
    return bool(np.all(np.abs(apart) < limit * np.sqrt(np.diag(one.covariance))))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Step:
    """Change of a burst's five parameters and their covariance (5, 5)."""

    change: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Exciter:
    """What goes before the decay: a swing or a level, its time counted from ``origin``."""

    swing: Decay
    origin: float


def _exciter(time: FloatArray, seen: Codes, onset: Onset, omega: float) -> _Exciter | None:
    """Fit a swing to the samples before the start; None where too few are within the range."""
    part = np.arange(onset.exciter, onset.start)
    voltage = (seen.lower[part] + seen.upper[part]) / 2
    whole = seen.usable[part] & np.isfinite(voltage)
    if np.count_nonzero(whole) < _FEWEST:
        return None
    burst = Burst(time=time[part][whole], voltage=voltage[whole])
    return _Exciter(swing=solve([burst], 0.0, omega), origin=float(burst.time[0]))


def _average(
    time: FloatArray,
    seen: Codes,
    curve: tuple[Decay, int, float],
    onset: Onset,
    exciter: _Exciter | None,
) -> tuple[_Step, _Exciter | None]:
    """Step from every start and average the steps; also move the exciter's curve."""
    part = slice(onset.earliest, onset.stop)
    count = onset.latest - onset.earliest + 1
    steps, covariances, deviance = _steps(_told(time, seen, part, curve), count, back=True)
    before, part = np.zeros((count, 5)), slice(onset.exciter, onset.latest)
    if count > 1 and exciter is None:
        deviance = deviance + _beyond(seen, onset)
    elif count > 1 and exciter is not None:
        told = _told(time, seen, part, (exciter.swing, 0, exciter.origin))
        before, _, more = _steps(told, count, back=False)
        deviance = deviance + more
    share = np.exp(-(deviance - deviance.min()) / 2)
    share /= share.sum()
    change = share @ steps
    apart = steps - change
    spread = np.einsum("i,ijk->jk", share, covariances) + (apart * share[:, None]).T @ apart
    step = _Step(change=change, covariance=spread)
    if exciter is None:
        return step, None
    span = float(time[onset.latest] - time[onset.exciter])
    return step, _moved(exciter, share @ before, span)


def _moved(exciter: _Exciter, change: FloatArray, span: float) -> _Exciter:
    """Take a step, by no more than a radian or a factor e over the span (s) of a level."""
    swing = exciter.swing
    change = change / max(1.0, float(np.max(np.abs(change[:2]))) * span)
    better = replace(
        swing,
        rate=swing.rate + float(change[0]),
        omega=swing.omega + float(change[1]),
        linear=(swing.linear[0] + change[2:],),
    )
    return replace(exciter, swing=better)


def _beyond(seen: Codes, onset: Onset) -> FloatArray:
    """Deviance (count,) of an exciter that is beyond the converter's end throughout."""
    part = slice(onset.earliest, onset.latest)
    ended = seen.ended(part)
    return np.concatenate([[0.0], np.cumsum(np.where(ended, 0.0, _STRANGE))])


def _told(
    time: FloatArray, seen: Codes, part: slice, curve: tuple[Decay, int, float]
) -> tuple[Told, FloatArray]:
    """Ask samples about a curve; also its slopes (N, 5)."""
    decay, place, origin = curve
    local = time[part] - origin
    return seen.told(swing(decay, place, local), part), slopes(decay, place, local)


def _steps(
    asked: tuple[Told, FloatArray], count: int, *, back: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Newton step, covariance and deviance with the first 0, 1 ... samples left out.

    With ``back`` false it is the last count - 1, count - 2 ... that are left out.
    """
    told, columns = asked
    order = slice(None, None, -1) if back else slice(None)
    columns = columns[order]
    scale = np.sqrt(np.einsum("ij,ij,i->j", columns, columns, told.weight[order])) + 1e-100
    columns = columns / scale
    rest = columns.shape[0] - count + 1
    whole, open_ = columns[:rest], columns[rest:]
    weight, score = told.weight[order], told.score[order]
    pairs = open_[:, :, None] * open_[:, None, :] * weight[rest:, None, None]
    first = (whole * weight[:rest, None]).T @ whole + _RIDGE * np.eye(columns.shape[1])
    matrix = first + np.concatenate([np.zeros((1, *first.shape)), np.cumsum(pairs, axis=0)])
    pull = score[:rest] @ whole + np.concatenate(
        [np.zeros((1, scale.size)), np.cumsum(open_ * score[rest:, None], axis=0)]
    )
    deviance = np.cumsum(told.deviance[order])[rest - 1 :]
    inverse = np.linalg.inv(matrix)
    steps = np.einsum("ijk,ik->ij", inverse, pull)
    deviance = deviance - np.einsum("ij,ij->i", steps, pull)
    return (steps / scale)[order], (inverse / np.outer(scale, scale))[order], deviance[order]


def _together(decay: Decay, steps: Sequence[_Step]) -> Decay | None:
    """Put the bursts' steps together; None where they make no sense."""
    information, pull = np.zeros((2, 2)), np.zeros(2)
    for step in steps:
        own = np.linalg.pinv(step.covariance[:2, :2], hermitian=True)
        information += own
        pull += own @ step.change[:2]
    covariance = np.linalg.pinv(information, hermitian=True)
    common = covariance @ pull
    rate, omega = decay.rate + float(common[0]), decay.omega + float(common[1])
    if not (np.isfinite(common).all() and rate > 0 and omega > 0):
        return None
    linear = []
    for factors, step in zip(decay.linear, steps, strict=True):
        follow = step.covariance[2:, :2] @ np.linalg.pinv(step.covariance[:2, :2], hermitian=True)
        linear.append(factors + step.change[2:] + follow @ (common - step.change[:2]))
    return replace(
        decay,
        rate=rate,
        omega=omega,
        covariance=np.asarray(covariance, dtype=np.float64),
        linear=tuple(linear),
    )
