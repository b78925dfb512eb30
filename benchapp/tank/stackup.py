"""How far tolerances, temperature and ageing move the resonance of a tank."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from benchapp.errors import QuantityError, UsageError
from benchapp.tank.value import Band, TankSums

__all__ = [
    "Contributor",
    "Distribution",
    "Range",
    "Share",
    "StackResult",
    "StackUp",
    "Temperature",
    "stack",
    "stack_of",
]

Distribution = Literal["normal", "uniform", "triangular"]
Range = tuple[float, float]
_DISTRIBUTIONS = ("normal", "uniform", "triangular")


@dataclass(frozen=True, slots=True, kw_only=True)
class Contributor:
    """Something that moves L or C by a fraction between ``low`` and ``high`` (signed).

    A 'normal' distribution has its mean in the middle of the range, which is plus and minus
    ``coverage`` standard deviations: with 3, 0.27 % of the parts lie outside their tolerance. The
    other distributions keep within the range.
    """

    name: str
    target: Literal["L", "C"]
    low: float
    high: float
    distribution: Distribution = "normal"
    coverage: float = 3.0

    def __post_init__(self) -> None:
        if not -1 < self.low <= self.high < math.inf:
            raise QuantityError(
                f"{self.name}: must run from low to high and stay above -100 % "
                f"(got {100 * self.low:g} % to {100 * self.high:g} %).",
                hint="Give for example ±3 % or -2 % +5 %.",
            )
        if self.distribution not in _DISTRIBUTIONS:
            raise UsageError(
                f"{self.name}: distribution must be one of {', '.join(_DISTRIBUTIONS)} "
                f"(got '{self.distribution}').",
                hint="Parts sorted to their limits are nearer to uniform than to normal.",
            )
        if not 0 < self.coverage < math.inf:
            raise QuantityError(
                f"{self.name}: tolerance in standard deviations must be above zero "
                f"(got {self.coverage!r}).",
                hint="Usual is 3; 2 for a supplier whose parts fill the tolerance.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Temperature:
    """Temperature coefficients of L and C in 1/K, each from lowest to highest, and the range.

    L(1 + a (T - reference)), and C likewise; both parts have the same temperature. In a
    simulation T is uniform over the range, and so are the coefficients.
    """

    inductance: Range = (0.0, 0.0)
    capacitance: Range = (0.0, 0.0)
    low_celsius: float
    high_celsius: float
    reference_celsius: float = 23.0

    def __post_init__(self) -> None:
        if not self.low_celsius <= self.high_celsius:
            raise QuantityError(
                "temperature: must run from low to high "
                f"(got {self.low_celsius:g} to {self.high_celsius:g} °C).",
                hint="Give for example -20..60.",
            )
        extremes = itertools.product((*self.inductance, *self.capacitance), self.rises)
        if any(not 1 + coefficient * rise > 0 for coefficient, rise in extremes):
            raise QuantityError(
                "temperature coefficient: must leave L and C above zero over the range "
                f"(got {self.inductance} and {self.capacitance} 1/K).",
                hint="Give ppm/K, for example -250.",
            )

    @property
    def rises(self) -> Range:
        """Lowest and highest difference from the reference temperature, K."""
        return (
            self.low_celsius - self.reference_celsius,
            self.high_celsius - self.reference_celsius,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StackUp:
    """The nominal resonance (Hz) and everything that moves it.

    ``correlations`` are (name, name, r) of contributors whose parts go together, such as two
    windings from one batch: r is the correlation of their deviations, in a simulation of
    their normal scores.
    """

    frequency: float
    contributors: tuple[Contributor, ...]
    temperature: Temperature | None = None
    correlations: tuple[tuple[str, str, float], ...] = ()
    band: Band | None = None

    def __post_init__(self) -> None:
        names = [entry.name for entry in self.contributors]
        if len(set(names)) != len(names):
            raise UsageError(
                f"contributors: must have different names (got {', '.join(names)}).",
                hint="Rename one of them.",
            )
        for first, second, r in self.correlations:
            if first not in names or second not in names or first == second or not -1 <= r <= 1:
                raise UsageError(
                    "correlation: must be between two contributors, from -1 to 1 "
                    f"(got {r:g} between {first} and {second}).",
                    hint=f"Contributors are {', '.join(names)}.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one contributor does: fractions of f0 at its ends, and its share of the squares.

    ``low`` is the shift at the end that lowers the resonance. ``sensitivity`` is d ln f0/d ln X.
    """

    name: str
    sensitivity: float
    low: float
    high: float
    variance_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StackResult:
    """How far the resonance goes, Hz. ``shares`` has the greatest first.

    ``worst_...`` are the exact corners; ``rss_...`` the linear root sum of squares. ``tighten``
    names the contributor to tighten first, ``tighten_to`` the fraction of its tolerance at which
    the root-sum-square range fits the band: None where there is no band, where it fits already,
    and where tightening this one alone is not enough.
    """

    frequency: float
    worst_low: float
    worst_high: float
    rss_low: float
    rss_high: float
    shares: tuple[Share, ...]
    tighten: str | None
    tighten_to: float | None


