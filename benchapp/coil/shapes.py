"""The table of shapes: what each asks for, with names, units and examples, and how it is built.

The command line and the window make their forms from this table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from benchapp.coil import inductance
from benchapp.coil.conductor import MATERIALS, parse_wire
from benchapp.coil.geometry import (
    Design,
    Loop,
    Multilayer,
    Pair,
    Planar,
    Rectangle,
    Solenoid,
    Spiral,
    Straight,
)
from benchapp.coil.inductance import Answer
from benchapp.errors import QuantityError
from benchapp.units import Quantity, parse_quantity

__all__ = ["CONDUCTOR_ENTRIES", "PLATE_ENTRIES", "SHAPES", "Entry", "Shape", "shape_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of a form.

    ``unit`` is a key of `benchapp.units.UNITS`, '' for a choice among ``choices``. ``example`` is
    what an untried form starts with. ``required`` entries must be given; the others are None when
    left empty. ``gauge`` says that a wire gauge such as ``AWG 24`` is understood too.
    """

    name: str
    label: str
    unit: str
    help: str
    example: str
    required: bool = True
    choices: tuple[str, ...] = ()
    gauge: bool = False

    def read(self, text: str) -> Quantity | str:
        """Understand what was typed, with its tolerance if it has one.

        Raises
        ------
        QuantityError
            When it is not a value of this entry; the message names the entry.
        """
        if self.choices:
            if text not in self.choices:
                raise QuantityError(
                    f"{self.name}: must be one of {', '.join(self.choices)} (got {text!r}).",
                    hint="Choose one of these words.",
                )
            return text
        try:
            return parse_wire(text) if self.gauge else parse_quantity(text, self.unit)
        except QuantityError as error:
            raise QuantityError(
                f"{self.name}: {error.message}", hint=error.hint, **error.facts
            ) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One shape of coil: its form, the frozen value that it makes, and its inductance."""

    name: str
    title: str
    entries: tuple[Entry, ...]
    kind: type[Any]
    answer: Callable[[Any], Answer]

    def build(self, values: Mapping[str, float | str | None]) -> Design:
        """Make the design from the values of the entries, in SI units.

        Raises
        ------
        QuantityError
            When a required entry is missing or the dimensions cannot be wound.
        """
        for entry in self.entries:
            if entry.required and values.get(entry.name) is None:
                raise QuantityError(
                    f"{entry.name}: must be given for the shape {self.name} (got nothing).",
                    hint=f"For example {entry.example}.",
                )
        names = {entry.name for entry in self.entries}
        given = {name: value for name, value in values.items() if value is not None}
        design: Design = self.kind(**{name: given[name] for name in names if name in given})
        return design


def _length(name: str, label: str, text: str, example: str, *, required: bool = True) -> Entry:
    return Entry(name=name, label=label, unit="m", help=text, example=example, required=required)


def _turns(example: str, *, name: str = "turns", required: bool = True) -> Entry:
    return Entry(
        name=name,
        label=name.replace("turns", "Turns ").strip(),
        unit="1",
        help="number of turns",
        example=example,
        required=required,
    )


def _wire(name: str = "wire", *, required: bool = False, example: str = "0.5mm") -> Entry:
    return Entry(
        name=name,
        label=name.replace("wire", "Wire ").strip(),
        unit="m",
        help="bare diameter of the wire, or a gauge such as AWG24",
        example=example,
        required=required,
        gauge=True,
    )


_RING = (
    _length("inner", "Inner diameter", "inner diameter of the winding", "40mm"),
    _length("outer", "Outer diameter", "outer diameter of the winding", "60mm"),
)
_SIDES = (
    _length("inner", "Inner size", "between opposite inner sides", "20mm"),
    _length("outer", "Outer size", "between opposite outer sides", "50mm"),
)


def _pair_entries() -> tuple[Entry, ...]:
    found = [
        _length("diameter1", "Diameter 1", "mean diameter of the first coil", "80mm"),
        _length("diameter2", "Diameter 2", "mean diameter of the second coil", "50mm"),
        _length("distance", "Distance", "between the middle planes of the coils", "20mm"),
    ]
    for number in ("1", "2"):
        found += [
            _turns("1", name="turns" + number, required=False),
            _length(
                "length" + number,
                "Length " + number,
                "winding length, for a single layer; without it the turns are one bundle",
                "10mm",
                required=False,
            ),
            _wire("wire" + number),
        ]
    return tuple(found)


_TABLE = (
    Shape(
        name="solenoid",
        title="Single-layer solenoid",
        kind=Solenoid,
        answer=inductance.of_solenoid,
        entries=(
            _length("diameter", "Mean diameter", "from wire centre to wire centre", "50mm"),
            _length("length", "Winding length", "turns times pitch", "30mm"),
            _turns("50"),
            _wire(),
        ),
    ),
    Shape(
        name="multilayer",
        title="Solenoid of several layers",
        kind=Multilayer,
        answer=inductance.of_multilayer,
        entries=(
            *_RING,
            _length("length", "Winding length", "along the axis", "10mm"),
            _turns("300"),
            _wire(example="0.3mm"),
        ),
    ),
    Shape(
        name="spiral",
        title="Flat spiral of wire",
        kind=Spiral,
        answer=inductance.of_spiral,
        entries=(*_RING, _turns("10"), _wire()),
    ),
    Shape(
        name="loop",
        title="Circular loop, one turn",
        kind=Loop,
        answer=inductance.of_loop,
        entries=(
            _length("diameter", "Mean diameter", "from wire centre to wire centre", "100mm"),
            _wire(required=True, example="1mm"),
        ),
    ),
    Shape(
        name="rectangle",
        title="Rectangular frame",
        kind=Rectangle,
        answer=inductance.of_rectangle,
        entries=(
            _length("width", "Width", "from wire centre to wire centre", "400mm"),
            _length("height", "Height", "from wire centre to wire centre", "300mm"),
            _wire(required=True),
            _turns("1", required=False),
            _length("pitch", "Pitch", "from turn to turn along the axis", "1mm", required=False),
        ),
    ),
    Shape(
        name="planar",
        title="Printed coil",
        kind=Planar,
        answer=inductance.of_planar,
        entries=(
            Entry(
                name="form",
                label="Form",
                unit="",
                help="outline of the turns",
                example="square",
                choices=("square", "hexagonal", "octagonal", "circular"),
            ),
            *_SIDES,
            _turns("10"),
            _length("track", "Track width", "width of the conductor", "0.5mm", required=False),
            _length(
                "thickness", "Track thickness", "of the copper, often 35um", "35um", required=False
            ),
        ),
    ),
    Shape(
        name="pair",
        title="Two coils on one axis",
        kind=Pair,
        answer=inductance.of_pair,
        entries=_pair_entries(),
    ),
    Shape(
        name="straight",
        title="Straight wire",
        kind=Straight,
        answer=inductance.of_straight,
        entries=(
            _length("length", "Length", "length of the wire", "100mm"),
            _wire(required=True, example="1mm"),
        ),
    ),
)
SHAPES: Mapping[str, Shape] = MappingProxyType({shape.name: shape for shape in _TABLE})
"""Name to shape, in the order in which a form should offer them."""

CONDUCTOR_ENTRIES = (
    Entry(
        name="material",
        label="Material",
        unit="",
        help="metal of the conductor",
        example="copper",
        required=False,
        choices=tuple(MATERIALS),
    ),
    Entry(
        name="temperature_celsius",
        label="Winding temperature",
        unit="degC",
        help="temperature of the winding",
        example="20 degC",
        required=False,
    ),
    _length("leads", "Leads", "length of both leads together", "0.2 m", required=False),
    Entry(
        name="strands",
        label="Strands",
        unit="1",
        help="number of strands of a litz wire",
        example="45",
        required=False,
    ),
    Entry(
        name="strand",
        label="Strand",
        unit="m",
        help="bare diameter of one strand",
        example="0.071mm",
        required=False,
        gauge=True,
    ),
)
"""What `benchapp.coil.Conductor` asks for."""

PLATE_ENTRIES = (
    Entry(
        name="kind",
        label="Plate",
        unit="",
        help="large flat plate square to the axis, near one end of the coil",
        example="ferrite",
        required=False,
        choices=("ferrite", "metal"),
    ),
    _length("gap", "Gap", "from the nearest turn to the plate", "2mm", required=False),
    Entry(
        name="permeability",
        label="Permeability",
        unit="1",
        help="of the ferrite, relative to air",
        example="1000",
        required=False,
    ),
)
"""What `benchapp.coil.Plate` asks for."""


def shape_of(design: Design) -> Shape:
    """Give the row of the table to which a design belongs."""
    return next(shape for shape in SHAPES.values() if shape.kind is type(design))
