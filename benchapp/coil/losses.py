"""Resistance of a coil, for direct and alternating current, and its Q over frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.coil.conductor import (
    Conductor,
    dowell,
    foil_height,
    internal_inductance,
    litz_factor,
    resistivity,
    round_wire_ratio,
    skin_depth,
)
from benchapp.coil.geometry import (
    Design,
    Multilayer,
    Pair,
    Planar,
    Rectangle,
    Solenoid,
    Spiral,
)
from benchapp.coil.proximity import (
    FieldModes,
    Layout,
    field_modes,
    litz_ratio,
    solid_ratio,
    straight_modes,
)
from benchapp.coil.section import MU_0

__all__ = [
    "Curves",
    "curves",
    "direct_resistance",
    "layers_ratio",
    "layout_of",
    "loss_error_percent",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curves:
    """A coil over frequency, without its self-capacitance. All (N,) float, SI.

    ``lone`` is the resistance by skin effect alone; ``layered`` that of the handbook formula for
    layers, None for shapes that it does not cover; ``alone`` says that no turn has a neighbour.
    """

    frequency: FloatArray
    depth: FloatArray
    inductance: FloatArray
    resistance: FloatArray
    quality: FloatArray
    lone: FloatArray
    alone: bool
    layered: FloatArray | None = None


def layout_of(design: Design) -> Layout | None:
    """Where the turns of a coil lie; None for shapes of one turn, of tracks, or not round."""
    if isinstance(design, Solenoid):
        along = max(1, round(design.turns))
        return Layout(
            inner=design.diameter / 2,
            outer=design.diameter / 2,
            length=design.pitch * along,
            layers=1,
            along=along,
            turns=design.turns,
        )
    if isinstance(design, Multilayer):
        return Layout(
            inner=design.inner / 2,
            outer=design.outer / 2,
            length=design.length,
            layers=design.layers,
            along=max(1, round(design.turns / design.layers)),
            turns=design.turns,
        )
    if isinstance(design, Spiral):
        return Layout(
            inner=design.inner / 2,
            outer=design.outer / 2,
            length=0.0,
            layers=max(1, round(design.turns)),
            along=1,
            turns=design.turns,
            flat=True,
        )
    return None


def direct_resistance(design: Design, conductor: Conductor) -> float | None:
    """Resistance of winding and leads for direct current, ohm; None where a size is missing.

    Notes
    -----
    R = rho(T) l/A. Source: common practice. Litz strands run a few percent longer than their
    bundle, which is not included.
    """
    if isinstance(design, Pair):
        return None
    if isinstance(design, Planar):
        if design.track is None or design.thickness is None:
            return None
        area = design.track * design.thickness
    elif design.wire is None:
        return None
    else:
        area = conductor.area(design.wire)
    rho = resistivity(conductor.material, conductor.temperature_celsius)
    return rho * (design.wire_length + conductor.leads) / area


def _has_neighbours(design: Design) -> bool:
    return layout_of(design) is not None or (isinstance(design, Rectangle) and design.turns > 1)


def _neighbours(design: Design, wire: float) -> FieldModes | None:
    layout = layout_of(design)
    if layout is not None:
        return field_modes(layout, wire)
    if isinstance(design, Rectangle) and _has_neighbours(design):
        return straight_modes(int(design.turns), design.step)
    return None


def _ratio(design: Design, wire: float, conductor: Conductor, depth: FloatArray) -> FloatArray:
    """Alternating over direct-current resistance of the winding."""
    modes = _neighbours(design, wire)
    if conductor.strand is not None:
        return litz_ratio(modes, wire, conductor.strands, conductor.strand, depth)
    if modes is None:
        return round_wire_ratio(wire, depth)
    return solid_ratio(modes, wire, depth)


def layers_ratio(design: Design, conductor: Conductor, depth: FloatArray) -> FloatArray | None:
    """Handbook ratio of layers: Dowell's, or Sullivan's for litz; None if not covered."""
    if not isinstance(design, Solenoid | Multilayer) or design.wire is None:
        return None
    if conductor.strand is not None:
        return litz_factor(conductor.strands, conductor.strand, design.turns, design.length, depth)
    if isinstance(design, Solenoid):
        return dowell(1, foil_height(design.wire, design.pitch, depth))
    return dowell(design.layers, foil_height(design.wire, design.cell, depth))


def curves(
    design: Design, conductor: Conductor, inductance: float, frequency: ArrayLike
) -> Curves | None:
    """Resistance, inductance and Q of a coil over frequency; None where the wire is not known.

    Parameters
    ----------
    design : Design
    conductor : Conductor
    inductance : float, H
        For direct current.
    frequency : (N,) float, Hz

    Notes
    -----
    Q = 2 pi f L/R. The inductance falls by what the inside of the wire loses:
    mu0/(8 pi) per metre, times one less the exact ratio. Source: common practice.
    """
    direct = direct_resistance(design, conductor)
    if direct is None or isinstance(design, Pair | Planar) or design.wire is None:
        return None
    f = np.atleast_1d(np.asarray(frequency, float))
    depth = skin_depth(f, resistivity(conductor.material, conductor.temperature_celsius))
    thread = design.wire if conductor.strand is None else conductor.strand
    lead = round_wire_ratio(thread, depth)
    coil = design.wire_length / (design.wire_length + conductor.leads)
    winding = _ratio(design, design.wire, conductor, depth)
    resistance = direct * (coil * winding + (1 - coil) * lead)
    henry = np.full(f.shape, inductance)
    if conductor.strand is None:
        inside = MU_0 / (8 * math.pi) * design.wire_length
        henry -= inside * (1 - internal_inductance(design.wire, depth))
    layered = layers_ratio(design, conductor, depth)
    return Curves(
        frequency=f,
        depth=depth,
        inductance=henry,
        resistance=resistance,
        quality=2 * math.pi * f * henry / resistance,
        lone=direct * lead,
        alone=conductor.strand is None and not _has_neighbours(design),
        layered=None if layered is None else direct * (coil * layered + (1 - coil) * lead),
    )


def loss_error_percent(design: Design, conductor: Conductor, depth: float) -> float | None:
    """Error of the alternating-current resistance; None where it is an estimate.

    Notes
    -----
    Our own figures, from arrays of straight wires solved exactly and from Medhurst's measured
    table (from memory): 5 % up to a wire of two skin depths, above that 10 % for one layer whose
    turns are apart by 1.4 wires. Tighter turns may come out up to twice too high, compact
    sections of many layers 40 % too low.
    """
    if isinstance(design, Pair | Planar) or design.wire is None or conductor.strand is not None:
        return None
    if not _has_neighbours(design):
        return 1.0
    if design.wire <= 2 * depth:
        return 5.0
    layout = layout_of(design)
    pitch = design.step if isinstance(design, Rectangle) else layout.pitch if layout else 0.0
    one_row = not isinstance(design, Multilayer)
    return 10.0 if one_row and pitch >= 1.4 * design.wire else None