def stack_of(
    sums: TankSums,
    *,
    temperature: Temperature | None = None,
    distribution: Distribution = "normal",
    correlation: float = 0.0,
    band: Band | None = None,
    more: tuple[Contributor, ...] = (),
) -> StackUp:
    """Make the stack-up of a design from the tolerances of its L and C.

    Parameters
    ----------
    sums : TankSums
    temperature : Temperature, optional
    distribution : {'normal', 'uniform', 'triangular'}
        Of the tolerances of L and C.
    correlation : float
        Between L and C; needs tolerances of both.
    band : Band, optional
    more : tuple of Contributor
        Ageing, ferrite, metal nearby and the like.

    Returns
    -------
    StackUp
        Of the resonance that L and C make; a quantity that was worked out from a wanted
        resonance has no tolerance of its own.
    """
    found = [
        Contributor(
            name=name,
            target="L" if name == "L" else "C",
            low=spread.low / spread.nominal - 1,
            high=spread.high / spread.nominal - 1,
            distribution=distribution,
        )
        for name, spread in (("L", sums.inductance), ("C", sums.capacitance))
        if name != sums.derived and spread.low is not None and spread.high is not None
    ]
    return StackUp(
        frequency=sums.frequency.nominal,
        contributors=(*found, *more),
        temperature=temperature,
        correlations=(("L", "C", correlation),) if correlation else (),
        band=band,
    )


def stack(design: StackUp) -> StackResult:
    """Work out worst case, root sum of squares, and who causes how much.

    The worst case is exact: the resonance falls with each factor of L and of C, so that its
    extremes lie at their ends; over temperature also at an extreme inside the range, if any.

    Parameters
    ----------
    design : StackUp

    Returns
    -------
    StackResult
    """
    factors = [(1 + entry.low, 1 + entry.high) for entry in design.contributors]
    if design.temperature is not None:
        factors.append(_temperature_factors(design.temperature))
    lowest = math.prod(low for low, _ in factors)
    highest = math.prod(high for _, high in factors)
    rss_low, rss_high = _rss(design)
    shares = tuple(sorted(_shares(design), key=lambda share: -share.variance_share))
    first = next((share.name for share in shares if share.name != _TEMPERATURE), None)
    return StackResult(
        frequency=design.frequency,
        worst_low=design.frequency / math.sqrt(highest),
        worst_high=design.frequency / math.sqrt(lowest),
        rss_low=rss_low,
        rss_high=rss_high,
        shares=shares,
        tighten=first,
        tighten_to=None if first is None else _tighten(design, first),
    )


_TEMPERATURE = "temperature"


def _temperature_factors(temperature: Temperature) -> Range:
    """Give the least and greatest L C over the temperature range, as factors."""
    rises = temperature.rises
    found = []
    for coil, capacitor in itertools.product(temperature.inductance, temperature.capacitance):
        places = list(rises)
        if coil * capacitor != 0:
            inside = -(coil + capacitor) / (2 * coil * capacitor)
            places += [inside] if rises[0] < inside < rises[1] else []
        found += [(1 + coil * rise) * (1 + capacitor * rise) for rise in places]
    return min(found), max(found)


def _terms(design: StackUp) -> Iterator[tuple[str, float, float, float]]:
    """Give (name, sensitivity, linear shift of f0 downwards, and upwards, both positive)."""
    for entry in design.contributors:
        yield entry.name, -0.5, 0.5 * entry.high, -0.5 * entry.low
    if design.temperature is not None:
        low, high = _temperature_factors(design.temperature)
        yield _TEMPERATURE, -0.5, 0.5 * (high - 1), 0.5 * (1 - low)


def _rss(design: StackUp) -> tuple[float, float]:
    terms = {name: (down, up) for name, _, down, up in _terms(design)}
    squares = [sum(pair[side] ** 2 for pair in terms.values()) for side in (0, 1)]
    for first, second, r in design.correlations:
        for side in (0, 1):
            squares[side] += 2 * r * terms[first][side] * terms[second][side]
    down, up = (math.sqrt(max(square, 0.0)) for square in squares)
    return design.frequency * (1 - down), design.frequency * (1 + up)


def _shares(design: StackUp) -> Iterator[Share]:
    terms = list(_terms(design))
    widths = {name: (down + up) ** 2 for name, _, down, up in terms}
    total = sum(widths.values())
    for name, sensitivity, down, up in terms:
        low, high = 1 / math.sqrt(1 + 2 * down) - 1, 1 / math.sqrt(1 - 2 * up) - 1
        share = widths[name] / total if total else 0.0
        yield Share(name=name, sensitivity=sensitivity, low=low, high=high, variance_share=share)


def _scaled(design: StackUp, name: str, factor: float) -> StackUp:
    return replace(
        design,
        contributors=tuple(
            replace(entry, low=factor * entry.low, high=factor * entry.high)
            if entry.name == name
            else entry
            for entry in design.contributors
        ),
    )


def _fits(design: StackUp, band: Band) -> bool:
    low, high = _rss(design)
    return (band.low is None or low >= band.low) and (band.high is None or high <= band.high)


def _tighten(design: StackUp, name: str) -> float | None:
    """Find the fraction of one tolerance at which the root-sum-square range fits the band."""
    band = design.band
    if band is None or _fits(design, band) or not _fits(_scaled(design, name, 0.0), band):
        return None
    inside, outside = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (inside + outside)
        if _fits(_scaled(design, name, middle), band):
            inside = middle
        else:
            outside = middle
    return inside
