"""What is done with a design: everything computed, tolerances, turns for a wanted inductance."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from benchapp.coil.conductor import Conductor
from benchapp.coil.geometry import Design, Loop, Multilayer, Pair, Solenoid, Spiral, Straight
from benchapp.coil.inductance import Answer
from benchapp.coil.losses import Curves, curves, direct_resistance, loss_error_percent
from benchapp.coil.mutual import Plate, image_change
from benchapp.coil.shapes import shape_of
from benchapp.coil.solenoid import self_capacitance
from benchapp.coil.value import CoilResult, Computed
from benchapp.errors import QuantityError

__all__ = ["Deviation", "Wanted", "calculate", "spread", "turns_for"]

_MOST_TURNS = 20_000
_ENDLESS = (
    "The plate is taken as flat, endless, thick and without loss; a real tile changes the "
    "inductance less. What it does to Q no formula here covers."
)
_NO_CAPACITANCE = (
    "Self-capacitance: the measured table covers single layers of length 0.1 to 50 diameters "
    "only. Measure the self-resonance."
)
_NO_WIRE = "Resistance and Q need the wire, or the width and thickness of the track."
_NO_ROUND_WIRE = "Resistance over frequency is computed for round wire of known diameter only."
_ALONE = "Q is that of the winding alone: insulation, former and surroundings lower it."
_TIGHT = (
    "Thick wire in tight turns or several layers: the resistance is an estimate that may be off "
    "by a factor of two either way, and so may Q. Measure Q."
)
_MEDHURST = "R. G. Medhurst, Wireless Engineer 24 (1947) 35"


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """How far a dimension may lie off, signed, in SI units: from ``low`` to ``high``."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Turns for a wanted inductance: the whole numbers on either side, and between them.

    ``turns`` is interpolated. ``above`` is None where the wire of one more turn does not fit, then
    ``turns`` is None too; ``below`` is None where already one turn gives more.
    """

    turns: float | None
    below: tuple[int, float] | None
    above: tuple[int, float] | None


def calculate(
    design: Design,
    conductor: Conductor | None = None,
    *,
    frequencies: Sequence[float] = (),
    plate: Plate | None = None,
    deviations: Mapping[str, Deviation] | None = None,
) -> CoilResult:
    """Compute everything that is known for a design.

    Parameters
    ----------
    design : Design
    conductor : Conductor, optional
        Copper at 20 degC, without leads, if not given.
    frequencies : sequence of float, Hz
        At which resistance, inductance and Q are wanted.
    plate : Plate, optional
        A ferrite or metal plate near one end.
    deviations : mapping of str to Deviation, optional
        Tolerances by the name of the dimension.

    Returns
    -------
    CoilResult

    Raises
    ------
    QuantityError
        When a frequency is not above zero, or a tolerance leads to a coil that cannot be wound.
    """
    for frequency in frequencies:
        if not 0 < frequency < math.inf:
            raise QuantityError(
                f"frequency: must be above zero and finite (got {frequency:g} Hz).",
                hint="Direct-current values are given without a frequency.",
            )
    wound = conductor or Conductor()
    shape = shape_of(design)
    answer: Answer = shape.answer(design)
    spreads = spread(design, deviations) if deviations else {}
    best = tuple(
        replace(entry, low=found.low, high=found.high, u=found.u)
        if (found := spreads.get(entry.quantity)) and entry.low is None
        else entry
        for entry in answer.best
    )
    parts = [_Part(quantities=best, beside=answer.beside, remarks=answer.remarks)]
    inductance = answer.best[0].value
    parts.append(_with_plate(design, inductance, plate))
    parts.append(_capacitance(design, inductance))
    parts.append(_direct(design, wound))
    if frequencies:
        parts.append(_at_frequencies(design, wound, inductance, frequencies))
    return CoilResult(
        shape=shape.name,
        quantities=tuple(entry for part in parts for entry in part.quantities),
        approximations=tuple(entry for part in parts for entry in part.beside),
        remarks=tuple(text for part in parts for text in part.remarks),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A share of a result."""

    quantities: tuple[Computed, ...] = ()
    beside: tuple[Computed, ...] = ()
    remarks: tuple[str, ...] = ()


def _with_plate(design: Design, inductance: float, plate: Plate | None) -> _Part:
    if plate is None:
        return _Part()
    if not isinstance(design, Loop | Spiral | Solenoid | Multilayer):
        name = shape_of(design).name
        text = f"No published formula covers a plate near the shape {name}: measure it in place."
        return _Part(remarks=(text,))
    turns = 1.0 if isinstance(design, Loop) else design.turns
    changed = inductance + image_change(design.section, turns, plate)
    return _Part(
        quantities=(
            Computed(
                quantity="L_plate",
                value=changed,
                unit="H",
                method=f"mirror image in a {plate.kind} plate",
                source="W. R. Smythe, Static and Dynamic Electricity (from memory)",
            ),
        ),
        remarks=(_ENDLESS,),
    )


