"""Circular and rectangular loops, and the straight wires that a rectangle is made of.

``internal`` is in all of them the internal inductance of the wire over its value at direct
current: 1 for direct current, 0 where the current keeps to the surface.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.coil.section import MU_0

__all__ = [
    "mutual_of_rectangles",
    "parallel_wires",
    "rectangle",
    "rectangle_error_percent",
    "ring",
    "ring_error_percent",
    "straight_wire",
]

FloatArray = NDArray[np.float64]


def ring(radius: float, wire: float, internal: float = 1.0) -> float:
    """Inductance of one ring of round wire.

    Parameters
    ----------
    radius, wire : float, m
        Mean radius of the ring, diameter of the wire.
    internal : float

    Returns
    -------
    float, H

    Notes
    -----
    L = mu0 a [ln(8a/r) - 2 + internal/4]. Source: J. C. Maxwell, *A Treatise on Electricity
    and Magnetism*, 3rd ed. 1891, art. 704; F. W. Grover, *Inductance Calculations* (1946),
    ch. 16 (from memory). Terms of the order (r/a)^2 are neglected.
    """
    return MU_0 * radius * (math.log(16 * radius / wire) - 2 + internal / 4)


def ring_error_percent(radius: float, wire: float) -> float:
    """Size of the first neglected term of `ring`, in percent.

    Notes
    -----
    (r^2/8a^2)(ln(8a/r) + 1/3). Source: Lord Rayleigh and W. D. Niven 1881 (from memory); tests
    hold it against the integral over the wire's section.
    """
    log = math.log(16 * radius / wire)
    return 100 * (wire / radius) ** 2 / 32 * (log + 1 / 3) / (log - 1.75)


def straight_wire(length: float, wire: float, internal: float = 1.0) -> float:
    """Partial inductance of a straight round wire, without its return.

    Parameters
    ----------
    length, wire : float, m
    internal : float

    Returns
    -------
    float, H

    Notes
    -----
    L = mu0 l/(2 pi) [ln(2l/r) - 1 + internal/4], r much smaller than l. Source: E. B. Rosa,
    Bull. Bureau of Standards 4 (1908) 301 (from memory).
    """
    return MU_0 * length / (2 * math.pi) * (math.log(4 * length / wire) - 1 + internal / 4)


def parallel_wires(length: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Mutual inductance of two equal parallel straight filaments side by side, exact.

    Parameters
    ----------
    length, distance : (...) float, m

    Returns
    -------
    (...) float, H

    Notes
    -----
    M = mu0/(2 pi) [l asinh(l/d) - sqrt(l^2 + d^2) + d]. Source: E. B. Rosa, as for
    `straight_wire`; the integral of Neumann's formula.
    """
    long, apart = np.asarray(length, float), np.asarray(distance, float)
    shape: FloatArray = long * np.arcsinh(long / apart) - np.hypot(long, apart) + apart
    return MU_0 / (2 * math.pi) * shape


def mutual_of_rectangles(width: float, height: float, distance: ArrayLike) -> FloatArray:
    """Mutual inductance of two equal coaxial rectangles of filament, exact.

    Parameters
    ----------
    width, height : float, m
    distance : (...) float, m
        Between their planes.

    Returns
    -------
    (...) float, H

    Notes
    -----
    Four pairs of parallel sides; sides at right angles do not link. Source: Neumann's formula.
    """
    apart = np.asarray(distance, float)
    near = parallel_wires(width, apart) + parallel_wires(height, apart)
    far = parallel_wires(width, np.hypot(height, apart))
    far = far + parallel_wires(height, np.hypot(width, apart))
    return 2 * (near - far)


def rectangle(
    width: float,
    height: float,
    wire: float,
    *,
    turns: int = 1,
    pitch: float = 0.0,
    internal: float = 1.0,
) -> float:
    """Inductance of a rectangular frame with its turns side by side along the axis.

    Parameters
    ----------
    width, height, wire, pitch : float, m
        The pitch matters from two turns on.
    turns : int
    internal : float

    Returns
    -------
    float, H

    Notes
    -----
    One turn: four straight wires less the mutual inductances of opposite sides; further turns by
    `mutual_of_rectangles` at the distances k p. Source: F. W. Grover, *Inductance Calculations*
    (1946), ch. 8 (from memory).
    """
    sides = straight_wire(width, wire, internal) + straight_wire(height, wire, internal)
    across = float(parallel_wires(width, height) + parallel_wires(height, width))
    one = 2 * (sides - across)
    if turns == 1:
        return one
    apart = np.arange(1, turns)
    mutual = mutual_of_rectangles(width, height, apart * pitch)
    return turns * one + 2 * float(np.sum((turns - apart) * mutual))


def rectangle_error_percent(width: float, height: float, wire: float, inductance: float) -> float:
    """Error that the corners of one turn may bring: four wire radii of length.

    Notes
    -----
    100 * 8 (mu0/2 pi) r/L, the terms in r that thin-wire formulas leave out. Our own estimate.
    """
    share = 8 * MU_0 / (2 * math.pi) * wire / 2 / inductance
    slender = (wire / min(width, height)) ** 2
    return 100 * (share + slender)
