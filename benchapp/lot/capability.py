"""Capability of a lot against its limits, with confidence bounds, and the yield.

Cp and Cpk speak of a process and need its short-term spread; one received lot gives its overall
spread only, hence Pp and Ppk. All four assume a normal distribution: look at the values first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from benchapp.errors import CaptureError
from benchapp.lot.sample import describe, values_of

__all__ = [
    "Capability",
    "Index",
    "Yield",
    "capability",
    "centred_index",
    "centred_interval",
    "spread_index",
    "spread_interval",
    "yield_of",
]

_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """A capability index with its two-sided interval, and the bound that it exceeds one-sidedly.

    ``lower_bound`` is what the index is at least, at the same confidence taken on one side.
    """

    value: float
    low: float
    high: float
    lower_bound: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Capability:
    """Indices of one quantity. ``cp`` and ``cpk`` need the short-term spread, else None.

    ``cp`` and ``pp`` need both limits. ``confidence`` is that of the intervals;
    ``expected_outside`` the share of a normal distribution of this mean and spread outside.
    """

    lower: float | None
    upper: float | None
    pp: Index | None
    ppk: Index | None
    cp: Index | None
    cpk: Index | None
    confidence: float
    expected_outside: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    """Share of parts inside the limits as counted, with its exact two-sided interval."""

    n: int
    inside: int
    share: float
    low: float
    high: float


def spread_index(sigma: float, lower: float, upper: float) -> float:
    """Width of the limits over six standard deviations: Cp or Pp.

    Notes
    -----
    (USL - LSL)/(6 sigma). Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6.
    """
    return (upper - lower) / (6 * sigma)


def centred_index(mean: float, sigma: float, lower: float | None, upper: float | None) -> float:
    """Distance from the mean to the nearer limit over three standard deviations: Cpk or Ppk.

    Parameters
    ----------
    mean, sigma : float
    lower, upper : float or None
        At least one.

    Notes
    -----
    min(USL - mean, mean - LSL)/(3 sigma). Source: as for `spread_index`.
    """
    below = math.inf if lower is None else mean - lower
    above = math.inf if upper is None else upper - mean
    return min(below, above) / (3 * sigma)


def spread_interval(index: float, dof: float, confidence: float = 0.95) -> Index:
    """Exact interval of Cp or Pp.

    Parameters
    ----------
    index : float
    dof : float
        Degrees of freedom of the standard deviation, n - 1 for one sample.
    confidence : float

    Notes
    -----
    index * sqrt(chi2_q/dof). Source: V. E. Kane, J. Quality Technology 18 (1986) 41 (from
    memory); the same formula is printed in public documentation of statistics software.
    """
    from scipy.special import chdtri  # start-up: scipy only when needed

    def at(tail: float) -> float:
        return index * math.sqrt(float(chdtri(dof, 1 - tail)) / dof)

    alpha = 1 - confidence
    return Index(value=index, low=at(alpha / 2), high=at(1 - alpha / 2), lower_bound=at(alpha))


def centred_interval(index: float, n: int, dof: float, confidence: float = 0.95) -> Index:
    """Bissell's interval of Cpk or Ppk.

    Parameters
    ----------
    index : float
    n : int
        Number of values behind the mean.
    dof : float
        Degrees of freedom of the standard deviation, n - 1 for one sample.
    confidence : float

    Notes
    -----
    index -+ z sqrt(1/(9n) + index^2/(2 dof)). Source: A. F. Bissell, Applied Statistics 39 (1990)
    331. An approximation: tests hold its coverage by simulation.
    """
    spread = math.sqrt(1 / (9 * n) + index * index / (2 * dof))
    two = _NORMAL.inv_cdf(0.5 + confidence / 2)
    one = _NORMAL.inv_cdf(confidence)
    return Index(
        value=index,
        low=index - two * spread,
        high=index + two * spread,
        lower_bound=index - one * spread,
    )


def capability(
    values: ArrayLike,
    lower: float | None,
    upper: float | None,
    *,
    within: tuple[float, float] | None = None,
    confidence: float = 0.95,
) -> Capability:
    """Compute the capability of a sample against its limits.

    Parameters
    ----------
    values : (N,) float
    lower, upper : float or None
        Limits; at least one.
    within : (float, float), optional
        Short-term standard deviation and its degrees of freedom, from rational subgroups or from
        a control chart. Without it Cp and Cpk are None.
    confidence : float

    Returns
    -------
    Capability
        All indices are None for fewer than two values or a sample without spread.

    Raises
    ------
    CaptureError
        When there is no limit, the limits are exchanged, or the short-term spread is not positive.
    """
    x = values_of(values)
    _check(lower, upper, within)
    figures = describe(x)
    overall = (figures.sd, x.size - 1.0) if figures.sd else None

    def spread(sigma: tuple[float, float] | None) -> Index | None:
        if sigma is None or lower is None or upper is None:
            return None
        return spread_interval(spread_index(sigma[0], lower, upper), sigma[1], confidence)

    def centred(sigma: tuple[float, float] | None) -> Index | None:
        if sigma is None:
            return None
        index = centred_index(figures.mean, sigma[0], lower, upper)
        return centred_interval(index, x.size, sigma[1], confidence)

    return Capability(
        lower=lower,
        upper=upper,
        pp=spread(overall),
        ppk=centred(overall),
        cp=spread(within),
        cpk=centred(within),
        confidence=confidence,
        expected_outside=_tails(figures.mean, figures.sd, lower, upper) if figures.sd else None,
    )


def _check(lower: float | None, upper: float | None, within: tuple[float, float] | None) -> None:
    if lower is None and upper is None:
        raise CaptureError(
            "capability: must have at least one limit (got none).",
            hint="Give a lower limit, an upper limit or both.",
        )
    if lower is not None and upper is not None and lower >= upper:
        raise CaptureError(
            f"capability: the lower limit must lie below the upper (got {lower:g} and {upper:g}).",
            hint="Exchange the two.",
        )
    if within is not None and not (within[0] > 0 and within[1] > 0):
        raise CaptureError(
            f"capability: the short-term standard deviation must be above zero (got {within[0]:g} "
            f"with {within[1]:g} degrees of freedom).",
            hint="Leave it out when it is not known.",
        )


def _tails(mean: float, sd: float, lower: float | None, upper: float | None) -> float:
    """Share of a normal distribution outside the limits."""
    below = 0.0 if lower is None else 0.5 * math.erfc((mean - lower) / sd / math.sqrt(2))
    above = 0.0 if upper is None else 0.5 * math.erfc((upper - mean) / sd / math.sqrt(2))
    return below + above


def yield_of(
    values: ArrayLike, lower: float | None, upper: float | None, *, confidence: float = 0.95
) -> Yield:
    """Count the parts inside the limits; nothing is assumed of their distribution.

    Parameters
    ----------
    values : (N,) float
    lower, upper : float or None
        A part on a limit is inside.
    confidence : float

    Returns
    -------
    Yield

    Notes
    -----
    Source: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404.
    """
    from scipy.special import betaincinv  # start-up: scipy only when needed

    x = values_of(values)
    low_end = -math.inf if lower is None else lower
    high_end = math.inf if upper is None else upper
    inside = int(np.sum((x >= low_end) & (x <= high_end)))
    n, tail = x.size, (1 - confidence) / 2
    low = 0.0 if inside == 0 else float(betaincinv(inside, n - inside + 1, tail))
    high = 1.0 if inside == n else float(betaincinv(inside + 1, n - inside, 1 - tail))
    return Yield(n=n, inside=inside, share=inside / n, low=low, high=high)
