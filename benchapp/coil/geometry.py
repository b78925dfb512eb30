"""Coil designs as frozen values. What cannot be wound is refused here, with what to do."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Literal

from benchapp.coil.section import Section
from benchapp.errors import QuantityError
from benchapp.units import format_quantity

__all__ = [
    "Design",
    "Form",
    "Loop",
    "Multilayer",
    "Pair",
    "Planar",
    "Rectangle",
    "Solenoid",
    "Spiral",
    "Straight",
    "Winding",
]

Form = Literal["square", "hexagonal", "octagonal", "circular"]

_SLACK = 1e-9
_HEXAGONAL = math.sqrt(3.0) / 2.0
_PERIMETER = {
    "square": 4.0,
    "hexagonal": 2.0 * math.sqrt(3.0),
    "octagonal": 8.0 * (math.sqrt(2.0) - 1.0),
    "circular": math.pi,
}


def _require(holds: bool, where: str, rule: str, got: str, hint: str) -> None:  # noqa: FBT001
    if not holds:
        raise QuantityError(f"{where}: must {rule} (got {got}).", hint=hint)


def _length(value: float) -> str:
    return format_quantity(value, "m")


def _check_positive(design: object, *, may_be_zero: tuple[str, ...] = ()) -> None:
    """Refuse a dimension that is not a positive number, and less than one turn."""
    for entry in fields(design):  # type: ignore[arg-type]
        value = getattr(design, entry.name)
        if value is None or isinstance(value, str):
            continue
        if entry.name.startswith("turns"):
            fits = 1 <= value < math.inf
            rule, got, hint = "be one or more", f"{value:g}", "Count the turns again."
        else:
            fits = 0 < value < math.inf or (value == 0 and entry.name in may_be_zero)
            rule, got = "be above zero and finite", f"{value:g} m"
            hint = "Give it with its unit, for example 50mm."
        _require(fits, entry.name, rule, got, hint)


def _check_ring(inner: float, outer: float) -> None:
    _require(
        outer > inner,
        "outer",
        "be larger than the inner diameter",
        f"outer {_length(outer)}, inner {_length(inner)}",
        "Swap the two if they were exchanged.",
    )


def _check_wire(wire: float | None, room: float, what: str, hint: str) -> None:
    _require(
        wire is None or wire <= room * (1 + _SLACK),
        "wire",
        f"be no thicker than {what}, {_length(room)}",
        _length(wire or 0.0),
        hint,
    )


_FEWER = "Take thinner wire, fewer turns or more room; give the bare diameter."


@dataclass(frozen=True, slots=True, kw_only=True)
class Solenoid:
    """One layer of round wire on a cylinder. Lengths in m.

    ``diameter`` is measured from wire centre to wire centre; ``length`` is turns times pitch
    (for a close winding its overall length). ``wire`` is the bare diameter, None if unknown.
    """

    diameter: float
    length: float
    turns: float
    wire: float | None = None

    def __post_init__(self) -> None:
        _check_positive(self)
        _check_wire(self.wire, self.pitch, "the pitch", _FEWER)
        _check_wire(self.wire, self.diameter, "the coil", "Check the unit of the two.")

    @property
    def pitch(self) -> float:
        """Distance from turn to turn, m."""
        return self.length / self.turns

    @property
    def section(self) -> Section:
        """The winding as a current sheet."""
        return Section(inner=self.diameter / 2, outer=self.diameter / 2, length=self.length)

    @property
    def wire_length(self) -> float:
        """Length of the helix, m, without leads."""
        return self.turns * math.hypot(math.pi * self.diameter, self.pitch)


@dataclass(frozen=True, slots=True, kw_only=True)
class Multilayer:
    """Several layers in a rectangular winding section. Lengths in m.

    ``inner`` and ``outer`` are the diameters of the winding, ``length`` its width along the
    axis, ``wire`` the bare diameter.
    """

    inner: float
    outer: float
    length: float
    turns: float
    wire: float | None = None

    def __post_init__(self) -> None:
        _check_positive(self)
        _check_ring(self.inner, self.outer)
        room = self.cell / math.sqrt(_HEXAGONAL)
        _check_wire(self.wire, room, "the winding section has room for", _FEWER)

    @property
    def depth(self) -> float:
        """Radial height of the winding, m."""
        return (self.outer - self.inner) / 2

    @property
    def cell(self) -> float:
        """Side of the square that each turn has to itself, m."""
        return math.sqrt(self.depth * self.length / self.turns)

    @property
    def layers(self) -> int:
        """Layers of a winding with the same pitch along the axis and across it."""
        return max(1, round(self.depth / self.cell))

    @property
    def section(self) -> Section:
        """The winding section."""
        return Section(inner=self.inner / 2, outer=self.outer / 2, length=self.length)

    @property
    def wire_length(self) -> float:
        """Length of the wire, m, without leads."""
        return self.turns * math.pi * (self.inner + self.outer) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Spiral:
    """A flat winding of round wire, turn outside turn. Diameters in m.

    The winding is half a pitch wider on either side than the centres of its end turns.
    """

    inner: float
    outer: float
    turns: float
    wire: float | None = None

    def __post_init__(self) -> None:
        _check_positive(self)
        _check_ring(self.inner, self.outer)
        _check_wire(self.wire, self.pitch, "the pitch", _FEWER)

    @property
    def pitch(self) -> float:
        """Distance from turn to turn, m."""
        return (self.outer - self.inner) / 2 / self.turns

    @property
    def section(self) -> Section:
        """The winding as a flat disc of current."""
        return Section(inner=self.inner / 2, outer=self.outer / 2)

    @property
    def wire_length(self) -> float:
        """Length of the wire, m, without leads."""
        return self.turns * math.pi * (self.inner + self.outer) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """One circular turn of round wire: mean diameter and bare wire diameter in m."""

    diameter: float
    wire: float

    def __post_init__(self) -> None:
        _check_positive(self)
        _check_wire(self.wire, self.diameter / 2, "half the loop", "Check the unit of the two.")

    @property
    def section(self) -> Section:
        """The loop as a filament."""
        return Section(inner=self.diameter / 2, outer=self.diameter / 2)

    @property
    def wire_length(self) -> float:
        """Length of the wire, m, without leads."""
        return math.pi * self.diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A rectangular frame of round wire, its turns side by side along the axis. Lengths in m.

    ``width`` and ``height`` are measured from wire centre to wire centre. ``pitch`` is the
    distance between turns; without it the turns lie close together.
    """

    width: float
    height: float
    wire: float
    turns: float = 1
    pitch: float | None = None

    def __post_init__(self) -> None:
        _check_positive(self)
        side = min(self.width, self.height)
        _check_wire(self.wire, side / 2, "half the shorter side", "Check the unit of the two.")
        _check_wire(self.wire, self.step, "the pitch", _FEWER)
        _require(
            self.turns == int(self.turns),
            "turns",
            "be a whole number for a rectangular frame",
            f"{self.turns:g}",
            "Give the turns that link the whole frame.",
        )

    @property
    def step(self) -> float:
        """Distance from turn to turn, m: the pitch, or the wire where none is given."""
        return self.wire if self.pitch is None else self.pitch

    @property
    def wire_length(self) -> float:
        """Length of the wire, m, without leads."""
        return 2 * (self.width + self.height) * self.turns


