"""What a marking says: one reading of it, and the part that carries it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchapp.units import Estimate

__all__ = ["KINDS", "UNIT_OF", "Dielectric", "Kind", "Marking", "Part", "Rating", "Reading"]

Kind = Literal["capacitor", "resistor", "inductor"]
KINDS: tuple[Kind, ...] = ("capacitor", "resistor", "inductor")
UNIT_OF: dict[Kind, str] = {"capacitor": "F", "resistor": "ohm", "inductor": "H"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """A voltage as marked.

    ``kind`` tells whether it was marked for DC or for AC at mains frequency; a rating of one kind
    says nothing about the other. ``text`` is what stands on the part.
    """

    volt: float
    kind: Literal["dc", "ac"]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dielectric:
    """The dielectric as marked: its code or film, and in words what that promises.

    ``drift`` is the temperature coefficient (lowest, highest) in 1/K of a class 1 ceramic;
    ``change`` the capacitance change (lowest, highest), a fraction, of a class 2 ceramic over its
    ``range_celsius``. What the marking does not say is None.
    """

    name: str
    meaning: str
    class_2: bool = False
    drift: tuple[float, float] | None = None
    change: tuple[float, float] | None = None
    range_celsius: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One thing that a marking can mean.

    ``value`` is in ``unit``, None where the marking holds a rating or a dielectric only.
    Tolerances are signed fractions, or ``absolute_tolerance`` in ``unit`` (plus and minus); None
    where not marked. ``likelihood`` ranks the readings of one marking and adds up to one over
    them: it weighs common practice and is no statistic. ``series`` is the coarsest preferred
    series that holds the value, None where none does.
    """

    kind: Kind
    unit: str
    value: float | None = None
    tolerance_low: float | None = None
    tolerance_high: float | None = None
    absolute_tolerance: float | None = None
    ratings: tuple[Rating, ...] = ()
    dielectric: Dielectric | None = None
    safety_class: str | None = None
    series: str | None = None
    likelihood: float = 1.0
    why: str = ""

    @property
    def rating(self) -> Rating | None:
        """The voltage that stands first on the part."""
        return self.ratings[0] if self.ratings else None

    @property
    def lower(self) -> float | None:
        """Lowest value that the marked tolerance allows, in ``unit``."""
        return self._bound(self.tolerance_low, -1)

    @property
    def upper(self) -> float | None:
        """Highest value that the marked tolerance allows, in ``unit``."""
        return self._bound(self.tolerance_high, 1)

    def _bound(self, fraction: float | None, side: int) -> float | None:
        if self.value is None:
            return None
        if self.absolute_tolerance is not None:
            return self.value + side * self.absolute_tolerance
        return None if fraction is None else self.value * (1 + fraction)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """A marking with every reading that the standards allow, most likely first.

    ``not_understood`` are words that were set aside; nothing was taken from them.
    """

    code: str
    readings: tuple[Reading, ...]
    not_understood: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part on the bench: what stands on it, how that was decoded, what was measured.

    Three fields that never overwrite each other; each is None (``marking`` empty) until known.
    """

    marking: str = ""
    decoded: Reading | None = None
    measured: Estimate | None = None
