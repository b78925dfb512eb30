"""Small dense nonlinear least squares: Levenberg-Marquardt in a trust region, numpy only.

The step comes from an orthogonal decomposition of the scaled Jacobian, never from its normal
equations, so that twice as many digits survive when parameters are nearly dependent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import FitError

__all__ = ["Solution", "minimise", "triangle"]

FloatArray = NDArray[np.float64]
Residual = Callable[[FloatArray], NDArray[np.float64] | NDArray[np.complex128]]

_EPSILON = float(np.finfo(np.float64).eps)
_BLOCK, _FEW = 128, 6
_FIRST_RADIUS = 100.0  # in units of the scaled start vector (Moré 1978)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """Where a minimisation ended.

    ``parameters`` (P,); ``covariance`` (P, P) for residuals of unit variance, so multiply it by
    ``variance`` where the residuals are not normalised; ``residual`` (M,) real; ``cost`` is the
    sum of squared residuals; ``dof`` is M - P. ``offset`` says how far the point is from the
    minimum, as a fraction of a standard uncertainty.
    """

    parameters: FloatArray
    covariance: FloatArray
    residual: FloatArray
    cost: float
    dof: int
    iterations: int
    offset: float
    converged: bool

    @property
    def variance(self) -> float | None:
        """Residual variance per degree of freedom, None where there is no freedom left."""
        return self.cost / self.dof if self.dof > 0 else None


@dataclass(slots=True, kw_only=True, eq=False)
class _State:
    """The point reached and the decomposition of the scaled Jacobian there."""

    x: FloatArray
    residual: FloatArray
    cost: float
    scale: FloatArray
    singular: FloatArray
    right: FloatArray  # (P, P), rows are right singular vectors
    along: FloatArray  # (P,) residual in the singular directions, 0 where there is no slope


def _flat(values: ArrayLike) -> FloatArray:
    array = np.asarray(values)
    if np.iscomplexobj(array):
        return np.concatenate([array.real, array.imag])
    return np.asarray(array, dtype=np.float64)


def _cost(residual: FloatArray) -> float:
    with np.errstate(over="ignore", invalid="ignore"):
        return float(residual @ residual)


def _state(
    x: FloatArray, residual: FloatArray, jacobian: Residual, scale: FloatArray | None
) -> _State:
    matrix = _flat(jacobian(x))
    norms = np.sqrt(np.einsum("ij,ij->j", matrix, matrix))
    norms[norms == 0] = 1.0
    scale = norms if scale is None else np.maximum(scale, norms)
    reduced = triangle(np.column_stack([matrix / scale, residual]))
    count = scale.size
    left, singular, right = np.linalg.svd(reduced[:count, :count])
    floor = _EPSILON * max(float(singular[0]), _EPSILON)
    along = np.where(singular > 0, left.T @ reduced[:count, count], 0.0)
    return _State(
        x=x,
        residual=residual,
        cost=_cost(residual),
        scale=scale,
        singular=np.maximum(singular, floor),
        right=right,
        along=along,
    )


def triangle(matrix: FloatArray) -> FloatArray:
    """Give the triangular factor of a tall matrix, block by block of rows.

    Parameters
    ----------
    matrix : (N, P) float

    Returns
    -------
    (P, P) float
        R of matrix = Q R with orthonormal columns of Q.

    Notes
    -----
    Small blocks are faster than the whole: a linear algebra library would start threads for it.

    Source: J. Demmel, L. Grigori, M. Hoemmen, J. Langou, SIAM Journal on Scientific Computing 34
    (2012) A206-A239.
    """
    rows, columns = matrix.shape
    blocks = rows // _BLOCK
    if blocks > _FEW:
        whole = matrix[: blocks * _BLOCK].reshape(blocks, _BLOCK, columns)
        tops = np.asarray(np.linalg.qr(whole, mode="r")).reshape(-1, columns)
        return triangle(np.concatenate([tops, matrix[blocks * _BLOCK :]]))
    return np.asarray(np.linalg.qr(matrix, mode="r"))


def _damped(state: _State, damping: float) -> FloatArray:
    """Step in the singular directions, in scaled parameters."""
    return -state.along * state.singular / (state.singular**2 + damping)


def _damping(state: _State, radius: float) -> float:
    """Damping whose step just reaches the trust radius (Newton on 1/length; Moré 1978)."""
    if np.linalg.norm(_damped(state, 0.0)) <= radius:
        return 0.0
    weight = state.along * state.singular
    square = state.singular**2
    low, damping = 0.0, 0.0
    for _ in range(50):
        step = weight / (square + damping)
        length = float(np.linalg.norm(step))
        if damping > 0 and abs(length - radius) <= 0.1 * radius:
            break
        if length > radius:
            low = max(low, damping)
        slope = float(step @ (step / (square + damping))) / length
        damping = max(low, damping + (length / radius - 1) * length / slope)
    return damping


def _clipped(step: FloatArray, clip: FloatArray | None) -> FloatArray:
    if clip is None:
        return step
    excess = float(np.max(np.abs(step) / clip))
    return step / excess if excess > 1 else step


def _offset(state: _State) -> float:
    """Distance to the minimum in standard uncertainties (Bates and Watts 1981)."""
    size, count = state.residual.size, state.x.size
    variance = state.cost / max(size - count, 1)
    if variance == 0:
        return 0.0
    return float(np.sqrt(state.along @ state.along / count / variance))


def minimise(
    residual: Residual,
    jacobian: Residual,
    start: ArrayLike,
    *,
    clip: ArrayLike | None = None,
    iterations: int = 200,
    tolerance: float = 1e-6,
) -> Solution:
    """Minimise the sum of squared residuals from a start vector.

    Parameters
    ----------
    residual : callable
        Parameters (P,) to residuals (N,), real or complex; for complex ones the squared moduli
        are summed. A value that is not finite makes a step refused, so a function may return
        infinity outside its domain.
    jacobian : callable
        Parameters (P,) to the derivatives (N, P) of the residuals.
    start : (P,) float
    clip : (P,) float, optional
        Longest step of each parameter in one iteration; the whole step shrinks to fit.
    iterations : int
        Largest number of steps tried.
    tolerance : float
        Stop when the distance to the minimum is this fraction of a standard uncertainty.

    Returns
    -------
    Solution
        ``converged`` is False when the iterations ran out first.

    Raises
    ------
    FitError
        When the residuals at the start are not finite.

    Notes
    -----
    Each step minimises |r + J s| over |D s| <= radius, with D the largest column norms of J seen
    so far; the radius grows or shrinks with the ratio of achieved to predicted decrease.

    Source: J. J. Moré, "The Levenberg-Marquardt algorithm: implementation and theory", Lecture
    Notes in Mathematics 630 (1978) 105-116; stopping rule: D. M. Bates and D. G. Watts,
    Technometrics 23 (1981) 179-183.
    """
    x = np.array(start, dtype=np.float64)
    first = _flat(residual(x))
    if not np.isfinite(_cost(first)):
        raise FitError(
            "start values: the residuals there must be finite (got infinity or not a number).",
            hint="Start from values inside the domain of the model.",
        )
    state = _state(x, first, jacobian, None)
    limit = None if clip is None else np.broadcast_to(np.asarray(clip, float), x.shape)
    radius = _FIRST_RADIUS * (float(np.linalg.norm(state.scale * x)) or 1.0)
    count, converged = 0, False
    while count < iterations and not converged:
        converged = _offset(state) <= tolerance
        if not converged:
            count += 1
            state, radius, converged = _advance(state, radius, residual, jacobian, limit)
    return _solution(state, count, jacobian, converged=converged)


def _advance(
    state: _State,
    radius: float,
    residual: Residual,
    jacobian: Residual,
    clip: FloatArray | None,
) -> tuple[_State, float, bool]:
    """Try one step. Gives the state after it, the new radius, and whether nothing can improve."""
    damping = _damping(state, radius)
    step = _clipped(state.right.T @ _damped(state, damping) / state.scale, clip)
    trial = _flat(residual(state.x + step))
    cost = _cost(trial)
    inner = state.singular * (state.right @ (state.scale * step))
    predicted = -float(inner @ (2 * state.along + inner))
    length = float(np.linalg.norm(state.scale * step))
    still = length <= _EPSILON * float(np.linalg.norm(state.scale * state.x))
    rounding = predicted <= 8 * _EPSILON * state.cost and damping == 0
    gain = (state.cost - cost) / predicted if predicted > 0 and np.isfinite(cost) else -np.inf
    if gain < 0.25:
        radius = 0.25 * min(radius, length) if gain > -1 else 0.1 * min(radius, length)
    elif gain > 0.75:
        radius = max(radius, 2 * length)
    if gain > 1e-4 or (rounding and np.isfinite(cost)):
        state = _state(state.x + step, trial, jacobian, state.scale)
    return state, radius, still or rounding


def _solution(state: _State, count: int, jacobian: Residual, *, converged: bool) -> Solution:
    here = _state(state.x, state.residual, jacobian, None)
    inverse = (here.right.T / here.singular) / here.scale[:, None]
    return Solution(
        parameters=here.x,
        covariance=inverse @ inverse.T,
        residual=here.residual,
        cost=here.cost,
        dof=here.residual.size - here.x.size,
        iterations=count,
        offset=_offset(here),
        converged=converged,
    )
