"""Start values need no guess: without noise they are the answer, with it they are near."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS, EXTENDED
from benchapp.fit.points import Points
from benchapp.fit.start import models, rough, starts
from tests.fit.simulated import GRID, VALUES, exact, simulated


def points_of(sweep):
    """All points of a sweep."""
    return Points.of(sweep, np.ones(sweep.frequency.size, dtype=bool))


@pytest.mark.parametrize("name", [name for name in VALUES if name != "coil"])
def test_without_noise_the_first_start_is_the_truth(name):
    points = points_of(simulated(name, sigma=0.0))
    first = next(starts(CIRCUITS[name], points.grid.y, points.view))
    values, _ = CIRCUITS[name].decode(first, points.grid.scale)
    np.testing.assert_allclose(values, VALUES[name], rtol=1e-5)


@pytest.mark.parametrize("name", VALUES)
def test_every_start_has_all_coordinates_and_a_finite_model(name):
    points = points_of(simulated(name))
    for start in starts(CIRCUITS[name], points.grid.y, points.view):
        assert start.shape == (len(VALUES[name]),)
        model, _ = CIRCUITS[name].kernel(points.grid.y, start)
        assert np.all(np.isfinite(model))


def test_a_coil_with_core_loss_starts_lossless():
    points = points_of(simulated("coil"))
    first = next(starts(EXTENDED["coil"], points.grid.y, points.view))
    assert first[4] == 0.0
    assert first[2] == pytest.approx(first[3] * first[1] ** -0.25)


ONE_PORTS = [name for name in VALUES if name != "coupled-pair"]


@pytest.mark.parametrize("name", [name for name in ONE_PORTS if name != "coil"])
def test_a_handful_of_exact_points_is_enough(name):
    circuit, points = CIRCUITS[name], points_of(simulated(name, sigma=0.0))
    chosen = np.array([[0, 40, 80, 120, 160, 200], [3, 33, 77, 99, 140, 199]])
    y, z = points.grid.y[chosen], points.view.measured[chosen]
    for start in rough(circuit, y, z, 1 / np.abs(z)):
        found, _ = circuit.decode(start, points.grid.scale)
        np.testing.assert_allclose(found, VALUES[name], rtol=1e-5)


@pytest.mark.parametrize("name", ONE_PORTS)
def test_many_models_are_those_of_the_circuit(name):
    circuit, points = CIRCUITS[name], points_of(simulated(name))
    truth = circuit.encode(np.array(VALUES[name]), points.grid.scale)
    rows = np.stack((truth, truth * 1.01))
    for row, z in zip(rows, models(circuit, points.grid.y, rows), strict=True):
        np.testing.assert_allclose(z, circuit.kernel(points.grid.y, row)[0], rtol=1e-11)


@pytest.mark.parametrize("kind", ["absolute", "reflection", "series-through", "shunt-through"])
def test_the_start_of_a_tank_is_near_whatever_the_noise(kind):
    sweep = simulated("tank", noise=type(simulated("tank").noise)(kind=kind))
    points = points_of(sweep)
    near = [
        CIRCUITS["tank"].decode(start, points.grid.scale)[0] / VALUES["tank"]
        for start in starts(CIRCUITS["tank"], points.grid.y, points.view)
    ]
    assert np.min(np.max(np.abs(np.log(near)), axis=1)) < 0.05


def test_a_flat_line_still_gives_starts():
    sweep = type(simulated("tank"))(frequency=GRID, impedance=0 * exact("tank") + 50.0)
    points = points_of(sweep)
    assert len(list(starts(CIRCUITS["tank"], points.grid.y, points.view))) > 5
