"""Two coils on one axis, and one above a plate."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchapp.coil.geometry import Pair, Winding
from benchapp.coil.loop import ring
from benchapp.coil.mutual import (
    Plate,
    coupling,
    coupling_bounds,
    image_change,
    mutual,
    self_inductance,
)
from benchapp.coil.section import Section, mean_mutual, mutual_of_circles
from benchapp.coil.solenoid import current_sheet, round_wire_change
from benchapp.errors import QuantityError
from tests.coil.truth import table


@pytest.mark.parametrize("row", table("coaxial_loops.csv"), ids=lambda row: row["M_nH"])
def test_pairs_of_single_turns_give_the_tabulated_mutual_inductance(row):
    first, second, apart = (
        float(row[name]) / 100 for name in ("radius1_cm", "radius2_cm", "distance_cm")
    )
    pair = Pair(diameter1=2 * first, diameter2=2 * second, distance=apart)
    assert mutual(pair) == pytest.approx(float(row["M_nH"]) * 1e-9, rel=1e-14)


@given(st.integers(1, 200), st.integers(1, 200))
def test_turns_multiply_the_mutual_inductance(first, second):
    single = Pair(diameter1=0.08, diameter2=0.05, distance=0.02)
    wound = Pair(diameter1=0.08, diameter2=0.05, distance=0.02, turns1=first, turns2=second)
    assert mutual(wound) == pytest.approx(first * second * mutual(single), rel=1e-12)


def test_two_solenoids_agree_with_a_sum_over_their_turns():
    pair = Pair(
        diameter1=0.08,
        diameter2=0.05,
        distance=0.03,
        turns1=40,
        turns2=25,
        length1=0.04,
        length2=0.025,
    )
    first = 0.001 * (np.arange(40) - 19.5)
    second = 0.03 + 0.001 * (np.arange(25) - 12)
    turns = mutual_of_circles(0.04, 0.025, first[:, None] - second[None, :])
    assert mutual(pair) == pytest.approx(float(turns.sum()), rel=1e-4)


def test_a_bundle_agrees_with_a_sum_over_its_turns():
    pair = Pair(diameter1=0.08, diameter2=0.05, distance=0.02, turns1=25, wire1=1e-3)
    place = 1e-3 * (np.arange(5) - 2)
    turns = mutual_of_circles(0.04 + place[:, None], 0.025, 0.02 + place[None, :])
    assert mutual(pair) == pytest.approx(float(turns.sum()), rel=2e-5)
    filaments = 25 * float(mutual_of_circles(0.04, 0.025, 0.02))
    assert mutual(pair) != pytest.approx(filaments, rel=1e-5)


def test_inductance_of_each_coil_is_that_of_its_shape():
    sheet = Winding(diameter=0.05, turns=50, length=0.05)
    assert self_inductance(sheet) == current_sheet(0.05, 0.05, 50)
    wound = Winding(diameter=0.05, turns=50, length=0.05, wire=0.8e-3)
    change = round_wire_change(0.025, 50, 0.001, 0.8e-3)
    assert self_inductance(wound) == current_sheet(0.05, 0.05, 50) + change
    assert self_inductance(Winding(diameter=0.1, wire=1e-3)) == ring(0.05, 1e-3)
    assert self_inductance(Winding(diameter=0.1)) is None


def test_a_bundle_of_four_turns_agrees_with_its_four_rings():
    wire, radius = 1e-3, 0.04
    found = self_inductance(Winding(diameter=2 * radius, turns=4, wire=wire))
    place = wire / 2 * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    total = sum(ring(radius + float(r), wire) for r, _ in place)
    for i in range(4):
        for j in range(i):
            (r1, z1), (r2, z2) = place[i], place[j]
            total += 2 * float(mutual_of_circles(radius + r1, radius + r2, z1 - z2))
    assert found == pytest.approx(total, rel=2e-3)


def test_coupling_of_two_loops_by_hand():
    pair = Pair(diameter1=0.5, diameter2=0.4, distance=0.1, wire1=1e-3, wire2=1e-3)
    expected = 248.787359042189e-9 / math.sqrt(ring(0.25, 1e-3) * ring(0.2, 1e-3))
    assert coupling(pair) == pytest.approx(expected, rel=1e-12)


@given(
    st.floats(0.01, 0.5),
    st.floats(0.01, 0.5),
    st.floats(0.0, 0.5),
    st.integers(1, 30),
    st.integers(1, 30),
)
def test_no_pair_is_coupled_more_than_fully(diameter1, diameter2, distance, turns1, turns2):
    try:
        pair = Pair(
            diameter1=diameter1,
            diameter2=diameter2,
            distance=distance,
            turns1=turns1,
            turns2=turns2,
            wire1=5e-4,
            wire2=5e-4,
        )
    except QuantityError:
        assume(False)
    factor = coupling(pair)
    assert factor is not None
    assert 0 < factor < 1


def test_touching_turns_are_coupled_closely_but_not_fully():
    pair = Pair(diameter1=0.1, diameter2=0.1, distance=1e-3, wire1=1e-3, wire2=1e-3)
    expected = (math.log(8 * 0.05 / 1e-3) - 2) / (math.log(8 * 0.05 / 0.5e-3) - 1.75)
    assert coupling(pair) == pytest.approx(expected, rel=1e-3)


def test_a_coil_cut_in_two_keeps_its_inductance():
    """L = L1 + L2 + 2M for the two halves of a solenoid in series."""
    whole = current_sheet(0.05, 0.06, 60)
    half = current_sheet(0.05, 0.03, 30)
    pair = Pair(
        diameter1=0.05,
        diameter2=0.05,
        distance=0.03,
        turns1=30,
        turns2=30,
        length1=0.03,
        length2=0.03,
    )
    assert 2 * half + 2 * mutual(pair) == pytest.approx(whole, rel=2e-8)


def test_without_a_wire_the_coupling_is_a_range_and_not_a_number():
    pair = Pair(diameter1=0.5, diameter2=0.4, distance=0.1)
    assert coupling(pair) is None
    low, middle, high = coupling_bounds(pair)
    assert 0 < low < middle < high < 1
    known = Pair(diameter1=0.5, diameter2=0.4, distance=0.1, wire1=5e-3, wire2=4e-3)
    assert coupling(known) == pytest.approx(middle, rel=1e-12)


def test_bounds_of_nearly_touching_filaments_stay_below_one():
    pair = Pair(diameter1=0.1, diameter2=0.1, distance=1e-5)
    assert all(0 < bound < 1 for bound in coupling_bounds(pair))


def test_one_known_coil_narrows_the_range():
    open_both = coupling_bounds(Pair(diameter1=0.5, diameter2=0.4, distance=0.1))
    one = coupling_bounds(Pair(diameter1=0.5, diameter2=0.4, distance=0.1, wire1=5e-3))
    assert one[2] - one[0] < open_both[2] - open_both[0]


LOOP = Section(inner=0.05, outer=0.05)


def test_a_metal_plate_is_an_image_of_opposite_current():
    change = image_change(LOOP, 1, Plate(kind="metal", gap=0.01))
    assert change == pytest.approx(-float(mutual_of_circles(0.05, 0.05, 0.02)), rel=1e-14)


def test_a_ferrite_plate_is_an_image_of_equal_current_weakened_by_its_permeability():
    change = image_change(LOOP, 10, Plate(kind="ferrite", gap=0.01, permeability=9.0))
    assert change == pytest.approx(80 * float(mutual_of_circles(0.05, 0.05, 0.02)), rel=1e-14)
    assert image_change(LOOP, 1, Plate(kind="ferrite", gap=0.01, permeability=1.0)) == 0


@given(st.floats(1e-5, 1.0))
def test_a_ferrite_plate_never_more_than_doubles_and_metal_never_reverses(gap):
    sheet = Section(inner=0.05, outer=0.05, length=0.02)
    alone = mean_mutual(sheet, sheet)
    ferrite = image_change(sheet, 1, Plate(kind="ferrite", gap=gap, permeability=1e6))
    assert 0 < ferrite < alone
    assert image_change(sheet, 1, Plate(kind="metal", gap=gap)) == pytest.approx(
        -ferrite, rel=1e-5
    )


def test_a_far_plate_changes_nothing():
    change = image_change(LOOP, 1, Plate(kind="metal", gap=5.0))
    assert abs(change) < 1e-6 * ring(0.05, 1e-3)


@pytest.mark.parametrize("gap", [0.0, -1e-3, math.inf, math.nan])
def test_a_gap_that_is_none_is_refused(gap):
    with pytest.raises(QuantityError, match="gap: must be above zero"):
        Plate(kind="metal", gap=gap)


def test_a_permeability_below_one_is_refused():
    with pytest.raises(QuantityError, match="permeability: must be one or more"):
        Plate(kind="ferrite", gap=1e-3, permeability=0.5)
