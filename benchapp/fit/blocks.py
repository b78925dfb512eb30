"""Blocks of sweeps over one grid: start values and normal equations as sums over the points.

The immittance T of a circuit (the admittance of a coil across its capacitance and of a parallel
circuit, the impedance of a series circuit) has a squared modulus that is a ratio of short
polynomials in the root of frequency. A Gauss-Newton step on r = t / T - 1, with t the measured
immittance, then needs only sums over the points: matrix products, and no array of residuals.
With J = d ln T / dp = (dT/dp) / T,

    H = Re sum conj(dT/dp_k) dT/dp_l / |T|^2,    g = Re sum conj(dT/dp_k) (t - T) / |T|^2,

whose parts without t are known in closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.circuit.model import TWO_PI

__all__ = [
    "Block",
    "Coils",
    "Grid",
    "Lines",
    "Look",
    "block",
    "dot",
    "has_block",
    "inverse",
    "solve_normal",
]

_RIDGE = 1.0 + 1e-14


_vecdot = getattr(np, "vecdot", None)  # numpy 1.26 has none; it is faster


def dot(a: NDArray[Any], b: NDArray[Any]) -> FloatArray:
    """Give the products of rows (n,)."""
    return np.asarray(np.einsum("nm,nm->n", a, b) if _vecdot is None else _vecdot(a, b))


class Grid:
    """What sweeps over the same frequencies share, made when it is first needed.

    Parameters
    ----------
    frequency : (M,) float, Hz

    Attributes
    ----------
    scale : float
        Reference angular frequency, the geometric mean of the grid.
    y : (M,) float
        Frequency relative to it.
    """

    def __init__(self, frequency: FloatArray) -> None:
        omega = TWO_PI * frequency
        self.scale = math.exp(float(np.log(omega).sum()) / omega.size)
        self.y = omega / self.scale

    @cached_property
    def rows(self) -> FloatArray:
        """Rows y^k (7, M), k = -2 to 4."""
        rows = np.empty((7, self.y.size))
        rows[2], rows[3] = 1.0, self.y
        np.divide(1.0, self.y, out=rows[1])
        np.multiply(rows[1], rows[1], out=rows[0])
        for power in (4, 5, 6):
            np.multiply(rows[power - 1], self.y, out=rows[power])
        return rows

    @cached_property
    def halves(self) -> FloatArray:
        """Rows y^(k/2) (9, M), k = 0 to 8."""
        rows = np.empty((9, self.y.size))
        rows[::2] = self.rows[2:]
        np.multiply(np.sqrt(self.y), rows[:-1:2], out=rows[1::2])
        return rows

    @cached_property
    def log(self) -> FloatArray:
        """Logarithm of y (M,), whose mean is 0."""
        return np.asarray(np.log(self.y))

    @cached_property
    def slanted(self) -> FloatArray:
        """Rows y^k ln y (7, M), k = -2 to 4."""
        return np.asarray(self.rows * self.log)

    @cached_property
    def slanted_halves(self) -> FloatArray:
        """Rows y^(k/2) ln y (9, M), k = 0 to 8."""
        return np.asarray(self.halves * self.log)


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Normal equations at a point: H (n, P, P) and g (n, P).

    ``slants`` (n, P, 2) are the slopes of what the parts of the residual make with ln y.
    """

    hessian: FloatArray
    gradient: FloatArray
    slants: FloatArray


