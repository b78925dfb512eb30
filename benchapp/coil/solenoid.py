"""Single-layer solenoids: the exact current sheet, round wire, and handbook formulas."""

from __future__ import annotations

import math

import numpy as np

from benchapp.coil.elliptic import means
from benchapp.coil.loop import ring
from benchapp.coil.section import MU_0, mutual_of_circles

__all__ = [
    "MEDHURST",
    "current_sheet",
    "helix_error_percent",
    "medhurst_factor",
    "nagaoka",
    "rosa_count",
    "rosa_shape",
    "round_wire_change",
    "self_capacitance",
    "sum_of_rings",
    "wheeler_solenoid",
]

_INCH = 0.0254
_SHORT, _LONG = 100.0, 1e-8
_LOG_GLAISHER_TERM = -0.16542114370045092  # zeta'(-1)

MEDHURST: tuple[tuple[float, float], ...] = (
    (0.10, 0.96),
    (0.15, 0.79),
    (0.20, 0.70),
    (0.25, 0.64),
    (0.30, 0.60),
    (0.35, 0.57),
    (0.40, 0.54),
    (0.45, 0.52),
    (0.50, 0.50),
    (0.60, 0.48),
    (0.70, 0.47),
    (0.80, 0.46),
    (0.90, 0.46),
    (1.0, 0.46),
    (1.5, 0.47),
    (2.0, 0.50),
    (2.5, 0.56),
    (3.0, 0.61),
    (3.5, 0.67),
    (4.0, 0.72),
    (4.5, 0.77),
    (5.0, 0.81),
    (6.0, 0.92),
    (7.0, 1.01),
    (8.0, 1.12),
    (9.0, 1.22),
    (10.0, 1.32),
    (15.0, 1.86),
    (20.0, 2.36),
    (25.0, 2.9),
    (30.0, 3.4),
    (40.0, 4.6),
    (50.0, 5.8),
)
"""Length over diameter, and self-capacitance in pF per cm of diameter.

Source: R. G. Medhurst, *H.F. resistance and self-capacitance of single-layer solenoids*,
Wireless Engineer 24 (1947) 35 and 80, from a public transcription of its table.
"""


def nagaoka(diameter_over_length: float) -> float:
    """Ratio of the inductance of a current sheet to that of a piece of an endless one.

    Parameters
    ----------
    diameter_over_length : float
        Zero or more.

    Returns
    -------
    float
        K, between 0 and 1.

    Notes
    -----
    K = 4/(3 pi k') [(k'^2/k^2)(K(k) - E(k)) + E(k) - k], k^2 = u^2/(1 + u^2), u = D/l.
    Source: L. Lorenz 1879; table in H. Nagaoka, *The inductance coefficients of solenoids*,
    J. Coll. Sci. Tokyo 27 (1909). Above u = 100, where E(k) - k loses digits, the series of
    Lord Rayleigh and W. D. Niven (1881; from memory), which joins it to 1e-12; below u = 1e-8 the
    first term 1 - 4u/(3 pi).
    """
    u = diameter_over_length
    if u < _LONG:
        return 1 - 4 * u / (3 * math.pi)
    if u > _SHORT:
        log, square = math.log(4 * u), 1 / (u * u)
        terms = log - 0.5 + square / 8 * (log + 0.25) - square * square / 64 * (log - 2 / 3)
        return 2 / (math.pi * u) * terms
    k1 = 1 / math.hypot(1.0, u)
    k = u * k1
    mean, excess = (float(value) for value in means(1.0, k1))
    first = math.pi / (2 * mean)
    difference = first * (k * k + excess) / 2
    bracket = (k1 / k) ** 2 * difference + first - difference - k
    return 4 / (3 * math.pi * k1) * bracket


def current_sheet(diameter: float, length: float, turns: float) -> float:
    """Inductance of a cylindrical current sheet, exact.

    Parameters
    ----------
    diameter, length : float, m
    turns : float

    Returns
    -------
    float, H

    Notes
    -----
    L = mu0 pi a^2 N^2/l K(D/l), a = D/2. Source: see `nagaoka`.
    """
    area = math.pi * diameter * diameter / 4
    return MU_0 * area * turns * turns / length * nagaoka(diameter / length)


def rosa_shape(wire_over_pitch: float) -> float:
    """Rosa's correction k_s: a turn of round wire against its strip of the current sheet.

    Notes
    -----
    k_s = 5/4 - ln(2p/d), for direct current. Source: E. B. Rosa, Bull. Bureau of Standards 2
    (1906) 161, table VII (formula from memory, its table checked).
    """
    return 1.25 - math.log(2 / wire_over_pitch)


