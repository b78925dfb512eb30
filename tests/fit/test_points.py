"""The points of a sweep that a fit uses."""

from __future__ import annotations

import numpy as np

from benchapp.capture import Noise
from benchapp.circuit import CIRCUITS
from benchapp.fit.points import Points, Solved
from benchapp.fit.spread import law_of
from tests.fit.simulated import GRID, exact, simulated

EVERY = np.ones(GRID.size, dtype=bool)


def test_fewer_points_are_marked_among_all():
    some = EVERY.copy()
    some[:50] = False
    points = Points.of(simulated("tank"), some)
    assert points.grid.y.size == 151
    kept = np.ones(151, dtype=bool)
    kept[0] = False
    fewer = points.keep(kept)
    assert np.flatnonzero(fewer.used)[0] == 51
    np.testing.assert_array_equal(fewer.view.measured, points.view.measured[1:])


def test_noise_is_unknown_until_it_is_told_or_found():
    points = Points.of(simulated("tank"), EVERY)
    assert points.unknown
    law = law_of(simulated("tank").impedance - exact("tank"), exact("tank"))
    assert not points.weighed(law).unknown
    told = simulated("tank", noise=Noise(kind="relative"))
    assert not Points.of(told, EVERY).unknown


def test_residuals_everywhere_follow_the_law_of_the_used_points():
    some = EVERY.copy()
    some[::2] = False
    points = Points.of(simulated("tank"), some)
    law = law_of((simulated("tank").impedance - exact("tank"))[some], exact("tank")[some])
    residual = points.weighed(law).everywhere(exact("tank"))
    assert residual.size == GRID.size
    assert np.sqrt(np.mean(np.abs(residual) ** 2)) < 1.5


def test_covariance_of_elements_comes_from_the_coordinates():
    circuit, points = CIRCUITS["tank"], Points.of(simulated("tank"), EVERY)
    empty = Solved.at(circuit, points, None)
    assert empty.optimum is None
    np.testing.assert_array_equal(empty.covariance, np.zeros((3, 3)))
