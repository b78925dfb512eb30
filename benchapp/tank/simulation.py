"""A thousand or a million tanks drawn at random: how many leave the band."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import UsageError
from benchapp.tank.stackup import Contributor, StackUp, Temperature

__all__ = ["Simulation", "clopper_pearson", "simulate", "wilson"]

FloatArray = NDArray[np.float64]
_CHUNK = 1 << 15
_LEVELS = (0.135, 2.5, 50.0, 97.5, 99.865)
_BINS = 100
_SMALLEST = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Simulation:
    """What became of ``units`` tanks.

    ``below`` and ``above`` count those outside the band; ``outside`` is their fraction and
    ``outside_interval`` its 95 % interval (Wilson), None where no band was given. Frequencies in
    Hz: ``mean``, ``sd``, ``quantiles`` at 0.135, 2.5, 50, 97.5 and 99.865 %, and a histogram with
    ``edges`` (101,) and ``counts`` (100,).
    """

    units: int
    mean: float
    sd: float
    quantiles: tuple[float, float, float, float, float]
    edges: FloatArray
    counts: NDArray[np.int64]
    below: int | None = None
    above: int | None = None
    outside: float | None = None
    outside_interval: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        for name in ("edges", "counts"):
            array = np.array(getattr(self, name), copy=True)
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild through the constructor, so that arrays come back read-only."""
        return _rebuild, ({name: getattr(self, name) for name in self.__slots__},)


def _rebuild(values: dict[str, Any]) -> Simulation:
    return Simulation(**values)


def wilson(count: int, units: int, confidence: float = 0.95) -> tuple[float, float]:
    """Give the interval of a fraction after Wilson (1927).

    Parameters
    ----------
    count, units : int
        How many of how many.
    confidence : float
        Two-sided.

    Returns
    -------
    (float, float)
    """
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share, spread = count / units, z * z / units
    centre = (share + spread / 2) / (1 + spread)
    half = z / (1 + spread) * math.sqrt(share * (1 - share) / units + spread / (4 * units))
    low = 0.0 if count == 0 else centre - half
    return low, 1.0 if count == units else centre + half


def clopper_pearson(count: int, units: int, confidence: float = 0.95) -> tuple[float, float]:
    """Give the interval of a fraction after Clopper and Pearson (1934), never too narrow.

    Parameters
    ----------
    count, units : int
        How many of how many.
    confidence : float
        Two-sided.

    Returns
    -------
    (float, float)
        Quantiles of the beta distribution.
    """
    from scipy.special import betaincinv  # start-up: scipy only when needed

    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, units - count + 1, tail))
    high = 1.0 if count == units else float(betaincinv(count + 1, units - count, 1 - tail))
    return low, high


def simulate(
    design: StackUp, generator: np.random.Generator, units: int = 1_000_000
) -> Simulation:
    """Draw tanks at random and see where their resonance lies.

    Parameters
    ----------
    design : StackUp
    generator : numpy.random.Generator
        The only source of chance: the same seed gives the same result.
    units : int
        How many tanks.

    Returns
    -------
    Simulation

    Raises
    ------
    UsageError
        When there are no units or nothing varies, or the correlations contradict each other.
    """
    if units < 1:
        raise UsageError(
            f"units: must be at least 1 (got {units}).", hint="Usual is 100000 to 1000000."
        )
    if not design.contributors and design.temperature is None:
        raise UsageError(
            "stack-up: must have a tolerance or a temperature range (got none).",
            hint="Give L or C with a tolerance, for example 1.62mH±3%.",
        )
    drawn = np.empty(units)
    factor = _correlation_factor(design)
    for start in range(0, units, _CHUNK):
        part = drawn[start : start + _CHUNK]
        np.sqrt(_products(design, generator, part.size, factor), out=part)
    np.divide(design.frequency, drawn, out=drawn)
    return _summary(design, drawn)


