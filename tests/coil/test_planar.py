"""Printed coils by the published expressions, against their values and against exact sums."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.coil.loop import mutual_of_rectangles, parallel_wires
from benchapp.coil.planar import (
    COEFFICIENTS,
    current_sheet,
    expression_error_percent,
    modified_wheeler,
    monomial,
    wheeler_spiral,
)
from benchapp.coil.section import MU_0, Section, mean_mutual, mutual_of_circles
from tests.coil.truth import values

MOHAN = values("mohan.toml")
COIL = MOHAN["coil"]
SIZES = (COIL["inner_um"] * 1e-6, COIL["outer_um"] * 1e-6, COIL["turns"])
TRACK = (COIL["track_um"] * 1e-6, COIL["gap_um"] * 1e-6)
FORMS = tuple(COEFFICIENTS)


def squares_of_strip(inner: float, outer: float, turns: int, track: float) -> float:
    """Concentric squares of flat strip: sides as filaments, each side by its mean distance.

    The self-inductance of a strip has the mean distance exp(-3/2) of its width (common practice).
    Sides of two squares that are not opposite or parallel do not link.
    """
    gap = ((outer - inner) / 2 - turns * track) / (turns - 1)
    sides = inner + track + 2 * (track + gap) * np.arange(turns)
    total = 0.0
    for i, one in enumerate(sides):
        for j, two in enumerate(sides):
            if i == j:
                near = float(parallel_wires(one, track * math.exp(-1.5)))
                total += 4 * (near - float(parallel_wires(one, one)))
            else:
                total += 4 * (
                    unequal(one, two, abs(one - two) / 2) - unequal(one, two, (one + two) / 2)
                )
    return total


def unequal(one: float, two: float, distance: float) -> float:
    """Mutual inductance of two parallel filaments of unequal length, their middles opposite."""
    long, short = (one + two) / 2, abs(one - two) / 2

    def half(length):
        apart = max(distance, 1e-30)
        return length * math.asinh(length / apart) - math.hypot(length, apart)

    return MU_0 / (2 * math.pi) * (half(long) - half(short))


@pytest.mark.parametrize("form", FORMS)
def test_expressions_give_the_evaluated_values(form):
    expected = MOHAN[form]
    assert 1e9 * current_sheet(form, *SIZES) == pytest.approx(expected["sheet_nH"], rel=1e-9)
    wheeler, fitted = modified_wheeler(form, *SIZES), monomial(form, *SIZES, *TRACK)
    if form == "circular":
        assert wheeler is None
        assert fitted is None
    else:
        assert 1e9 * wheeler == pytest.approx(expected["wheeler_nH"], rel=1e-9)
        assert 1e9 * fitted == pytest.approx(expected["monomial_nH"], rel=1e-9)


@pytest.mark.parametrize("form", FORMS[:3])
def test_three_expressions_agree_within_2_1_percent(form):
    found = (
        modified_wheeler(form, *SIZES),
        current_sheet(form, *SIZES),
        monomial(form, *SIZES, *TRACK),
    )
    assert max(found) / min(found) < 1.021


@pytest.mark.parametrize("inner", [0.05, 0.2, 0.4, 0.6, 0.8, 0.9])
def test_circular_expression_is_within_1_percent_of_the_exact_disc(inner):
    disc = Section(inner=inner / 2, outer=0.5)
    exact = mean_mutual(disc, disc)
    assert current_sheet("circular", inner, 1.0, 1) == pytest.approx(exact, rel=0.01)


@pytest.mark.parametrize(
    ("inner", "turns", "track"), [(20e-3, 8, 1.5e-3), (30e-3, 5, 1.5e-3), (10e-3, 10, 1.5e-3)]
)
def test_square_expression_is_within_its_error_of_a_sum_of_straight_strips(inner, turns, track):
    exact = squares_of_strip(inner, 50e-3, turns, track)
    # The outline is measured at the outer edges in both.
    assert current_sheet("square", inner, 50e-3, turns) == pytest.approx(exact, rel=0.03)
    assert modified_wheeler("square", inner, 50e-3, turns) == pytest.approx(exact, rel=0.05)


def test_the_sum_of_strips_is_right_for_filaments_of_equal_length():
    """Guard of the reference itself: equal lengths are Rosa's formula, and its rectangles."""
    assert unequal(0.1, 0.1, 0.03) == pytest.approx(float(parallel_wires(0.1, 0.03)), rel=1e-12)
    square = 4 * (unequal(0.1, 0.1, 0.02) - unequal(0.1, 0.1, math.hypot(0.1, 0.02)))
    assert square == pytest.approx(float(mutual_of_rectangles(0.1, 0.1, 0.02)), rel=1e-12)


