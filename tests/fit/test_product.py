"""Products of powers carry the uncertainty of their elements."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from benchapp.fit.product import products_of

VALUES = np.array([1e-3, 1e-9, 10.0])


def test_independent_relative_uncertainties_add_as_the_formula_says():
    relative = np.array([0.01, 0.02, 0.03])
    covariance = np.diag((VALUES * relative) ** 2)
    made, u = products_of(CIRCUITS["tank"], VALUES, np.eye(3), covariance)
    np.testing.assert_allclose(made[:3], VALUES)
    np.testing.assert_allclose(u[:3], VALUES * relative)
    half = np.hypot(0.005, 0.01)
    assert made[3] == pytest.approx(159154.943091895336)
    assert u[3] / made[3] == pytest.approx(half)
    assert made[4] == pytest.approx(100.0)
    assert u[4] / made[4] == pytest.approx(np.hypot(half, 0.03))


def test_correlation_counts():
    # L and C that only trade off against each other leave f0 known exactly
    step = VALUES * np.array([0.01, -0.01, 0.0])
    _, u = products_of(CIRCUITS["tank"], VALUES, np.eye(3), np.outer(step, step))
    assert u[3] < 1e-9 * 159e3
    assert u[0] == pytest.approx(1e-5)


def test_slopes_carry_coordinates_to_values():
    circuit, scale = CIRCUITS["tank"], 1e6
    values, slopes = circuit.decode(circuit.encode(VALUES, scale), scale)
    spread = np.diag([1e-6, 4e-6, 9e-6])
    by_point = products_of(circuit, values, slopes, spread)
    by_value = products_of(circuit, values, np.eye(3), slopes @ spread @ slopes.T)
    np.testing.assert_allclose(by_point[1], by_value[1], rtol=1e-9)


def test_a_sharp_resonance_keeps_the_digits_of_its_frequency():
    circuit, scale = CIRCUITS["tank"], 1e6
    values, slopes = circuit.decode(circuit.encode(VALUES, scale), scale)
    spread = np.diag([1e-6, 1e-20, 1e-6])  # level to 0.1 %, resonance to 1e-10
    made, u = products_of(circuit, values, slopes, spread)
    p = circuit.encode(VALUES, scale)
    assert u[3] / made[3] == pytest.approx(0.5e-10 / p[1], rel=1e-6)


def test_a_product_of_a_negative_element_is_marked_by_its_sign():
    made, _ = products_of(CIRCUITS["tank"], VALUES * [1, -1, 1], np.eye(3), np.eye(3) * 1e-30)
    assert made[0] > 0
    assert made[1] < 0
    assert made[3] < 0


def test_many_fits_are_worked_as_each_alone():
    rows = np.stack([VALUES, 2 * VALUES])
    covariance = np.stack([np.diag((0.01 * row) ** 2) for row in rows])
    slopes = np.stack([np.eye(3)] * 2)
    made, u = products_of(CIRCUITS["tank"], rows, slopes, covariance)
    for k in range(2):
        alone = products_of(CIRCUITS["tank"], rows[k], slopes[k], covariance[k])
        np.testing.assert_allclose(made[k], alone[0])
        np.testing.assert_allclose(u[k], alone[1])
