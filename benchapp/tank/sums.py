"""From a design to its sums."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from benchapp.tank.resonance import (
    characteristic_impedance,
    damped_frequency,
    half_power_edges,
    log_decrement,
    peak_impedance,
    resonance,
    tuning,
    zero_phase,
)
from benchapp.tank.value import Circuit, Losses, Spread, TankDesign, TankSums
from benchapp.units import Quantity

__all__ = ["Elements", "elements_of", "solve"]

_LOW_Q = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Elements:
    """A tank with every resistance a number: what was not stated is left out of the circuit.

    ``load`` is None where there is none (in series that is 0 ohm, in parallel an open circuit).
    """

    circuit: Circuit
    inductance: float
    capacitance: float
    coil: float = 0.0
    capacitor: float = 0.0
    joints: float = 0.0
    source: float = 0.0
    sense: float = 0.0
    load: float | None = None

    @property
    def tank_resistance(self) -> float:
        """Resistance in the loop of coil and capacitor, ohm."""
        return self.coil + self.capacitor + self.joints

    @property
    def outer_resistance(self) -> float:
        """Resistance between the ideal source and the tank, ohm."""
        return self.source + self.sense


def elements_of(
    losses: Losses, circuit: Circuit, inductance: float, capacitance: float
) -> Elements:
    """Give the circuit of a tank, its coil and capacitor losses turned into resistances.

    A loss tangent or a coil's Q is turned into the resistance that it means at the resonance, and
    kept constant over frequency.
    """
    z_tank = characteristic_impedance(inductance, capacitance)
    coil = losses.coil_resistance or 0.0
    if losses.coil_q is not None:
        coil = z_tank / losses.coil_q
    capacitor = losses.capacitor_resistance or 0.0
    if losses.loss_tangent is not None:
        capacitor = z_tank * losses.loss_tangent
    return Elements(
        circuit=circuit,
        inductance=inductance,
        capacitance=capacitance,
        coil=coil,
        capacitor=capacitor,
        joints=losses.joints or 0.0,
        source=losses.source or 0.0,
        sense=losses.sense or 0.0,
        load=losses.load,
    )


def solve(design: TankDesign) -> TankSums:
    """Work out everything that a design determines.

    Parameters
    ----------
    design : TankDesign

    Returns
    -------
    TankSums
        Without a stated coil loss there is no Q, bandwidth or decay time.
    """
    derived, spreads = _three(design)
    inductance, capacitance = spreads["L"].nominal, spreads["C"].nominal
    elements = elements_of(design.losses, design.circuit, inductance, capacitance)
    sums = TankSums(
        inductance=spreads["L"],
        capacitance=spreads["C"],
        frequency=spreads["f0"],
        circuit=design.circuit,
        derived=derived,
        z_tank=characteristic_impedance(inductance, capacitance),
        notes=_stated(design.losses),
    )
    sums = _with_losses(sums, elements, design.losses)
    if sums.q is None:
        return sums
    return _with_decay(_with_places(_with_load(sums, elements, design.losses), elements))


def _three(design: TankDesign) -> tuple[Literal["L", "C", "f0"], Mapping[str, Spread]]:
    """Give the spreads of L, C and f0, and which of them was worked out."""
    given = {"L": design.inductance, "C": design.capacitance, "f0": design.frequency}
    known = {name: quantity for name, quantity in given.items() if quantity is not None}
    spreads = {name: _typed(quantity) for name, quantity in known.items()}
    derived: Literal["L", "C", "f0"]
    if "f0" not in known:
        derived, unit, powers = "f0", "Hz", {"L": -0.5, "C": -0.5}
        nominal = resonance(known["L"].value, known["C"].value)
    else:
        other = "C" if "C" in known else "L"
        derived, unit = ("L", "H") if other == "C" else ("C", "F")
        powers = {other: -1.0, "f0": -2.0}
        nominal = tuning(known[other].value, known["f0"].value)
    spreads[derived] = _derived(Spread(nominal=nominal, unit=unit), spreads, powers)
    return derived, spreads


def _typed(quantity: Quantity) -> Spread:
    low, high = quantity.lower, quantity.upper
    return Spread(
        nominal=quantity.value,
        unit=quantity.unit,
        low=low,
        high=high,
        rss_low=low,
        rss_high=high,
    )


def _derived(spread: Spread, others: Mapping[str, Spread], powers: Mapping[str, float]) -> Spread:
    """Give a spread that is a product of powers of ``others``: corners, and root sum of squares.

    Every power is negative here, so that each bound lies at the opposite bounds of the others.
    Root sum of squares is linear: fraction = sqrt(sum((power * fraction)^2)), each side by itself.
    """
    low = high = 1.0
    squares_low = squares_high = 0.0
    tolerances = False
    for name, power in powers.items():
        other = others[name]
        if other.low is None or other.high is None:
            continue
        tolerances = True
        low *= (other.high / other.nominal) ** power
        high *= (other.low / other.nominal) ** power
        squares_low += (power * (other.high / other.nominal - 1)) ** 2
        squares_high += (power * (1 - other.low / other.nominal)) ** 2
    if not tolerances:
        return spread
    return replace(
        spread,
        low=spread.nominal * low,
        high=spread.nominal * high,
        rss_low=spread.nominal * (1 - math.sqrt(squares_low)),
        rss_high=spread.nominal * (1 + math.sqrt(squares_high)),
    )


def _coil_stated(losses: Losses) -> bool:
    return losses.coil_resistance is not None or losses.coil_q is not None


def _capacitor_stated(losses: Losses) -> bool:
    return losses.capacitor_resistance is not None or losses.loss_tangent is not None


def _stated(losses: Losses) -> tuple[str, ...]:
    """Say which losses were not stated and what that means for the results."""
    if not _coil_stated(losses):
        return ("The coil's loss is not stated: there is no Q, bandwidth or decay time.",)
    if not _capacitor_stated(losses):
        return (
            "The capacitor's loss is not stated: Q is that of the coil alone, an upper limit.",
        )
    return ()


def _ratio(above: float, below: float) -> float | None:
    return None if below == 0 else above / below


def _with_losses(sums: TankSums, elements: Elements, losses: Losses) -> TankSums:
    coil = elements.coil if _coil_stated(losses) else None
    capacitor = elements.capacitor if _capacitor_stated(losses) else None
    total = None if coil is None else elements.tank_resistance
    q = None if total is None else _ratio(sums.z_tank, total)
    q_coil = None if coil is None else _ratio(sums.z_tank, coil)
    q_capacitor = None if capacitor is None else _ratio(sums.z_tank, capacitor)
    notes = list(sums.notes)
    if q_coil is not None and q_capacitor is not None and q_capacitor < 10 * q_coil:
        share = elements.capacitor / elements.tank_resistance
        notes.append(f"The capacitor causes {100 * share:.3g} % of the tank's loss.")
    return replace(
        sums,
        coil_resistance=coil,
        capacitor_resistance=capacitor,
        resistance=total,
        q_coil=q_coil,
        q_capacitor=q_capacitor,
        q=q,
        bandwidth=None if q is None else sums.frequency.nominal / q,
        edges=None if q is None else half_power_edges(sums.frequency.nominal, q),
        notes=tuple(notes),
    )


def _with_load(sums: TankSums, elements: Elements, losses: Losses) -> TankSums:
    outer = elements.outer_resistance
    has_outer = losses.source is not None or losses.sense is not None
    notes = sums.notes
    damping = elements.tank_resistance / sums.z_tank
    if sums.circuit == "series":
        damping += (outer + (elements.load or 0.0)) / sums.z_tank
    else:
        damping += 0.0 if elements.load is None else sums.z_tank / elements.load
        if has_outer and outer == 0:
            note = "A source without resistance fixes the tank's voltage: no loaded Q."
            return replace(sums, notes=(*notes, note))
        damping += sums.z_tank / outer if has_outer else 0.0
    loaded = 1 / damping
    return replace(sums, q_loaded=loaded, bandwidth_loaded=sums.frequency.nominal / loaded)


def _with_places(sums: TankSums, elements: Elements) -> TankSums:
    f0, q = sums.frequency.nominal, sums.q
    if sums.circuit == "series":
        total = elements.tank_resistance
        return replace(sums, zero_phase=f0, peak_frequency=f0, terminal_impedance=total)
    coil = elements.coil + elements.joints
    place = (elements.inductance, elements.capacitance, coil, elements.capacitor)
    peak = peak_impedance(*place)
    notes = sums.notes
    if q is not None and q < _LOW_Q:
        notes = (*notes, f"At Q {q:.3g} zero phase and greatest |Z| lie visibly apart: say which.")
    return replace(
        sums,
        zero_phase=zero_phase(*place),
        peak_frequency=None if peak is None else peak[0],
        terminal_impedance=None if peak is None else peak[1],
        notes=notes,
    )


def _with_decay(sums: TankSums) -> TankSums:
    f0, q, loaded = sums.frequency.nominal, sums.q, sums.q_loaded
    if q is None:
        return sums
    return replace(
        sums,
        damped_frequency=damped_frequency(f0, q),
        log_decrement=log_decrement(q),
        decay_time=q / (math.pi * f0),
        decay_time_loaded=None if loaded is None else loaded / (math.pi * f0),
        decay_cycles=None if q <= 0.5 else math.sqrt(q * q - 0.25) / math.pi,
    )
