"""The best formula for each design, the handbook formulas beside it, and what was assumed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from benchapp.coil import planar, solenoid
from benchapp.coil.geometry import (
    Loop,
    Multilayer,
    Pair,
    Planar,
    Rectangle,
    Solenoid,
    Spiral,
    Straight,
)
from benchapp.coil.loop import (
    rectangle,
    rectangle_error_percent,
    ring,
    ring_error_percent,
    straight_wire,
)
from benchapp.coil.multilayer import (
    multilayer_error_percent,
    square_cell_change,
    wheeler_multilayer,
)
from benchapp.coil.mutual import coupling, coupling_bounds, mutual, self_inductance
from benchapp.coil.section import mean_mutual, mutual_of_circles
from benchapp.coil.value import Computed

__all__ = [
    "Answer",
    "of_loop",
    "of_multilayer",
    "of_pair",
    "of_planar",
    "of_rectangle",
    "of_solenoid",
    "of_spiral",
    "of_straight",
]

_MOST_RINGS, _MOST_FLAT_RINGS = 2000, 60

_LORENZ = "L. Lorenz 1879; H. Nagaoka, J. Coll. Sci. Tokyo 27 (1909)"
_ROSA = "E. B. Rosa, Bull. Bureau of Standards 2 (1906) 161"
_MAXWELL = "J. C. Maxwell, Treatise, art. 701, averaged over the winding section"
_WHEELER = "H. A. Wheeler, Proc. IRE 16 (1928) 1398"
_GROVER = "F. W. Grover, Inductance Calculations (1946)"
_MOHAN = "S. S. Mohan et al., IEEE J. Solid-State Circuits 34 (1999) 1419"

ROUND_WIRE = (
    "The winding is taken as a sheet or block of even current. Round wire changes this by some "
    "percent: give the wire to have it corrected."
)
AIR = (
    "Air all around. No published formula covers a ferrite rod, a cup core or a screening can of "
    "any shape: measure those in place."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The inductances of one design."""

    best: tuple[Computed, ...]
    beside: tuple[Computed, ...] = ()
    remarks: tuple[str, ...] = ()


def _henry(value: float, method: str, source: str, error_percent: float | None) -> Computed:
    return Computed(
        quantity="L",
        value=value,
        unit="H",
        method=method,
        source=source,
        error_percent=error_percent,
    )


def _known(entries: Iterable[Computed | None]) -> tuple[Computed, ...]:
    return tuple(entry for entry in entries if entry is not None)


def _whole(turns: float, most: int) -> bool:
    return turns == int(turns) and 2 <= turns <= most


def of_solenoid(coil: Solenoid) -> Answer:
    """Inductance of a single layer: current sheet, and round wire where it is known."""
    value = solenoid.current_sheet(coil.diameter, coil.length, coil.turns)
    sheet = _henry(value, "current sheet", _LORENZ, 0.0)
    reach = 1.0 if coil.length > 0.4 * coil.diameter else None
    handbook = solenoid.wheeler_solenoid(coil.diameter, coil.length, coil.turns)
    wheeler = _henry(handbook, "Wheeler, single layer", _WHEELER, reach)
    if coil.wire is None:
        return Answer(best=(sheet,), beside=(wheeler,), remarks=(ROUND_WIRE, AIR))
    value += solenoid.round_wire_change(coil.diameter / 2, coil.turns, coil.pitch, coil.wire)
    error = solenoid.helix_error_percent(coil.diameter, coil.pitch, coil.turns, value)
    best = _henry(value, "current sheet with Rosa's round-wire corrections", _ROSA, error)
    rings = None
    if _whole(coil.turns, _MOST_RINGS):
        total = solenoid.sum_of_rings(coil.diameter, coil.pitch, int(coil.turns), coil.wire)
        rings = _henry(total, "sum over all turns as rings", "common practice", error)
    return Answer(best=(best,), beside=_known((sheet, rings, wheeler)), remarks=(AIR,))


