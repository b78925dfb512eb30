"""The quick way ends at the optimum, and leaves alone what it should not judge."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from benchapp.fit.blocks import Grid, block, inverse
from benchapp.fit.points import Points
from benchapp.fit.quick import _WORK, quick
from benchapp.fit.refine import polish
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated

ONE_PORTS = [name for name in VALUES if name != "coupled-pair"]


def quickly(name, z, *, any_kind=True):
    """Fit rows of impedances the quick way."""
    return quick(CIRCUITS[name], Grid(GRID), z, any_kind=any_kind)


@pytest.mark.parametrize("name", ONE_PORTS)
def test_it_ends_where_the_careful_way_ends(name):
    sweep = simulated(name)
    found = quickly(name, sweep.impedance[None, :])
    assert found.accepted[0]
    points = Points.of(sweep, np.ones(GRID.size, dtype=bool))
    best = polish(CIRCUITS[name].kernel, points.grid.y, points.view, found.point[0])
    u = np.sqrt(best.covariance.diagonal())
    # the two weigh noise in Z and in 1/Z, which differ by the square of the noise
    np.testing.assert_allclose(found.point[0] / u, best.point / u, atol=0.02)
    np.testing.assert_allclose(np.sqrt(found.covariance[0].diagonal()), u, rtol=0.01)
    assert found.variance[0] == pytest.approx(best.variance, rel=0.01)


@pytest.mark.parametrize("name", ONE_PORTS)
def test_a_sweep_gives_the_same_alone_and_among_others(name):
    z = np.stack([simulated(name, seed=seed).impedance for seed in range(7)])
    together = quickly(name, z)
    for row in range(len(z)):
        alone = quickly(name, z[row : row + 1])
        np.testing.assert_allclose(alone.point[0], together.point[row], rtol=1e-10)
        np.testing.assert_allclose(alone.covariance[0], together.covariance[row], rtol=1e-8)


@pytest.mark.parametrize("name", ONE_PORTS)
@pytest.mark.parametrize("sigma", [1e-4, 0.003, 0.03])
def test_it_ends_within_a_fiftieth_of_u_of_where_more_steps_would_end(name, sigma):
    circuit, grid = CIRCUITS[name], Grid(GRID)
    z = exact(name) * (1 + sigma * np.stack([circular(GRID.size, seed) for seed in range(20)]))
    found = quickly(name, z)
    data = block(circuit, grid, z, np.empty((_WORK, *z.shape)))
    data.start()
    point = found.point
    for _ in range(4):
        look = data.normal(point, data.look(point))
        point = point + np.einsum("npq,nq->np", inverse(look.hessian), look.gradient)
    u = np.sqrt(np.einsum("npp->np", found.covariance))
    assert found.close.all()
    assert np.max(np.abs(found.point - point) / u) < 0.02


def test_a_wild_point_is_left_to_the_careful_way():
    z = simulated("tank").impedance.copy()
    z[80] *= 1.1
    assert not quickly("tank", z[None, :]).accepted[0]


def test_another_circuit_is_left_to_the_careful_way():
    lead = 1j * 2 * np.pi * GRID * 1e-5
    z = (exact("tank") + lead) * (1 + 0.003 * circular(GRID.size))
    assert not quickly("tank", z[None, :]).accepted[0]


def test_noise_of_another_kind_is_left_to_the_careful_way_where_it_may_be_there():
    z = exact("tank") + 5.0 * circular(GRID.size)
    assert not quickly("tank", z[None, :], any_kind=True).accepted[0]


def test_hopeless_rows_spoil_no_other():
    good = simulated("tank").impedance
    flat = np.zeros(GRID.size, dtype=complex) + 1e-300
    found = quickly("tank", np.stack((good, flat, good)))
    assert found.accepted.tolist() == [True, False, True]
