"""Flat printed coils: the three published expressions, and Wheeler's for a flat winding."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from benchapp.coil.section import MU_0

__all__ = [
    "COEFFICIENTS",
    "Coefficients",
    "current_sheet",
    "expression_error_percent",
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


_TRUST: Mapping[tuple[str, str], tuple[float, float]] = MappingProxyType(
    {
        ("square", "sheet"): (4.5, 6.0),
        ("square", "wheeler"): (5.5, 8.0),
        ("square", "monomial"): (6.5, 8.5),
        ("hexagonal", "sheet"): (7.0, 13.0),
        ("hexagonal", "wheeler"): (12.0, 19.5),
        ("hexagonal", "monomial"): (9.0, 17.0),
        ("octagonal", "sheet"): (3.5, 8.0),
        ("octagonal", "wheeler"): (8.0, 15.0),
        ("octagonal", "monomial"): (10.5, 12.0),
        ("circular", "sheet"): (5.0, 6.5),
    }
)
"""Error in percent by form and expression, for a fill of up to 60 % and up to 90 %."""


def expression_error_percent(
    form: str,
    expression: Literal["sheet", "wheeler", "monomial"],
    inner: float,
    outer: float,
    turns: float,
    gap_over_track: float = 1.0,
) -> float | None:
    """Error of an expression; None for coils unlike those that it was fitted to.

    Parameters
    ----------
    form : str
    expression : {'sheet', 'wheeler', 'monomial'}
    inner, outer : float, m
    turns : float
    gap_over_track : float

    Notes
    -----
    The authors state 2 to 3 % as typical. These are our own figures, the largest seen against
    Neumann's integral over concentric polygons of strip of three and more turns that fill 10 to
    90 %, with gaps no wider than the track. The exponents of the monomial do not add up to one: it
    drifts with size from the 0.3 mm coils that it was fitted to.
    """
    fill = (outer - inner) / (outer + inner)
    if turns < 3 or not 0.1 <= fill <= 0.9 or gap_over_track > 1 + 1e-9:
        return None
    error = _TRUST[form, expression][fill > 0.6]
    if expression == "monomial":
        error += 100 * abs(math.pow(outer / _FITTED, _EXCESS) - 1)
    return error


_FITTED, _EXCESS = 0.3e-3, 0.013


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
