"""Every quantity a design may limit, from its formula and with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from benchapp.errors import FitError
from benchapp.fit import curve, fit, quantity
from benchapp.fit.quantity import QUANTITIES, circuit_of
from tests.fit.simulated import GRID, VALUES, exact, simulated, truth

FITS = {name: fit(simulated(name, sigma=1e-4), name) for name in VALUES}
AT = 134.2e3
W = 2 * math.pi * AT


def value(name, what, at=None):
    """Value of a quantity of a nearly exact fit."""
    found = quantity(FITS[name], what, at)
    return None if found is None else found.value


@pytest.mark.parametrize("name", ["series-rlc", "tank"])
def test_resonance_quantities_of_a_series_loss(name):
    assert value(name, "Z_tank") == pytest.approx(1000.0, rel=1e-3)
    assert value(name, "Q") == pytest.approx(100.0, rel=1e-2)
    assert value(name, "D") == pytest.approx(0.01, rel=1e-2)
    assert value(name, "f0") == pytest.approx(159154.943, rel=1e-4)
    assert value(name, "BW") == pytest.approx(1591.54943, rel=1e-2)
    assert value(name, "SRF") == value(name, "f0")


def test_quality_of_a_parallel_circuit_is_resistance_over_reactance():
    assert value("parallel-rlc", "Q") == pytest.approx(1e5 / 1000, rel=1e-2)
    assert value("parallel-rlc", "Q", AT) == pytest.approx(1e5 / (W * 1e-3), rel=1e-2)


@pytest.mark.parametrize("name", ["series-rlc", "tank", "inductor"])
def test_at_a_frequency_q_is_the_coils(name):
    element = truth(name)
    expected = W * element["L"] / element["R"]
    assert value(name, "Q", AT) == pytest.approx(expected, rel=1e-2)
    assert value(name, "D", AT) == pytest.approx(1 / expected, rel=1e-2)
    assert value(name, "ESR", AT) == pytest.approx(element["R"], rel=1e-2)


def test_the_resistance_of_a_coil_grows_with_the_root_of_frequency():
    resistance = 5.0 + 0.05 * math.sqrt(AT)
    assert value("coil", "ESR", AT) == pytest.approx(resistance, rel=1e-2)
    assert value("coil", "Q", AT) == pytest.approx(W * 1e-3 / resistance, rel=1e-2)
    assert value("coil", "DCR") == pytest.approx(5.0, rel=2e-2)
    assert value("coil", "Q") is None


def test_a_capacitor_has_a_dissipation_factor():
    assert value("capacitor", "D", AT) == pytest.approx(W * 1e-9 * 10.0, rel=1e-2)
    assert value("capacitor", "Q", AT) == pytest.approx(1 / (W * 1e-8), rel=1e-2)
    assert value("capacitor", "ESR") == pytest.approx(10.0, rel=1e-2)


@pytest.mark.parametrize("name", VALUES)
def test_magnitude_and_phase_are_those_of_the_impedance(name):
    z = exact(name, frequency=np.array([AT]))[0]
    assert value(name, "|Z|", AT) == pytest.approx(abs(z), rel=1e-3)
    degrees = math.degrees(math.atan2(z.imag, z.real))
    assert value(name, "theta", AT) == pytest.approx(degrees, abs=0.02)
    assert value(name, "|Z|") is None


def test_the_esr_of_a_parallel_circuit_is_that_of_its_lossy_coil():
    both = 1e5 * 1j * W * 1e-3 / (1e5 + 1j * W * 1e-3)
    assert value("parallel-rlc", "ESR", AT) == pytest.approx(both.real, rel=1e-2)
    at_resonance = value("parallel-rlc", "ESR", 159154.943)
    assert value("parallel-rlc", "ESR") == pytest.approx(at_resonance, rel=1e-3)


@pytest.mark.parametrize("name", VALUES)
@pytest.mark.parametrize("what", QUANTITIES)
def test_uncertainty_follows_from_the_covariance(name, what):
    # against a thousand draws from the covariance, for every quantity of every circuit
    result = FITS[name]
    found = quantity(result, what, AT)
    if found is None:
        return
    rng = np.random.default_rng(3)
    drawn = rng.multivariate_normal(np.zeros(len(result.values)), np.eye(len(result.values)), 400)
    scale = np.sqrt(result.covariance.diagonal())
    root = np.linalg.cholesky(
        result.covariance / np.outer(scale, scale) + 1e-13 * np.eye(scale.size)
    )
    values = [
        quantity(replace(result, values=result.values + scale * (root @ row)), what, AT).value
        for row in drawn
    ]
    tiny = 1e-6 * abs(found.value)  # what the added 1e-13 costs
    assert found.u == pytest.approx(np.std(values), rel=0.15, abs=tiny)


def test_a_quantity_the_data_do_not_determine_is_none():
    far_below = fit(simulated("tank", frequency=np.geomspace(1e2, 1e3, 101)), "tank")
    assert quantity(far_below, "C") is None
    assert quantity(far_below, "f0") is None
    assert quantity(far_below, "L").value == pytest.approx(1e-3, rel=0.01)


def test_a_circuit_without_the_quantity_has_none():
    assert value("inductor", "f0") is None
    assert value("inductor", "C") is None
    assert value("capacitor", "DCR") is None
    assert value("tank", "nonsense") is None


@pytest.mark.parametrize("name", VALUES)
def test_the_curve_is_the_fitted_circuit_on_any_grid(name):
    result = FITS[name]
    np.testing.assert_allclose(curve(result, GRID), result.fitted, rtol=1e-9)
    np.testing.assert_allclose(
        curve(result, [AT]), exact(name, frequency=np.array([AT])), rtol=1e-3
    )
    assert circuit_of(result) is CIRCUITS[name]


def test_a_fit_of_no_impedance_has_no_curve():
    with pytest.raises(
        FitError, match=r"curve: the fit must be one of an impedance \(got ring-down\)"
    ):
        curve(replace(FITS["tank"], circuit="ring-down"), GRID)


def test_other_fits_give_what_they_found():
    other = replace(FITS["tank"], circuit="ring-down")
    assert quantity(other, "Q") is other.estimates["Q"]
    assert quantity(other, "L2") is None


def test_a_loss_of_nothing_gives_no_quality_and_no_crash():
    bare = replace(FITS["inductor"], values=np.array([1e-3, 0.0]))
    assert quantity(bare, "Q", AT) is None
