"""From start values to the optimum: Gauss-Newton steps, and a trust region where they fail.

The weights depend on the model, and are held constant within a step: the point where the steps
end solves sum Re(G* r) = 0, which has no bias from the noise in the weights.
Source: R. W. M. Wedderburn, "Quasi-likelihood functions, generalized linear models, and the
Gauss-Newton method", Biometrika 61 (1974) 439-447.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit.model import Kernel
from benchapp.errors import FitError
from benchapp.fit.honesty import whiteness
from benchapp.fit.least_squares import minimise
from benchapp.fit.noise import View

__all__ = ["ROUNDING", "Optimum", "polish", "refine"]

ROUNDING = 1e-24
"""Squared relative residual of exact data, generously."""

_STEPS = 20
_NEAR = 1e-5  # of a standard uncertainty: the optimum is reached
_FOLLOWED = 4
_CLOSE = 0.1  # of a standard uncertainty: Gauss-Newton will reach it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Optimum:
    """Where a fit ended, in its coordinates.

    ``point`` (P,); ``covariance`` (P, P); ``variance`` per real component of the residual;
    ``residual`` (N,) in the domain of the noise; ``model`` (N,) ohm; ``slopes`` (P, N) of the
    model in that domain; ``offset`` from the optimum as a fraction of a standard uncertainty;
    ``exact`` where the residuals are rounding alone.
    """

    point: FloatArray
    covariance: FloatArray
    variance: float
    residual: ComplexArray
    model: ComplexArray
    slopes: ComplexArray
    dof: int
    offset: float
    exact: bool = False

    @property
    def converged(self) -> bool:
        """Whether the optimum was reached."""
        return self.offset <= _CLOSE


def _real(values: ComplexArray) -> FloatArray:
    flat: FloatArray = np.ascontiguousarray(values).view(np.float64)
    return flat


def _inverse(hessian: FloatArray) -> FloatArray:
    """Invert after scaling to a unit diagonal; a direction without slope gets a huge variance."""
    scale = np.sqrt(np.maximum(hessian.diagonal(), 1e-300))
    values, vectors = np.linalg.eigh(hessian / np.outer(scale, scale))
    values = np.maximum(values, 1e-15 * scale.size)
    half = vectors / np.sqrt(values) / scale[:, None]
    inverse: FloatArray = half @ half.T
    return inverse


def _look(kernel: Kernel, y: FloatArray, view: View, point: FloatArray) -> Optimum | None:
    """Evaluate everything at a point; None where the model is not finite there."""
    model, slopes = kernel(y, point)
    residual, weighted = view.weigh(model, slopes)
    flat, right = _real(weighted), _real(residual)
    hessian, gradient = flat @ flat.T, flat @ right
    if not (np.isfinite(hessian).all() and np.isfinite(gradient).all()):
        return None
    inverse = _inverse(hessian)
    dof = max(right.size - point.size, 1)
    variance = float(right @ right) / dof
    decrement = float(gradient @ inverse @ gradient)
    rounding = ROUNDING * view.power(model)
    offset = math.sqrt(max(decrement, 0.0) / (max(variance, rounding) * point.size))
    return Optimum(
        point=point,
        covariance=inverse * variance,
        variance=variance,
        residual=residual,
        model=model,
        slopes=weighted,
        dof=dof,
        offset=offset,
        exact=variance <= rounding,
    )


def polish(kernel: Kernel, y: FloatArray, view: View, point: FloatArray) -> Optimum | None:
    """Take Gauss-Newton steps until the optimum is reached.

    Parameters
    ----------
    kernel : callable
        (y, p) -> Z (N,), d ln Z / dp (P, N).
    y : (N,) float
    view : View
    point : (P,) float
        Start coordinates.

    Returns
    -------
    Optimum or None
        None where the steps left the domain of the model.
    """
    with np.errstate(all="ignore"):
        here = _look(kernel, y, view, point)
        for _ in range(_STEPS):
            if here is None or here.offset <= _NEAR:
                break
            gradient = _real(here.slopes) @ _real(here.residual)
            step = here.covariance @ gradient / here.variance
            after = _look(kernel, y, view, here.point + np.clip(step, -1.0, 1.0))
            if after is not None and after.offset > max(here.offset, 1e3):
                return here
            here = after
    return here


def _descend(kernel: Kernel, y: FloatArray, view: View, point: FloatArray) -> FloatArray:
    """Go down to a minimum in a trust region, from anywhere."""

    def residual(p: FloatArray) -> ComplexArray:
        model, slopes = kernel(y, p)
        return view.far(model, slopes)[0]

    def jacobian(p: FloatArray) -> ComplexArray:
        model, slopes = kernel(y, p)
        return -view.far(model, slopes)[1].T

    return minimise(residual, jacobian, point, iterations=100, tolerance=1e-2).parameters


def refine(
    kernel: Kernel, y: FloatArray, view: View, candidates: Iterable[FloatArray]
) -> Optimum | None:
    """Go from start values to the optimum.

    The first candidate is polished directly. Only where that fails, or leaves residuals with
    structure, are the others looked at: the few with the lowest cost are followed down in a
    trust region, and the best end kept.
    """
    rest = iter(candidates)
    first = next(rest)
    best = polish(kernel, y, view, first)
    if best is not None and best.converged and (best.exact or whiteness(best.residual).describes):
        return best
    others = list(rest)
    if best is not None and best.converged and not others:
        return best
    tried = sorted([first, *others], key=lambda point: _cost(kernel, y, view, point))
    for candidate in tried[:_FOLLOWED]:
        with np.errstate(all="ignore"):
            try:
                end = _descend(kernel, y, view, candidate)
            except (FitError, np.linalg.LinAlgError):
                continue
        found = polish(kernel, y, view, end)
        if found is not None and (best is None or _better(found, best)):
            best = found
    return best


def _cost(kernel: Kernel, y: FloatArray, view: View, point: FloatArray) -> float:
    with np.errstate(all="ignore"):
        residual = view.far(*kernel(y, point))[0]
        cost = float(np.vdot(residual, residual).real)
    return cost if np.isfinite(cost) else np.inf


def _better(one: Optimum, other: Optimum) -> bool:
    if one.converged != other.converged:
        return one.converged
    return one.variance < other.variance
