"""Start values in closed form, without a guess.

The model is cleared of its denominator, D(f) z = N(f), which is linear in the coordinates; the
weights that this distorts are put right by dividing by the denominator found before.
Source: C. K. Sanathanan, J. Koerner, "Transfer function synthesis as a ratio of two complex
polynomials", IEEE Trans. Automatic Control 8 (1963) 56-58.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.circuit.straight import basis
from benchapp.fit.blocks import solve_normal
from benchapp.fit.noise import View
from benchapp.fit.poles import fit_poles, peak_places, polynomials

__all__ = ["models", "rough", "starts"]

_FLOOR = 1e-12


def starts(circuit: Circuit, y: FloatArray, view: View) -> Iterator[FloatArray]:
    """Give start coordinates, the most likely one first.

    Parameters
    ----------
    circuit : Circuit
    y : (N,) float
        Frequency relative to the reference of the coordinates.
    view : View
        The sweep in the domain of its noise.
    """
    if circuit.family in ("series", "parallel"):
        yield _straight(circuit, y, view)
        return
    if circuit.family == "coupled":
        yield from _pairs(y, view)
        return
    for tank in _tanks(y, view):
        yield _widen(circuit, tank)


def rough(circuit: Circuit, y: FloatArray, z: ComplexArray, weight: FloatArray) -> FloatArray:
    """Give start coordinates (n, P) from handfuls of points, many at once.

    Parameters
    ----------
    circuit : Circuit
        Of the series, parallel or shunted family.
    y : (n, K) float
    z : (n, K) complex, ohm
    weight : (n, K) float
        Of a residual in ohm.

    Returns
    -------
    (n, P) float
        Not-a-number where a handful does not determine them.
    """
    if circuit.family in ("series", "parallel"):
        rows = basis(circuit.elements, circuit.family, y.ravel()).reshape(-1, *y.shape)
        if circuit.family == "series":
            return _many_least_squares(rows, z, weight)
        return _many_least_squares(rows, 1.0 / z, weight * np.abs(z) ** 2)
    columns = np.stack((np.ones_like(z), 1j * y, -1j * y * z, y * y * z))
    a1, a2 = _many_least_squares(columns, z, 1.0 / y)[:, 2:].T
    denominator = np.abs(1.0 + 1j * a1[:, None] * y - a2[:, None] * y * y)
    found = _many_least_squares(columns, z, weight / np.maximum(denominator, _FLOOR))
    return np.array([_widen(circuit, _tank(b1, a2, a1 / a2)) for _, b1, a1, a2 in found])


def models(circuit: Circuit, y: FloatArray, points: FloatArray) -> ComplexArray:
    """Give the impedances (n, N) at many coordinates (n, P), of the families of `rough`."""
    if circuit.family in ("series", "parallel"):
        immittance = points @ basis(circuit.elements, circuit.family, y)
        return np.asarray(immittance if circuit.family == "series" else 1.0 / immittance)
    branch = points[:, 2:3] + 1j * y
    if points.shape[1] > 3:
        branch += points[:, 3:4] * np.sqrt(y)
    across = 1.0 + 1j * points[:, 1:2] * y * branch
    return np.asarray(np.exp(points[:, :1]) * branch / across)


def _many_least_squares(
    columns: ComplexArray, target: ComplexArray, weight: FloatArray
) -> FloatArray:
    """Solve min sum weight^2 |target - c @ columns|^2 for real c (n, P) of many rows."""
    rows = np.moveaxis(columns * weight, 0, 1)
    scale = np.sqrt(np.einsum("npk,npk->np", rows, rows.conj()).real)
    rows = rows / scale[:, :, None]
    normal = (rows @ np.moveaxis(rows.conj(), 1, 2)).real
    pull = (rows.conj() @ (target * weight)[:, :, None]).real
    return np.asarray(solve_normal(normal, pull)[:, :, 0] / scale)


def _least_squares(columns: ComplexArray, target: ComplexArray, weight: FloatArray) -> FloatArray:
    """Solve min sum weight^2 |target - c @ columns|^2 for real c."""
    rows = np.ascontiguousarray(columns * weight).view(np.float64)
    right = np.ascontiguousarray(target * weight).view(np.float64)
    norms = np.sqrt(np.einsum("ij,ij->i", rows, rows))
    norms[norms == 0] = 1.0
    rows /= norms[:, None]
    found: FloatArray = np.linalg.lstsq(rows.T, right, rcond=None)[0] / norms
    return found


def _straight(circuit: Circuit, y: FloatArray, view: View) -> FloatArray:
    rows = basis(circuit.elements, circuit.family, y)
    weight = view.sensitivity()
    if circuit.family == "series":
        return _least_squares(rows, view.measured, weight)
    return _least_squares(rows, 1.0 / view.measured, weight * np.abs(view.measured) ** 2)


def _tanks(y: FloatArray, view: View) -> Iterator[FloatArray]:
    """(ln X, a, q) of a tank: three passes from each of two first weights, then a coarse grid."""
    z = view.measured
    columns = np.empty((4, y.size), dtype=np.complex128)
    columns[0] = 1.0
    columns[1] = 1j * y
    columns[2] = -1j * y * z
    columns[3] = y * y * z
    sensitivity = view.sensitivity()
    for first in (1.0 / y, sensitivity):
        weight = first
        for _ in range(3):
            b0, b1, a1, a2 = _least_squares(columns, z, weight)
            for q in (a1 / a2 if a2 else 0.0, b0 / b1 if b1 else 0.0):
                yield _tank(b1, a2, q)
            denominator = 1.0 + 1j * a1 * y - a2 * y * y
            weight = sensitivity / np.maximum(np.abs(denominator), _FLOOR)
    yield from _peak(y, z)


def _pairs(y: FloatArray, view: View) -> Iterator[FloatArray]:
    """(ln X, a, q, k^2, ln y2, 1/Q2) of a coupled pair, from its two resonances.

    Their poles are sought from the two highest peaks, then from places all over the sweep.
    """
    z, weight = view.measured, view.sensitivity()
    peaks = peak_places(z, 2)
    first = [y[place] for place in peaks] or [1.0]
    places = [(first[0], first[-1] * (1.0 if len(peaks) == 2 else 1.02))]
    places += combinations(np.geomspace(y[0], y[-1], 8)[1:-1].tolist(), 2)
    for pair in places:
        poles = np.array([(-0.01 + 1j) * place for place in pair])
        found = fit_poles(y, z, weight, poles)
        if found.poles.size == 2:
            yield _pair(*polynomials(found))


def _pair(above: FloatArray, below: FloatArray) -> FloatArray:
    """Coordinates from Z = N / D: D is P + (a/X) s N, with P = 1 + p1 s + p2 s^2."""
    n0, n1, n2, n3 = above
    _, d1, d2, d3, d4 = below
    slope = (d3 * n2 + d4 * n3) / (n2 * n2 + n3 * n3)  # a / X
    p1, p2 = d1 - slope * n0, d2 - slope * n1
    reactance = n1 - n0 * p1
    place = max(p2, _FLOOR) ** -0.5
    square = 1.0 - n3 / reactance * place**2
    tank = _tank(reactance, slope * reactance, n0 / reactance)
    return np.array([*tank, max(square, 1e-4), np.log(place), max(p1 * place, 1e-4)])


def _tank(reactance: float, a: float, q: float) -> FloatArray:
    level = np.log(max(abs(reactance), 1e-250))
    return np.array([level, max(a, _FLOOR), min(max(q, 1e-6), 1e3)])


def _peak(y: FloatArray, z: ComplexArray) -> Iterator[FloatArray]:
    """From the largest impedance, and from resonances off both ends of the sweep."""
    places = [y[int(np.argmax(np.abs(z)))], *np.geomspace(y[0] / 10, y[-1] * 10, 9)]
    for place in places:
        for q in (0.003, 0.03, 0.3):
            branch = q + 1j * y
            shape = branch / (1.0 + 1j * y * branch / place**2)
            yield np.array([np.mean(np.log(np.abs(z / shape))), place**-2.0, q])


def _widen(circuit: Circuit, tank: FloatArray) -> FloatArray:
    """Start a richer coil from the tank: half the resistance is skin effect, the core lossless."""
    if len(circuit.elements) == 3:
        return tank
    at_resonance = tank[1] ** -0.25
    half = tank[2] / 2.0
    wide = np.array([tank[0], tank[1], half, half / at_resonance, 0.0])
    return wide[: len(circuit.elements)]