def of_multilayer(coil: Multilayer) -> Answer:
    """Inductance of a winding section: even current, and round wire where it is known."""
    value = coil.turns**2 * mean_mutual(coil.section, coil.section)
    even = _henry(value, "even current in the winding section", _MAXWELL, 0.0)
    radius = (coil.inner + coil.outer) / 4
    terms = (6 * radius, 9 * coil.length, 10 * coil.depth)
    reach = 1.0 if max(terms) <= 2 * min(terms) else None
    handbook = wheeler_multilayer(coil.inner, coil.outer, coil.length, coil.turns)
    wheeler = _henry(handbook, "Wheeler, several layers", _WHEELER, reach)
    if coil.wire is None:
        return Answer(best=(even,), beside=(wheeler,), remarks=(ROUND_WIRE, AIR))
    value += square_cell_change(radius, coil.turns, coil.cell, coil.wire)
    error = multilayer_error_percent(radius, coil.turns, coil.depth, value)
    best = _henry(value, "winding section with round wire in square cells", _ROSA, error)
    return Answer(best=(best,), beside=(even, wheeler), remarks=(AIR,))


def of_spiral(coil: Spiral) -> Answer:
    """Inductance of a flat winding: disc of even current, and round wire where it is known."""
    value = coil.turns**2 * mean_mutual(coil.section, coil.section)
    disc = _henry(value, "flat disc of even current", _MAXWELL, 0.0)
    mean, depth = (coil.inner + coil.outer) / 4, (coil.outer - coil.inner) / 2
    reach = 5.0 if 0.2 * mean < depth < 1.5 * mean else None
    handbook = planar.wheeler_spiral(coil.inner, coil.outer, coil.turns)
    wheeler = _henry(handbook, "Wheeler, flat winding", _WHEELER + " (from memory)", reach)
    if coil.wire is None:
        return Answer(best=(disc,), beside=(wheeler,), remarks=(ROUND_WIRE, AIR))
    value += solenoid.round_wire_change(mean, coil.turns, coil.pitch, coil.wire)
    error = 50 * (coil.pitch / mean) ** 2 + 100 * coil.pitch / coil.wire_length
    best = _henry(value, "flat disc with Rosa's round-wire corrections", _ROSA, error)
    rings = None
    if _whole(coil.turns, _MOST_FLAT_RINGS):
        total = _sum_of_flat_rings(coil, coil.wire)
        rings = _henry(total, "sum over all turns as rings", "common practice", error)
    return Answer(best=(best,), beside=_known((disc, rings, wheeler)), remarks=(AIR,))


def _sum_of_flat_rings(coil: Spiral, wire: float) -> float:
    turns = int(coil.turns)
    radii = coil.inner / 2 + coil.pitch * (np.arange(turns) + 0.5)
    one, two = np.triu_indices(turns, 1)
    links = 2 * float(np.sum(mutual_of_circles(radii[one], radii[two], 0.0)))
    return sum(ring(float(radius), wire) for radius in radii) + links


def of_loop(coil: Loop) -> Answer:
    """Inductance of one round turn, for direct current and for current at the surface."""
    radius = coil.diameter / 2
    error = ring_error_percent(radius, coil.wire)
    best = _henry(ring(radius, coil.wire), "ring, direct current", _GROVER, error)
    surface = _henry(
        ring(radius, coil.wire, 0.0),
        "ring, current at the surface (high frequency)",
        _GROVER,
        error,
    )
    return Answer(best=(best,), beside=(surface,), remarks=(AIR,))


def of_rectangle(coil: Rectangle) -> Answer:
    """Inductance of a rectangular frame from straight wires."""

    def of(internal: float) -> float:
        return rectangle(
            coil.width,
            coil.height,
            coil.wire,
            turns=int(coil.turns),
            pitch=coil.step,
            internal=internal,
        )

    one = rectangle(coil.width, coil.height, coil.wire)
    error = rectangle_error_percent(coil.width, coil.height, coil.wire, one)
    best = _henry(of(1.0), "straight wires, direct current", _GROVER, error)
    surface = _henry(
        of(0.0), "straight wires, current at the surface (high frequency)", _GROVER, error
    )
    remarks = [AIR]
    if coil.turns > 1 and coil.pitch is None:
        remarks.insert(0, "Turns lie side by side along the axis and touch, insulation ignored.")
    return Answer(best=(best,), beside=(surface,), remarks=tuple(remarks))