def _capacitance(design: Design, inductance: float) -> _Part:
    if isinstance(design, Pair | Straight):
        return _Part()
    value = (
        self_capacitance(design.diameter, design.length) if isinstance(design, Solenoid) else None
    )
    if value is None:
        return _Part(remarks=(_NO_CAPACITANCE,))
    capacitance = Computed(
        quantity="C_self",
        value=value,
        unit="F",
        method="Medhurst's table, one end earthed",
        source=_MEDHURST,
        error_percent=5.0,
    )
    resonance = Computed(
        quantity="SRF",
        value=1 / (2 * math.pi * math.sqrt(inductance * value)),
        unit="Hz",
        method="1/(2 pi sqrt(L C_self)), one end earthed",
        source=_MEDHURST,
    )
    return _Part(quantities=(capacitance, resonance))


def _direct(design: Design, conductor: Conductor) -> _Part:
    if isinstance(design, Pair):
        return _Part()
    long = Computed(
        quantity="wire_length",
        value=design.wire_length + conductor.leads,
        unit="m",
        method="winding and leads",
    )
    value = direct_resistance(design, conductor)
    if value is None:
        return _Part(
            quantities=(long,),
            remarks=(_NO_WIRE,),
        )
    resistance = Computed(
        quantity="R_dc",
        value=value,
        unit="ohm",
        method=f"{conductor.material} at {conductor.temperature_celsius:g} degC",
    )
    return _Part(quantities=(long, resistance))


def _at_frequencies(
    design: Design, conductor: Conductor, inductance: float, frequencies: Sequence[float]
) -> _Part:
    found = curves(design, conductor, inductance, frequencies)
    if found is None:
        return _Part(remarks=(_NO_ROUND_WIRE,))
    capacitance = (
        self_capacitance(design.diameter, design.length) if isinstance(design, Solenoid) else None
    )
    quantities: list[Computed] = []
    beside: list[Computed] = []
    tight = False
    for i in range(found.frequency.size):
        error = loss_error_percent(design, conductor, float(found.depth[i]))
        tight = tight or (error is None and conductor.strand is None)
        quantities += _at_one(found, i, error)
        beside += _beside_one(found, i, litz=conductor.strand is not None)
        if capacitance is not None:
            quantities += _apparent(found, i, capacitance)
    remarks = (_ALONE, _TIGHT) if tight else (_ALONE,)
    return _Part(quantities=tuple(quantities), beside=tuple(beside), remarks=remarks)


def _at_one(found: Curves, i: int, error: float | None) -> list[Computed]:
    at = float(found.frequency[i])
    losses = "skin effect" if found.alone else "skin effect and field of the neighbours"
    return [
        Computed(
            quantity="skin_depth",
            value=float(found.depth[i]),
            unit="m",
            method="sqrt(rho/(pi f mu0))",
            at=at,
            error_percent=0.0,
        ),
        Computed(
            quantity="L",
            value=float(found.inductance[i]),
            unit="H",
            method="less what skin effect takes from the inside of the wire",
            at=at,
        ),
        Computed(
            quantity="R_ac",
            value=float(found.resistance[i]),
            unit="ohm",
            method=losses,
            error_percent=error,
            at=at,
        ),
        Computed(
            quantity="Q",
            value=float(found.quality[i]),
            unit="1",
            method="2 pi f L/R_ac",
            error_percent=error,
            at=at,
        ),
    ]


def _beside_one(found: Curves, i: int, *, litz: bool) -> list[Computed]:
    if found.alone:
        return []
    at = float(found.frequency[i])
    lone = Computed(
        quantity="R_ac",
        value=float(found.lone[i]),
        unit="ohm",
        method="skin effect of the wire alone",
        source="Lord Kelvin; NBS Circular 74 (1918)",
        at=at,
    )
    if found.layered is None:
        return [lone]
    layered = Computed(
        quantity="R_ac",
        value=float(found.layered[i]),
        unit="ohm",
        method="Sullivan, litz in a window" if litz else "Dowell, layers of a long coil",
        source="IEEE Trans. Power Electronics 14 (1999) 283"
        if litz
        else "P. L. Dowell, Proc. IEE 113 (1966) 1387",
        at=at,
    )
    return [lone, layered]