@dataclass(frozen=True, slots=True, kw_only=True)
class Planar:
    """A flat printed coil. ``inner`` and ``outer`` are measured between opposite sides, in m.

    ``track`` is the width of the conductor, ``thickness`` its height; None if unknown.
    """

    form: Form
    inner: float
    outer: float
    turns: float
    track: float | None = None
    thickness: float | None = None

    def __post_init__(self) -> None:
        _require(
            self.form in _PERIMETER,
            "form",
            f"be one of {', '.join(_PERIMETER)}",
            repr(self.form),
            "Take the circular form for a round spiral.",
        )
        _check_positive(self)
        _check_ring(self.inner, self.outer)
        # One turn may fill the ring; further turns need a gap.
        slack = _SLACK if self.turns == 1 else -_SLACK
        room = (self.outer - self.inner) / 2 * (1 + slack)
        _require(
            self.track is None or self.turns * self.track <= room,
            "track",
            "leave a gap between the turns",
            f"{self.turns:g} turns of {_length(self.track or 0.0)} "
            f"in {_length((self.outer - self.inner) / 2)}",
            "Take a narrower track, fewer turns or a larger outer diameter.",
        )

    @property
    def gap(self) -> float | None:
        """Space between neighbouring tracks, m; None if the track or a second turn is missing."""
        if self.track is None or self.turns <= 1:
            return None
        return ((self.outer - self.inner) / 2 - self.turns * self.track) / (self.turns - 1)

    @property
    def wire_length(self) -> float:
        """Length of the track, m."""
        return self.turns * _PERIMETER[self.form] * (self.inner + self.outer) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Winding:
    """One coil of a pair: mean diameter in m, and its turns.

    With a ``length`` it is a single-layer solenoid, else a compact bundle of square section of
    turns of its ``wire``, and without a wire a filament.
    """

    diameter: float
    turns: float = 1
    length: float | None = None
    wire: float | None = None

    @property
    def thickness(self) -> float:
        """Radial height of the winding, m; 0 for a filament or a sheet of unknown wire."""
        wire = self.wire or 0.0
        return wire if self.length else wire * math.sqrt(self.turns)

    @property
    def section(self) -> Section:
        """Where the current flows: a sheet, the square of a bundle, or a filament."""
        radius = self.diameter / 2
        if self.length:
            return Section(inner=radius, outer=radius, length=self.length)
        side = 0.0 if self.turns == 1 else self.thickness
        return Section(inner=radius - side / 2, outer=radius + side / 2, length=side)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two coils on one axis. Lengths in m.

    ``distance`` lies between their middle planes. A coil with a ``length`` is a single-layer
    solenoid; one without is a compact bundle of turns of its ``wire``.
    """

    diameter1: float
    diameter2: float
    distance: float
    turns1: float = 1
    turns2: float = 1
    length1: float | None = None
    length2: float | None = None
    wire1: float | None = None
    wire2: float | None = None

    def __post_init__(self) -> None:
        _check_positive(self, may_be_zero=("distance",))
        for name, coil in zip(("wire1", "wire2"), self.windings, strict=True):
            bundle = coil.diameter / 2 / math.sqrt(coil.turns)
            room = coil.length / coil.turns if coil.length else bundle
            _require(
                coil.wire is None or coil.wire <= room * (1 + _SLACK),
                name,
                f"be no thicker than its winding has room for, {_length(room)}",
                _length(coil.wire or 0.0),
                _FEWER,
            )
        one, two = self.windings
        reach = (_height(one) + _height(two)) / 2
        thick = (one.thickness + two.thickness) / 2
        aside = abs(self.diameter1 - self.diameter2) / 2
        _require(
            _clear(aside, thick) or _clear(self.distance, reach),
            "distance",
            f"be at least {_length(reach)} for coils of these diameters"
            if reach
            else "be above zero for coils of one diameter",
            _length(self.distance),
            "Move the coils apart, or change one diameter: the windings would overlap.",
        )

    @property
    def windings(self) -> tuple[Winding, Winding]:
        """The two coils."""
        return (
            Winding(
                diameter=self.diameter1, turns=self.turns1, length=self.length1, wire=self.wire1
            ),
            Winding(
                diameter=self.diameter2, turns=self.turns2, length=self.length2, wire=self.wire2
            ),
        )


def _height(coil: Winding) -> float:
    return coil.length or coil.thickness


def _clear(apart: float, needed: float) -> bool:
    return apart >= needed * (1 - _SLACK) and apart + needed > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A straight piece of round wire: length and bare diameter in m."""

    length: float
    wire: float

    def __post_init__(self) -> None:
        _check_positive(self)
        _check_wire(self.wire, self.length / 2, "half its length", "Check the unit of the two.")

    @property
    def wire_length(self) -> float:
        """Length of the wire, m."""
        return self.length


Design = Solenoid | Multilayer | Spiral | Loop | Rectangle | Planar | Pair | Straight
