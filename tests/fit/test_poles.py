"""Poles and residues of a sum of resonances are found again."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.fit.poles import Resonances, fit_poles, peak_places, polynomials
from tests.fit.simulated import circular

Y = np.geomspace(0.3, 3, 301)
POLES = np.array([-0.01 + 0.8j, -0.02 + 1.5j])
RESIDUES = np.array([0.5 + 0.02j, 0.8 - 0.05j])


def resonances(rest=()):
    """Two known resonances and a rest."""
    return Resonances(poles=POLES, residues=RESIDUES, rest=np.array(rest, dtype=float), cost=0.0)


@pytest.mark.parametrize("rest", [(), (0.3,), (0.3, 0.7)])
def test_exact_resonances_are_found_again(rest):
    z = resonances(rest).impedance(Y)
    start = np.array([-0.01 + 0.5j, -0.01 + 2.0j])
    found = fit_poles(Y, z, 1 / np.abs(z), start, rest=len(rest))
    np.testing.assert_allclose(found.poles, POLES, rtol=1e-8)
    np.testing.assert_allclose(found.residues, RESIDUES, rtol=1e-6)
    np.testing.assert_allclose(found.rest, rest, rtol=1e-6)
    assert found.cost < 1e-12


def test_with_noise_the_cost_is_that_of_the_noise():
    z = resonances().impedance(Y)
    noisy = z * (1 + 0.01 * circular(Y.size))
    found = fit_poles(Y, noisy, 1 / np.abs(noisy), np.array([-0.01 + 0.5j, -0.01 + 2.0j]))
    assert found.cost == pytest.approx(Y.size * 1e-4, rel=0.2)


def test_poles_stay_in_the_left_half_plane():
    z = resonances().impedance(Y) * (1 + 0.3 * circular(Y.size))
    found = fit_poles(Y, z, 1 / np.abs(z), np.array([-0.01 + 0.5j, -0.01 + 2.0j]))
    assert np.all(found.poles.real <= 0)
    assert np.all(found.poles.imag >= 0)


def test_the_ratio_of_polynomials_is_the_sum_of_resonances():
    above, below = polynomials(resonances())
    s = 1j * Y
    ratio = np.polynomial.polynomial.polyval(s, above) / np.polynomial.polynomial.polyval(s, below)
    np.testing.assert_allclose(ratio, resonances().impedance(Y), rtol=1e-12)
    assert below[0] == 1.0


def test_peaks_are_found_by_prominence():
    z = resonances().impedance(Y)
    places = peak_places(z, 2)
    np.testing.assert_allclose(Y[places], [0.8, 1.5], rtol=0.01)
    assert len(peak_places(z, 1)) == 1
    assert peak_places(np.linspace(1, 2, 20) + 0j, 3) == []
