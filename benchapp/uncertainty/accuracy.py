"""How accurate an instrument and its fixture are said to be: stated bounds, and what they mean.

An `Accuracy` is what a data sheet, a calibration certificate or experience states. Each entry is
one quantity that the measurement depends on and that is known only within a bound; the errors of
different entries are independent of each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Literal

from benchapp.errors import QuantityError

__all__ = ["DIVISORS", "Accuracy", "Distribution", "Stated"]

Distribution = Literal["rectangular", "triangular", "arcsine", "normal"]

DIVISORS: Mapping[str, float] = MappingProxyType(
    {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}
)
"""Half-width of a bound over its standard uncertainty.

Source: JCGM 100:2008, 4.3.7 (rectangular) and 4.3.9 (triangular); JCGM 101:2008, 6.4.6 (arc
sine). A normal bound is divided by its coverage factor, 4.3.3.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """A bound as it is stated, half its width, in SI units (an angle in radian).

    ``coverage`` is the factor k that belongs to a normal bound; ``dof`` says how well the bound
    itself is known, infinite where it is taken as it stands (JCGM 100:2008, G.4.2 and G.4.3).

    Raises
    ------
    QuantityError
        When the bound is negative, or coverage or degrees of freedom are not above zero.
    """

    bound: float
    distribution: Distribution = "rectangular"
    coverage: float = 2.0
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (0 <= self.bound < math.inf and 0 < self.coverage < math.inf and self.dof > 0):
            raise QuantityError(
                "stated bound: must be zero or more, its coverage and degrees of freedom above "
                f"zero (got {self.bound!r}, {self.coverage!r} and {self.dof!r}).",
                hint="Give half the width of the interval: 0.1 % for ±0.1 %.",
            )

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        if self.distribution == "normal":
            return self.bound / self.coverage
        return self.bound / DIVISORS[self.distribution]


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """What is stated about instrument, fixture and temperature. None = nothing is stated.

    Of the instrument: ``reading`` fraction of |Z|, ``phase`` rad, ``series`` ohm and ``parallel``
    siemens (the floors of its ranges, each in real and imaginary part), ``delay`` s (a phase
    that grows with frequency), ``frequency`` fraction. ``ranges`` are their upper ends in ohm,
    rising; reading, phase and floors have an error of their own in each. ``reference`` is the
    fraction to which a reference coil is known, by which the readings were put right.

    Of the fixture, after its compensation: ``fixture_ohm``, ``fixture_henry`` in series,
    ``fixture_farad``, ``fixture_siemens`` across.

    Of the temperature: ``drift`` fraction per kelvin of the readings over ``drift_kelvin`` from
    the temperature of calibration; ``part_kelvin``, how well the temperature of the part is
    known, with the relative changes ``part_per_kelvin`` of its L, C and R.
    """

    title: str = ""
    ranges: tuple[float, ...] = ()
    reading: Stated | None = None
    phase: Stated | None = None
    series: Stated | None = None
    parallel: Stated | None = None
    delay: Stated | None = None
    frequency: Stated | None = None
    reference: Stated | None = None
    fixture_ohm: Stated | None = None
    fixture_henry: Stated | None = None
    fixture_farad: Stated | None = None
    fixture_siemens: Stated | None = None
    drift: Stated | None = None
    drift_kelvin: float = 0.0
    part_kelvin: Stated | None = None
    part_per_kelvin: tuple[tuple[str, float], ...] = ()
    source: str = ""
    sha256: str = ""

    @property
    def stated(self) -> Mapping[str, Stated]:
        """The entries that are there, by name."""
        values = {entry.name: getattr(self, entry.name) for entry in fields(self)}
        return {name: value for name, value in values.items() if isinstance(value, Stated)}
