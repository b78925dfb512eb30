"""Complete elliptic integrals by the arithmetic-geometric mean."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from benchapp.coil.elliptic import complete_integrals, means

COMPLEMENTS = np.concatenate([np.logspace(-12, -1, 60), np.linspace(0.1, 1.0, 60)])


def test_both_integrals_agree_with_scipy_from_nearly_touching_to_far_circles():
    first, second = complete_integrals(COMPLEMENTS)
    np.testing.assert_allclose(first, special.ellipkm1(COMPLEMENTS**2), rtol=1e-14)
    np.testing.assert_allclose(second, special.ellipe(1 - COMPLEMENTS**2), rtol=1e-14)


def test_at_modulus_zero_both_are_half_pi():
    first, second = complete_integrals(1.0)
    assert float(first) == pytest.approx(math.pi / 2, rel=1e-15)
    assert float(second) == pytest.approx(math.pi / 2, rel=1e-15)


@given(st.floats(0.001, 0.999))
def test_legendre_relation_holds(modulus):
    complement = math.sqrt(1 - modulus * modulus)
    k, e = (float(value) for value in complete_integrals(complement))
    k1, e1 = (float(value) for value in complete_integrals(modulus))
    # NIST Digital Library of Mathematical Functions, 19.7.1
    assert e * k1 + e1 * k - k * k1 == pytest.approx(math.pi / 2, rel=1e-13)


@given(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3))
def test_mean_lies_between_the_geometric_and_the_arithmetic_mean(a, b):
    mean = float(means(a, b)[0])
    assert math.sqrt(a * b) * (1 - 1e-14) <= mean <= (a + b) / 2 * (1 + 1e-14)


@given(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3), st.floats(1e-3, 1e3))
def test_mean_and_excess_scale_with_their_arguments(a, b, factor):
    mean, excess = means(a, b)
    scaled_mean, scaled_excess = means(factor * a, factor * b)
    assert float(scaled_mean) == pytest.approx(factor * float(mean), rel=1e-13)
    assert float(scaled_excess) == pytest.approx(factor**2 * float(excess), rel=1e-12, abs=0)


def test_excess_of_nearly_equal_numbers_keeps_its_digits():
    # Equal to first order: excess = 2 ((a - b)/2)^2 for a - b much smaller than a.
    assert float(means(1.0, 1.0 - 1e-7)[1]) == pytest.approx(2 * (0.5e-7) ** 2, rel=1e-6)


def test_arrays_broadcast():
    mean, excess = means(np.ones((3, 1)), np.full(4, 0.5))
    assert mean.shape == excess.shape == (3, 4)
    assert np.ptp(mean) == 0