def of_straight(coil: Straight) -> Answer:
    """Partial inductance of a straight wire."""
    method = "straight wire without its return, direct current"
    value = straight_wire(coil.length, coil.wire)
    error = 100 * coil.wire / coil.length
    best = _henry(value, method, "E. B. Rosa, Bull. Bureau of Standards 4 (1908) 301", error)
    surface = _henry(
        straight_wire(coil.length, coil.wire, 0.0),
        "straight wire without its return, current at the surface (high frequency)",
        "E. B. Rosa, Bull. Bureau of Standards 4 (1908) 301",
        error,
    )
    remark = "A part of a circuit only: the return current lowers what can be measured."
    return Answer(best=(best,), beside=(surface,), remarks=(remark,))


def of_planar(coil: Planar) -> Answer:
    """Inductance of a printed coil by the three published expressions."""
    sizes = (coil.inner, coil.outer, coil.turns)
    track, gap = coil.track, coil.gap
    ratio = 1.0 if track is None or gap is None else gap / track

    def error(expression: Literal["sheet", "wheeler", "monomial"]) -> float | None:
        return planar.expression_error_percent(coil.form, expression, *sizes, ratio)

    best = _henry(
        planar.current_sheet(coil.form, *sizes),
        "expression from current sheets",
        _MOHAN,
        error("sheet"),
    )
    beside: list[Computed | None] = []
    wheeler = planar.modified_wheeler(coil.form, *sizes)
    if wheeler is not None:
        beside.append(_henry(wheeler, "modified Wheeler expression", _MOHAN, error("wheeler")))
    if coil.form == "circular":
        disc = Spiral(inner=coil.inner, outer=coil.outer, turns=coil.turns).section
        even = coil.turns**2 * mean_mutual(disc, disc)
        beside.append(_henry(even, "flat disc of even current", _MAXWELL, 0.0))
    elif track is not None and gap is not None:
        fitted = planar.monomial(coil.form, *sizes, track, gap)
        if fitted is not None:
            beside.append(_henry(fitted, "monomial expression", _MOHAN, error("monomial")))
    return Answer(best=(best,), beside=_known(beside), remarks=_planar_remarks(coil, best))


def _planar_remarks(coil: Planar, best: Computed) -> tuple[str, ...]:
    found = []
    if best.error_percent is None:
        found.append(
            "The expressions hold for three and more turns that fill 10 to 90 %, with gaps no "
            "wider than the track: here they may be off by 10 % and more."
        )
    elif coil.track is None:
        found.append("The stated error holds for gaps no wider than the track: give the track.")
    if coil.form == "circular":
        found.append("For the circular form only the expression from current sheets is published.")
    return (*found, AIR)


def of_pair(pair: Pair) -> Answer:
    """Mutual inductance and coupling coefficient of two coils on one axis."""
    link = mutual(pair)
    best = [
        Computed(
            quantity="M",
            value=link,
            unit="H",
            method="Maxwell, coaxial coils",
            source=_MAXWELL,
            error_percent=0.0,
        )
    ]
    for name, coil in zip(("L1", "L2"), pair.windings, strict=True):
        value = self_inductance(coil)
        if value is not None:
            method = "current sheet" if coil.length else "compact bundle of round wire"
            best.append(Computed(quantity=name, value=value, unit="H", method=method))
    remarks = ["The axes coincide; a shift or tilt of one coil lowers M.", AIR]
    factor = coupling(pair)
    if factor is not None:
        method = "M/sqrt(L1 L2)"
        best.append(Computed(quantity="k", value=factor, unit="1", method=method))
    else:
        high, middle, low = reversed(coupling_bounds(pair))
        best.append(
            Computed(
                quantity="k",
                value=middle,
                unit="1",
                method="M/sqrt(L1 L2), bundle 1/100 of the diameter assumed",
                low=min(low, high),
                high=max(low, high),
            )
        )
        remarks.insert(
            0,
            "k needs the size of the windings, which was not given: a bundle of 1/100 of the "
            "diameter is assumed, and low and high hold for 1/1000 and 1/10. Give the wire or the "
            "length of each coil.",
        )
    return Answer(best=tuple(best), remarks=tuple(remarks))
