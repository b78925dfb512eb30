"""Windings of several layers: even current, round wire, and Wheeler's formula."""

from __future__ import annotations

import math

from benchapp.coil.section import MU_0

__all__ = ["multilayer_error_percent", "square_cell_change", "wheeler_multilayer"]

_INCH = 0.0254
_SQUARE_TO_CIRCLE = 0.13806  # ln(0.44705/0.38940)
_NEIGHBOURS, _CURVATURE = 0.018, 0.02


def square_cell_change(radius: float, turns: float, cell: float, wire: float) -> float:
    """Change by round wire against even current in a winding of square cells, in H.

    Parameters
    ----------
    radius, cell, wire : float, m
        Mean radius, side of the square that one turn has to itself, bare diameter.
    turns : float

    Notes
    -----
    mu0 a N [ln(p/d) + 0.1381]. The constant compares the geometric mean distances of a square and
    of a circle from themselves, 0.44705 of the side and 0.38940 of the diameter. Source:
    E. B. Rosa and F. W. Grover, Bull. Bureau of Standards 8 (1912) 1, coils of many layers (from
    memory).
    Their term E for the neighbours, between 0 and 0.018, is left out.
    """
    return MU_0 * radius * turns * (math.log(cell / wire) + _SQUARE_TO_CIRCLE)


def multilayer_error_percent(
    radius: float, turns: float, depth: float, inductance: float
) -> float:
    """Error by what `square_cell_change` leaves out, in percent of the inductance.

    Notes
    -----
    mu0 a N (0.018 + 0.02 c/a)/L: the largest term for the neighbours, and the curvature. Our own
    estimate: tests hold it against the sum over all turns as rings.
    """
    left_out = _NEIGHBOURS + _CURVATURE * depth / radius
    return 100 * MU_0 * radius * turns * left_out / inductance


def wheeler_multilayer(inner: float, outer: float, length: float, turns: float) -> float:
    """Wheeler's formula for a winding of several layers.

    Parameters
    ----------
    inner, outer, length : float, m
        Diameters and length of the winding.
    turns : float

    Notes
    -----
    L[uH] = 0.8 a^2 N^2/(6a + 9b + 10c), inches; a mean radius, b length, c radial depth. Source:
    H. A. Wheeler, Proc. IRE 16 (1928) 1398: within 1 % where the three terms below the line are
    about equal.
    """
    a, b, c = (outer + inner) / 4 / _INCH, length / _INCH, (outer - inner) / 2 / _INCH
    return 0.8e-6 * a * a * turns * turns / (6 * a + 9 * b + 10 * c)
