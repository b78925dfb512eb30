"""Limits of a design that a calculator proposes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from PySide6.QtCore import QT_TR_NOOP

from benchapp.gui.tanksheet import Worked
from benchapp.nominal import Limit
from benchapp.tank import Simulation, Spread

__all__ = ["BASES", "Proposal", "tank_proposal"]

BASES: Mapping[str, str] = {
    "worst": QT_TR_NOOP("worst case"),
    "rss": QT_TR_NOOP("RSS"),
    "simulated": QT_TR_NOOP("simulated"),
}
"""What the limits of f0 can be taken from."""

_CIRCUITS = {"parallel": "tank", "series": "series-rlc"}
_DIGITS = 5
_STEP = 1e-4  # limits of f0 are rounded outwards to this fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Limits for a design; ``circuit`` and ``frequency`` count where there is no design yet."""

    limits: tuple[Limit, ...]
    circuit: str = "auto"
    frequency: float | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The quantities that are limited."""
        return tuple(limit.quantity for limit in self.limits)


def tank_proposal(worked: Worked, simulation: Simulation | None, basis: str) -> Proposal | None:
    """Propose limits for L and C as typed and for f0 as the stack-up has it.

    Parameters
    ----------
    worked : Worked
    simulation : Simulation, optional
    basis : str
        A key of `BASES`.

    Returns
    -------
    Proposal or None
        None where no tolerance bounds anything, or the simulation is not there yet.
    """
    spreads = {"L": worked.sums.inductance, "C": worked.sums.capacitance}
    limits = [
        Limit(quantity=name, unit=one.unit, lower=one.low, upper=one.high, nominal=one.nominal)
        for name, one in spreads.items()
        if name != worked.sums.derived and one.low is not None
    ]
    span = _span(worked, simulation, basis)
    if span is None:
        return None
    return Proposal(
        limits=(*limits, _resonance(worked.sums.frequency, span)),
        circuit=_CIRCUITS[worked.sums.circuit],
        frequency=float(f"{worked.sums.frequency.nominal:.{_DIGITS}g}"),
    )


def _span(worked: Worked, simulation: Simulation | None, basis: str) -> tuple[float, float] | None:
    stacked = worked.stacked
    if stacked is None:
        return None
    if basis == "simulated":
        return None if simulation is None else (simulation.quantiles[0], simulation.quantiles[-1])
    if basis == "rss":
        return stacked.rss_low, stacked.rss_high
    return stacked.worst_low, stacked.worst_high


def _resonance(frequency: Spread, span: tuple[float, float]) -> Limit:
    nominal = float(f"{frequency.nominal:.{_DIGITS}g}")
    below = math.floor((span[0] / nominal - 1) / _STEP - 1e-9) * _STEP
    above = math.ceil((span[1] / nominal - 1) / _STEP + 1e-9) * _STEP
    return Limit(
        quantity="f0",
        unit="Hz",
        lower=nominal * (1 + below),
        upper=nominal * (1 + above),
        nominal=nominal,
    )
