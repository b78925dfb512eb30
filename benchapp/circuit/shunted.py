"""A coil with its losses, across a capacitance: tank, coil with skin effect, coupled pair.

With X = w L at the reference angular frequency w and y = 2 pi f / w, the coil branch is
X B(y), B = jy + q + s sqrt(y) + reflected, and the whole impedance

    Z = X B / D,    D = 1 + B (g + j a y),

a = w^2 L C, q = R / X, s sqrt(y) = Rac sqrt(f) / X (skin effect well above its onset, where the
resistance of a round wire grows with the square root of frequency), g = X / Rcore (core loss as
a resistance across the coil). Source: two-terminal network theory, common practice; the square
root law: W. H. Hayt, J. A. Buck, Engineering Electromagnetics, skin effect.

Coordinates: ln X, a, then q, s, g as far as they are there. The resonance depends on a alone,
the impedance level on ln X alone, so that a sharp resonance costs no digits.
"""

from __future__ import annotations

import math

import numpy as np

from benchapp.circuit.model import TWO_PI, ComplexArray, FloatArray

__all__ = [
    "coil_branch",
    "decode_coil",
    "decode_coil_with_core",
    "decode_coupled",
    "decode_tank",
    "encode_coil",
    "encode_coil_with_core",
    "encode_coupled",
    "encode_tank",
    "kernel_coil",
    "kernel_coil_with_core",
    "kernel_coupled",
    "kernel_tank",
]

_TINY = 1e-100


def _shunt(
    y: FloatArray, level: float, branch: ComplexArray, a: float, slopes: list[ComplexArray]
) -> tuple[ComplexArray, ComplexArray]:
    """Put a capacitance across a coil branch; ``slopes`` are d branch / dp."""
    across = (1j * a) * y
    inverse = 1.0 / (1.0 + branch * across)
    jacobian = np.empty((2 + len(slopes), y.size), dtype=np.complex128)
    jacobian[0] = 1.0
    over_branch = inverse / branch
    np.multiply(branch * (-1j * y), inverse, out=jacobian[1])
    for row, slope in zip(jacobian[2:], slopes, strict=True):
        np.multiply(slope, over_branch, out=row)
    return np.exp(level) * branch * inverse, jacobian


