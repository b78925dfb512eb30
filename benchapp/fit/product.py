"""Elements and derived quantities that are products of powers of elements, with uncertainty."""

from __future__ import annotations

import numpy as np

from benchapp.capture import FloatArray
from benchapp.circuit import Circuit

__all__ = ["products_of"]


def products_of(
    circuit: Circuit, values: FloatArray, slopes: FloatArray, covariance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give what `Circuit.powers` names, for one fit or many.

    Parameters
    ----------
    circuit : Circuit
    values : (..., P) float, SI units
        Of the elements.
    slopes : (..., P, Q) float
        d values / dq by the quantities q whose covariance is known: the coordinates of the
        fit, in which a sharp resonance costs no digits, or the elements themselves.
    covariance : (..., Q, Q) float

    Returns
    -------
    values : (..., K) float
        Negative where an element it is made of is not positive.
    u : (..., K) float
        Standard uncertainty: u(v)/v by the delta method on ln v.

    Notes
    -----
    Source: JCGM 100:2008 (GUM), 5.1.6 for products of powers, with 5.2.2 for correlation.
    """
    _, _, factors, exponents = circuit.powers
    with np.errstate(all="ignore"):
        relative = exponents @ (slopes / values[..., None])
        found = factors * np.exp(np.log(np.abs(values)) @ exponents.T)
        variance = ((relative @ covariance) * relative).sum(axis=-1)
        u = found * np.sqrt(np.maximum(variance, 0.0))
        bad = (values <= 0) @ (exponents != 0).T.astype(float) > 0
    return np.where(bad, -found, found), u
