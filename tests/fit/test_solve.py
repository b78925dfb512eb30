"""The careful way: weights from the data, wild points and range steps set aside."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.fit.noise import shapes
from benchapp.fit.points import Points
from benchapp.fit.solve import needed, reweigh, settled, solve
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated

TANK = np.array(VALUES["tank"])
KINDS = {
    "relative": lambda z: 0.003 * np.abs(z),
    "absolute": lambda z: np.full(z.shape, 3.0),
    "reflection": lambda z: 3e-4 * np.sqrt(shapes(z)[2]) * np.abs(z),
    "relative and absolute": lambda z: np.hypot(0.003 * np.abs(z), 2.0),
}


def noisy(spread, seed, noise=None):
    """A tank with noise of a given size in ohm at each point."""
    z = exact("tank")
    z = z + spread(z) * circular(GRID.size, seed)
    return Sweep(frequency=GRID, impedance=z, noise=noise or Noise())


@pytest.mark.parametrize("name", KINDS)
def test_unknown_noise_costs_next_to_nothing(name):
    # root mean square errors against fits that are told the variance of each point
    true = KINDS[name](exact("tank"))
    found, told = [], []
    circuit = CIRCUITS["tank"]
    for seed in range(150):
        sweep = noisy(KINDS[name], seed)
        result = fit(sweep, "tank")
        found.append(result.values / TANK - 1)
        points = Points.of(sweep, np.ones(GRID.size, dtype=bool))
        slopes = circuit.gradient(GRID, TANK) * TANK[:, None] * exact("tank") / true
        residual = (sweep.impedance - exact("tank")) / true
        hessian = (slopes @ slopes.conj().T).real
        told.append(np.linalg.solve(hessian, (slopes.conj() @ residual).real))
        assert points.unknown
    ratio = np.sqrt(np.mean(np.square(found), axis=0) / np.mean(np.square(told), axis=0))
    assert np.all(ratio < 1.03)


@pytest.mark.parametrize("name", KINDS)
def test_intervals_hold_the_truth_whatever_the_noise(name):
    inside = []
    for seed in range(150):
        result = fit(noisy(KINDS[name], seed), "tank")
        u = np.sqrt(result.covariance.diagonal())
        inside.append(np.abs(result.values - TANK) <= 1.96 * u)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.03)


def test_noise_of_a_known_kind_is_weighed_as_told():
    told = fit(noisy(KINDS["reflection"], 1, Noise(kind="reflection")), "tank")
    found = fit(noisy(KINDS["reflection"], 1), "tank")
    u = np.sqrt(told.covariance.diagonal())
    np.testing.assert_allclose(found.values / u, told.values / u, atol=0.5)
    assert told.describes
    assert found.describes


def test_clean_points_need_no_second_look():
    points = Points.of(simulated("tank"), np.ones(GRID.size, dtype=bool))
    solved = solve(points, CIRCUITS["tank"])
    assert solved.clean
    assert settled(solved)
    assert reweigh(solved) is None


def test_wild_points_are_named():
    sweep = simulated("tank")
    z = sweep.impedance.copy()
    z[[20, 90]] *= 1.3
    result = fit(Sweep(frequency=GRID, impedance=z), "tank")
    assert result.set_aside == (20, 90)
    remark = next(entry for entry in result.remarks if entry.name == "wild-points")
    assert remark.points == (20, 90)
    assert "2 wild points were set aside" in remark.text
    assert result.describes
    # and their residuals are shown all the same
    assert abs(result.residual[20]) > 50


def test_one_wild_point_is_told_in_the_singular():
    z = simulated("tank").impedance.copy()
    z[30] *= 1.5
    result = fit(Sweep(frequency=GRID, impedance=z), "tank")
    assert any("1 wild point was set aside" in remark.text for remark in result.remarks)


@pytest.mark.parametrize("block", [slice(40, 60), slice(95, 115), slice(180, 201)])
def test_a_range_step_is_found_and_said(block):
    z = simulated("tank", sigma=0.005).impedance.copy()
    z[block] *= 1.05
    result = fit(Sweep(frequency=GRID, impedance=z), "tank")
    remark = next(entry for entry in result.remarks if entry.name == "range-step")
    assert "change of measuring range" in remark.text
    assert set(range(*block.indices(201))) - set(result.set_aside) <= {block.start, block.stop - 1}
    assert np.all(np.abs(result.values / TANK - 1) < 0.02)


def test_a_wrong_circuit_is_not_explained_away_by_wild_points():
    # a second resonance is no set of wild points: nothing is set aside
    z = exact("coupled-pair", (1e-3, 1e-9, 10.0, 0.05, 2.5e5, 60.0))
    sweep = Sweep(frequency=GRID, impedance=z * (1 + 0.003 * circular(GRID.size)))
    result = fit(sweep, "tank")
    assert result.used.all()
    assert not result.describes


def test_wild_points_are_set_aside_beside_a_departure_too():
    phase = np.exp(1j * np.radians(0.5) * np.log10(GRID / 1.6e5))
    z = simulated("tank", sigma=0.005).impedance * phase
    wild = slice(3, None, 11)
    z[wild] *= np.exp(2 * circular(GRID[wild].size, 3))
    result = fit(Sweep(frequency=GRID, impedance=z), "tank")
    assert len(result.set_aside) > 10
    assert set(result.set_aside) <= set(range(201)[wild])
    assert np.all(np.abs(result.values / TANK - 1) < 0.01)
    assert not result.describes
    assert any("a phase that turns" in remark.text for remark in result.remarks)


def test_auto_chooses_among_wild_points_too():
    for name in ("tank", "coil", "capacitor"):
        z = simulated(name).impedance.copy()
        z[::9] *= 1.2
        result = fit(Sweep(frequency=GRID, impedance=z))
        assert result.circuit == name
        assert set(range(0, 201, 9)) <= set(result.set_aside)


def test_auto_chooses_under_noise_of_another_kind():
    result = fit(noisy(KINDS["absolute"], 3))
    assert result.circuit == "tank"
    assert result.describes


def test_the_fewest_points_leave_one_number_to_spare():
    assert [needed(CIRCUITS[name]) for name in ("inductor", "tank", "coil", "coupled-pair")] == [
        2,
        2,
        3,
        4,
    ]
    two = simulated("tank", frequency=np.array([1e5, 2e5]), sigma=0.0)
    assert fit(two, "tank").estimates["L"].value == pytest.approx(1e-3, rel=1e-6)


def test_too_few_points_are_refused():
    one = simulated("tank", frequency=np.array([1e5]))
    message = r"sweep: must have at least 2 points for the 3 elements of tank \(got 1\)"
    with pytest.raises(FitError, match=message):
        fit(one, "tank")
    with pytest.raises(FitError, match=r"sweep: must have points enough.*\(got 1 points"):
        fit(one)
