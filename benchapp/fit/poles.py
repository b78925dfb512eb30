"""A sweep as a sum of resonances: poles and residues by vector fitting.

    Z(s) = sum over pairs (r_k / (s - p_k) + conj) + d + e s,    s = j 2 pi f

(relative to a reference). The poles are moved, from any that are roughly right, to the zeros of
a weight function that is fitted along with Z, until they stay.
Source: B. Gustavsen, A. Semlyen, "Rational approximation of frequency domain responses by vector
fitting", IEEE Trans. Power Delivery 14 (1999) 1052-1061.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchapp.capture import ComplexArray, FloatArray

__all__ = ["Resonances", "fit_poles", "peak_places", "polynomials"]

_PASSES = 12
_STILL = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Resonances:
    """Poles (K,) of the upper half plane, their residues (K,), and the rest d + e s.

    ``cost`` is the weighted sum of squared residuals.
    """

    poles: ComplexArray
    residues: ComplexArray
    rest: FloatArray
    cost: float

    def impedance(self, y: FloatArray) -> ComplexArray:
        """Give Z at relative frequencies (N,)."""
        s = 1j * y
        z = np.polynomial.polynomial.polyval(s, self.rest) if self.rest.size else 0.0 * s
        for pole, residue in zip(self.poles, self.residues, strict=True):
            z = z + residue / (s - pole) + np.conj(residue) / (s - np.conj(pole))
        return np.asarray(z)


def _basis(s: ComplexArray, poles: ComplexArray) -> ComplexArray:
    """Two functions for each pair of poles, whose real coefficients are Re r and Im r."""
    left, right = 1.0 / (s - poles[:, None]), 1.0 / (s - poles.conj()[:, None])
    rows = np.empty((2 * poles.size, s.size), dtype=np.complex128)
    rows[0::2] = left + right
    rows[1::2] = 1j * (left - right)
    return rows


def _solve(rows: ComplexArray, target: ComplexArray) -> FloatArray:
    flat = np.ascontiguousarray(rows).view(np.float64)
    norms = np.sqrt(np.einsum("ij,ij->i", flat, flat))
    norms[norms == 0] = 1.0
    right = np.ascontiguousarray(target).view(np.float64)
    solved = np.linalg.lstsq((flat / norms[:, None]).T, right, rcond=None)[0]
    return np.asarray(solved / norms)


def _moved(poles: ComplexArray, weights: FloatArray) -> ComplexArray:
    """Give the zeros of 1 + sum weights * basis, made stable."""
    size = 2 * poles.size
    matrix = np.zeros((size, size))
    for place, pole in enumerate(poles):
        k = 2 * place
        matrix[k : k + 2, k : k + 2] = [[pole.real, pole.imag], [-pole.imag, pole.real]]
    matrix[0::2] -= 2.0 * weights
    zeros = np.linalg.eigvals(matrix)
    upper = zeros[zeros.imag > 0]
    if upper.size < poles.size:  # a pair has become two real poles: let it come back as one
        real = np.sort(np.abs(zeros[zeros.imag == 0].real))
        pairs = np.sqrt(real[0::2] * real[1::2])
        upper = np.concatenate((upper, pairs * (-0.7 + 0.7j)))
    return np.asarray(-np.abs(upper.real) + 1j * upper.imag)


def fit_poles(
    y: FloatArray, z: ComplexArray, weight: FloatArray, start: ComplexArray, rest: int = 0
) -> Resonances:
    """Fit as many resonances as there are start poles.

    Parameters
    ----------
    y : (N,) float
        Relative frequency.
    z : (N,) complex, ohm
    weight : (N,) float
        Of a residual in ohm.
    start : (K,) complex
        Poles with positive imaginary part.
    rest : int
        0 for none, 1 with d, 2 with d + e s.

    Returns
    -------
    Resonances
        By rising frequency.
    """
    s = np.asarray(1j * y)
    more = np.asarray(s ** np.arange(rest)[:, None])
    poles = start
    for _ in range(_PASSES):
        rows = _basis(s, poles)
        columns = np.asarray(np.concatenate((rows, more, -z * rows)) * weight)
        found = _solve(columns, np.asarray(z * weight))
        after = _moved(poles, found[rows.shape[0] + rest :])
        if not np.isfinite(after).all():
            break
        still = after.size == poles.size and np.allclose(
            np.sort_complex(after), np.sort_complex(poles), rtol=_STILL, atol=0
        )
        poles = after
        if still:
            break
    poles = poles[np.argsort(np.abs(poles))]
    rows = np.concatenate((_basis(s, poles), more))
    found = _solve(np.asarray(rows * weight), np.asarray(z * weight))
    residual = (z - found @ rows) * weight
    residues = found[0 : 2 * poles.size : 2] + 1j * found[1 : 2 * poles.size : 2]
    return Resonances(
        poles=poles,
        residues=residues,
        rest=found[2 * poles.size :],
        cost=float(np.vdot(residual, residual).real),
    )


def peak_places(z: ComplexArray, count: int) -> list[int]:
    """Give the points of the most prominent local maxima of |Z|, at most ``count`` of them."""
    level = np.log(np.abs(z))
    inner = np.flatnonzero((level[1:-1] >= level[:-2]) & (level[1:-1] > level[2:])) + 1
    height = []
    for place in inner:
        higher_left = np.flatnonzero(level[:place] > level[place])
        higher_right = np.flatnonzero(level[place + 1 :] > level[place])
        left = higher_left[-1] if higher_left.size else 0
        right = place + 1 + higher_right[0] if higher_right.size else level.size - 1
        height.append(
            level[place] - max(level[left : place + 1].min(), level[place : right + 1].min())
        )
    order = np.argsort(height)[::-1][:count]
    return sorted(int(inner[k]) for k in order)


def polynomials(found: Resonances) -> tuple[FloatArray, FloatArray]:
    """Give Z as a ratio of polynomials in s, lowest power first, the denominator from 1 on.

    The rest d + e s must be absent.
    """
    quadratics = [np.array([abs(p) ** 2, -2.0 * p.real, 1.0]) for p in found.poles]
    above, below = np.zeros(2 * found.poles.size), np.ones(1)
    for place, quadratic in enumerate(quadratics):
        pole, residue = found.poles[place], found.residues[place]
        part = np.array([-2.0 * (residue * np.conj(pole)).real, 2.0 * residue.real])
        for other, factor in enumerate(quadratics):
            if other != place:
                part = np.convolve(part, factor)
        above += part
        below = np.convolve(below, quadratic)
    return above / below[0], below / below[0]
