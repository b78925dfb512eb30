"""Formulas of one resonant circuit.

L in H, C in F, resistances in ohm, frequencies in Hz. Unless stated: closed formulas of network
theory; resistances are constant over frequency.
"""

from __future__ import annotations

import math

__all__ = [
    "characteristic_impedance",
    "damped_frequency",
    "half_power_edges",
    "log_decrement",
    "peak_impedance",
    "resonance",
    "tuning",
    "zero_phase",
]


_LOSSLESS = 1e-20


def resonance(inductance: float, capacitance: float) -> float:
    """Give the undamped resonance f0 = 1/(2 pi sqrt(L C)), Hz."""
    return 1 / (2 * math.pi * math.sqrt(inductance * capacitance))


def tuning(element: float, frequency: float) -> float:
    """Give the capacitance that tunes an inductance to ``frequency``, or the reverse.

    1/((2 pi f)^2 X) with X = L in H gives F, with X = C in F gives H.
    """
    return 1 / ((2 * math.pi * frequency) ** 2 * element)


def characteristic_impedance(inductance: float, capacitance: float) -> float:
    """Give Z_tank = sqrt(L/C), ohm."""
    return math.sqrt(inductance / capacitance)


def half_power_edges(frequency: float, q: float) -> tuple[float, float]:
    """Give where the current of a series circuit has fallen to 1/sqrt(2).

    f0 (sqrt(1 + 1/(4 Q^2)) -+ 1/(2 Q)); f0 is their geometric mean.

    Parameters
    ----------
    frequency : float, Hz
        Undamped resonance.
    q : float
        Quality factor, above zero.

    Returns
    -------
    (float, float), Hz
    """
    middle, half = math.sqrt(1 + 1 / (4 * q * q)), 1 / (2 * q)
    return frequency * (middle - half), frequency * (middle + half)


def damped_frequency(frequency: float, q: float) -> float | None:
    """Give the frequency of the free decay f0 sqrt(1 - 1/(4 Q^2)), None at Q of 1/2 and below."""
    return None if q <= 0.5 else frequency * math.sqrt(1 - 1 / (4 * q * q))


def log_decrement(q: float) -> float | None:
    """Give ln of the ratio of two successive peaks, pi/sqrt(Q^2 - 1/4); None at Q <= 1/2."""
    return None if q <= 0.5 else math.pi / math.sqrt(q * q - 0.25)


def zero_phase(
    inductance: float, capacitance: float, coil_resistance: float, capacitor_resistance: float
) -> float | None:
    """Give where a coil (L, R) across a capacitor (C, ESR) is purely resistive.

    f0 sqrt((L/C - R^2)/(L/C - ESR^2)).

    Returns
    -------
    float or None, Hz
        None when the damping leaves no such frequency.
    """
    square = inductance / capacitance
    above, below = square - coil_resistance**2, square - capacitor_resistance**2
    if above <= 0 or below <= 0:
        return None
    return resonance(inductance, capacitance) * math.sqrt(above / below)


def peak_impedance(
    inductance: float, capacitance: float, coil_resistance: float, capacitor_resistance: float
) -> tuple[float, float] | None:
    """Give where |Z| of a coil (L, R) across a capacitor (C, ESR) is greatest, and how great.

    With x = (2 pi f)^2 the square of |Z| is a ratio of two quadratics in x; its derivative
    vanishes at the roots of one quadratic, so the place is exact.

    Returns
    -------
    (float, float) or None
        Hz and ohm; None when the damping leaves no maximum, or (Q above 10^10) none is seen.
    """
    unit = inductance * capacitance  # x in units of 1/(L C) keeps the numbers near one
    ohms = inductance / capacitance
    coil, cap = coil_resistance**2 / ohms, capacitor_resistance**2 / ohms
    both = (coil_resistance + capacitor_resistance) ** 2 / ohms
    top = (cap, 1 + coil * cap, coil)
    bottom = (1.0, both - 2, 1.0)
    a = top[0] * bottom[1] - top[1] * bottom[0]
    b = 2 * (top[0] * bottom[2] - top[2] * bottom[0])
    c = top[1] * bottom[2] - top[2] * bottom[1]
    roots = _positive_roots(a, b, c)
    if both < _LOSSLESS or not roots:
        return None

    def square(x: float) -> float:
        above = top[0] * x * x + top[1] * x + top[2]
        return above / ((x - 1) ** 2 + both * x)

    best = max(roots, key=square)
    if square(best) <= max(square(0.0), top[0]):
        return None
    return math.sqrt(best / unit) / (2 * math.pi), math.sqrt(ohms * square(best))


def _positive_roots(a: float, b: float, c: float) -> list[float]:
    """Give the positive roots of a x^2 + b x + c without cancellation."""
    if a == 0:
        return [-c / b] if b != 0 and -c / b > 0 else []
    inside = b * b - 4 * a * c
    if inside < 0:
        return []
    q = -0.5 * (b + math.copysign(math.sqrt(inside), b))
    roots = [q / a] + ([c / q] if q != 0 else [])
    return [root for root in roots if root > 0]
