"""Flat printed coils: the three published expressions, and Wheeler's for a flat winding."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from benchapp.coil.section import MU_0

__all__ = [
    "COEFFICIENTS",
    "Coefficients",
    "current_sheet",
    "modified_wheeler",
    "monomial",
    "wheeler_spiral",
]

_INCH = 0.0254


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficients:
    """The published constants of one form; None where the form has no such expression."""

    wheeler: tuple[float, float] | None
    sheet: tuple[float, float, float, float]
    monomial: tuple[float, float, float, float, float, float] | None


COEFFICIENTS: Mapping[str, Coefficients] = MappingProxyType(
    {
        "square": Coefficients(
            wheeler=(2.34, 2.75),
            sheet=(1.27, 2.07, 0.18, 0.13),
            monomial=(1.62e-3, -1.21, -0.147, 2.40, 1.78, -0.030),
        ),
        "hexagonal": Coefficients(
            wheeler=(2.33, 3.82),
            sheet=(1.09, 2.23, 0.00, 0.17),
            monomial=(1.28e-3, -1.24, -0.174, 2.47, 1.77, -0.049),
        ),
        "octagonal": Coefficients(
            wheeler=(2.25, 3.55),
            sheet=(1.07, 2.29, 0.00, 0.19),
            monomial=(1.33e-3, -1.21, -0.163, 2.43, 1.75, -0.049),
        ),
        "circular": Coefficients(wheeler=None, sheet=(1.00, 2.46, 0.00, 0.20), monomial=None),
    }
)
"""Source: S. S. Mohan, M. Hershenson, S. P. Boyd, T. H. Lee, *Simple accurate expressions for
planar spiral inductances*, IEEE J. Solid-State Circuits 34 (1999) 1419, tables I to III. Seen in
public copies: modified Wheeler, current sheet of the square and part of the hexagon; the rest of
the current sheet and the monomials are from memory, and agree with each other within 2 %.
"""


def modified_wheeler(form: str, inner: float, outer: float, turns: float) -> float | None:
    """Inductance by the modified Wheeler expression; None for the circular form, without one.

    Notes
    -----
    L = K1 mu0 N^2 d_avg/(1 + K2 rho), d_avg = (d_out + d_in)/2,
    rho = (d_out - d_in)/(d_out + d_in). Source: see `COEFFICIENTS`.
    """
    constants = COEFFICIENTS[form].wheeler
    if constants is None:
        return None
    fill = (outer - inner) / (outer + inner)
    mean = (outer + inner) / 2
    return constants[0] * MU_0 * turns * turns * mean / (1 + constants[1] * fill)


def current_sheet(form: str, inner: float, outer: float, turns: float) -> float:
    """Expression from current sheets, for all four forms.

    Notes
    -----
    L = mu0 N^2 d_avg c1/2 [ln(c2/rho) + c3 rho + c4 rho^2]. Source: see `COEFFICIENTS`.
    """
    c1, c2, c3, c4 = COEFFICIENTS[form].sheet
    fill = (outer - inner) / (outer + inner)
    mean = (outer + inner) / 2
    bracket = math.log(c2 / fill) + c3 * fill + c4 * fill * fill
    return MU_0 * turns * turns * mean * c1 / 2 * bracket


def monomial(
    form: str, inner: float, outer: float, turns: float, track: float, gap: float
) -> float | None:
    """Inductance by the monomial; None for the circular form, which has none.

    Notes
    -----
    L[nH] = b d_out^a1 w^a2 d_avg^a3 N^a4 s^a5, lengths in um. Source: see `COEFFICIENTS`.
    """
    constants = COEFFICIENTS[form].monomial
    if constants is None:
        return None
    b, a1, a2, a3, a4, a5 = constants
    wide, broad, mean, apart = (1e6 * value for value in (outer, track, (outer + inner) / 2, gap))
    powers = ((wide, a1), (broad, a2), (mean, a3), (turns, a4), (apart, a5))
    return 1e-9 * b * math.prod(math.pow(base, exponent) for base, exponent in powers)


def wheeler_spiral(inner: float, outer: float, turns: float) -> float:
    """Wheeler's formula for a flat winding of round wire.

    Notes
    -----
    L[uH] = a^2 N^2/(8a + 11c), inches, a the mean radius, c the radial depth. Source: H. A.
    Wheeler, as for the single layer: within 5 % for c > 0.2 a (formula and statement from
    memory).
    """
    mean, depth = (outer + inner) / 4 / _INCH, (outer - inner) / 2 / _INCH
    return 1e-6 * mean * mean * turns * turns / (8 * mean + 11 * depth)
