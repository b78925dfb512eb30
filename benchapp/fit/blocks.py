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
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.circuit.model import TWO_PI

__all__ = ["Block", "Coils", "Grid", "Lines", "Look", "block", "dot", "has_block", "solve_normal"]

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
        """Rows y^4, 1, y^2, y^-2, y, y^-1."""
        rows = np.empty((6, self.y.size))
        rows[1], rows[4] = 1.0, self.y
        np.multiply(self.y, self.y, out=rows[2])
        np.multiply(rows[2], rows[2], out=rows[0])
        np.divide(1.0, self.y, out=rows[5])
        np.multiply(rows[5], rows[5], out=rows[3])
        return rows

    @property
    def square(self) -> FloatArray:
        """y^2 (M,)."""
        return np.asarray(self.rows[2])

    @cached_property
    def log(self) -> FloatArray:
        """Logarithm of y (M,), whose mean is 0."""
        return np.asarray(np.log(self.y))

    @cached_property
    def slants(self) -> FloatArray:
        """Logarithm of y times y^(k/2) (8, M), k = 0 to 7."""
        return np.asarray(self.log * np.sqrt(self.y) ** np.arange(8)[:, None])

    @cached_property
    def powers(self) -> FloatArray:
        """Rows y^4, 1, y^2, then y^(1/2), y, y^(5/2), y^3, y^(3/2)."""
        y, root, square = self.y, np.sqrt(self.y), self.square
        return np.stack((*self.rows[:3], root, y, square * root, square * y, y * root))

    @cached_property
    def coil(self) -> FloatArray:
        """Rows of complex numbers as pairs: 1, jy, jy^3."""
        rows = np.zeros((3, self.y.size), dtype=np.complex128)
        rows.real[0] = 1.0
        rows.imag[1] = self.y
        np.multiply(self.y, self.square, out=rows.imag[2])
        return _as_pairs(rows)

    @cached_property
    def skin(self) -> FloatArray:
        """Rows of complex numbers as pairs: 1, jy, jy^3, then y^(1/2), jy^(3/2), jy^2."""
        more = np.stack((self.powers[3], 1j * self.powers[7], 1j * self.square))
        return np.concatenate((self.coil, _as_pairs(more)))

    @cached_property
    def straight(self) -> FloatArray:
        """Rows of complex numbers as pairs: 1, jy, 1/(jy)."""
        rows = np.zeros((3, self.y.size), dtype=np.complex128)
        rows.real[0] = 1.0
        rows.imag[1] = self.y
        np.negative(self.rows[5], out=rows.imag[2])
        return _as_pairs(rows)


def _as_pairs(rows: ComplexArray) -> FloatArray:
    pairs: FloatArray = rows.view(np.float64)
    return pairs


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Normal equations at a point: H (n, P, P) and g (n, P)."""

    hessian: FloatArray
    gradient: FloatArray


class Block(Protocol):
    """Sweeps of one grid, seen by a family of circuits."""

    @property
    def grid(self) -> Grid:
        """The grid of the sweeps."""
        ...

    def start(self) -> FloatArray:
        """Give start coordinates (n, P)."""
        ...

    def look(self, point: FloatArray) -> Look:
        """Give the normal equations at a point."""
        ...

    def residual(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give both parts of t / T - 1, or of its conjugate, at the point of the last look.

        The third array (n, M) is |T|^2 or its inverse, up to a factor for each sweep.
        """
        ...

    def slants(self) -> FloatArray:
        """Give sum Re conj(d ln T / dp) ln y, then of j ln y (n, 2, P), up to the sign.

        To be asked between the last look and the residual.
        """
        ...

    def part(self, rows: NDArray[np.intp]) -> Block:
        """Give some of the sweeps."""
        ...


def has_block(circuit: Circuit) -> bool:
    """Tell whether a circuit is one of those that can be seen in blocks."""
    return circuit.family != "coupled" and "Rcore" not in circuit.elements


