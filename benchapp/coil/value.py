"""What the coil room gives back: quantities that say how they were found and how far to trust."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CoilResult", "Computed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """One quantity from a formula.

    ``error_percent`` is what the formula may be off by for this geometry, 0 for one that is
    exact for the model it states, None where no figure is published or known. ``low``, ``high``
    and ``u`` come from the tolerances of the dimensions. ``at`` is the frequency in Hz, None
    for direct current.
    """

    quantity: str
    value: float
    unit: str
    method: str
    source: str = ""
    error_percent: float | None = None
    at: float | None = None
    low: float | None = None
    high: float | None = None
    u: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilResult:
    """Everything computed for one design.

    ``quantities`` holds the best value of each quantity, ``approximations`` the handbook
    formulas and cross-checks beside it, ``remarks`` what was assumed and what no published
    formula covers.
    """

    shape: str
    quantities: tuple[Computed, ...]
    approximations: tuple[Computed, ...] = ()
    remarks: tuple[str, ...] = ()

    def get(self, quantity: str, at: float | None = None) -> Computed | None:
        """Give one quantity, at a frequency in Hz or for direct current; None if not known."""
        for entry in self.quantities:
            if entry.quantity == quantity and entry.at == at:
                return entry
        return None
