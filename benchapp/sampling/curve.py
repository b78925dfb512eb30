"""The operating characteristic: how likely a lot is accepted, and plans found from it.

Probabilities are summed in logarithms with the standard library, so that no statistics package is
loaded for them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import UsageError

__all__ = [
    "AttributesPlan",
    "VariablesPlan",
    "accept_binomial",
    "accept_hypergeometric",
    "accept_poisson",
    "attributes_plan_for",
    "fraction_at",
    "operating_characteristic",
    "pick",
    "variables_plan_for",
    "zero_acceptance",
]


_ROUNDING = 1e-9
_MOST_ACCEPTED = 200


def _check(n: int, accept: int) -> None:
    if n < 1 or accept < 0:
        raise UsageError(
            "plan: must have a sample of one or more and accept zero or more "
            f"(got {n} and {accept}).",
            hint="For example n 50, Ac 1.",
        )


def accept_binomial(n: int, accept: int, fraction: float) -> float:
    """Give the probability of at most ``accept`` nonconforming in ``n`` of a large lot.

    Parameters
    ----------
    n, accept : int
    fraction : float
        Of the lot, 0 to 1.

    Returns
    -------
    float
        sum over d of C(n, d) p^d (1 - p)^(n - d).
    """
    _check(n, accept)
    if fraction <= 0 or accept >= n:
        return 1.0
    if fraction >= 1:
        return 0.0
    up, down = math.log(fraction), math.log1p(-fraction)
    return _sum(_choose(n, found) + found * up + (n - found) * down for found in range(accept + 1))


def accept_poisson(n: int, accept: int, rate: float) -> float:
    """Give the probability of at most ``accept`` nonconformities in ``n`` units.

    Parameters
    ----------
    n, accept : int
    rate : float
        Nonconformities per unit.

    Returns
    -------
    float
        sum over d of exp(-n r) (n r)^d/d!.
    """
    _check(n, accept)
    if rate <= 0:
        return 1.0
    mean = n * rate
    return _sum(
        found * math.log(mean) - mean - math.lgamma(found + 1) for found in range(accept + 1)
    )


def accept_hypergeometric(lot_size: int, n: int, accept: int, nonconforming: int) -> float:
    """Give the probability of at most ``accept`` nonconforming in ``n`` of a lot, exactly.

    Parameters
    ----------
    lot_size, n, accept : int
    nonconforming : int
        In the whole lot.

    Returns
    -------
    float
        sum over d of C(D, d) C(N - D, n - d)/C(N, n).

    Raises
    ------
    UsageError
        When sample or nonconforming parts are more than the lot.
    """
    _check(n, accept)
    if not (n <= lot_size and 0 <= nonconforming <= lot_size):
        raise UsageError(
            "lot: must hold the sample and the nonconforming parts "
            f"(got {n} and {nonconforming} of {lot_size}).",
            hint="Inspect every part of a small lot.",
        )
    sound, whole = lot_size - nonconforming, _choose(lot_size, n)
    last = min(accept, nonconforming, n)
    return _sum(
        _choose(nonconforming, found) + _choose(sound, n - found) - whole
        for found in range(max(0, n - sound), last + 1)
    )


def _choose(n: int, k: int) -> float:
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)


def _sum(logarithms: Iterable[float]) -> float:
    return min(1.0, math.fsum(math.exp(term) for term in logarithms))


def operating_characteristic(
    n: int, accept: int, fraction: ArrayLike, *, lot_size: int | None = None
) -> NDArray[np.float64]:
    """Give the probability of acceptance over the fraction nonconforming.

    Parameters
    ----------
    n, accept : int
    fraction : (N,) float
        Of the lot, 0 to 1.
    lot_size : int, optional
        Then exact for that lot, the nonconforming rounded to whole parts; else for a large lot.

    Returns
    -------
    (N,) float
    """
    points = np.atleast_1d(np.asarray(fraction, dtype=np.float64))
    if lot_size is None:
        return np.array([accept_binomial(n, accept, float(point)) for point in points])
    return np.array(
        [
            accept_hypergeometric(lot_size, n, accept, round(float(point) * lot_size))
            for point in points
        ]
    )


def fraction_at(n: int, accept: int, probability: float) -> float:
    """Give the fraction nonconforming at which a lot is accepted with ``probability``.

    Parameters
    ----------
    n, accept : int
    probability : float
        Above 0 and below 1.

    Returns
    -------
    float
        By bisection of the binomial, to 1 part in 10^12.
    """
    if not 0 < probability < 1:
        raise UsageError(
            f"probability of acceptance: must be above 0 and below 1 (got {probability:g}).",
            hint="Usual are 0.95, 0.5 and 0.1.",
        )
    return _bisect(lambda fraction: accept_binomial(n, accept, fraction) - probability)


def _bisect(falling: Callable[[float], float]) -> float:
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if falling(middle) > 0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@dataclass(frozen=True, slots=True, kw_only=True)
class AttributesPlan:
    """A plan found from two points of its operating characteristic."""

    n: int
    accept: int
    producer_probability: float
    consumer_probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VariablesPlan:
    """A plan for a known standard deviation: accept when (limit - mean)/sigma is k or more."""

    n: int
    k: float


def _points(producer: tuple[float, float], consumer: tuple[float, float]) -> None:
    good, bad = producer[0], consumer[0]
    if not (0 < good < bad < 1 and 0 < consumer[1] < producer[1] < 1):
        raise UsageError(
            "plan points: must be a good fraction accepted often and a worse one accepted rarely "
            f"(got {producer} and {consumer}).",
            hint="For example 1 % accepted with 0.95 and 6 % with 0.10.",
        )


def attributes_plan_for(
    producer: tuple[float, float], consumer: tuple[float, float]
) -> AttributesPlan:
    """Find the smallest plan that keeps both points.

    Parameters
    ----------
    producer : (float, float)
        Fraction nonconforming that shall be accepted with at least this probability.
    consumer : (float, float)
        Fraction nonconforming that shall be accepted with at most this probability.

    Returns
    -------
    AttributesPlan
        The least acceptance number, and for it the least sample.

    Raises
    ------
    UsageError
        When the two points contradict each other or lie too close together.
    """
    _points(producer, consumer)
    n = 1
    for accept in range(_MOST_ACCEPTED + 1):
        n = max(n, accept + 1)
        while accept_binomial(n, accept, consumer[0]) > consumer[1]:
            n += 1
        found = accept_binomial(n, accept, producer[0])
        if found >= producer[1]:
            return AttributesPlan(
                n=n,
                accept=accept,
                producer_probability=found,
                consumer_probability=accept_binomial(n, accept, consumer[0]),
            )
    raise UsageError(
        f"plan points: must lie further apart (got {producer} and {consumer}).",
        hint="Such a plan would need thousands of parts: inspect all.",
    )


def variables_plan_for(
    producer: tuple[float, float], consumer: tuple[float, float]
) -> VariablesPlan:
    """Find the plan by variables with known sigma and one limit for two points.

    n = ((z_a + z_b)/(z_1 - z_2))^2 rounded up, k = z_1 - z_a/sqrt(n), with z_1, z_2 the quantiles
    of the two fractions and z_a, z_b those of the two risks. Source: normal theory.

    Parameters
    ----------
    producer, consumer : (float, float)
        As for `attributes_plan_for`.

    Returns
    -------
    VariablesPlan
    """
    _points(producer, consumer)
    quantile = NormalDist().inv_cdf
    good, bad = quantile(1 - producer[0]), quantile(1 - consumer[0])
    producer_z, consumer_z = quantile(producer[1]), quantile(1 - consumer[1])
    n = math.ceil(((producer_z + consumer_z) / (good - bad)) ** 2)
    return VariablesPlan(n=n, k=good - producer_z / math.sqrt(n))


def zero_acceptance(lot_size: int, fraction: float, risk: float = 0.1) -> int:
    """Give the least sample that, with no nonconforming part in it, keeps bad lots out.

    Parameters
    ----------
    lot_size : int
    fraction : float
        A lot with this fraction nonconforming (rounded up to whole parts, one at least) or more
        is bad.
    risk : float
        Probability of accepting such a lot all the same, at most.

    Returns
    -------
    int
        By the hypergeometric distribution, exact for the lot; the whole lot if need be.

    Raises
    ------
    UsageError
        When the lot is empty, or fraction or risk is not between 0 and 1.
    """
    if lot_size < 1 or not 0 < fraction <= 1 or not 0 < risk < 1:
        raise UsageError(
            "zero-acceptance plan: must have a lot, a fraction and a risk between 0 and 1 "
            f"(got {lot_size}, {fraction:g}, {risk:g}).",
            hint="For example lot 500, fraction 0.05, risk 0.1.",
        )
    bad = max(1, math.ceil(round(fraction * lot_size, 9)))
    low, high = 1, lot_size
    while low < high:
        middle = (low + high) // 2
        if accept_hypergeometric(lot_size, middle, 0, bad) <= risk * (1 + _ROUNDING):
            high = middle
        else:
            low = middle + 1
    return low


def pick(lot_size: int, n: int, generator: np.random.Generator) -> tuple[int, ...]:
    """Give the positions (from 1) of the parts to draw, in rising order, each equally likely.

    Parameters
    ----------
    lot_size, n : int
    generator : numpy.random.Generator

    Returns
    -------
    tuple of int

    Raises
    ------
    UsageError
        When more parts are to be drawn than there are.
    """
    if not 1 <= n <= lot_size:
        raise UsageError(
            f"sample: must be from 1 to the lot size (got {n} of {lot_size}).",
            hint="Inspect every part of a small lot.",
        )
    drawn = generator.choice(lot_size, size=n, replace=False) + 1
    return tuple(int(position) for position in sorted(drawn))
