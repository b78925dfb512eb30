"""What a person may choose about a fit."""

from __future__ import annotations

from dataclasses import dataclass

from benchapp.units import Estimate

__all__ = ["FitChoices"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitChoices:
    """What a person may choose about a fit; the defaults leave it to the data."""

    circuit: str = "auto"
    fix: tuple[Estimate, ...] = ()
    band: tuple[float, float] | None = None
    set_aside: tuple[int, ...] = ()
