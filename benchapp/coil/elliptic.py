"""Complete elliptic integrals by the arithmetic-geometric mean, without loss of digits."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["complete_integrals", "means"]

FloatArray = NDArray[np.float64]
_STEPS = 40
_CLOSE = 1e-9


def means(first: ArrayLike, second: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Arithmetic-geometric mean and the sum that the second kind of integral needs.

    Parameters
    ----------
    first, second : (...) float
        Positive; they broadcast.

    Returns
    -------
    mean : (...) float
        The common limit of a' = (a + b)/2, b' = sqrt(a b).
    excess : (...) float
        Sum over n >= 1 of 2^n c_n^2 with c_n = (a_{n-1} - b_{n-1})/2. All terms are positive,
        so that nothing cancels.

    Notes
    -----
    Source: NIST Digital Library of Mathematical Functions, 19.8(i). The half difference is
    carried as c_{n+1} = c_n^2/(4 a_{n+1}), which keeps its digits when a and b are nearly equal.
    """
    a, b = np.broadcast_arrays(np.asarray(first, float), np.asarray(second, float))
    half = 0.5 * (a - b)
    excess = np.zeros(a.shape)
    power = 1.0
    for _ in range(_STEPS):
        a, b = 0.5 * (a + b), np.sqrt(a * b)
        power *= 2.0
        excess = excess + power * half * half
        if np.all(np.abs(half) <= _CLOSE * a):
            break
        half = 0.25 * half * half / (0.5 * (a + b))
    return a, excess


def complete_integrals(complement: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Complete elliptic integrals K and E from the complementary modulus k'.

    Parameters
    ----------
    complement : (...) float
        k' = sqrt(1 - k^2), above 0 and at most 1. Given instead of k because close loops have
        k near 1, where k' holds the digits.

    Returns
    -------
    first : (...) float
        K(k).
    second : (...) float
        E(k).

    Notes
    -----
    Source: NIST Digital Library of Mathematical Functions, 19.8.5 and 19.8.6.
    """
    k1 = np.asarray(complement, float)
    mean, excess = means(1.0, k1)
    first = math.pi / (2.0 * mean)
    return first, first * (1.0 - 0.5 * ((1.0 - k1) * (1.0 + k1) + excess))
