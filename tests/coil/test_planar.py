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
    modified_wheeler,
    monomial,
    wheeler_spiral,
)
from benchapp.coil.section import MU_0, Section, mean_mutual
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
