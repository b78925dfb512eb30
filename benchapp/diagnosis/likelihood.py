"""Likelihood of what was seen under a family of explanations of different size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Judged", "judge_family", "within_reach"]

FloatArray = NDArray[np.float64]

_REACH = (10.83, 13.82, 16.27, 18.47, 20.52, 22.46)
"""Chi-square that one in a thousand exceeds, for 1 to 6 values. Source: NIST/SEMATECH e-Handbook
of Statistical Methods, 1.3.6.7.4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A family of explanations judged: its mean likelihood, and its best member.

    ``log_likelihood`` is that of the mean over the family; ``best`` the index of the member that
    fits best and ``chi_square`` its misfit.
    """

    log_likelihood: float
    best: int
    chi_square: float


def judge_family(seen: FloatArray, expected: FloatArray, covariance: FloatArray) -> Judged:
    """Judge a family of explanations, each size taken as equally frequent.

    Parameters
    ----------
    seen : (D,) float
        What was observed.
    expected : (K, D) float
        What each of K members of the family predicts.
    covariance : (D, D) or (K, D, D) float
        Of the observation under each.

    Returns
    -------
    Judged

    Notes
    -----
    log mean_k N(seen; expected_k, covariance_k), the marginal likelihood of the family.
    Source: H. Jeffreys, Theory of Probability, 3rd ed. 1961, ch. V (comparison of hypotheses by
    the integral over their parameters; from memory).
    """
    spread = np.broadcast_to(covariance, (expected.shape[0], seen.size, seen.size))
    off = seen - expected
    solved = np.linalg.solve(spread, off[:, :, None])[:, :, 0]
    chi = np.einsum("kd,kd->k", off, solved)
    weights = -0.5 * (chi + np.linalg.slogdet(2 * np.pi * spread)[1])
    best = int(np.argmax(weights))
    top = float(weights[best])
    mean = top + float(np.log(np.mean(np.exp(weights - top))))
    return Judged(log_likelihood=mean, best=best, chi_square=float(chi[best]))


def within_reach(chi_square: float, size: int) -> bool:
    """Tell whether a misfit of ``size`` values may be chance (99.9 %)."""
    return chi_square <= _REACH[min(size, len(_REACH)) - 1]
