"""A sweep in, a fit out: against outside truth and other solvers."""

from __future__ import annotations

import lmfit
import numpy as np
import pytest
from scipy.optimize import curve_fit

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS, EXTENDED
from benchapp.errors import FitError
from benchapp.fit import curve, fit, quantity
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated
from tests.truth.spice import PRINTED, SWEEPS, load


@pytest.mark.parametrize("name", SWEEPS)
def test_what_a_circuit_simulator_solved_is_found_again(name):
    solved = load(name)
    result = fit(Sweep(frequency=solved.x, impedance=solved.y), solved.circuit)
    assert result.converged
    assert result.noise < 10 * PRINTED
    for element, value in solved.elements.items():
        if element in result.estimates:
            estimate = result.estimates[element]
            assert estimate.value == pytest.approx(value, rel=1e-6, abs=6 * estimate.u)
    assert set(solved.elements) - set(result.estimates) <= {"Rac"}  # absent from the netlist


@pytest.mark.parametrize("name", [name for name in SWEEPS if name != "coupled_pair"])
def test_what_a_circuit_simulator_solved_is_recognised_in_noise(name):
    solved = load(name)
    noise = 1 + 0.001 * circular(solved.x.size)
    chosen = fit(Sweep(frequency=solved.x, impedance=solved.y * noise)).circuit
    same = {"capacitor": "series-rlc", "coil": "tank"}  # no skin effect in a netlist
    assert same.get(chosen, chosen) == same.get(solved.circuit, solved.circuit)


USED61 = np.ones(61, dtype=bool)


def logarithm(circuit):
    """Model of scipy and lmfit: real and imaginary part of ln Z over ln elements."""

    def model(frequency, *logs):
        ln_z = np.log(circuit.impedance(frequency, np.exp(logs)))
        return np.concatenate((ln_z.real, ln_z.imag))

    return model


@pytest.mark.parametrize("name", VALUES)
def test_scipy_started_at_the_truth_agrees(name):
    sweep = simulated(name, noise=Noise(kind="relative"))
    result = fit(sweep, name)
    ln_z = np.log(sweep.impedance)
    best, covariance = curve_fit(
        logarithm(CIRCUITS[name]),
        sweep.frequency,
        np.concatenate((ln_z.real, ln_z.imag)),
        np.log(VALUES[name]),
        ftol=1e-13,
        xtol=1e-13,
    )
    u = np.sqrt(result.covariance.diagonal())
    np.testing.assert_allclose(result.values / u, np.exp(best) / u, atol=0.03)
    np.testing.assert_allclose(u, np.exp(best) * np.sqrt(covariance.diagonal()), rtol=0.03)


@pytest.mark.parametrize("name", ["tank", "coil"])
def test_lmfit_started_at_the_truth_agrees(name):
    sweep = simulated(name, noise=Noise(kind="relative"))
    result = fit(sweep, name)
    parameters = lmfit.Parameters()
    for element, value in zip(CIRCUITS[name].elements, VALUES[name], strict=True):
        parameters.add(element, value=np.log(value))

    def residual(current):
        logs = [current[element].value for element in CIRCUITS[name].elements]
        z = CIRCUITS[name].impedance(sweep.frequency, np.exp(logs))
        return np.log(sweep.impedance / z).view(float)

    found = lmfit.minimize(residual, parameters)
    for element in CIRCUITS[name].elements:
        estimate, other = result.estimates[element], found.params[element]
        assert estimate.value == pytest.approx(np.exp(other.value), abs=0.1 * estimate.u)
        assert estimate.u == pytest.approx(np.exp(other.value) * other.stderr, rel=0.03)


def test_only_points_within_the_band_are_used():
    result = fit(simulated("tank"), "tank", band=(1e5, 2e5))
    assert np.array_equal(result.used, (GRID >= 1e5) & (GRID <= 2e5))
    assert result.estimates["L"].value == pytest.approx(1e-3, rel=0.01)


def test_points_a_person_sets_aside_are_not_used():
    result = fit(simulated("tank"), "tank", set_aside=(3, 5))
    assert result.set_aside == (3, 5)


def test_points_without_an_impedance_are_left_out_and_named():
    z = simulated("tank").impedance.copy()
    z[[10, 11]] = [0.0, 1e30]
    result = fit(Sweep(frequency=GRID, impedance=z), "tank")
    assert result.set_aside == (10, 11)
    assert result.describes
    remark = next(entry for entry in result.remarks if entry.name == "no-impedance")
    assert remark.points == (10, 11)


def test_an_unknown_circuit_is_refused_with_the_known_ones():
    with pytest.raises(FitError, match=r"circuit: must be one of auto, .*tank.* \(got triangle\)"):
        fit(simulated("tank"), "triangle")