@given(st.sampled_from(FORMS), st.floats(0.2, 0.8), st.floats(2, 30), st.floats(0.1, 10))
def test_current_sheet_grows_as_turns_squared_and_as_size(form, inner, turns, factor):
    one = current_sheet(form, inner, 1.0, 1)
    found = current_sheet(form, factor * inner, factor, turns)
    assert found == pytest.approx(factor * turns**2 * one, rel=1e-12)


def test_wheelers_flat_winding_example():
    expected = values("coils.toml")["wheeler"]["flat"]
    found = 1e6 * wheeler_spiral(0.0254, 3 * 0.0254, 20)
    assert found == pytest.approx(expected, rel=1e-13)


@pytest.mark.parametrize("depth", [0.21, 0.4, 0.7, 1.0, 1.3, 1.49])
def test_wheelers_flat_winding_is_within_5_percent_where_it_says_so(depth):
    """Depth over mean radius from 0.2 to 1.5; below and above it runs away."""
    inner, outer = 1 - depth / 2, 1 + depth / 2
    disc = Section(inner=inner, outer=outer)
    exact = mean_mutual(disc, disc)
    assert wheeler_spiral(2 * inner, 2 * outer, 1) == pytest.approx(exact, rel=0.05)


@pytest.mark.parametrize("depth", [0.05, 1.95])
def test_wheelers_flat_winding_is_off_by_more_outside(depth):
    inner, outer = 1 - depth / 2, 1 + depth / 2
    disc = Section(inner=inner, outer=outer)
    exact = mean_mutual(disc, disc)
    assert abs(wheeler_spiral(2 * inner, 2 * outer, 1) / exact - 1) > 0.05


def polygon(corners: int, across: float) -> np.ndarray:
    """Corners of a regular polygon, given the distance between opposite sides."""
    angle = 2 * math.pi * (np.arange(corners) + 0.5) / corners
    radius = across / 2 / math.cos(math.pi / corners)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def neumann_polygons(one: np.ndarray, two: np.ndarray, aside: float) -> float:
    """Neumann's formula for two polygons whose planes lie a distance aside.

    Along each side of the second polygon the integral of 1/r is a difference of area hyperbolic
    sines; along the first it is summed by Gauss-Legendre rules on pieces that shrink to corners.
    """
    nodes, weights = np.polynomial.legendre.leggauss(10)
    half = 0.5 * np.concatenate([[0.0], 0.25 ** np.arange(4, -1, -1.0)])
    edges = np.concatenate([half, 1 - half[-2::-1]])
    t = (edges[:-1, None] + np.diff(edges)[:, None] * (nodes + 1) / 2).ravel()
    weight = (np.diff(edges)[:, None] * weights / 2).ravel()
    total = 0.0
    for start, end in zip(one, np.roll(one, -1, axis=0), strict=True):
        points = start + t[:, None] * (end - start)
        for first, last in zip(two, np.roll(two, -1, axis=0), strict=True):
            length = float(np.linalg.norm(last - first))
            along = (last - first) / length
            place = (points - first) @ along
            square = np.sum((points - first) ** 2, axis=1) - place**2
            away = np.sqrt(np.maximum(square, 0.0) + aside**2)
            inner = np.arcsinh((length - place) / away) + np.arcsinh(place / away)
            total += float((end - start) @ along) * float(weight @ inner)
    return 1e-7 * total


