"""What a person is told about a fit."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Noise, Sweep
from benchapp.fit import fit
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated


@pytest.mark.parametrize("name", VALUES)
def test_residuals_are_in_units_of_their_standard_uncertainty(name):
    result = fit(simulated(name), name)
    parts = result.residual.view(float)
    assert np.sum(parts**2) == pytest.approx(result.dof, rel=1e-3)
    assert result.noise == pytest.approx(0.003, rel=0.15)
    np.testing.assert_allclose(result.fitted, exact(name), rtol=0.01)


def test_residuals_of_points_not_used_are_given_too():
    result = fit(simulated("tank"), "tank", band=(60e3, 300e3))
    outside = (GRID < 60e3) | (GRID > 300e3)
    assert np.array_equal(~result.used, outside)
    assert result.set_aside == tuple(np.flatnonzero(outside))
    assert np.std(result.residual[outside].view(float)) == pytest.approx(1.0, rel=0.2)


def test_residuals_of_points_not_used_follow_the_noise_found():
    z = exact("tank") + 3.0 * circular(GRID.size)
    result = fit(Sweep(frequency=GRID, impedance=z), "tank", band=(60e3, 300e3))
    outside = ~result.used
    assert np.std(result.residual[outside].view(float)) == pytest.approx(1.0, rel=0.25)


def test_what_is_not_determined_is_named_and_absent():
    result = fit(simulated("tank", frequency=np.geomspace(1e2, 1e3, 101)), "tank")
    assert set(result.undetermined) == {"C", "f0", "Q"}
    assert set(result.estimates) == {"L", "R"}
    remark = next(entry for entry in result.remarks if entry.name == "undetermined")
    assert "does not determine C, f0, Q" in remark.text
    assert "30%" in remark.text


def test_a_circuit_that_does_not_describe_the_data_says_which_to_try():
    z = exact("coil", (1e-3, 1e-9, 5.0, 0.1)) * (1 + 0.001 * circular(GRID.size))
    result = fit(Sweep(frequency=GRID, impedance=z), "tank")
    assert not result.describes
    assert result.converged
    remark = next(entry for entry in result.remarks if entry.name == "misfit")
    assert "follow one another" in remark.text
    assert "The circuit coil (a coil with skin effect" in remark.text


def test_more_noise_than_the_instrument_has_is_a_misfit():
    quiet = Noise(kind="relative", level=0.002)
    result = fit(simulated("tank", noise=quiet), "tank")
    assert not result.describes
    assert any("the instrument's noise" in remark.text for remark in result.remarks)
    assert fit(simulated("tank", noise=Noise(kind="relative", level=0.003)), "tank").describes


@pytest.mark.parametrize("name", VALUES)
def test_a_hopeless_sweep_is_an_answer_and_no_error(name):
    rng = np.random.default_rng(8)
    z = np.exp(3 * rng.normal(size=60)) * np.exp(6.3j * rng.random(60))
    result = fit(Sweep(frequency=np.geomspace(1e3, 1e6, 60), impedance=z), name)
    assert not (result.describes and result.noise < 0.3)
    assert set(result.estimates) | set(result.undetermined)


@pytest.mark.parametrize("z", [0j, 1e-300 + 0j, 50 + 0j, 1e300 + 0j])
@pytest.mark.parametrize("name", ["auto", *VALUES])
def test_a_constant_sweep_is_an_answer_and_no_error(name, z):
    sweep = Sweep(frequency=np.geomspace(1e3, 1e6, 30), impedance=np.full(30, z))
    result = fit(sweep, name)
    assert result.kind == "sweep"
    assert not result.describes or np.isfinite(result.noise)


def test_a_fit_that_did_not_settle_says_so():
    sweep = Sweep(frequency=np.geomspace(1e3, 1e6, 30), impedance=np.zeros(30, dtype=complex))
    result = fit(sweep, "tank")
    assert not result.converged
    assert not result.describes
    assert any(remark.name == "not-converged" for remark in result.remarks)


def test_exact_data_give_exact_values_and_no_fault():
    for name in VALUES:
        result = fit(Sweep(frequency=GRID, impedance=exact(name)), name)
        assert result.converged
        np.testing.assert_allclose(result.values, VALUES[name], rtol=1e-8)
        assert result.noise < 1e-9
