"""Conversions between network parameters: laws, standard elements, scikit-rf."""

from __future__ import annotations

import numpy as np
import pytest
import skrf.network
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers.network import PORTS, impedance_of, open_circuit, scattering

REFERENCES = np.array([50.0, 75.0])
parts = st.complex_numbers(min_magnitude=1e-3, max_magnitude=1e6, allow_nan=False)


def series_s21(z, r):
    """S21 of an element in series between two ports of r (Pozar, table 4.1: ABCD 1 Z 0 1)."""
    return 2 * r / (2 * r + z)


def shunt_s21(z, r):
    """S21 of an element from the line to ground (ABCD 1 0 1/Z 1)."""
    return 2 * z / (2 * z + r)


def reflection(z, r):
    return (z - r) / (z + r)


FORWARD = {"reflection": reflection, "series-through": series_s21, "shunt-through": shunt_s21}


@pytest.mark.parametrize("port", PORTS)
@given(z=parts, r=st.floats(1.0, 600.0))
def test_an_impedance_survives_the_way_to_s_and_back(port, z, r):
    s = np.array([FORWARD[port](z, r)])
    if abs(1 - s[0]) > 1e-6 and abs(s[0]) > 1e-6:
        assert abs(impedance_of(s, port, r)[0] - z) < 1e-8 * abs(z)


@pytest.mark.parametrize(
    ("port", "ohm"), [("reflection", 150.0), ("series-through", 100.0), ("shunt-through", 25.0)]
)
def test_one_half_is_a_known_resistor(port, ohm):
    assert impedance_of(np.array([0.5 + 0j]), port, 50.0)[0] == pytest.approx(ohm)


@pytest.mark.parametrize("port", ["reflection", "shunt-through"])
def test_an_exact_open_is_not_finite(port):
    assert not np.isfinite(impedance_of(np.array([1.0 + 0j]), port, 50.0)[0])


def random_matrices(seed=3):
    rng = np.random.default_rng(seed)
    return rng.normal(size=(20, 2, 2)) * 60 + 1j * rng.normal(size=(20, 2, 2)) * 60


def test_impedance_and_admittance_give_the_s_of_scikit_rf():
    z = random_matrices()
    expected = skrf.network.z2s(z, REFERENCES)
    np.testing.assert_allclose(scattering("Z", z, REFERENCES), expected, rtol=1e-9)
    np.testing.assert_allclose(scattering("Y", np.linalg.inv(z), REFERENCES), expected, rtol=1e-9)


def test_hybrid_parameters_give_the_s_of_the_same_network():
    z = random_matrices()
    expected = skrf.network.z2s(z, REFERENCES)
    determinant = np.linalg.det(z)
    h = np.array([[determinant, z[:, 0, 1]], [-z[:, 1, 0], np.ones(20)]]) / z[:, 1, 1]
    h = np.moveaxis(h, 2, 0)
    np.testing.assert_allclose(scattering("H", h, REFERENCES), expected, rtol=1e-8)
    np.testing.assert_allclose(scattering("G", np.linalg.inv(h), REFERENCES), expected, rtol=1e-8)


def test_open_circuit_impedance_undoes_the_way_to_s():
    z = random_matrices()
    s = scattering("Z", z, REFERENCES)
    np.testing.assert_allclose(open_circuit(s, REFERENCES), z, rtol=1e-8)


def test_an_admittance_without_an_impedance_matrix_still_has_an_s():
    y = np.array([[[0.01, -0.01], [-0.01, 0.01]]], dtype=complex)
    s = scattering("Y", y, np.array([50.0, 50.0]))
    assert s[0, 1, 0] == pytest.approx(series_s21(100.0, 50.0))
    assert np.isnan(open_circuit(s, np.array([50.0, 50.0]))).all()


def test_points_that_are_not_finite_stay_so():
    z = random_matrices()
    z[3] = np.nan
    s = scattering("Z", z, REFERENCES)
    assert np.isnan(s[3]).all()
    assert np.isfinite(np.delete(s, 3, axis=0)).all()


def test_s_needs_no_conversion():
    s = random_matrices() / 100
    assert scattering("S", s, REFERENCES) is s
