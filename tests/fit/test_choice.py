"""The data choose their circuit, and doubt is said."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit
from benchapp.fit.choice import CANDIDATES, criterion, name_for, rank, renamed
from benchapp.fit.points import Points
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated

ONE_PORTS = [name for name in VALUES if name != "coupled-pair"]


def all_points(sweep):
    """All points of a sweep."""
    return Points.of(sweep, np.ones(sweep.frequency.size, dtype=bool))


@pytest.mark.parametrize("name", ONE_PORTS)
def test_each_circuit_is_recognised(name):
    right = [fit(simulated(name, seed=seed)).circuit == name for seed in range(20)]
    assert np.mean(right) >= 0.95


@pytest.mark.parametrize("name", ONE_PORTS)
def test_the_chosen_circuit_fits_as_if_it_had_been_named(name):
    chosen, named = fit(simulated(name)), fit(simulated(name), name)
    assert chosen.elements == named.elements
    np.testing.assert_allclose(chosen.values, named.values, rtol=1e-10)
    np.testing.assert_allclose(chosen.covariance, named.covariance, rtol=1e-6)
    assert set(chosen.estimates) == set(named.estimates)


def test_the_others_are_listed_by_how_much_worse_they_are():
    result = fit(simulated("tank"))
    worse = [other.bic_difference for other in result.alternatives]
    assert worse == sorted(worse)
    assert all(value >= 0 for value in worse)
    assert {other.circuit for other in result.alternatives} <= set(CANDIDATES) | {"capacitor"}


def test_two_circuits_that_a_narrow_band_cannot_tell_apart_are_both_named():
    # close to its resonance a tank and a parallel circuit are alike
    narrow = np.linspace(158.5e3, 159.9e3, 101)
    result = fit(simulated("tank", frequency=narrow, sigma=0.05))
    remark = next(entry for entry in result.remarks if entry.name == "ambiguous")
    assert "do not tell" in remark.text
    assert "parallel-rlc" in remark.text or result.circuit == "parallel-rlc"


def test_a_richer_circuit_that_adds_nothing_makes_no_doubt():
    result = fit(simulated("inductor"))
    assert result.circuit == "inductor"
    assert not any(entry.name == "ambiguous" for entry in result.remarks)


def test_a_capacitor_is_told_from_a_series_circuit_by_its_reactance():
    below = simulated("series-rlc", frequency=np.geomspace(1e3, 1e5, 101))
    around = simulated("series-rlc", frequency=np.geomspace(1e5, 3e5, 101))
    assert fit(below).circuit == "capacitor"
    assert fit(around).circuit == "series-rlc"


def test_a_circuit_with_an_element_below_zero_beyond_doubt_is_not_chosen():
    # the resistance of this coil grows faster than sqrt(f): Rdc comes out negative
    z = 1j * 2 * np.pi * GRID * 1e-3 + 3.0 * (GRID / 1e5) ** 1.5
    z = 1 / (1 / z + 1j * 2 * np.pi * GRID * 1e-10)
    points = all_points(Sweep(frequency=GRID, impedance=z * (1 + 1e-4 * circular(GRID.size))))
    coil = rank(points, [CIRCUITS["coil"]])[0]
    assert coil.values[2] < 0
    assert criterion(coil) == np.inf


def test_a_failed_fit_has_no_criterion():
    sweep = Sweep(frequency=GRID, impedance=exact("tank"))
    solved = rank(all_points(sweep), [CIRCUITS["tank"]])[0]
    broken = type(solved).at(solved.circuit, solved.points, None)
    assert criterion(broken) == np.inf


def test_a_renamed_fit_has_the_same_values_in_the_other_order():
    solved = rank(all_points(simulated("capacitor")), [CIRCUITS["series-rlc"]])[0]
    assert name_for(solved).name == "capacitor"
    other = renamed(solved, CIRCUITS["capacitor"])
    assert renamed(solved, solved.circuit) is solved
    np.testing.assert_allclose(other.values, solved.values[[1, 2, 0]])
    np.testing.assert_allclose(other.covariance[0, 0], solved.covariance[1, 1])