def _apparent(found: Curves, i: int, capacitance: float) -> list[Computed]:
    """Give what an instrument shows below self-resonance, where the self-capacitance adds."""
    at, henry = float(found.frequency[i]), float(found.inductance[i])
    share = (2 * math.pi * at) ** 2 * henry * capacitance
    if share >= 1:
        return []
    method = "with the self-capacitance across it"
    quality = float(found.quality[i]) * (1 - share)
    return [
        Computed(quantity="L_apparent", value=henry / (1 - share), unit="H", method=method, at=at),
        Computed(quantity="Q_apparent", value=quality, unit="1", method=method, at=at),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """What tolerances of the dimensions do to a quantity.

    ``low`` and ``high`` are the worst case; ``u`` is the standard uncertainty, every dimension
    taken as evenly spread over its tolerance (JCGM 100:2008, 4.3.7) and independent of the others.
    ``shares`` names for each dimension its part of u, in the unit of the quantity.
    """

    low: float
    high: float
    u: float
    shares: Mapping[str, float]


def spread(design: Design, deviations: Mapping[str, Deviation]) -> dict[str, Spread]:
    """Worst case and uncertainty of each inductance and coupling from dimensional tolerances.

    Parameters
    ----------
    design : Design
    deviations : mapping of str to Deviation
        By the name of the dimension; each must allow the nominal value.

    Returns
    -------
    dict of str to Spread

    Raises
    ------
    QuantityError
        When a name is unknown, or a corner of the tolerances cannot be wound.

    Notes
    -----
    The worst case is the lowest and highest of all corners of the tolerances and of the nominal
    value: exact where the quantity rises or falls steadily within them, as inductance does.
    """
    bounds: dict[str, tuple[float, float]] = {}
    for name, deviation in deviations.items():
        value = getattr(design, name, None)
        if not isinstance(value, int | float):
            raise QuantityError(
                f"tolerance: {name!r} must be a dimension of this design (got none).",
                hint="Give the dimension itself, then its tolerance.",
            )
        bounds[name] = (value + deviation.low, value + deviation.high)
    moved = [dict(zip(bounds, corner, strict=True)) for corner in product(*bounds.values())]
    corners = [_values(design), *(_values(_changed(design, sizes)) for sizes in moved)]
    steps = {
        name: [_values(_changed(design, {name: end})) for end in ends]
        for name, ends in bounds.items()
    }
    return {quantity: _spread_of(quantity, corners, steps) for quantity in corners[0]}


def _spread_of(
    quantity: str,
    corners: Sequence[Mapping[str, float]],
    steps: Mapping[str, Sequence[Mapping[str, float]]],
) -> Spread:
    shares = {
        name: abs(high[quantity] - low[quantity]) / math.sqrt(12)
        for name, (low, high) in steps.items()
    }
    return Spread(
        low=min(values[quantity] for values in corners),
        high=max(values[quantity] for values in corners),
        u=math.hypot(*shares.values()),
        shares=shares,
    )


def _changed(design: Any, sizes: Mapping[str, float]) -> Any:
    return replace(design, **sizes)


def _values(design: Design) -> dict[str, float]:
    return {entry.quantity: entry.value for entry in shape_of(design).answer(design).best}


def turns_for(build: Callable[[int], Design], inductance: float) -> Wanted:
    """Find the whole numbers of turns whose inductance lies on either side of a wanted one.

    Parameters
    ----------
    build : callable
        Gives the design for a number of turns: with the length fixed, or the pitch.
    inductance : float, H

    Returns
    -------
    Wanted

    Raises
    ------
    QuantityError
        When the inductance is not above zero, or not even one turn can be wound.
    """
    if not 0 < inductance < math.inf:
        raise QuantityError(
            f"wanted inductance: must be above zero and finite (got {inductance:g} H).",
            hint="Give it with its unit, for example 1.62mH.",
        )

    def of(turns: int) -> tuple[int, float] | None:
        """Give the turns with their inductance; None where they cannot be wound."""
        try:
            return turns, _values(build(turns))["L"]
        except QuantityError:
            return None

    below = (1, _values(build(1))["L"])
    if below[1] >= inductance:
        return Wanted(turns=None, below=None, above=below)
    limit, above = 2, of(2)
    while above is not None and above[1] < inductance:
        if limit == _MOST_TURNS:
            raise QuantityError(
                f"wanted inductance: must be within reach of {_MOST_TURNS} turns "
                f"(got {inductance:g} H, they give {above[1]:g} H).",
                hint="Take a larger coil, or check the unit.",
            )
        below, limit = above, min(2 * limit, _MOST_TURNS)
        above = of(limit)
    while limit - below[0] > 1:
        middle = (below[0] + limit) // 2
        found = of(middle)
        if found is not None and found[1] < inductance:
            below = found
        else:
            limit, above = middle, found
    if above is None:
        return Wanted(turns=None, below=below, above=None)
    slope = math.log(above[1] / below[1]) / math.log(above[0] / below[0])
    between = below[0] * math.pow(inductance / below[1], 1 / slope)
    return Wanted(turns=between, below=below, above=above)