def test_the_order_of_magnitude_does_not_matter():
    # the same sweep in milliohm and gigahertz gives scaled values
    sweep = simulated("tank")
    scaled = Sweep(frequency=sweep.frequency * 1e4, impedance=sweep.impedance * 1e-3)
    one, other = fit(sweep, "tank"), fit(scaled, "tank")
    factor = np.array([1e-7, 1e-1, 1e-3])
    np.testing.assert_allclose(other.values, one.values * factor, rtol=1e-9)


CORE = EXTENDED["coil"].impedance(GRID, np.array([1e-3, 1e-9, 5.0, 0.05, 2e5]))
LOSSY = Sweep(frequency=GRID, impedance=CORE * (1 + 0.001 * circular(GRID.size)))


@pytest.mark.parametrize("circuit", ["coil", "auto"])
def test_core_loss_is_added_to_a_coil_where_the_data_ask_for_it(circuit):
    result = fit(LOSSY, circuit)
    assert result.circuit == "coil"
    assert result.elements == ("L", "C", "Rdc", "Rac", "Rcore")
    assert result.describes
    assert result.estimates["Rcore"].value == pytest.approx(
        2e5, abs=4 * result.estimates["Rcore"].u
    )
    # and the quantities of the coil follow it
    copper = 1 / (5.0 + 0.05 * np.sqrt(134.2e3) + 2j * np.pi * 134.2e3 * 1e-3)
    esr = (1 / (copper + 1 / 2e5)).real
    assert quantity(result, "ESR", 134.2e3).value == pytest.approx(esr, rel=0.01)
    np.testing.assert_allclose(curve(result, GRID), result.fitted, rtol=1e-9)


def test_a_coil_without_core_loss_has_none():
    assert fit(simulated("coil"), "coil").elements == ("L", "C", "Rdc", "Rac")


@pytest.mark.parametrize(("asked", "better"), [("tank", "coil"), ("inductor", "coil")])
def test_the_circuit_that_would_describe_the_data_is_named(asked, better):
    result = fit(LOSSY, asked)
    assert result.circuit == asked
    assert not result.describes
    assert any(f"The circuit {better} (" in remark.text for remark in result.remarks)


def test_a_second_resonance_is_a_coupled_pair():
    result = fit(simulated("coupled-pair"))
    assert result.circuit == "coupled-pair"
    assert result.describes
    remark = next(entry for entry in result.remarks if entry.name == "one-side")
    assert "its inductance alone is not in the data" in remark.text


def test_where_nothing_describes_the_data_nothing_else_is_claimed():
    slope = 1 + 0.05 * np.log10(GRID / GRID[0])
    result = fit(
        Sweep(frequency=GRID, impedance=exact("tank") * slope * (1 + 1e-3 * circular(201)))
    )
    assert not result.describes
    assert not any(remark.name == "ambiguous" for remark in result.remarks)


def analyser(seed, port, *, spread):
    """Sweep of a sharp tank as a network analyser sees it, with noise of the S-parameter."""
    rng = np.random.default_rng(seed)
    frequency = (np.linspace, np.geomspace)[seed % 2](60e3, 300e3, 61)
    z = CIRCUITS["tank"].impedance(frequency, np.array([1.62e-3, 868e-12, rng.uniform(5, 60)]))
    noise = spread * circular(61, seed)
    if port == "reflection":
        seen = (z - 50) / (z + 50) + noise
        z = 50 * (1 + seen) / (1 - seen)
    else:
        seen = 100 / (100 + z) + noise
        z = 100 * (1 - seen) / seen
    return Sweep(frequency=frequency, impedance=z)


@pytest.mark.parametrize("spread", [1e-9, 1e-7, 1e-5])
@pytest.mark.parametrize("port", ["reflection", "series-through"])
def test_a_sharp_tank_seen_by_an_analyser_is_a_tank_and_loses_no_points(port, spread):
    fits = [fit(analyser(seed, port, spread=spread)) for seed in range(12)]
    assert {found.circuit for found in fits} == {"tank"}
    whole = [found.describes and found.used.all() for found in fits]
    assert sum(whole) >= 11
    c = [abs(found.estimates["C"].value / 868e-12 - 1) for found in fits]
    assert max(c) < 100 * spread


def test_exact_values_in_ohm_do_not_ask_for_skin_effect():
    for resistance in (3.0, 10.0, 15.0):
        frequency = np.geomspace(60e3, 300e3, 61)
        z = CIRCUITS["tank"].impedance(frequency, np.array([1.62e-3, 868e-12, resistance]))
        sweep = Sweep(frequency=frequency, impedance=z, noise=Noise(kind="absolute"))
        assert fit(sweep).circuit == "tank"
