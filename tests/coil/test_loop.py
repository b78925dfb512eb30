"""Rings, rectangles and straight wires."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from benchapp.coil.loop import (
    mutual_of_rectangles,
    parallel_wires,
    rectangle,
    rectangle_error_percent,
    ring,
    ring_error_percent,
    straight_wire,
)
from benchapp.coil.section import MU_0, Section, mean_mutual
from tests.coil.truth import values

RING = values("coils.toml")["ring"]

# Mean distance of a square from itself, over its side (Rosa and Grover 1912; from memory).
SQUARE = 0.44705


def neumann_parallel(length: float, distance: float) -> float:
    value, _ = integrate.dblquad(
        lambda x, y: 1 / math.hypot(x - y, distance), 0, length, 0, length, epsrel=1e-10
    )
    return 1e-7 * value


def neumann_contour(corners: np.ndarray, distance: float, pieces: int = 40) -> float:
    """Neumann's sum over two equal polygons in parallel planes, by Gauss-Legendre rules."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    points, steps = [], []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        for piece in range(pieces):
            t = (piece + (nodes + 1) / 2) / pieces
            points.append(start + t[:, None] * (end - start))
            steps.append(weights[:, None] / 2 / pieces * (end - start))
    points, steps = np.concatenate(points), np.concatenate(steps)
    apart = np.linalg.norm(points[:, None, :] - points[None, :, :], axis=2)
    return 1e-7 * float(np.sum(steps @ steps.T / np.hypot(apart, distance)))


def test_ring_for_direct_current_and_for_current_at_the_surface():
    radius, wire = RING["diameter"] / 2, RING["wire"]
    assert ring(radius, wire) == pytest.approx(RING["direct"], rel=1e-13)
    assert ring(radius, wire, 0.0) == pytest.approx(RING["surface"], rel=1e-13)


@pytest.mark.parametrize("thickness", [0.002, 0.02, 0.1])
def test_ring_formula_agrees_with_the_integral_over_a_square_section(thickness):
    """A square of side c acts as a ring whose ln(8a/R) - 2 has R = 0.44705 c."""
    radius = 0.05
    side = thickness * radius
    section = Section(inner=radius - side / 2, outer=radius + side / 2, length=side)
    found = mean_mutual(section, section)
    formula = MU_0 * radius * (math.log(8 * radius / (SQUARE * side)) - 2)
    assert found == pytest.approx(formula, rel=0.1 * thickness**2 + 2e-6)


@given(st.floats(1e-4, 0.2))
def test_ring_error_is_small_for_thin_wire_and_grows_with_it(share):
    thin, thick = (ring_error_percent(1.0, factor * share) for factor in (1, 1.5))
    assert 0 < thin < thick < 1


def test_straight_wire_of_one_metre():
    """2 l [ln(4l/d) - 3/4] in nH and cm: common practice."""
    assert straight_wire(1.0, 1e-3) == pytest.approx(2e-7 * (math.log(4000) - 0.75), rel=1e-12)


def test_surface_current_takes_away_the_internal_inductance():
    internal = MU_0 / (8 * math.pi)
    assert straight_wire(3.0, 1e-3) - straight_wire(3.0, 1e-3, 0.0) == pytest.approx(3 * internal)
    circumference = 2 * math.pi * 0.05
    lost = ring(0.05, 1e-3) - ring(0.05, 1e-3, 0.0)
    assert lost == pytest.approx(circumference * internal)


@pytest.mark.parametrize(("length", "distance"), [(0.1, 0.05), (0.3, 0.01), (0.02, 0.5)])
def test_parallel_wires_agree_with_neumanns_double_integral(length, distance):
    expected = neumann_parallel(length, distance)
    assert float(parallel_wires(length, distance)) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(("width", "height", "distance"), [(0.1, 0.1, 0.02), (0.4, 0.1, 0.05)])
def test_coaxial_rectangles_agree_with_neumanns_sum(width, height, distance):
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    expected = neumann_contour(corners, distance)
    found = float(mutual_of_rectangles(width, height, distance))
    assert found == pytest.approx(expected, rel=1e-6)


def test_square_loop_as_its_handbook_formula():
    """L = (2 mu0 a/pi) [ln(a/r) - 0.77401 + 1/4], sides a, wire radius r, direct current.

    Source: F. W. Grover, Inductance Calculations (1946), formula for a square (from memory).
    """
    side, wire = 0.1, 1e-3
    formula = 2 * MU_0 * side / math.pi * (math.log(2 * side / wire) - 0.77401 + 0.25)
    assert rectangle(side, side, wire) == pytest.approx(formula, rel=1e-5)


def test_rectangle_agrees_with_neumanns_sum_of_a_contour_moved_aside():
    """The filament against its copy at the mean distance of the wire, but for the corners."""
    width, height, wire = 0.1, 0.06, 2e-3
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    apart = wire / 2 * math.exp(-0.25)
    moved = neumann_contour(corners, apart)
    found = rectangle(width, height, wire)
    stated = rectangle_error_percent(width, height, wire, found)
    assert abs(found / moved - 1) * 100 < stated < 3


def test_a_long_narrow_rectangle_is_a_two_wire_line():
    """mu0/pi [ln(D/r) + 1/4] per metre: common practice."""
    length, apart, wire = 50.0, 0.02, 1e-3
    line = MU_0 / math.pi * (math.log(apart / (wire / 2)) + 0.25) * length
    assert rectangle(length, apart, wire) == pytest.approx(line, rel=1e-3)


@given(st.floats(0.05, 1), st.floats(0.05, 1), st.integers(2, 60))
def test_turns_link_but_never_more_than_fully(width, height, turns):
    one = rectangle(width, height, 1e-3)
    many = rectangle(width, height, 1e-3, turns=turns, pitch=2e-3)
    assert turns * one < many < turns**2 * one


def test_width_and_height_are_alike():
    there = rectangle(0.4, 0.1, 1e-3, turns=5, pitch=1e-3)
    assert rectangle(0.1, 0.4, 1e-3, turns=5, pitch=1e-3) == pytest.approx(there, rel=1e-12)


def test_round_and_square_frames_of_equal_area_come_close():
    side = 0.3
    radius = side / math.sqrt(math.pi)
    square = rectangle(side, side, 1e-3)
    assert ring(radius, 1e-3) == pytest.approx(square, rel=0.08)