def block(circuit: Circuit, grid: Grid, impedance: ComplexArray, work: FloatArray) -> Block:
    """See sweeps (n, M) by a circuit; ``work`` (9, n, M) is overwritten, and must stay alive."""
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


def _squares(z: ComplexArray, work: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Real part, imaginary part and squared modulus, contiguous."""
    real, imag, size, spare = work[0], work[1], work[2], work[3]
    np.copyto(real, z.real)
    np.copyto(imag, z.imag)
    np.multiply(real, real, out=size)
    size += np.multiply(imag, imag, out=spare)
    return real, imag, size


def _pairs(work: FloatArray) -> ComplexArray:
    """Two arrays of the work space as one complex array."""
    pairs: ComplexArray = work.reshape(work.shape[1], -1).view(np.complex128)
    return pairs


@dataclass(frozen=True, slots=True, eq=False)
class Coils:
    """A coil with resistance q (and s sqrt(y) of skin effect) across its capacitance.

    Coordinates (ln X, a, q[, s]) as in `benchapp.circuit.shunted`. With rho = q + s sqrt(y),
    m = |B|^2 = rho^2 + y^2 and d = |D|^2 = (1 - a y^2)^2 + (a y rho)^2,

        X m T = rho + j y (a m - 1),    |X T|^2 = d / m.

    ``real`` and ``falling`` are Re t and y Im t, ``size`` is |t|^2.
    """

    grid: Grid
    resistances: int
    z: ComplexArray
    real: FloatArray
    falling: FloatArray
    size: FloatArray
    work: FloatArray
    sums: FloatArray
    kept: list[FloatArray]

    @classmethod
    def of(cls, grid: Grid, z: ComplexArray, resistances: int, work: FloatArray) -> Coils:
        """Turn impedances into admittances, keeping the sums that a start needs."""
        real, imag, size = _squares(z, work)
        rows = grid.rows
        sums = np.concatenate(
            (size @ rows[1:3].T, real @ rows[1:4:2].T, imag @ rows[4:].T), axis=1
        )
        np.reciprocal(size, out=size)
        real *= size
        imag *= size
        imag *= -grid.y
        return cls(grid, resistances, z, real, imag, size, work[3:], sums, [])

    def part(self, rows: NDArray[np.intp]) -> Coils:
        """Give some of the sweeps."""
        return replace(
            self,
            z=self.z[rows],
            real=self.real[rows],
            falling=self.falling[rows],
            size=self.size[rows],
            work=np.empty((self.work.shape[0], rows.size, self.grid.y.size)),
            sums=self.sums[rows],
            kept=[],
        )

    def start(self) -> FloatArray:
        """Minimise sum |z (1 + j a1 y - a2 y^2) - b0 - j b1 y|^2 / y^2, linear in a and b.

        L = b1, C = a2 / b1, R = a1 / C in units of the grid's reference. Source: E. C. Levy,
        "Complex-curve fitting", IRE Trans. Automatic Control AC-4 (1959) 37-43.
        """
        size0, size2, real0, real_2, imag1, imag_1 = self.sums.T
        normal = np.zeros((4, 4, size0.size))
        normal[0, 0] = self.grid.rows[3].sum()
        normal[1, 1] = self.grid.y.size
        normal[2, 2], normal[3, 3] = size0, size2
        normal[0, 2] = normal[2, 0] = imag_1
        normal[0, 3] = normal[3, 0] = real0
        normal[1, 2] = normal[2, 1] = -real0
        normal[1, 3] = normal[3, 1] = imag1
        right = np.zeros((4, size0.size))
        right[0], right[1], right[3] = real_2, imag_1, size0
        _, b1, a1, a2 = solve_normal(normal.transpose(2, 0, 1), right.T[:, :, None])[:, :, 0].T
        point = np.empty((size0.size, 2 + self.resistances))
        point[:, 0] = np.log(np.abs(b1))
        point[:, 1] = a2
        point[:, 2] = a1 / a2 / self.resistances
        if self.resistances == 2:
            point[:, 3] = point[:, 2] * np.abs(a2) ** 0.25
        return point

    def _inverse(self, point: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give m (n, M), 1 / d and m / d; keep the coefficients of X^2 m T."""
        level, a, q = np.exp(point[:, 0]), point[:, 1], point[:, 2]
        wide = self.resistances == 2
        modulus = np.zeros((a.size, 7 if wide else 3))
        shunted, kept = np.zeros_like(modulus), np.empty((a.size, 6 if wide else 3))
        modulus[:, 1], modulus[:, 2] = q * q, 1.0
        shunted[:, 0], shunted[:, 1] = a * a, 1.0
        shunted[:, 2] = shunted[:, 0] * modulus[:, 1] - 2.0 * a
        kept[:, 0], kept[:, 2] = q, a
        kept[:, 1] = a * modulus[:, 1] - 1.0
        if wide:
            s = point[:, 3]
            modulus[:, 3], modulus[:, 4] = 2.0 * q * s, s * s
            shunted[:, 5:] = shunted[:, :1] * modulus[:, 3:5]
            kept[:, 3], kept[:, 4:] = s, a[:, None] * modulus[:, 3:5]
        kept *= level[:, None]
        self.kept[:] = [kept, point]
        m, w, v = self.work[0], self.work[1], self.work[2]
        powers = (self.grid.powers if wide else self.grid.rows)[: modulus.shape[1]]
        np.matmul(modulus, powers, out=m)
        np.matmul(shunted, powers, out=w)
        np.reciprocal(w, out=w)
        np.multiply(m, w, out=v)
        return m, w, v

    def look(self, point: FloatArray) -> Look:
        """Give the normal equations, for one resistance or two."""
        m, w, v = self._inverse(point)
        np.reciprocal(m, out=m)
        x = np.multiply(m, w, out=m)  # |d(1/B)/dq|^2 / |X T|^2 = 1 / (m d)
        level, a = np.exp(point[:, 0]), point[:, 1]
        count, square = point.shape[1], self.grid.square
        hessian = np.empty((level.size, count, count))
        gradient = np.empty((count, level.size))
        hessian[:, 1, 1] = v @ square
        hessian[:, 0, 0] = self.grid.y.size
        hessian[:, 0, 1] = w @ square - a * hessian[:, 1, 1]
        gradient[1] = dot(v, self.falling)
        fill = self._one if self.resistances == 1 else self._two
        loss = fill(point, w, x, hessian, gradient)
        gradient[0] = dot(w, self.falling) - a * gradient[1] - loss
        gradient *= level
        gradient += hessian[:, 0].T
        hessian[:, 1:, 0] = hessian[:, 0, 1:]
        return Look(hessian, gradient.T)

    def slants(self) -> FloatArray:
        """Give the products of the slopes with ln y and j ln y.

        d ln Z / da = w (y^2 - a y^2 m - j y rho), d ln Z / dq = x (rho (1 - 2 a y^2)
        - j y (1 - a y^2 + a rho^2)) with w = 1 / d, x = 1 / (m d).
        """
        x, w, v = self.work[0], self.work[1], self.work[2]
        point, rows = self.kept[1], self.grid.slants
        a, q = point[:, 1], point[:, 2]
        found = np.zeros((2, point.shape[1], a.size))
        s, xs, ws = np.zeros(a.size), np.zeros((8, a.size)), np.zeros((5, a.size))
        if self.resistances == 1:
            xs[::2], ws[2::2] = (x @ rows[::2].T).T, (w @ rows[2:5:2].T).T
        else:
            s, xs[:], ws[:] = point[:, 3], (x @ rows.T).T, (w @ rows[:5].T).T
        found[0, 1] = ws[4] - a * (v @ rows[4])
        found[1, 1] = -(q * ws[2] + s * ws[3])
        for k in range(self.resistances):
            found[0, k + 2] = q * xs[k] + s * xs[k + 1] - 2 * a * (q * xs[k + 4] + s * xs[k + 5])
            square = q * q * xs[k + 2] + s * (2 * q * xs[k + 3] + s * xs[k + 4])
            found[1, k + 2] = a * (xs[k + 6] - square) - xs[k + 2]
        return found.transpose(2, 0, 1)

    def _one(
        self,
        point: FloatArray,
        w: FloatArray,
        x: FloatArray,
        hessian: FloatArray,
        gradient: FloatArray,
    ) -> FloatArray:
        """Fill in what belongs to q; give sum Re t rho / d."""
        a, q = point[:, 1], point[:, 2]
        x0, x2 = (x @ self.grid.rows[1:3].T).T
        loss = dot(w, self.real)
        twice = 2.0 * q
        hessian[:, 2, 2] = x0
        hessian[:, 0, 2] = q * x0 - twice * (a * x2)
        hessian[:, 1, 2] = hessian[:, 2, 1] = twice * x2
        gradient[2] = loss + twice * (dot(x, self.falling) - q * dot(x, self.real))
        return np.asarray(q * loss)

    def _two(
        self,
        point: FloatArray,
        w: FloatArray,
        x: FloatArray,
        hessian: FloatArray,
        gradient: FloatArray,
    ) -> FloatArray:
        """Fill in what belongs to q and s; give sum Re t rho / d."""
        _, a, q, s = point.T
        powers = self.grid.powers
        plain = powers[[1, 3, 4, 7]].T  # y^0, y^1/2, y, y^3/2
        x0, x1, x2, _ = (x @ plain).T
        x4, x5, x6 = (x @ powers[[2, 5, 6]].T).T
        spare = np.multiply(w, self.real, out=self.work[3])
        loss = (spare @ plain[:, :2]).T
        np.multiply(x, self.real, out=spare)
        real = (spare @ plain).T
        np.multiply(x, self.falling, out=spare)
        falling = (spare @ plain[:, :3]).T
        hessian[:, 2, 2], hessian[:, 3, 3] = x0, x2
        hessian[:, 2, 3] = hessian[:, 3, 2] = x1
        sums = ((q * x0 + s * x1, q * x4 + s * x5), (q * x1 + s * x2, q * x5 + s * x6))
        for k, (low, high) in enumerate(sums):
            hessian[:, 0, k + 2] = low - 2.0 * a * high
            hessian[:, 1, k + 2] = hessian[:, k + 2, 1] = 2.0 * high
            copper = q * q * real[k] + 2.0 * q * s * real[k + 1] + s * s * real[k + 2]
            shared = q * falling[k] + s * falling[k + 1]
            gradient[k + 2] = loss[k] + 2.0 * (shared - copper)
        return np.asarray(q * loss[0] + s * loss[1])

    def residual(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give conj(t / T) - 1 = z X^2 m T / (d |z|^2) - 1 where the block was last looked at."""
        _, w, v, first, product = *self.work[:4], _pairs(self.work[4:6])
        rows = self.grid.coil if self.resistances == 1 else self.grid.skin
        np.matmul(self.kept[0], rows, out=product.view(np.float64))
        product *= self.z
        w *= self.size
        np.multiply(product.real, w, out=first)
        first -= 1.0
        w *= product.imag
        return first, w, v


_RISING = {("series", "L"), ("parallel", "C")}


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Elements in series (T = Z) or across each other (T = 1 / Z).

    T = rho + j (alpha y - beta / y), linear in its coordinates, with
    |T|^2 = rho^2 - 2 alpha beta + alpha^2 y^2 + beta^2 / y^2. ``order`` gives the place of rho,
    alpha and beta in the coordinates, len(order) elements being there.
    """

    grid: Grid
    order: tuple[int, ...]
    inverted: bool
    z: ComplexArray
    real: FloatArray
    imag: FloatArray
    size: FloatArray
    work: FloatArray
    kept: list[FloatArray]

    @classmethod
    def of(cls, grid: Grid, z: ComplexArray, circuit: Circuit, work: FloatArray) -> Lines:
        """Keep the impedances of a series circuit, the admittances of a parallel one."""
        real, imag, size = _squares(z, work)
        np.reciprocal(size, out=size)
        if circuit.family == "parallel":
            real *= size
            imag *= size
            np.negative(imag, out=imag)
        rising = [(circuit.family, element) in _RISING for element in circuit.elements]
        ranks = [
            0 if element == "R" else 1 if up else 2
            for element, up in zip(circuit.elements, rising, strict=True)
        ]
        inverted = circuit.family == "parallel"
        return cls(grid, tuple(ranks), inverted, z, real, imag, size, work[3:], [])

    def part(self, rows: NDArray[np.intp]) -> Lines:
        """Give some of the sweeps."""
        return replace(
            self,
            z=self.z[rows],
            real=self.real[rows],
            imag=self.imag[rows],
            size=self.size[rows],
            work=np.empty((self.work.shape[0], rows.size, self.grid.y.size)),
            kept=[],
        )

    def _normal(self, w: FloatArray) -> tuple[FloatArray, FloatArray]:
        """H and Re sum conj(dT/dp) t w."""
        w0, w2, w_2 = (w @ self.grid.rows[1:4].T).T
        hessian = np.zeros((w0.size, 3, 3))
        hessian[:, 0, 0], hessian[:, 1, 1], hessian[:, 2, 2] = w0, w2, w_2
        hessian[:, 1, 2] = hessian[:, 2, 1] = -w0
        weighted = np.multiply(w, self.imag, out=self.work[1])
        pull = np.empty((w0.size, 3))
        pull[:, 0] = dot(w, self.real)
        np.matmul(weighted, self.grid.rows[4:].T, out=pull[:, 1:])
        pull[:, 2] *= -1.0
        return hessian, pull

    def _pick(self, hessian: FloatArray) -> FloatArray:
        order = list(self.order)
        return hessian[:, order][:, :, order]

    def start(self) -> FloatArray:
        """Solve the linear problem with the measured |t| for weights."""
        w = self.work[0]
        if self.inverted:
            np.reciprocal(self.size, out=w)
        else:
            np.copyto(w, self.size)
        hessian, pull = self._normal(w)
        solved: FloatArray = solve_normal(self._pick(hessian), pull[:, list(self.order), None])
        return solved[:, :, 0]

    def look(self, point: FloatArray) -> Look:
        """Give the normal equations."""
        whole = np.zeros((point.shape[0], 3))
        whole[:, list(self.order)] = point
        self.kept[:] = [whole]
        _, alpha, beta = whole.T
        modulus = whole * whole
        modulus[:, 0] -= 2.0 * alpha * beta
        w = np.matmul(modulus, self.grid.rows[1:4], out=self.work[0])
        np.reciprocal(w, out=w)
        hessian, pull = self._normal(w)
        pull -= np.einsum("nij,nj->ni", hessian, whole)
        return Look(self._pick(hessian), pull[:, list(self.order)])

    def slants(self) -> FloatArray:
        """Give the products of the slopes with ln y and j ln y."""
        whole = self.kept[0]
        rho, alpha, beta = whole.T
        _, low, mid, high, up, down = (self.work[0] @ (self.grid.log * self.grid.rows).T).T
        found = np.empty((2, 3, rho.size))
        found[0, 0], found[1, 0] = rho * low, beta * down - alpha * up
        found[0, 1], found[1, 1] = alpha * mid - beta * low, rho * up
        found[0, 2], found[1, 2] = beta * high - alpha * low, -rho * down
        return found[:, list(self.order)].transpose(2, 0, 1)

    def residual(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give t / T - 1 = z conj(T) / |T|^2 - 1, or conj(t / T) - 1 = z T / |z T|^2 - 1."""
        w, first, second, product = *self.work[:3], _pairs(self.work[3:5])
        np.matmul(self.kept[0], self.grid.straight, out=product.view(np.float64))
        if not self.inverted:
            product = np.conjugate(product, out=product)
        product *= self.z
        scale = np.multiply(w, self.size, out=second) if self.inverted else w
        np.multiply(product.real, scale, out=first)
        first -= 1.0
        np.multiply(product.imag, scale, out=second)
        return first, second, w
