"""Steps end at the optimum of the likelihood, as scipy finds it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from benchapp.capture import Noise
from benchapp.circuit import CIRCUITS
from benchapp.fit.points import Points
from benchapp.fit.refine import polish, refine
from benchapp.fit.start import starts
from tests.fit.simulated import GRID, VALUES, exact, simulated


def points_of(name, **more):
    """Points of a simulated sweep."""
    sweep = simulated(name, **more)
    return Points.of(sweep, np.ones(sweep.frequency.size, dtype=bool))


@pytest.mark.parametrize("name", VALUES)
@pytest.mark.parametrize("kind", ["relative", "absolute", "reflection"])
def test_the_optimum_is_scipys(name, kind):
    circuit, points = CIRCUITS[name], points_of(name, noise=Noise(kind=kind))
    found = refine(
        circuit.kernel, points.grid.y, points.view, starts(circuit, points.grid.y, points.view)
    )

    def residual(p):
        model, slopes = circuit.kernel(points.grid.y, p)
        return points.view.far(model, slopes)[0].view(float)

    def jacobian(p):
        model, slopes = circuit.kernel(points.grid.y, p)
        return -np.ascontiguousarray(points.view.far(model, slopes)[1]).view(float).T

    u = np.sqrt(found.covariance.diagonal())
    best = least_squares(residual, found.point + u, jacobian, method="lm", xtol=1e-14, ftol=1e-14)
    # for relative noise the two weigh alike to first order in the noise
    np.testing.assert_allclose(found.point / u, best.x / u, atol=0.02)
    covariance = np.linalg.inv(best.jac.T @ best.jac) * found.variance
    np.testing.assert_allclose(u, np.sqrt(covariance.diagonal()), rtol=0.02)
    assert found.converged


@pytest.mark.parametrize("name", VALUES)
def test_without_noise_the_truth_is_found_to_many_digits(name):
    circuit, points = CIRCUITS[name], points_of(name, sigma=0.0)
    found = refine(
        circuit.kernel, points.grid.y, points.view, starts(circuit, points.grid.y, points.view)
    )
    values, _ = circuit.decode(found.point, points.grid.scale)
    np.testing.assert_allclose(values, VALUES[name], rtol=1e-9)


def test_a_poor_first_candidate_is_made_good_by_the_others():
    circuit, points = CIRCUITS["tank"], points_of("tank")
    hopeless = [np.array([20.0, 1e-6, 1e2])]
    good = list(starts(circuit, points.grid.y, points.view))
    found = refine(circuit.kernel, points.grid.y, points.view, hopeless + good)
    values, _ = circuit.decode(found.point, points.grid.scale)
    np.testing.assert_allclose(values, VALUES["tank"], rtol=0.02)


def test_a_direction_without_slope_gets_a_huge_variance():
    # far below the resonance a tank is an inductance: nothing is known about C
    points = points_of("tank", frequency=np.geomspace(10.0, 1e3, 50))
    circuit = CIRCUITS["tank"]
    found = refine(
        circuit.kernel, points.grid.y, points.view, starts(circuit, points.grid.y, points.view)
    )
    values, slopes = circuit.decode(found.point, points.grid.scale)
    u = np.sqrt((slopes @ found.covariance @ slopes.T).diagonal())
    assert u[0] < 0.01 * values[0]
    assert u[1] > 10 * VALUES["tank"][1]


def test_steps_that_leave_the_domain_give_nothing():
    points = points_of("tank")
    nowhere = np.array([np.inf, 1.0, 0.1])
    assert polish(CIRCUITS["tank"].kernel, points.grid.y, points.view, nowhere) is None


def test_degrees_of_freedom_count_both_parts_of_each_point():
    points = points_of("tank")
    truth = CIRCUITS["tank"].encode(np.array(VALUES["tank"]), points.grid.scale)
    found = polish(CIRCUITS["tank"].kernel, points.grid.y, points.view, truth)
    assert found.dof == 2 * GRID.size - 3
    assert np.sqrt(2 * found.variance) == pytest.approx(0.003, rel=0.1)
    np.testing.assert_allclose(found.model, exact("tank"), rtol=0.01)