def rosa_count(turns: float) -> float:
    """Rosa's correction k_m: mutual inductances of round turns against strips of a sheet.

    Parameters
    ----------
    turns : float
        One or more; need not be whole.

    Notes
    -----
    k_m = -[n^2 (ln n - 3/2) + 3n/2 - 2 ln G(n + 1)]/n, where ln G(n + 1) = sum of
    (n - k) ln k for whole n, Barnes's function in general. Source: E. B. Rosa, Bull. Bureau of
    Standards 2 (1906) 161, table VIII, for whole n; G by its asymptotic series (NIST Digital
    Library of Mathematical Functions, 5.17.5).
    """
    steps = 12
    log_g = _log_barnes(turns + steps)
    log_g -= sum(math.lgamma(turns + 1 + step) for step in range(steps))
    square = turns * turns
    return -(square * (math.log(turns) - 1.5) + 1.5 * turns - 2 * log_g) / turns


def _log_barnes(z: float) -> float:
    """Natural logarithm of G(z + 1), for z of ten and more."""
    log = math.log(z)
    head = z * z * (log / 2 - 0.75) + z / 2 * math.log(2 * math.pi) - log / 12
    square = 1 / (z * z)
    tail = -square / 240 * (1 - square * 5 / 21 * (1 - square * 21 / 20))
    return head + _LOG_GLAISHER_TERM + tail


def round_wire_change(radius: float, turns: float, pitch: float, wire: float) -> float:
    """Change by round wire against the current sheet, in H, for direct current.

    Parameters
    ----------
    radius, pitch, wire : float, m
        Mean radius of the turns, distance between turns, bare diameter.
    turns : float

    Notes
    -----
    -mu0 a N (k_s + k_m). Source: see `rosa_shape`. The curvature of the wire is neglected.
    """
    return -MU_0 * radius * turns * (rosa_shape(wire / pitch) + rosa_count(turns))


def sum_of_rings(diameter: float, pitch: float, turns: int, wire: float) -> float:
    """Inductance of a single layer as the sum over all its turns as rings.

    Parameters
    ----------
    diameter, pitch, wire : float, m
    turns : int

    Returns
    -------
    float, H

    Notes
    -----
    N self-inductances and 2 (N - k) mutual inductances at the distance k p; nothing is spread
    out into a sheet. Source: common practice.
    """
    apart = np.arange(1, turns)
    radius = diameter / 2
    mutual = mutual_of_circles(radius, radius, apart * pitch)
    return turns * ring(radius, wire) + 2 * float(np.sum((turns - apart) * mutual))


def helix_error_percent(diameter: float, pitch: float, turns: float, inductance: float) -> float:
    """Error of the round-wire formula, because a winding is a helix and not rings.

    Notes
    -----
    0.6 of the square of pitch over diameter for the rings, plus the current along the axis, as
    the inductance of a tube of the coil's length and diameter. Our own estimate: tests hold it
    against Neumann's integral along the helix.
    """
    length = pitch * turns
    tube = MU_0 / (2 * math.pi) * length * math.asinh(2 * length / diameter)
    return 100 * (0.6 * (pitch / diameter) ** 2 + tube / inductance)


def wheeler_solenoid(diameter: float, length: float, turns: float) -> float:
    """Wheeler's formula of 1928 for a single layer.

    Notes
    -----
    L[uH] = r^2 N^2/(9r + 10l), inches. Source: H. A. Wheeler, *Simple inductance formulas for
    radio coils*, Proc. IRE 16 (1928) 1398: within 1 % for l > 0.8 r (statement from memory).
    """
    r, long = diameter / 2 / _INCH, length / _INCH
    return 1e-6 * r * r * turns * turns / (9 * r + 10 * long)


def medhurst_factor(length_over_diameter: float) -> float | None:
    """Medhurst's H, pF per cm of diameter, between the rows of his table; None outside them."""
    ratios, factors = zip(*MEDHURST, strict=True)
    if not ratios[0] <= length_over_diameter <= ratios[-1]:
        return None
    place = math.log(length_over_diameter)
    return math.exp(float(np.interp(place, np.log(ratios), np.log(factors))))


def self_capacitance(diameter: float, length: float) -> float | None:
    """Self-capacitance of a single-layer solenoid with one end earthed; None outside the table.

    Parameters
    ----------
    diameter, length : float, m

    Returns
    -------
    float or None, F

    Notes
    -----
    C[pF] = H D[cm]. Source: see `MEDHURST`.
    """
    factor = medhurst_factor(length / diameter)
    return None if factor is None else factor * 1e-12 * diameter * 100