def _correlation_factor(design: StackUp) -> FloatArray | None:
    """Give the Cholesky factor of the correlation matrix, None where nothing is correlated."""
    if not design.correlations:
        return None
    names = [entry.name for entry in design.contributors]
    matrix = np.eye(len(names))
    for first, second, r in design.correlations:
        i, j = names.index(first), names.index(second)
        matrix[i, j] = matrix[j, i] = r
    values, vectors = np.linalg.eigh(matrix)
    if values[0] < -1e-12:
        raise UsageError(
            "correlations: must be possible together (got a matrix that is not positive).",
            hint="If A goes with B and B with C, A cannot go against C.",
        )
    return np.asarray(vectors * np.sqrt(np.clip(values, 0, None)))


def _products(
    design: StackUp, generator: np.random.Generator, size: int, factor: FloatArray | None
) -> FloatArray:
    product = np.ones(size)
    for deviation in _deviations(design, generator, size, factor):
        product *= np.maximum(1 + deviation, _SMALLEST)
    if design.temperature is not None:
        product *= _temperature_product(design.temperature, generator, size)
    return product


def _deviations(
    design: StackUp, generator: np.random.Generator, size: int, factor: FloatArray | None
) -> Iterator[FloatArray]:
    if factor is None:
        for entry in design.contributors:
            yield _independent(entry, generator, size)
        return
    scores = factor @ generator.standard_normal((len(design.contributors), size))
    for entry, score in zip(design.contributors, scores, strict=True):
        yield _from_score(entry, score)


def _independent(entry: Contributor, generator: np.random.Generator, size: int) -> FloatArray:
    if entry.distribution == "normal":
        return _normal(entry, generator.standard_normal(size))
    if entry.distribution == "uniform":
        return generator.uniform(entry.low, entry.high, size)
    middle = (entry.low + entry.high) / 2
    half = (entry.high - entry.low) / 2
    return middle + half * (generator.random(size) - generator.random(size))


def _normal(entry: Contributor, score: FloatArray) -> FloatArray:
    sigma = (entry.high - entry.low) / (2 * entry.coverage)
    return (entry.low + entry.high) / 2 + sigma * score


def _from_score(entry: Contributor, score: FloatArray) -> FloatArray:
    """Turn correlated standard normal scores into deviations of the wanted distribution."""
    if entry.distribution == "normal":
        return _normal(entry, score)
    from scipy.special import ndtr  # start-up: scipy only when needed

    share = ndtr(score)
    if entry.distribution == "triangular":
        share = np.where(
            share < 0.5, np.sqrt(share / 2), 1 - np.sqrt(np.maximum(1 - share, 0) / 2)
        )
    return np.asarray(entry.low + (entry.high - entry.low) * share)


def _temperature_product(
    temperature: Temperature, generator: np.random.Generator, size: int
) -> FloatArray:
    rise = generator.uniform(*temperature.rises, size)
    product = np.ones(size)
    for low, high in (temperature.inductance, temperature.capacitance):
        coefficient = low if low == high else generator.uniform(low, high, size)
        product *= 1 + coefficient * rise
    return product


def _summary(design: StackUp, drawn: FloatArray) -> Simulation:
    low, high = float(drawn.min()), float(drawn.max())
    width = max(high - low, 1e-12 * high)
    places = np.minimum(((drawn - low) * (_BINS / width)).astype(np.int64), _BINS - 1)
    below = above = None
    outside = interval = None
    if design.band is not None:
        band = design.band
        below = 0 if band.low is None else int(np.count_nonzero(drawn < band.low))
        above = 0 if band.high is None else int(np.count_nonzero(drawn > band.high))
        outside = (below + above) / drawn.size
        interval = wilson(below + above, drawn.size)
    mean, sd = float(drawn.mean()), float(drawn.std())
    quantiles = tuple(
        float(value) for value in np.percentile(drawn, _LEVELS, overwrite_input=True)
    )
    return Simulation(
        units=drawn.size,
        mean=mean,
        sd=sd,
        quantiles=quantiles,  # type: ignore[arg-type]
        edges=np.linspace(low, low + width, _BINS + 1),
        counts=np.bincount(places, minlength=_BINS),
        below=below,
        above=above,
        outside=outside,
        outside_interval=interval,
    )