def kernel_tank(y: FloatArray, p: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Tank: p = (ln X, a, q), B = q + jy."""
    branch = p[2] + 1j * y
    return _shunt(y, p[0], branch, p[1], [np.ones_like(branch)])


def kernel_coil(y: FloatArray, p: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Coil with skin effect: p = (ln X, a, q, s), B = q + s sqrt(y) + jy."""
    root = np.sqrt(y)
    branch = p[2] + p[3] * root + 1j * y
    return _shunt(y, p[0], branch, p[1], [np.ones_like(branch), root.astype(np.complex128)])


def kernel_coil_with_core(y: FloatArray, p: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Coil with skin effect, and 1/g across it for core loss: p = (ln X, a, q, s, g)."""
    root = np.sqrt(y)
    copper = p[2] + p[3] * root + 1j * y
    share = 1.0 / (1.0 + p[4] * copper)
    square = share * share
    slopes = [square, root * square, -copper * copper * square]
    return _shunt(y, p[0], copper * share, p[1], slopes)


def kernel_coupled(y: FloatArray, p: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Coil coupled to a second resonance: p = (ln X, a, q, k^2, ln y2, 1/Q2).

    B = q + jy + k^2 T, T = y v^2 / (v/Q2 + j (v^2 - 1)), v = y / y2: the impedance reflected
    into the coil, (w M)^2 / Z2 with M^2 = k^2 L L2, in which L2 cancels.
    """
    v = y * np.exp(-p[4])
    den = p[5] * v + 1j * (v * v - 1.0)
    reflected = y * v * v / den
    sharp = reflected * (v * (p[5] + 2j * v) / den - 2.0)
    slopes = [np.ones_like(den), reflected, p[3] * sharp, p[3] * reflected * (-v / den)]
    return _shunt(y, p[0], p[2] + 1j * y + p[3] * reflected, p[1], slopes)


def coil_branch(
    elements: tuple[str, ...], omega: float, values: FloatArray
) -> tuple[complex, ComplexArray]:
    """Give the branch that holds the coil, without the capacitance, at one angular frequency.

    Returns
    -------
    complex, ohm
    (P,) complex
        Its derivative by each element.
    """
    value = dict(zip(elements, values.tolist(), strict=True))
    root = math.sqrt(omega / TWO_PI)
    dc = "Rdc" if "Rdc" in value else "R"
    copper = 1j * omega * value["L"] + value[dc] + value.get("Rac", 0.0) * root
    share = 1.0 if "Rcore" not in value else value["Rcore"] / (value["Rcore"] + copper)
    slope = {"L": 1j * omega, dc: 1.0, "Rac": root}
    slopes = np.array([slope.get(name, 0.0) * share**2 for name in elements], dtype=np.complex128)
    if "Rcore" in value:
        slopes[elements.index("Rcore")] = (1.0 - share) ** 2
    return copper * share, slopes


def _encode(values: FloatArray, w: float, scales: FloatArray) -> FloatArray:
    reactance = w * values[0]
    head = [math.log(reactance), w * reactance * values[1]]
    return np.concatenate((head, values[2:] * scales / reactance))


def _decode(p: FloatArray, w: float, scales: FloatArray) -> tuple[FloatArray, FloatArray]:
    reactance = np.exp(p[..., 0])
    values = np.empty_like(p)
    slopes = np.zeros((*p.shape, p.shape[-1]))
    values[..., 0] = reactance / w
    slopes[..., 1, 1] = 1.0 / (w * reactance)
    values[..., 1] = p[..., 1] * slopes[..., 1, 1]
    for place in range(2, p.shape[-1]):
        slopes[..., place, place] = reactance / scales[place - 2]
        values[..., place] = p[..., place] * slopes[..., place, place]
    slopes[..., 0] = values
    slopes[..., 1, 0] = -values[..., 1]
    return values, slopes


def encode_tank(values: FloatArray, w: float) -> FloatArray:
    """(L, C, R) -> (ln X, a, q)."""
    return _encode(values, w, np.ones(1))


def decode_tank(p: FloatArray, w: float) -> tuple[FloatArray, FloatArray]:
    """(ln X, a, q) -> (L, C, R)."""
    return _decode(p, w, np.ones(1))


def _skin(w: float) -> FloatArray:
    return np.array([1.0, math.sqrt(w / TWO_PI)])


def encode_coil(values: FloatArray, w: float) -> FloatArray:
    """(L, C, Rdc, Rac) -> (ln X, a, q, s)."""
    return _encode(values, w, _skin(w))


def decode_coil(p: FloatArray, w: float) -> tuple[FloatArray, FloatArray]:
    """(ln X, a, q, s) -> (L, C, Rdc, Rac)."""
    return _decode(p, w, _skin(w))


def encode_coil_with_core(values: FloatArray, w: float) -> FloatArray:
    """(L, C, Rdc, Rac, Rcore) -> (ln X, a, q, s, g)."""
    return np.append(encode_coil(values[:4], w), w * values[0] / values[4])


def decode_coil_with_core(p: FloatArray, w: float) -> tuple[FloatArray, FloatArray]:
    """(ln X, a, q, s, g) -> (L, C, Rdc, Rac, Rcore)."""
    values, slopes = _extend(*decode_coil(p[..., :4], w), more=1)
    g = _away_from_zero(p[..., 4])
    values[..., 4] = slopes[..., 4, 0] = np.exp(p[..., 0]) / g
    slopes[..., 4, 4] = -values[..., 4] / g
    return values, slopes


def encode_coupled(values: FloatArray, w: float) -> FloatArray:
    """(L, C, R, k, f2, Q2) -> (ln X, a, q, k^2, ln y2, 1/Q2)."""
    k, f2, q2 = values[3:]
    tail = [k * abs(k), math.log(TWO_PI * f2 / w), 1.0 / q2]
    return np.concatenate((encode_tank(values[:3], w), tail))


def decode_coupled(p: FloatArray, w: float) -> tuple[FloatArray, FloatArray]:
    """(ln X, a, q, k^2, ln y2, 1/Q2) -> (L, C, R, k, f2, Q2)."""
    values, slopes = _extend(*decode_tank(p[..., :3], w), more=3)
    size = np.sqrt(np.abs(_away_from_zero(p[..., 3])))
    loss = _away_from_zero(p[..., 5])
    values[..., 3] = np.copysign(size, p[..., 3])
    values[..., 4] = np.exp(p[..., 4]) * w / TWO_PI
    values[..., 5] = 1.0 / loss
    slopes[..., 3, 3] = 0.5 / size
    slopes[..., 4, 4] = values[..., 4]
    slopes[..., 5, 5] = -1.0 / loss**2
    return values, slopes


def _away_from_zero(p: FloatArray) -> FloatArray:
    return np.where(np.abs(p) > _TINY, p, _TINY)


def _extend(values: FloatArray, slopes: FloatArray, more: int) -> tuple[FloatArray, FloatArray]:
    """Make room for more elements."""
    old = values.shape[-1]
    wide = np.zeros((*values.shape[:-1], old + more))
    steep = np.zeros((*wide.shape, old + more))
    wide[..., :old] = values
    steep[..., :old, :old] = slopes
    return wide, steep
