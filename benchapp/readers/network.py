"""Network parameters: every set to S, and S to the impedance of the part by the port method.

Travelling waves with real port impedances: a = (v + R i)/(2 sqrt R), b = (v - R i)/(2 sqrt R).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["PORTS", "impedance_of", "open_circuit", "scattering"]

Complex = NDArray[np.complex128]
Port = Literal["reflection", "series-through", "shunt-through"]
_WORST_CONDITION = 1e13
PORTS: tuple[Port, ...] = ("reflection", "series-through", "shunt-through")


def impedance_of(ratio: Complex, port: Port, reference: float) -> Complex:
    """Give the impedance of a part from the S-parameter that was measured on it.

    ``reflection``: Z = R (1 + S11)/(1 - S11); ``series-through``: Z = 2 R (1/S21 - 1);
    ``shunt-through``: Z = (R/2) S21/(1 - S21).

    Parameters
    ----------
    ratio : (N,) complex
        S11 or S21.
    port : {'reflection', 'series-through', 'shunt-through'}
    reference : float, ohm
        Real port impedance R, the same at both ports.

    Returns
    -------
    (N,) complex, ohm
        Not finite where the part would be an exact open or short.

    Source: common practice; follows from the S-matrices of a series and of a shunt element
    (Pozar, Microwave Engineering, 4th ed., table 4.2, from memory).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        if port == "reflection":
            impedance = reference * (1 + ratio) / (1 - ratio)
        elif port == "series-through":
            impedance = 2 * reference * (1 / ratio - 1)
        else:
            impedance = reference / 2 * ratio / (1 - ratio)
    return np.asarray(impedance, dtype=np.complex128)


def scattering(kind: str, matrix: Complex, references: NDArray[np.float64]) -> Complex:
    """Give S for a matrix of any kind, in ohm and siemens (not normalised).

    Parameters
    ----------
    kind : {'S', 'Z', 'Y', 'H', 'G'}
    matrix : (N, P, P) complex
    references : (P,) float, ohm

    Returns
    -------
    (N, P, P) complex
        Not finite at points where no S exists.

    Source: IEEE Trans. MTT 42 (1994) 205, Frickey, table I (from memory, real port impedances);
    checked against scikit-rf.
    """
    if kind == "S":
        return matrix
    root = np.sqrt(references)
    one = np.eye(references.size)
    if kind == "Z":
        normal = matrix / np.outer(root, root)
        return _solved_right(normal - one, normal + one)
    if kind == "Y":
        normal = matrix * np.outer(root, root)
        return _solved_right(one - normal, one + normal)
    return _from_hybrid(kind, matrix, references)


def _from_hybrid(kind: str, matrix: Complex, references: NDArray[np.float64]) -> Complex:
    first, second = references
    turn = np.sqrt(second / first) if kind == "H" else np.sqrt(first / second)
    sizes = (1 / first, second) if kind == "H" else (first, 1 / second)
    a, d = matrix[:, 0, 0] * sizes[0], matrix[:, 1, 1] * sizes[1]
    b, c = matrix[:, 0, 1] * turn, matrix[:, 1, 0] * turn
    sign = 1 if kind == "H" else -1
    with np.errstate(divide="ignore", invalid="ignore"):
        divisor = (a + 1) * (d + 1) - b * c
        s11 = ((a - 1) * (d + 1) - b * c) if kind == "H" else ((1 - a) * (d + 1) + b * c)
        s22 = ((1 + a) * (1 - d) + b * c) if kind == "H" else ((a + 1) * (d - 1) - b * c)
        rows = [[s11, sign * 2 * b], [-sign * 2 * c, s22]]
        scatter = np.moveaxis(np.array(rows), 2, 0) / divisor[:, None, None]
    return np.asarray(scatter, dtype=np.complex128)


def open_circuit(scatter: Complex, references: NDArray[np.float64]) -> Complex:
    """Give the open-circuit impedance matrix Z of an S-matrix.

    Parameters
    ----------
    scatter : (N, P, P) complex
    references : (P,) float, ohm

    Returns
    -------
    (N, P, P) complex, ohm
    """
    root = np.sqrt(references)
    one = np.eye(references.size)
    normal = _solved_right(one + scatter, one - scatter)
    return np.asarray(normal * np.outer(root, root), dtype=np.complex128)


def _solved_right(numerator: Complex, denominator: Complex) -> Complex:
    """Give numerator times the inverse of denominator; NaN where there is none."""
    result: Complex = np.full(numerator.shape, np.nan, dtype=np.complex128)
    finite = np.isfinite(denominator) & np.isfinite(numerator)
    sound: NDArray[np.bool_] = np.asarray(finite.all(axis=(1, 2)))
    sound[sound] = np.linalg.cond(denominator[sound]) < _WORST_CONDITION
    turned = np.linalg.solve(
        denominator[sound].transpose(0, 2, 1), numerator[sound].transpose(0, 2, 1)
    )
    result[sound] = turned.transpose(0, 2, 1)
    return result
