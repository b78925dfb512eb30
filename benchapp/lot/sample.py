"""A sample of measured values of one quantity: its figures, its shape, and what looks odd in it.

What cannot be computed from the values given is None, never a guess.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import CaptureError

__all__ = [
    "Figures",
    "Hint",
    "Normality",
    "Outlier",
    "describe",
    "hints",
    "histogram",
    "normality",
    "outliers",
    "values_of",
]

FloatArray = NDArray[np.float64]

_NORMAL = NormalDist()
_LEAST_NORMALITY = 8
_LEAST_OUTLIERS = 10
_LEAST_HINTS = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Plain figures of a sample. ``sd`` is None for fewer than two values."""

    n: int
    mean: float
    sd: float | None
    minimum: float
    maximum: float
    median: float

    @property
    def range(self) -> float:
        """Largest less smallest value."""
        return self.maximum - self.minimum


@dataclass(frozen=True, slots=True, kw_only=True)
class Normality:
    """Result of a test for a normal distribution: its name, statistic and p-value."""

    test: str
    statistic: float
    p: float

    @property
    def doubtful(self) -> bool:
        """Whether a normal sample would rarely (5 %) look like this one."""
        return self.p < 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A value that does not belong: its place, its standard deviations off, and the bound."""

    index: int
    value: float
    deviations: float
    bound: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """Something to look into, with the evidence; never a verdict."""

    id: str
    text: str
    advice: str


def values_of(values: ArrayLike, *, least: int = 1) -> FloatArray:
    """Give a checked copy of a row of values.

    Parameters
    ----------
    values : (N,) float
    least : int
        How many are needed.

    Raises
    ------
    CaptureError
        When they are not one row, too few, or not all finite.
    """
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1 or array.size < least:
        raise CaptureError(
            f"values: must be one row of at least {least} (got shape {array.shape}).",
            hint="Give the measured values of one quantity.",
        )
    if not np.all(np.isfinite(array)):
        raise CaptureError(
            "values: every one must be finite (got one that is not).",
            hint="Leave out parts without a result; count them apart.",
        )
    return array


def describe(values: ArrayLike) -> Figures:
    """Compute the plain figures of a sample.

    Parameters
    ----------
    values : (N,) float

    Returns
    -------
    Figures
    """
    x = values_of(values)
    return Figures(
        n=x.size,
        mean=float(np.mean(x)),
        sd=float(np.std(x, ddof=1)) if x.size > 1 else None,
        minimum=float(np.min(x)),
        maximum=float(np.max(x)),
        median=float(np.median(x)),
    )


def histogram(values: ArrayLike) -> tuple[FloatArray, NDArray[np.int64]]:
    """Count values in bins of equal width.

    Parameters
    ----------
    values : (N,) float

    Returns
    -------
    edges : (B + 1,) float
    counts : (B,) int

    Notes
    -----
    Width 2 IQR/n^(1/3), at least 5 and at most 60 bins. Source: D. Freedman and P. Diaconis 1981
    (from memory).
    """
    x = values_of(values)
    low, high = float(x.min()), float(x.max())
    if low == high:
        margin = abs(low) * 1e-6 or 1.0
        return np.array([low - margin, high + margin]), np.array([x.size])
    quarter, three = np.percentile(x, [25, 75])
    width = 2 * (three - quarter) / np.cbrt(x.size)
    bins = 60 if width <= 0 else math.ceil((high - low) / width)
    counts, edges = np.histogram(x, bins=min(max(bins, 5), 60))
    return edges, counts.astype(np.int64)


def normality(values: ArrayLike) -> Normality | None:
    """Test whether the values may come from a normal distribution: Anderson and Darling.

    Parameters
    ----------
    values : (N,) float

    Returns
    -------
    Normality or None
        None for fewer than eight values or a sample without spread.

    Notes
    -----
    A^2 = -n - sum (2i - 1)/n [ln F(x_i) + ln(1 - F(x_{n+1-i}))], mean and standard deviation from
    the sample, raised by 1 + 0.75/n + 2.25/n^2; p-value by the four exponential pieces. Source:
    R. B. D'Agostino and M. A. Stephens, *Goodness-of-Fit Techniques* (1986), table 4.9 (from
    memory; the tests hold its false alarms and scipy's critical values against it).
    """
    x = np.sort(values_of(values))
    figures = describe(x)
    if x.size < _LEAST_NORMALITY or not figures.sd:
        return None
    scores = (x - figures.mean) / figures.sd
    tail = [max(0.5 * math.erfc(-score / math.sqrt(2)), 1e-300) for score in scores]
    rest = [max(0.5 * math.erfc(score / math.sqrt(2)), 1e-300) for score in scores]
    odd = 2 * np.arange(1, x.size + 1) - 1
    squared = -x.size - float(np.sum(odd * (np.log(tail) + np.log(rest[::-1])))) / x.size
    raised = squared * (1 + 0.75 / x.size + 2.25 / x.size**2)
    return Normality(test="Anderson-Darling", statistic=raised, p=_tail_of_anderson(raised))


def _tail_of_anderson(a: float) -> float:
    if a < 0.2:
        return 1 - math.exp(-13.436 + 101.14 * a - 223.73 * a * a)
    if a < 0.34:
        return 1 - math.exp(-8.318 + 42.796 * a - 59.938 * a * a)
    if a < 0.6:
        return math.exp(0.9177 - 4.279 * a - 1.38 * a * a)
    return math.exp(1.2937 - 5.709 * a + 0.0186 * a * a) if a < 10 else 0.0


def outliers(values: ArrayLike, *, level: float = 0.05) -> tuple[Outlier, ...]:
    """Find values that do not belong to a normal sample, several at once if need be.

    Parameters
    ----------
    values : (N,) float
    level : float
        Chance of naming any in a clean normal sample.

    Returns
    -------
    tuple of Outlier
        The farthest first; empty for fewer than ten values.

    Notes
    -----
    Generalized extreme studentized deviate with up to a tenth of the values (at least one).
    Source: B. Rosner, Technometrics 25 (1983) 165; NIST/SEMATECH e-Handbook of Statistical
    Methods, 1.3.5.17.3 (from memory; its worked example is in the tests).
    """
    from scipy.special import stdtrit  # start-up: scipy only when needed

    x = values_of(values)
    if x.size < _LEAST_OUTLIERS:
        return ()
    left = np.arange(x.size)
    found: list[Outlier] = []
    keep = 0
    for step in range(max(1, x.size // 10)):
        rest = x[left]
        sd = float(np.std(rest, ddof=1))
        if sd == 0:
            break
        place = int(np.argmax(np.abs(rest - rest.mean())))
        deviations = float((rest[place] - rest.mean()) / sd)
        n = rest.size
        t = float(stdtrit(n - 2, 1 - level / (2 * n)))
        bound = (n - 1) * t / math.sqrt((n - 2 + t * t) * n)
        found.append(
            Outlier(
                index=int(left[place]),
                value=float(rest[place]),
                deviations=deviations,
                bound=bound,
            )
        )
        left = np.delete(left, place)
        if abs(deviations) > bound:
            keep = step + 1
    return tuple(found[:keep])


def hints(
    values: ArrayLike, *, lower: float | None = None, upper: float | None = None
) -> tuple[Hint, ...]:
    """Look for a sorted lot and for two mixed populations.

    Parameters
    ----------
    values : (N,) float
    lower, upper : float, optional
        The limits that the supplier knows.

    Returns
    -------
    tuple of Hint
        Empty for fewer than 25 values.
    """
    x = values_of(values)
    figures = describe(x)
    if x.size < _LEAST_HINTS or not figures.sd:
        return ()
    found = [_sorted_lot(x, figures.sd, lower, upper), _mixture(x)]
    return tuple(hint for hint in found if hint is not None)


def _sorted_lot(x: FloatArray, sd: float, lower: float | None, upper: float | None) -> Hint | None:
    """No part outside, although a normal lot of this spread would have some."""
    mean = float(x.mean())
    outside = 0.0
    for limit, sign in ((lower, -1.0), (upper, 1.0)):
        if limit is None:
            continue
        if np.any(sign * x > sign * limit):
            return None
        outside += 0.5 * math.erfc(sign * (limit - mean) / sd / math.sqrt(2))
    chance = (1 - min(outside, 1.0)) ** x.size
    if chance >= 0.01:
        return None
    return Hint(
        id="sorted-lot",
        text=(
            f"No value lies outside the limits, but a normal lot of this mean and spread would "
            f"have {100 * outside:.2g} % outside; the chance of none in {x.size} is {chance:.1g}."
        ),
        advice="The lot may have been sorted. Ask the supplier; capability figures do not hold.",
    )


def _mixture(x: FloatArray) -> Hint | None:
    """Two normal populations describe the values far better than one, and lie well apart."""
    two = _two_populations(x)
    if two is None:
        return None
    (weight, mean1, sd1, mean2, sd2), log_two = two
    sd = float(np.std(x))
    log_one = float(np.sum(_log_density(x, float(x.mean()), sd)))
    gain = 2 * (log_two - log_one) - 3 * math.log(x.size)
    apart = abs(mean1 - mean2) / math.sqrt((sd1 * sd1 + sd2 * sd2) / 2)
    if gain <= 10 or apart <= 2 or not 0.1 <= weight <= 0.9:
        return None
    return Hint(
        id="mixture",
        text=(
            f"Two populations fit far better than one: {100 * weight:.0f} % about {mean1:.5g} and "
            f"{100 * (1 - weight):.0f} % about {mean2:.5g}, {apart:.1f} standard deviations apart."
        ),
        advice="Look for two tools, wires, cores or dates in the lot, and judge them apart.",
    )


def _log_density(x: FloatArray, mean: float, sd: float) -> FloatArray:
    return -0.5 * ((x - mean) / sd) ** 2 - math.log(sd * math.sqrt(2 * math.pi))


def _two_populations(
    x: FloatArray,
) -> tuple[tuple[float, float, float, float, float], float] | None:
    """Fit two normal populations by expectation and maximisation, starting from the halves."""
    ordered = np.sort(x)
    low, high = ordered[: x.size // 2], ordered[x.size // 2 :]
    floor = 0.02 * float(np.std(x))
    weight = 0.5
    mean1, sd1 = float(low.mean()), max(float(low.std()), floor)
    mean2, sd2 = float(high.mean()), max(float(high.std()), floor)
    for _ in range(200):
        log1 = math.log(weight) + _log_density(x, mean1, sd1)
        log2 = math.log(1 - weight) + _log_density(x, mean2, sd2)
        both = np.logaddexp(log1, log2)
        share = np.exp(log1 - both)
        total = float(share.sum())
        if not 1 < total < x.size - 1:
            return None
        weight = total / x.size
        mean1 = float(share @ x) / total
        mean2 = float((1 - share) @ x) / (x.size - total)
        sd1 = max(math.sqrt(float(share @ (x - mean1) ** 2) / total), floor)
        sd2 = max(math.sqrt(float((1 - share) @ (x - mean2) ** 2) / (x.size - total)), floor)
    return (weight, mean1, sd1, mean2, sd2), float(both.sum())
