"""Propagation of uncertainty with correlations, coverage, effective degrees of freedom.

Source of all formulas here unless stated: JCGM 100:2008 (GUM), Guide to the expression of
uncertainty in measurement.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import QuantityError
from benchapp.units import Estimate

__all__ = [
    "correlation",
    "effective_dof",
    "expanded",
    "from_readings",
    "gradient",
    "propagate",
    "student_coverage",
]

FloatArray = NDArray[np.float64]
Function = Callable[[FloatArray], ArrayLike]

_STEP = float(np.finfo(np.float64).eps) ** 0.2  # least error of a five-point difference


def gradient(function: Function, values: ArrayLike, scale: ArrayLike | None = None) -> FloatArray:
    """Differentiate ``function`` at ``values`` by five-point central differences.

    Parameters
    ----------
    function : callable
        (P,) to a number or to (M,).
    values : (P,) float
    scale : (P,) float, optional
        Size over which each value matters (its standard uncertainty), used for values near zero.

    Returns
    -------
    (M, P) float

    Notes
    -----
    f' = (f(x - 2h) - 8 f(x - h) + 8 f(x + h) - f(x + 2h)) / 12h, error of order h**4.
    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 10th printing, 25.3.6
    (first derivative from five points).
    """
    x = np.asarray(values, dtype=np.float64)
    width = np.zeros_like(x) if scale is None else np.asarray(scale, dtype=np.float64)
    size = np.maximum(np.abs(x), width)
    steps = _STEP * np.where(size > 0, size, 1.0)
    columns = []
    for index, step in enumerate(steps):
        points = x + step * np.outer((-2.0, -1.0, 1.0, 2.0), np.eye(x.size)[index])
        f = [np.atleast_1d(np.asarray(function(point), dtype=np.float64)) for point in points]
        with np.errstate(invalid="ignore"):
            columns.append((f[0] - 8 * f[1] + 8 * f[2] - f[3]) / (12 * step))
    return np.stack(columns, axis=1)


def propagate(
    function: Function,
    values: ArrayLike,
    covariance: ArrayLike,
    *,
    jacobian: Function | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Propagate values and their covariance through a function, to first order.

    Parameters
    ----------
    function : callable
        (P,) to a number or to (M,).
    values : (P,) float
    covariance : (P, P) float
    jacobian : callable, optional
        (P,) to (M, P); without it differences are taken.

    Returns
    -------
    results : (M,) float
    covariance : (M, M) float
        U_y = C U_x C', with C the sensitivity coefficients.

    Raises
    ------
    QuantityError
        When the covariance does not fit the values, or the function is not finite there.

    Notes
    -----
    Source: JCGM 100:2008, 5.2.2, equation (13), for several results H.2.3 and (H.9).
    """
    x = np.asarray(values, dtype=np.float64)
    spread = np.asarray(covariance, dtype=np.float64)
    if spread.shape != (x.size, x.size):
        raise QuantityError(
            f"covariance: must have {x.size} rows and columns (got shape {spread.shape}).",
            hint="Give one row and one column for each value.",
        )
    results = np.atleast_1d(np.asarray(function(x), dtype=np.float64))
    if jacobian is None:
        sensitivity = gradient(function, x, np.sqrt(np.abs(spread.diagonal())))
    else:
        sensitivity = np.atleast_2d(np.asarray(jacobian(x), dtype=np.float64))
    if not (np.isfinite(results).all() and np.isfinite(sensitivity).all()):
        raise QuantityError(
            f"propagated value: must be finite near the values given (got {results.tolist()}).",
            hint="The quantity has no meaning there: leave it undetermined.",
        )
    return results, sensitivity @ spread @ sensitivity.T


def from_readings(readings: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Give means and their covariance from repeated readings taken together.

    Parameters
    ----------
    readings : (K, P) float
        K repetitions of P quantities; readings in one row belong together.

    Returns
    -------
    means : (P,) float
    covariance : (P, P) float
        Of the means, with K - 1 degrees of freedom.

    Raises
    ------
    QuantityError
        With fewer than two repetitions.

    Notes
    -----
    Source: JCGM 100:2008, 4.2.3 equation (5) and 5.2.3 equation (17).
    """
    table = np.asarray(readings, dtype=np.float64)
    if table.ndim != 2 or table.shape[0] < 2:
        raise QuantityError(
            f"readings: must be at least two repetitions in rows (got shape {table.shape}).",
            hint="One reading says nothing about its spread: repeat the measurement.",
        )
    deviation = table - table.mean(axis=0)
    count = table.shape[0]
    return table.mean(axis=0), deviation.T @ deviation / (count * (count - 1))


def correlation(covariance: ArrayLike) -> FloatArray:
    """Give correlation coefficients (P, P) from a covariance.

    A quantity without variance (a fixed element) is correlated with nothing.

    Notes
    -----
    Source: JCGM 100:2008, 5.2.2 equation (14).
    """
    spread = np.asarray(covariance, dtype=np.float64)
    u = np.sqrt(np.maximum(spread.diagonal(), 0.0))
    scale = np.outer(u, u)
    result = np.divide(spread, scale, out=np.zeros_like(spread), where=scale > 0)
    np.fill_diagonal(result, 1.0)
    return np.asarray(np.clip(result, -1.0, 1.0))


def expanded(estimate: Estimate, coverage: float) -> float | None:
    """Give U = coverage * u, None where the uncertainty is unknown.

    Notes
    -----
    Source: JCGM 100:2008, 6.2.1 equation (18).
    """
    return None if estimate.u is None else coverage * estimate.u


def effective_dof(contributions: Sequence[float], dof: Sequence[float]) -> float:
    """Give the effective degrees of freedom of a sum of independent contributions.

    Parameters
    ----------
    contributions : sequence of float
        Standard uncertainties in the unit of the result.
    dof : sequence of float
        Degrees of freedom of each, infinite where it is exactly known.

    Returns
    -------
    float
        u**4 / sum(u_i**4 / dof_i) (Welch and Satterthwaite); infinite where nothing limits it.

    Notes
    -----
    Source: JCGM 100:2008, G.4.1 equation (G.2b).
    """
    combined = math.fsum(u**2 for u in contributions)
    limited = math.fsum(u**4 / free for u, free in zip(contributions, dof, strict=True))
    return combined**2 / limited if limited > 0 else math.inf


def student_coverage(dof: float, level: float = 0.9545) -> float:
    """Give the coverage factor k for a level of confidence with few degrees of freedom.

    Parameters
    ----------
    dof : float
        Effective degrees of freedom, infinity included.
    level : float
        Probability inside value ± k u; 0.9545 gives k = 2 for many degrees of freedom.

    Returns
    -------
    float

    Raises
    ------
    QuantityError
        When the level is not between 0 and 1 or there is no degree of freedom.

    Notes
    -----
    Source: JCGM 100:2008, G.3.2 and table G.2 (Student's distribution).
    """
    if not 0 < level < 1 or not dof > 0:
        raise QuantityError(
            f"coverage: needs a level between 0 and 1 and degrees of freedom above 0 "
            f"(got {level!r} and {dof!r}).",
            hint="Take more points or repetitions.",
        )
    from scipy.special import ndtri, stdtrit  # start-up: scipy only when needed

    tail = (1 + level) / 2
    return float(ndtri(tail) if math.isinf(dof) else stdtrit(dof, tail))