class Block(Protocol):
    """Sweeps of one grid, seen by a family of circuits."""

    @property
    def grid(self) -> Grid:
        """The grid of the sweeps."""
        ...

    @property
    def rough(self) -> bool:
        """Whether the start is far from the optimum, so that a step must come before all else."""
        ...

    def start(self) -> FloatArray:
        """Give start coordinates (n, P)."""
        ...

    def look(self, point: FloatArray) -> FloatArray:
        """Sum over the points, at coordinates (n, P), all that `normal` needs (K, n)."""
        ...

    def normal(self, point: FloatArray, sums: FloatArray) -> Look:
        """Give the normal equations, also of many blocks at once."""
        ...

    def residual(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give t / T - 1, or its conjugate, at the point of the last look, and what it is tied to.

        To be asked once for each look.

        Returns
        -------
        (2, n, M) float
            Real and imaginary part.
        (n, M) float
            |T|^2 or its inverse, up to a factor for each sweep.
        (2, n, M) float
            Space that nobody needs.
        """
        ...


def has_block(circuit: Circuit) -> bool:
    """Tell whether a circuit is one of those that can be seen in blocks."""
    return circuit.family != "coupled" and "Rcore" not in circuit.elements


def block(circuit: Circuit, grid: Grid, impedance: ComplexArray, work: FloatArray) -> Block:
    """See sweeps (n, M) by a circuit; ``work`` (8, n, M) is overwritten, and must stay alive."""
    if circuit.family == "shunted":
        return Coils.of(grid, impedance, len(circuit.elements) - 2, work)
    return Lines.of(grid, impedance, circuit, work)


def solve_normal(hessian: FloatArray, right: FloatArray) -> FloatArray:
    """Solve H x = right (n, P, K); not-a-number where H is singular.

    H is positive, and its diagonal grows by a hair.
    """
    diagonal = np.einsum("nii->ni", hessian)
    diagonal *= _RIDGE
    try:
        return np.asarray(np.linalg.solve(hessian, right))
    except np.linalg.LinAlgError:
        if len(hessian) == 1:
            return np.full_like(right, np.nan)
        rows = range(len(hessian))
        return np.concatenate([solve_normal(hessian[k : k + 1], right[k : k + 1]) for k in rows])


def inverse(hessian: FloatArray) -> FloatArray:
    """Invert matrices (n, P, P); not-a-number where one is singular."""
    try:
        return np.asarray(np.linalg.inv(hessian))
    except np.linalg.LinAlgError:
        if len(hessian) == 1:
            return np.full_like(hessian, np.nan)
        return np.concatenate([inverse(hessian[k : k + 1]) for k in range(len(hessian))])


def _squares(z: ComplexArray, work: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Real part, imaginary part and squared modulus, contiguous."""
    real, imag, size, spare = work[0], work[1], work[2], work[3]
    np.copyto(real, z.real)
    np.copyto(imag, z.imag)
    np.multiply(real, real, out=size)
    size += np.multiply(imag, imag, out=spare)
    return real, imag, size


def _products(weight: FloatArray, rows: FloatArray) -> FloatArray:
    """Sum weights (n, M) times each row (K, M) over the points (K, n)."""
    return np.asarray((weight @ rows.T).T)


def _paired(a: FloatArray, b: FloatArray) -> FloatArray:
    """Sum the products of columns (n,)."""
    return np.asarray(np.einsum("kn,kn->n", a, b))


def _places(p: int) -> list[slice]:
    """Tell where the sums of `Coils.look` stand."""
    sizes = (2 * p + 1, 3 * p + 1, 4 * p - 1, 4 * p, p, 2 * p + 1, 3 * p - 2, 2 * p - 1)
    ends = np.cumsum(sizes).tolist()
    return [slice(end - size, end) for end, size in zip(ends, sizes, strict=True)]


_PLACES = {p: _places(p) for p in (1, 2)}


def _against(
    parts: FloatArray, u: FloatArray, e: FloatArray, rho: FloatArray | None = None
) -> FloatArray:
    """Give rho u + e s - 1 and rho s - e u, with s = parts[1]; all is overwritten."""
    first, s = parts
    np.multiply(e, s, out=first)
    e *= u
    if rho is not None:
        u *= rho
        s *= rho
    first += u
    first -= 1.0
    s -= e
    return parts


@dataclass(frozen=True, slots=True, eq=False)
class Coils:
    """A coil with resistance q (and s sqrt(y) of skin effect) across its capacitance.

    Coordinates (ln X, a, q[, s]) as in `benchapp.circuit.shunted`. With rho = q + s sqrt(y),
    m = |B|^2 = rho^2 + y^2 and d = |D|^2 = (1 - a y^2)^2 + (a y rho)^2 = 1 - 2 a y^2
    + a^2 y^2 m,

        X m T = rho + j y (a m - 1),    |X T|^2 = d / m.

    ``real`` and ``imag`` are those of t*. The powers of y go in steps of 1 / p where there
    are p resistances.
    """

    grid: Grid
    resistances: int
    real: FloatArray
    imag: FloatArray
    work: FloatArray
    sums: FloatArray
    kept: list[FloatArray]

    @classmethod
    def of(cls, grid: Grid, z: ComplexArray, resistances: int, work: FloatArray) -> Coils:
        """Turn impedances into admittances, keeping the sums that a start needs."""
        real, imag, size = _squares(z, work)
        rows = grid.rows
        sums = np.concatenate(
            (
                _products(size, rows[2:5:2]),
                _products(real, rows[0:3:2]),
                _products(imag, rows[1:4:2]),
            )
        )
        np.reciprocal(size, out=size)
        real *= size
        imag *= size
        return cls(grid, resistances, real, imag, work[2:], sums, [])

    @property
    def rough(self) -> bool:
        """The start shares the resistance out without asking the data."""
        return self.resistances > 1

    def start(self) -> FloatArray:
        """Minimise sum |z (1 + j a1 y - a2 y^2) - b0 - j b1 y|^2 / y^2, linear in a and b.

        The two b are eliminated first. L = b1, C = a2 / b1, R = a1 / C in units of the grid's
        reference. Source: E. C. Levy, "Complex-curve fitting", IRE Trans. Automatic Control
        AC-4 (1959) 37-43.
        """
        size0, size2, real_2, real0, imag_1, imag1 = self.sums
        flat, count = self.grid.rows[0].sum(), float(self.grid.y.size)
        side, rise = imag_1 / flat, real0 / count
        h11 = size0 - imag_1 * side - real0 * rise
        h22 = size2 - real0 * real0 / flat - imag1 * imag1 / count
        h12 = rise * imag1 - side * real0
        g1, g2 = (
            rise * imag_1 - side * real_2,
            size0 - real0 * real_2 / flat - imag1 * imag_1 / count,
        )
        det = h11 * h22 - h12 * h12
        a1, a2 = (h22 * g1 - h12 * g2) / det, (h11 * g2 - h12 * g1) / det
        b1 = (imag_1 + real0 * a1 - imag1 * a2) / count
        point = np.empty((a1.size, 2 + self.resistances))
        point[:, 0] = np.log(np.abs(b1))
        point[:, 1] = a2
        point[:, 2] = a1 / a2 / self.resistances
        if self.resistances == 2:
            point[:, 3] = point[:, 2] * np.abs(a2) ** 0.25
        return point

    def _powers(self) -> tuple[FloatArray, FloatArray]:
        """Rows y^(k/p), k = 0 to 4 p, and the same times ln y."""
        if self.resistances == 1:
            return self.grid.rows[2:], self.grid.slanted[2:]
        return self.grid.halves, self.grid.slanted_halves

    def look(self, point: FloatArray) -> FloatArray:
        """Sum over the points.

        All sums but those of the elements themselves are over w = f / d and x = w / m with
        f = X q for one resistance and f = X for two, so that `residual` begins where this ends.
        """
        p, (rows, slanted) = self.resistances, self._powers()
        a, share = point[:, 1], point.T[2:]
        square = self._squares(share)
        below = np.zeros((4 * p + 1, a.size))
        np.multiply(a * a, square, out=below[2 * p :])
        below[0] = 1.0
        below[2 * p] -= 2.0 * a
        below /= self._scale(np.exp(point[:, 0]), share)
        m, w, s, u, x, spare = self.work
        np.matmul(square.T, rows[: 2 * p + 1], out=m)
        np.matmul(below.T, rows, out=w)
        np.reciprocal(w, out=w)
        np.divide(w, m, out=x)
        np.multiply(w, self.real, out=u)
        np.multiply(w, self.imag, out=s)
        self.kept[:] = [point, square]
        sums = [
            w @ rows[2 * p :].T,
            w @ slanted[p:].T,
            x @ rows[: 4 * p - 1].T,
            x @ slanted[: 4 * p].T,
            u @ rows[:p].T,
            s @ rows[p : 3 * p + 1].T,
            self._lost(x, spare),
            np.multiply(x, self.imag, out=x) @ rows[p : 3 * p - 1].T,
        ]
        return np.concatenate(sums, axis=1).T

    def _lost(self, x: FloatArray, spare: FloatArray) -> FloatArray:
        """Sum x Re t by the powers of y in rho^2 (n, 3 p - 2)."""
        if self.resistances == 1:
            return dot(x, self.real)[:, None]
        return np.asarray(np.multiply(x, self.real, out=spare) @ self.grid.halves[:4].T)

    def _squares(self, share: FloatArray) -> FloatArray:
        """Coefficients of m by powers of y (2 p + 1, n)."""
        p = self.resistances
        square = np.zeros((2 * p + 1, share.shape[1]))
        square[2 * p] = 1.0
        if p == 1:
            np.multiply(share[0], share[0], out=square[0])
        else:
            np.multiply(share[0], share, out=square[:2])
            square[1] *= 2.0
            np.multiply(share[1], share[1], out=square[2])
        return square

    def _scale(self, level: FloatArray, share: FloatArray) -> FloatArray:
        return level * share[0] if self.resistances == 1 else level

    def normal(self, point: FloatArray, sums: FloatArray) -> Look:
        """Give the normal equations from the sums of `look`."""
        p, count = self.resistances, len(point)
        level, a, share = np.exp(point[:, 0]), point[:, 1], point.T[2:]
        square, scale = self._squares(share), self._scale(level, share)
        wide, bent, tall, leant, loss, pull, copper, shared = (sums[k] for k in _PLACES[p])
        hessian, gradient = np.empty((2 + p, 2 + p, count)), np.empty((2 + p, count))
        slants = np.zeros((2, 2 + p, count))
        hessian[1, 1] = _paired(square, wide)
        hessian[0, 1] = wide[0] - a * hessian[1, 1]
        gradient[1] = -_paired(square, pull)
        gradient[0] = -pull[0] - a * gradient[1] - _paired(share, loss)
        slants[0, 1] = bent[p] - a * _paired(square, bent[p:])
        slants[1, 1] = _paired(share, bent[:p])
        for k in range(p):
            lossy = _paired(share, tall[2 * p + k : 3 * p + k])
            hessian[k + 2, 2:] = tall[k : k + p]
            hessian[0, k + 2] = _paired(share, tall[k : k + p]) - 2.0 * a * lossy
            hessian[1, k + 2] = 2.0 * lossy
            lost = _paired(share, shared[k : k + p])
            lost += _paired(square[: 2 * p - 1], copper[k : k + 2 * p - 1])
            gradient[k + 2] = loss[k] - 2.0 * lost
            lossy = _paired(share, leant[2 * p + k : 3 * p + k])
            slants[0, k + 2] = _paired(share, leant[k : k + p]) - 2.0 * a * lossy
            lost = _paired(square, leant[p + k : 3 * p + k + 1]) - 2.0 * leant[3 * p + k]
            slants[1, k + 2] = leant[p + k] + a * lost
        hessian /= scale
        hessian[0, 0] = self.grid.y.size
        gradient *= level / scale
        gradient += hessian[0]
        hessian[1:, 0] = hessian[0, 1:]
        hessian[2:, 1] = hessian[1, 2:]
        slants /= scale
        return Look(hessian.transpose(2, 0, 1), gradient.T, slants.transpose(2, 1, 0))

    def residual(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give t* / T* - 1 = w X (Re t* + j Im t*) (rho - j y (a m - 1)) - 1."""
        p, (point, square) = self.resistances, self.kept
        rows, _ = self._powers()
        m, w, _, u, e, spare = self.work
        slope = -point[:, 1] * square
        slope[0] += 1.0
        rows, rho = rows[p : 3 * p + 1], None
        if p == 1:
            slope, rows = slope[::2] / point[:, 2], rows[::2]
        else:
            rho = np.matmul(point[:, 2:], self.grid.halves[:2], out=spare)
        np.matmul(slope.T, rows, out=e)
        m *= w
        return _against(self.work[1:3], u, e, rho), m, self.work[3:5]


_RISING = {("series", "L"), ("parallel", "C")}


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Elements in series (T = Z) or across each other (T = 1 / Z).

    T = rho + j (alpha y - beta / y), linear in its coordinates, with
    |T|^2 = rho^2 - 2 alpha beta + alpha^2 y^2 + beta^2 / y^2. ``order`` gives the place of rho,
    alpha and beta in the coordinates, len(order) elements being there. ``real`` and ``imag``
    are those of t.
    """

    grid: Grid
    order: tuple[int, ...]
    real: FloatArray
    imag: FloatArray
    work: FloatArray
    kept: list[FloatArray]

    @classmethod
    def of(cls, grid: Grid, z: ComplexArray, circuit: Circuit, work: FloatArray) -> Lines:
        """Keep the impedances of a series circuit, the admittances of a parallel one."""
        real, imag, size = _squares(z, work)
        if circuit.family == "parallel":
            inverse_size = np.reciprocal(size, out=work[3])
            real *= inverse_size
            imag *= np.negative(inverse_size, out=inverse_size)
        else:
            np.reciprocal(size, out=size)
        rising = [(circuit.family, element) in _RISING for element in circuit.elements]
        ranks = [
            0 if element == "R" else 1 if up else 2
            for element, up in zip(circuit.elements, rising, strict=True)
        ]
        return cls(grid, tuple(ranks), real, imag, work[2:], [])

    @property
    def rough(self) -> bool:
        """The start is a solution with nearly the right weights."""
        return False

    def _look(self, w: FloatArray) -> FloatArray:
        """Sum w, w ln y, w Re t and w Im t over the points, each by powers of y."""
        rows, (_, _, s, u, _, _) = self.grid.rows, self.work
        np.multiply(w, self.real, out=u)
        np.multiply(w, self.imag, out=s)
        sums = (w @ rows[0:5:2].T, u @ rows[2:3].T, s @ rows[1:4:2].T, w @ self.grid.slanted[:5].T)
        return np.concatenate(sums, axis=1).T

    def _normal(self, sums: FloatArray) -> tuple[FloatArray, FloatArray]:
        """H and Re sum conj(dT/dp) t w."""
        w_2, w0, w2, flat, down, up = sums[:6]
        hessian = np.zeros((3, 3, w0.size))
        hessian[0, 0], hessian[1, 1], hessian[2, 2] = w0, w2, w_2
        hessian[1, 2] = hessian[2, 1] = -w0
        return hessian, np.stack((flat, up, -down))

    def _pick(self, hessian: FloatArray) -> FloatArray:
        order = list(self.order)
        return hessian[order][:, order].transpose(2, 0, 1)

    def start(self) -> FloatArray:
        """Solve the linear problem with the measured |t| for weights, which lie ready."""
        hessian, pull = self._normal(self._look(self.work[0]))
        right = pull[list(self.order)].T
        return np.asarray(np.einsum("npq,nq->np", inverse(self._pick(hessian)), right))

    def look(self, point: FloatArray) -> FloatArray:
        """Sum over the points, with the weights 1 / |T|^2."""
        rho, alpha, beta = whole = self._whole(point)
        modulus = np.stack((beta * beta, rho * rho - 2.0 * alpha * beta, alpha * alpha), axis=1)
        w = np.matmul(modulus, self.grid.rows[0:5:2], out=self.work[0])
        np.reciprocal(w, out=w)
        self.kept[:] = [whole]
        return self._look(w)

    def _whole(self, point: FloatArray) -> FloatArray:
        """Rho, alpha and beta (3, n), zero where there is no such element."""
        whole = np.zeros((3, point.shape[0]))
        whole[list(self.order)] = point.T
        return whole

    def normal(self, point: FloatArray, sums: FloatArray) -> Look:
        """Give the normal equations from the sums of `look`."""
        order = list(self.order)
        rho, alpha, beta = whole = self._whole(point)
        hessian, pull = self._normal(sums)
        pull -= np.einsum("ijn,jn->in", hessian, whole)
        high, down, low, up, mid = sums[6:]
        slants = np.empty((2, 3, len(point)))
        slants[0] = -rho * low, beta * low - alpha * mid, alpha * low - beta * high
        slants[1] = alpha * up - beta * down, -rho * up, rho * down
        return Look(self._pick(hessian), pull[order].T, slants[:, order].transpose(2, 1, 0))

    def residual(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give t / T - 1 = w (Re t + j Im t) (rho - j (alpha y - beta / y)) - 1."""
        rho, alpha, beta = self.kept[0]
        w, _, _, u, e, level = self.work
        np.copyto(level, w)
        np.matmul(np.stack((-beta, alpha), axis=1), self.grid.rows[1:4:2], out=e)
        return _against(self.work[1:3], u, e, rho[:, None]), level, self.work[3:5]
