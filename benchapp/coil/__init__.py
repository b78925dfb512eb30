"""A coil from its geometry: inductance, self-capacitance, resistance, Q, coupling.

Exact where a closed form or a convergent integral exists, with the handbook approximation and its
stated error beside it. `SHAPES` lists what can be computed and what each shape asks for;
`calculate` gives everything for one design.
"""

from __future__ import annotations

from benchapp.coil.conductor import (
    MATERIALS,
    METRIC_DIAMETERS,
    WIRE_SERIES,
    Conductor,
    WireSize,
    awg_diameter,
    parse_wire,
    wire_table,
)
from benchapp.coil.design import Deviation, Spread, Wanted, calculate, spread, turns_for
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
from benchapp.coil.losses import Curves, curves
from benchapp.coil.mutual import Plate
from benchapp.coil.shapes import (
    CONDUCTOR_ENTRIES,
    PLATE_ENTRIES,
    SHAPES,
    Entry,
    Shape,
    shape_of,
)
from benchapp.coil.value import CoilResult, Computed

__all__ = [
    "CONDUCTOR_ENTRIES",
    "MATERIALS",
    "METRIC_DIAMETERS",
    "PLATE_ENTRIES",
    "SHAPES",
    "WIRE_SERIES",
    "CoilResult",
    "Computed",
    "Conductor",
    "Curves",
    "Design",
    "Deviation",
    "Entry",
    "Loop",
    "Multilayer",
    "Pair",
    "Planar",
    "Plate",
    "Rectangle",
    "Shape",
    "Solenoid",
    "Spiral",
    "Spread",
    "Straight",
    "Wanted",
    "WireSize",
    "awg_diameter",
    "calculate",
    "curves",
    "parse_wire",
    "shape_of",
    "spread",
    "turns_for",
    "wire_table",
]
