"""Two coils on one axis, and one coil above a large plate of ferrite or metal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from benchapp.coil.geometry import Pair, Winding
from benchapp.coil.loop import ring
from benchapp.coil.multilayer import square_cell_change
from benchapp.coil.section import Section, mean_mutual
from benchapp.coil.solenoid import current_sheet, round_wire_change
from benchapp.errors import QuantityError

__all__ = ["Plate", "coupling", "coupling_bounds", "image_change", "mutual", "self_inductance"]

_THIN, _USUAL, _THICK = 1e-3, 1e-2, 1e-1


def mutual(pair: Pair) -> float:
    """Mutual inductance of the two coils of a pair, H.

    Notes
    -----
    N1 N2 times the mean of Maxwell's formula over both winding sections: `mean_mutual`.
    """
    one, two = pair.windings
    per_turn = mean_mutual(one.section, two.section, pair.distance)
    return one.turns * two.turns * per_turn


def self_inductance(coil: Winding) -> float | None:
    """Inductance of one coil of a pair, H; None for a filament, whose inductance has no bound."""
    if coil.length:
        sheet = current_sheet(coil.diameter, coil.length, coil.turns)
        if coil.wire is None:
            return sheet
        pitch = coil.length / coil.turns
        return sheet + round_wire_change(coil.diameter / 2, coil.turns, pitch, coil.wire)
    if coil.wire is None:
        return None
    radius = coil.diameter / 2
    if coil.turns == 1:
        return ring(radius, coil.wire)
    bundle = coil.turns**2 * mean_mutual(coil.section, coil.section)
    return bundle + square_cell_change(radius, coil.turns, coil.wire, coil.wire)


def coupling(pair: Pair) -> float | None:
    """Coupling coefficient M/sqrt(L1 L2); None where a coil has neither wire nor length."""
    first, second = (self_inductance(coil) for coil in pair.windings)
    if first is None or second is None:
        return None
    return mutual(pair) / math.sqrt(first * second)


def coupling_bounds(pair: Pair) -> tuple[float, float, float]:
    """Coupling coefficient for thin, usual and thick bundles where the wire is not known.

    Returns
    -------
    low, middle, high : float
        For a bundle of 1/1000, 1/100 and 1/10 of the diameter of each coil whose section is not
        known, but never so thick that the two would touch.
    """
    link = abs(mutual(pair))
    aside = abs(pair.diameter1 - pair.diameter2) / 2
    apart = math.hypot(aside, pair.distance)

    def of(share: float) -> float:
        product = 1.0
        for coil in pair.windings:
            known = self_inductance(coil)
            bundle = min(share * coil.diameter, apart)
            product *= known or coil.turns**2 * ring(coil.diameter / 2, bundle)
        return link / math.sqrt(product)

    return of(_THIN), of(_USUAL), of(_THICK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A large flat plate square to the axis of the coil, ``gap`` (m) from its nearest turn.

    ``permeability`` is that of the ferrite, relative; it has no meaning for metal.
    """

    kind: Literal["ferrite", "metal"]
    gap: float
    permeability: float = 1000.0

    def __post_init__(self) -> None:
        if not 0 < self.gap < math.inf:
            raise QuantityError(
                f"gap: must be above zero and finite (got {self.gap:g} m).",
                hint="Measure from the middle of the nearest wire to the plate.",
            )
        if not 1 <= self.permeability < math.inf:
            raise QuantityError(
                f"permeability: must be one or more (got {self.permeability:g}).",
                hint="Take the initial permeability from the data sheet of the ferrite.",
            )

    @property
    def mirror(self) -> float:
        """Strength of the image: (mu - 1)/(mu + 1) for ferrite, -1 for metal."""
        if self.kind == "metal":
            return -1.0
        return (self.permeability - 1) / (self.permeability + 1)


def image_change(section: Section, turns: float, plate: Plate) -> float:
    """Change by a plate in the inductance of a coil above it, H.

    Parameters
    ----------
    section : Section
    turns : float
    plate : Plate
        Taken as endless and thick; metal as a perfect conductor, ferrite as free of loss.

    Notes
    -----
    The mutual inductance with the mirror image of the coil times the strength of the image.
    Source: W. R. Smythe, *Static and Dynamic Electricity*, method of images (from memory).
    """
    distance = section.length + 2 * plate.gap
    return plate.mirror * turns * turns * mean_mutual(section, section, distance)
