"""Circuits whose elements all lie in one line: all in series, or all across each other.

Series: Z = R + j w L + 1 / (j w C). Parallel: 1 / Z = 1 / R + j w C + 1 / (j w L).
Source: complex impedance of lumped elements, common practice. At the reference angular
frequency w the coordinates are the reactances wL, 1/(wC) and R of the series circuit, and the
susceptances 1/(wL), wC and 1/R of the parallel one: Z, or 1/Z, is linear in them.
"""

from __future__ import annotations

import numpy as np

from benchapp.circuit.model import ComplexArray, Decode, Encode, FloatArray, Kernel

__all__ = ["basis", "straight"]

# Over w: +1 for an element whose immittance at w is (value * w), -1 for 1 / (value * w),
# 0 for a resistance; a coordinate of the series circuit is value * w**power or its inverse.
_POWER = {"L": 1.0, "C": 1.0, "R": 0.0}
_DIRECT = {"series": {"L": True, "C": False, "R": True}}
_DIRECT["parallel"] = {"L": False, "C": True, "R": False}
_TINY = 1e-100


def basis(elements: tuple[str, ...], family: str, y: FloatArray) -> ComplexArray:
    """Give the columns that the immittance is linear in.

    Parameters
    ----------
    elements : tuple of str
        Each one of L, C, R.
    family : {'series', 'parallel'}
    y : (N,) float
        Frequency relative to the reference.

    Returns
    -------
    (P, N) complex
        1 for R; jy for what grows with frequency, 1/(jy) for what falls with it.
    """
    rows = np.empty((len(elements), y.size), dtype=np.complex128)
    for row, element in zip(rows, elements, strict=True):
        if element == "R":
            row[:] = 1.0
        else:
            row[:] = 1j * y if _DIRECT[family][element] else -1j / y
    return rows


def straight(elements: tuple[str, ...], family: str) -> tuple[Kernel, Encode, Decode]:
    """Make the functions of a circuit with all its elements in series or all in parallel."""
    direct = np.array([_DIRECT[family][element] for element in elements])
    power = np.array([_POWER[element] for element in elements])
    parallel = family == "parallel"

    def kernel(y: FloatArray, p: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        rows = basis(elements, family, y)
        immittance = p @ rows
        if parallel:
            return 1.0 / immittance, rows / -immittance
        return immittance, rows / immittance

    def encode(values: FloatArray, w: float) -> FloatArray:
        scaled = values * w**power
        safe = np.where(np.abs(scaled) > _TINY, scaled, _TINY)
        return np.where(direct, scaled, 1.0 / safe)

    def decode(p: FloatArray, w: float) -> tuple[FloatArray, FloatArray]:
        safe = np.where(np.abs(p) > _TINY, p, _TINY)
        values = np.where(direct, p, 1.0 / safe) / w**power
        slopes = np.where(direct, 1.0, -1.0 / safe**2) / w**power
        return values, slopes[..., None] * np.eye(power.size)

    return kernel, encode, decode
