"""Sums over the points give the same normal equations as residuals written out."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from benchapp.fit.blocks import Grid, block, dot, solve_normal
from benchapp.fit.quick import WORK
from tests.fit.simulated import GRID, VALUES, simulated

ONE_PORTS = [name for name in VALUES if name != "coupled-pair"]


def block_of(name, count=3):
    """Seeded sweeps of one circuit as a block."""
    z = np.stack([simulated(name, seed=seed).impedance for seed in range(count)])
    return block(CIRCUITS[name], Grid(GRID), z, np.empty((WORK, *z.shape))), z


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
    look = data.look(point)
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
    real, imag, level = (part.copy() for part in data.residual())
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
    data = block(circuit, grid, z, np.empty((WORK, 1, GRID.size)))
    found, _ = circuit.decode(data.start()[0], grid.scale)
    if name == "coil":  # begins with half of the resistance in each part, at the resonance
        f0 = 1 / (2 * np.pi * np.sqrt(values[0] * values[1]))
        assert found[2] + found[3] * np.sqrt(f0) == pytest.approx(values[2], rel=1e-8)
        found, values = found[:2], values[:2]
    np.testing.assert_allclose(found, values, rtol=1e-8)


@pytest.mark.parametrize("name", ["tank", "coil", "series-rlc"])
def test_a_part_of_a_block_looks_as_it_did_in_the_block(name):
    data, _ = block_of(name, count=4)
    point = data.start()
    whole = data.look(point)
    rows = np.array([1, 3])
    part = data.part(rows).look(point[rows])
    np.testing.assert_allclose(part.gradient, whole.gradient[rows], rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(part.hessian, whole.hessian[rows], rtol=1e-11, atol=1e-12)


def test_one_singular_system_spoils_no_other():
    good = np.array([[2.0, 0.0], [0.0, 4.0]])
    systems = np.stack((good, np.zeros((2, 2)), good))
    solved = solve_normal(systems, np.ones((3, 2, 1)))
    np.testing.assert_allclose(solved[[0, 2], :, 0], [[0.5, 0.25]] * 2)
    assert np.isnan(solved[1]).all()


def test_rows_are_multiplied_row_by_row():
    a, b = np.arange(6.0).reshape(2, 3), np.ones((2, 3))
    np.testing.assert_allclose(dot(a, b), [3.0, 12.0])


@pytest.mark.parametrize("name", ONE_PORTS)
def test_the_products_with_a_slope_of_gain_and_phase_are_those_written_out(name):
    data, z = block_of(name)
    point = data.start()
    data.look(point)
    slants = data.slants()
    log = np.log(data.grid.y)
    for row in range(len(z)):
        _, slopes = CIRCUITS[name].kernel(data.grid.y, point[row])
        expected = np.stack((slopes.real @ log, slopes.imag @ log))
        size = np.abs(slopes) @ np.abs(log)
        sign = np.sign(np.sum(expected[0] * slants[row, 0]))
        np.testing.assert_allclose(slants[row] / size, sign * expected / size, atol=1e-12)
