"""Sums over the points give the same normal equations as residuals written out."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from benchapp.fit.blocks import Grid, block, dot, inverse, solve_normal
from benchapp.fit.quick import _WORK
from tests.fit.simulated import GRID, VALUES, simulated

ONE_PORTS = [name for name in VALUES if name != "coupled-pair"]


def block_of(name, count=3):
    """Seeded sweeps of one circuit as a block."""
    z = np.stack([simulated(name, seed=seed).impedance for seed in range(count)])
    return block(CIRCUITS[name], Grid(GRID), z, np.empty((_WORK, *z.shape))), z


def written_out(circuit, y, z, point):
    """H, g and residual of immittances, point by point."""
    model, slopes = circuit.kernel(y, point)
    if circuit.family == "series":
        residual = z / model - 1
    else:
        residual, slopes = model / z - 1, -slopes
    return (slopes @ slopes.conj().T).real, (slopes.conj() @ residual).real, residual


@pytest.mark.parametrize("name", ONE_PORTS)
def test_the_normal_equations_are_those_of_the_residuals(name):
    data, z = block_of(name)
    point = data.start()
    look = data.normal(point, data.look(point))
    for row in range(len(z)):
        hessian, gradient, _ = written_out(CIRCUITS[name], data.grid.y, z[row], point[row])
        scale = np.sqrt(hessian.diagonal())
        np.testing.assert_allclose(
            look.hessian[row] / np.outer(scale, scale),
            hessian / np.outer(scale, scale),
            atol=1e-11,
        )
        np.testing.assert_allclose(look.gradient[row] / scale, gradient / scale, atol=1e-11)


@pytest.mark.parametrize("name", ONE_PORTS)
def test_the_residuals_belong_to_the_last_look(name):
    data, z = block_of(name)
    point = data.start()
    data.look(point)
    (real, imag), level, _ = data.residual()
    for row in range(len(z)):
        model, _ = CIRCUITS[name].kernel(data.grid.y, point[row])
        _, _, residual = written_out(CIRCUITS[name], data.grid.y, z[row], point[row])
        np.testing.assert_allclose(np.hypot(real[row], imag[row]), np.abs(residual), atol=1e-10)
        steps = np.diff(np.log(level[row])) / np.diff(2 * np.log(np.abs(model)))
        np.testing.assert_allclose(np.abs(steps), 1.0, atol=1e-6)


@pytest.mark.parametrize("name", ONE_PORTS)
def test_a_start_without_noise_is_the_truth(name):
    circuit, values = CIRCUITS[name], np.array(VALUES[name])
    if name == "coil":
        values = np.array([*VALUES["tank"], 0.0])
    z = circuit.impedance(GRID, values)[None, :]
    grid = Grid(GRID)
    data = block(circuit, grid, z, np.empty((_WORK, 1, GRID.size)))
    found, _ = circuit.decode(data.start()[0], grid.scale)
    if name == "coil":  # begins with half of the resistance in each part, at the resonance
        f0 = 1 / (2 * np.pi * np.sqrt(values[0] * values[1]))
        assert found[2] + found[3] * np.sqrt(f0) == pytest.approx(values[2], rel=1e-8)
        found, values = found[:2], values[:2]
    np.testing.assert_allclose(found, values, rtol=1e-8)


def test_one_singular_system_spoils_no_other():
    good = np.array([[2.0, 0.0], [0.0, 4.0]])
    systems = np.stack((good, np.zeros((2, 2)), good))
    solved = solve_normal(systems, np.ones((3, 2, 1)))
    np.testing.assert_allclose(solved[[0, 2], :, 0], [[0.5, 0.25]] * 2)
    assert np.isnan(solved[1]).all()


def test_one_singular_matrix_spoils_no_other_inverse():
    good = np.array([[2.0, 0.0], [0.0, 4.0]])
    found = inverse(np.stack((good, np.zeros((2, 2)), good)))
    np.testing.assert_allclose(found[[0, 2]], [[[0.5, 0.0], [0.0, 0.25]]] * 2)
    assert np.isnan(found[1]).all()


def test_rows_are_multiplied_row_by_row():
    a, b = np.arange(6.0).reshape(2, 3), np.ones((2, 3))
    np.testing.assert_allclose(dot(a, b), [3.0, 12.0])


@pytest.mark.parametrize("name", ONE_PORTS)
def test_slants_are_the_slopes_of_what_the_residuals_make_with_the_logarithm(name):
    data, _ = block_of(name)
    log = np.log(data.grid.y)

    def products(point):
        slants = data.normal(point, data.look(point)).slants
        return (data.residual()[0] @ log).T, slants

    point = data.start()
    _, slants = products(point)
    for place in range(point.shape[1]):
        step = 1e-6 * np.abs(point) * (np.arange(point.shape[1]) == place)
        above, below = products(point + step)[0], products(point - step)[0]
        slopes = (above - below) / (2.0 * step[:, place, None])
        _, steep = CIRCUITS[name].kernel(data.grid.y, point[0])
        size = np.abs(steep[place]) @ np.abs(log)
        # slopes are at t / T = 1, differences where the noise has brought it
        np.testing.assert_allclose(slants[:, place] / size, slopes / size, atol=0.01)
