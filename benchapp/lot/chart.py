"""Control charts: single values with moving range, means of subgroups, and the run rules."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import CaptureError
from benchapp.lot.sample import values_of

__all__ = [
    "D2",
    "D3",
    "RULES",
    "Chart",
    "Charts",
    "Rule",
    "Signal",
    "c4",
    "individuals",
    "signals",
    "subgroups",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

D2: Mapping[int, float] = MappingProxyType(
    dict(
        zip(
            range(2, 11),
            (1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078),
            strict=True,
        )
    )
)
"""Mean range of n normal values over their standard deviation. Source: ASTM E2587 (from memory;
the tests integrate it)."""

D3: Mapping[int, float] = MappingProxyType(
    dict(
        zip(
            range(2, 11),
            (0.853, 0.888, 0.880, 0.864, 0.848, 0.833, 0.820, 0.808, 0.797),
            strict=True,
        )
    )
)
"""Standard deviation of the range of n normal values over theirs. Source: as for `D2`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A pattern that chance rarely makes: which points of the scores complete it."""

    id: str
    text: str
    find: Callable[[FloatArray], BoolArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A rule that was met, and the points that complete it."""

    rule: str
    text: str
    points: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chart:
    """One chart: its points, centre line, limits and signals."""

    title: str
    points: FloatArray
    centre: float
    lower: float
    upper: float
    signals: tuple[Signal, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Charts:
    """Location and spread of a quantity over time, with the short-term standard deviation.

    ``dof`` are the effective degrees of freedom of ``sigma``.
    """

    location: Chart
    spread: Chart
    sigma: float
    dof: float


def c4(n: int) -> float:
    """Mean standard deviation of n normal values over the true one.

    Notes
    -----
    sqrt(2/(n - 1)) Gamma(n/2)/Gamma((n - 1)/2). Source: ASTM E2587 (from memory).
    """
    return math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


def _run(hits: BoolArray, needed: int, window: int) -> BoolArray:
    """Points at which ``needed`` of the last ``window`` points are hits, the point among them."""
    counts = np.convolve(hits.astype(np.int64), np.ones(window, np.int64))[: hits.size]
    full = np.arange(hits.size) >= needed - 1
    done: BoolArray = hits & full & (counts >= needed)
    return done


def _either_side(bound: float, needed: int, window: int) -> Callable[[FloatArray], BoolArray]:
    def find(scores: FloatArray) -> BoolArray:
        return _run(scores > bound, needed, window) | _run(scores < -bound, needed, window)

    return find


def _trend(scores: FloatArray) -> BoolArray:
    """Six points in a row, each above (or each below) the one before."""
    steps = np.concatenate([[0.0], np.diff(scores)])
    return _run(steps > 0, 5, 5) | _run(steps < 0, 5, 5)


def _alternating(scores: FloatArray) -> BoolArray:
    """Fourteen points in a row that go up and down by turns: thirteen steps, twelve turns."""
    steps = np.sign(np.concatenate([[0.0], np.diff(scores)]))
    turns = np.concatenate([[False], steps[1:] * steps[:-1] < 0])
    return _run(turns, 12, 12)


def _hugging(scores: FloatArray) -> BoolArray:
    return _run(np.abs(scores) < 1, 15, 15)


def _avoiding(scores: FloatArray) -> BoolArray:
    return _run(np.abs(scores) > 1, 8, 8)


RULES: tuple[Rule, ...] = (
    Rule(
        id="beyond",
        text="one point more than three standard deviations from the centre",
        find=_either_side(3.0, 1, 1),
    ),
    Rule(
        id="two-of-three",
        text="two of three points more than two standard deviations off, on one side",
        find=_either_side(2.0, 2, 3),
    ),
    Rule(
        id="four-of-five",
        text="four of five points more than one standard deviation off, on one side",
        find=_either_side(1.0, 4, 5),
    ),
    Rule(id="eight-on-one-side", text="eight points on one side", find=_either_side(0.0, 8, 8)),
    Rule(id="trend", text="six points in a row rising or falling", find=_trend),
    Rule(id="alternating", text="fourteen points going up and down by turns", find=_alternating),
    Rule(
        id="hugging",
        text="fifteen points within one standard deviation: mixed subgroups or a sorted lot",
        find=_hugging,
    ),
    Rule(
        id="avoiding",
        text="eight points without one near the centre: two populations by turns",
        find=_avoiding,
    ),
)
"""Source: the first four are those of the Western Electric *Statistical Quality Control Handbook*
(1956), the others of L. S. Nelson, J. Quality Technology 16 (1984) 237 (both from memory)."""


def signals(points: ArrayLike, centre: float, sigma: float) -> tuple[Signal, ...]:
    """Look for the patterns of `RULES` in a row of points.

    Parameters
    ----------
    points : (N,) float
        In the order in which they were made.
    centre, sigma : float
        Centre line, and standard deviation of one point.

    Returns
    -------
    tuple of Signal
        Only the rules that were met.
    """
    x = values_of(points)
    if sigma <= 0:
        return ()
    scores = (x - centre) / sigma
    found = []
    for rule in RULES:
        places = np.flatnonzero(rule.find(scores))
        if places.size:
            found.append(Signal(rule=rule.id, text=rule.text, points=tuple(places.tolist())))
    return tuple(found)


def individuals(values: ArrayLike) -> Charts:
    """Chart single values and their moving range.

    Parameters
    ----------
    values : (N,) float
        At least two, in the order in which they were made.

    Returns
    -------
    Charts

    Raises
    ------
    CaptureError
        When there are fewer than two values.

    Notes
    -----
    sigma = mean moving range/1.128, limits mean -+ 3 sigma; range limit 3.267 times its mean.
    The moving ranges overlap: 0.62 (n - 1) effective degrees of freedom. Source: ASTM E2587
    (from memory); the degrees of freedom by simulation in the tests.
    """
    x = values_of(values, least=2)
    moving = np.abs(np.diff(x))
    mean_range = float(moving.mean())
    sigma = mean_range / D2[2]
    centre = float(x.mean())
    upper = (1 + 3 * D3[2] / D2[2]) * mean_range
    location = Chart(
        title="single values",
        points=x,
        centre=centre,
        lower=centre - 3 * sigma,
        upper=centre + 3 * sigma,
        signals=signals(x, centre, sigma),
    )
    spread = Chart(
        title="moving range",
        points=moving,
        centre=mean_range,
        lower=0.0,
        upper=upper,
        signals=_above(moving, upper),
    )
    return Charts(location=location, spread=spread, sigma=sigma, dof=max(0.62 * (x.size - 1), 1.0))


def subgroups(values: ArrayLike) -> Charts:
    """Chart the means of subgroups of equal size, and their ranges or standard deviations.

    Parameters
    ----------
    values : (M, n) float
        M subgroups in order, n values each; at least two of two. Ranges up to n = 10, standard
        deviations above.

    Returns
    -------
    Charts

    Raises
    ------
    CaptureError
        When the values are no table of that size, or not all finite.

    Notes
    -----
    Limits of the mean -+ 3 sigma/sqrt n; of the spread its mean times 1 -+ 3 d3/d2, or
    1 -+ 3 sqrt(1 - c4^2)/c4, not below 0. Source: ASTM E2587 (from memory).
    """
    x = np.array(values, dtype=np.float64)
    if x.ndim != 2 or min(x.shape) < 2:
        raise CaptureError(
            f"subgroups: must be a table of two by two at least (got shape {x.shape}).",
            hint="Give subgroups of equal size; single values have their own chart.",
        )
    values_of(x.ravel())
    groups, size = x.shape
    if size in D2:
        spreads, title = np.ptp(x, axis=1), "range of subgroups"
        unit, scatter = D2[size], D3[size]
    else:
        spreads, title = np.std(x, axis=1, ddof=1), "standard deviation of subgroups"
        unit, scatter = c4(size), math.sqrt(1 - c4(size) ** 2)
    mean_spread = float(spreads.mean())
    sigma = mean_spread / unit
    means = x.mean(axis=1)
    centre, step = float(means.mean()), sigma / math.sqrt(size)
    upper = mean_spread * (1 + 3 * scatter / unit)
    location = Chart(
        title="means of subgroups",
        points=means,
        centre=centre,
        lower=centre - 3 * step,
        upper=centre + 3 * step,
        signals=signals(means, centre, step),
    )
    spread = Chart(
        title=title,
        points=spreads,
        centre=mean_spread,
        lower=max(0.0, mean_spread * (1 - 3 * scatter / unit)),
        upper=upper,
        signals=_above(spreads, upper),
    )
    dof = groups * (unit / scatter) ** 2 / 2
    return Charts(
        location=location, spread=spread, sigma=sigma, dof=min(dof, groups * (size - 1.0))
    )


def _above(points: FloatArray, upper: float) -> tuple[Signal, ...]:
    places = np.flatnonzero(points > upper)
    if not places.size:
        return ()
    text = "one point above the limit of the spread"
    return (Signal(rule="spread", text=text, points=tuple(places.tolist())),)
