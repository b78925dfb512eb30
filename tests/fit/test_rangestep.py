"""A run of points off by one factor is found, with its edges; nothing else is taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit.points import Points
from benchapp.fit.rangestep import find_range_step
from benchapp.fit.refine import refine
from benchapp.fit.start import starts
from tests.fit.simulated import GRID, circular, exact, simulated


def found_in(z, name="tank"):
    """The range step found in impedances, after a fit to all of them."""
    points = Points.of(Sweep(frequency=GRID, impedance=z), np.ones(GRID.size, dtype=bool))
    circuit, y, view = CIRCUITS[name], points.grid.y, points.view
    return find_range_step(view, refine(circuit.kernel, y, view, starts(circuit, y, view)))


@pytest.mark.parametrize("first", [0, 37, 98, 150, 181])
@pytest.mark.parametrize("factor", [1.05, 0.95, 1.0 + 0.05j])
def test_a_step_is_found_with_its_edges_and_its_factor(first, factor):
    z = simulated("tank", sigma=0.002).impedance.copy()
    z[first : first + 20] *= factor
    step = found_in(z)
    assert abs(step.first - first) <= 1
    assert abs(step.last - (first + 19)) <= 1
    # the plain fit is pulled by the step, so that its factor is a first estimate
    assert step.factor == pytest.approx(factor, abs=0.02)


@pytest.mark.parametrize("name", ["series-rlc", "parallel-rlc", "inductor", "coil"])
def test_a_step_is_found_whatever_the_circuit(name):
    z = simulated(name, sigma=0.002).impedance.copy()
    z[60:80] *= 1.05
    step = found_in(z, name)
    assert (step.first, step.last) == (60, 79)


def test_noise_holds_no_step():
    steps = [found_in(simulated("tank", seed=seed).impedance) for seed in range(60)]
    assert steps == [None] * 60


def test_a_long_sweep_is_searched_to_the_point():
    grid = np.geomspace(50e3, 450e3, 1201)
    z = exact("tank", frequency=grid) * (1 + 0.003 * circular(1201))
    z[700:801] *= 1.03
    points = Points.of(Sweep(frequency=grid, impedance=z), np.ones(1201, dtype=bool))
    circuit = CIRCUITS["tank"]
    best = refine(
        circuit.kernel, points.grid.y, points.view, starts(circuit, points.grid.y, points.view)
    )
    step = find_range_step(points.view, best)
    assert abs(step.first - 700) <= 2
    assert abs(step.last - 800) <= 2


def test_few_points_or_exact_data_hold_no_step():
    few = simulated("tank", frequency=GRID[::15])
    points = Points.of(few, np.ones(few.frequency.size, dtype=bool))
    circuit = CIRCUITS["tank"]
    best = refine(
        circuit.kernel, points.grid.y, points.view, starts(circuit, points.grid.y, points.view)
    )
    assert find_range_step(points.view, best) is None
    assert found_in(exact("tank")) is None