def test_the_polygon_reference_gives_coaxial_squares_and_large_polygons_circles():
    """Guard of the reference itself."""
    square = polygon(4, 0.1)
    expected = float(mutual_of_rectangles(0.1, 0.1, 0.003))
    assert neumann_polygons(square, square, 0.003) == pytest.approx(expected, rel=1e-6)
    circles = float(mutual_of_circles(0.05, 0.03, 0.01))
    many = neumann_polygons(polygon(90, 0.1), polygon(90, 0.06), 0.01)
    assert many == pytest.approx(circles, rel=2e-3)


@pytest.mark.parametrize(("form", "corners"), [("square", 4), ("hexagonal", 6), ("octagonal", 8)])
@pytest.mark.parametrize("inner", [3e-3, 8e-3, 12.6e-3, 25e-3, 40.5e-3])
@pytest.mark.parametrize(("turns", "ratio"), [(3, 1.0), (3, 0.05), (6, 0.5)])
def test_expressions_are_within_their_error_of_polygons_by_neumann(
    form, corners, inner, turns, ratio
):
    """Concentric polygons of strip; a strip from itself: exp(-3/2) of its width aside."""
    outer = 50e-3
    track = (outer - inner) / 2 / (turns + ratio * (turns - 1))
    gap = ratio * track
    middles = inner + track + 2 * (track + gap) * np.arange(turns)
    shapes = [polygon(corners, float(across)) for across in middles]
    total = 0.0
    for i, one in enumerate(shapes):
        total += neumann_polygons(one, one, track * math.exp(-1.5))
        total += 2 * sum(neumann_polygons(one, two, 1e-9) for two in shapes[i + 1 :])
    for name, found in (
        ("sheet", current_sheet(form, inner, outer, turns)),
        ("wheeler", modified_wheeler(form, inner, outer, turns)),
        ("monomial", monomial(form, inner, outer, turns, track, gap)),
    ):
        stated = expression_error_percent(form, name, inner, outer, turns, gap / track)
        assert stated is not None
        assert 100 * abs(found / total - 1) < stated


@pytest.mark.parametrize("inner", [3e-3, 8e-3, 12.6e-3, 25e-3, 40.5e-3])
@pytest.mark.parametrize(("turns", "ratio"), [(3, 1.0), (3, 0.05), (6, 0.5)])
def test_the_circular_expression_is_within_its_error_of_rings_of_strip(inner, turns, ratio):
    outer = 50e-3
    track = (outer - inner) / 2 / (turns + ratio * (turns - 1))
    radii = (inner + track) / 2 + (1 + ratio) * track * np.arange(turns)
    aside = track * math.exp(-1.5)
    total = sum(MU_0 * radius * (math.log(8 * radius / aside) - 2) for radius in radii)
    one, two = np.triu_indices(turns, 1)
    total += 2 * float(mutual_of_circles(radii[one], radii[two], 0.0).sum())
    stated = expression_error_percent("circular", "sheet", inner, outer, turns, ratio)
    found = current_sheet("circular", inner, outer, turns)
    assert 100 * abs(found / total - 1) < stated


@pytest.mark.parametrize(
    ("inner", "turns", "ratio"),
    [(0.02, 2, 1.0), (0.046, 5, 1.0), (0.001, 5, 1.0), (0.02, 5, 1.5)],
)
def test_coils_unlike_the_fitted_ones_have_no_stated_error(inner, turns, ratio):
    assert expression_error_percent("square", "sheet", inner, 0.05, turns, ratio) is None


def test_the_monomial_is_trusted_less_the_larger_the_coil():
    errors = [
        expression_error_percent("square", "monomial", outer / 2, outer, 5)
        for outer in (3e-4, 3e-3, 0.3)
    ]
    assert errors == sorted(errors)
    assert errors[0] == 6.5
