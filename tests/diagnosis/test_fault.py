"""Families of faults: signs and sizes as physics has them, and words for each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench.faulty import BUILD
from benchapp.diagnosis.expectation import expectation
from benchapp.diagnosis.fault import FAMILIES
from benchapp.nominal import Construction
from tests.diagnosis.scene import design, tuned

EXPECTED = expectation(design(tuned(BUILD)))
MADE = Construction(turns=48, strands=30, core="ferrite")
SIGNS = {  # of the changes of L, C, loss at direct current, loss that grows with frequency
    "shorted-turn": (-1, 0, 0, 1),
    "turn-missing": (-1, 0, -1, -1),
    "turn-extra": (1, 0, 1, 1),
    "broken-strand": (0, 0, 1, 1),
    "ferrite": (-1, 0, 0, -1),
    "cold-joint": (0, 0, 1, 0),
}
BY_ID = {family.id: family for family in FAMILIES}


@pytest.mark.parametrize("name", sorted(SIGNS))
def test_a_fault_shifts_values_the_way_physics_has_it(name):
    shifts = BY_ID[name].make(EXPECTED, MADE).shifts
    for column, sign in enumerate(SIGNS[name]):
        values = shifts[:, column]
        assert np.all(values * sign >= 0) if sign else np.all(values == 0)


def test_a_wrong_capacitor_goes_both_ways_and_may_have_losses():
    shifts = BY_ID["wrong-capacitor"].make(EXPECTED, MADE).shifts
    assert shifts[:, 1].min() < -2 < 2 < shifts[:, 1].max()
    assert not shifts[:, 0].any()
    assert shifts[:, 3].min() == 0 < shifts[:, 3].max()


def test_a_stated_construction_narrows_the_families():
    turns = BY_ID["turn-missing"].make(EXPECTED, MADE)
    assert set(turns.sizes) == {48.0}
    assert len(set(BY_ID["turn-missing"].make(EXPECTED, Construction()).sizes)) > 10
    assert BY_ID["ferrite"].make(EXPECTED, Construction(core="air")) is None
    assert BY_ID["broken-strand"].make(EXPECTED, Construction(strands=1)) is None
    assert BY_ID["broken-strand"].make(EXPECTED, MADE).sizes.min() == pytest.approx(1 / 30)


def test_a_shorted_turn_costs_quality():
    shifts = BY_ID["shorted-turn"].make(EXPECTED, MADE).shifts
    assert shifts[:, 3].min() > 0.3
    assert shifts[:, 0].min() > np.log(0.14)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.id)
def test_every_family_has_words_and_a_next_test(family):
    members = family.make(EXPECTED, MADE)
    assert members.shifts.shape == (members.sizes.size, 4)
    assert np.isfinite(members.shifts).all()
    assert family.words(float(members.sizes[0]), EXPECTED)
    assert family.next_test.endswith(".")


def _by_size(name, column, expected=EXPECTED, made=MADE):
    """Mean shift in one column for each size, in the order of the sizes."""
    members = BY_ID[name].make(expected, made)
    sizes = np.unique(members.sizes)
    return np.array([members.shifts[members.sizes == size, column].mean() for size in sizes])


@pytest.mark.parametrize(
    ("name", "column"),
    [("broken-strand", 2), ("broken-strand", 3), ("cold-joint", 2), ("wrong-capacitor", 1)],
)
def test_a_larger_fault_shifts_more(name, column):
    assert np.all(np.diff(_by_size(name, column)) > 0)


def test_a_larger_piece_of_ferrite_lost_takes_more_inductance_and_more_loss():
    assert np.all(np.diff(_by_size("ferrite", 0)) < 0)
    assert np.all(np.diff(_by_size("ferrite", 3)) < 0)


def test_a_turn_counts_less_among_more_turns():
    for name, sign in (("turn-missing", -1), ("turn-extra", 1)):
        shift = sign * _by_size(name, 0, made=Construction())
        assert np.all(shift > 0)
        assert np.all(np.diff(shift) < 0)


def test_a_turn_missing_and_one_extra_are_nearly_opposite_where_there_are_many():
    made = Construction(turns=1000)
    less, more = (BY_ID[f"turn-{end}"].make(EXPECTED, made).shifts for end in ("missing", "extra"))
    np.testing.assert_allclose(less, -more, rtol=4e-3, atol=1e-12)


@pytest.mark.parametrize("k2", [0.02, 0.85])
def test_the_shorted_turn_is_the_reflected_impedance_of_a_closed_mesh(k2):
    # jwL + R + (wM)^2 / (R_t + jwL_t), worked out with elements of any size.
    members = BY_ID["shorted-turn"].make(EXPECTED, MADE)
    omega, turn = 2 * np.pi * EXPECTED.frequency, 1e-6
    for row in np.flatnonzero(np.isclose(members.sizes, k2)):
        drop, loss = -np.expm1(members.shifts[row, 0]), members.shifts[row, 3]
        xi = drop / (loss / EXPECTED.q)
        resistance = omega * turn / xi
        mutual = np.sqrt(k2 * turn * EXPECTED.L)
        reflected = (omega * mutual) ** 2 / (resistance + 1j * omega * turn)
        assert -reflected.imag / (omega * EXPECTED.L) == pytest.approx(drop, rel=1e-6)
        assert reflected.real / EXPECTED.loss == pytest.approx(loss, rel=1e-6)


@pytest.mark.parametrize("name", ["shorted-turn", "broken-strand", "cold-joint"])
def test_a_fault_seen_by_its_loss_is_not_considered_where_the_design_states_none(name):
    silent = replace(EXPECTED, loss=None, loss_spread=0.0, dc=None, dc_spread=0.0)
    assert BY_ID[name].make(silent, MADE) is None


def test_without_a_stated_loss_a_wrong_capacitor_is_known_by_its_value_alone():
    silent = replace(EXPECTED, loss=None, dc=None)
    assert not BY_ID["wrong-capacitor"].make(silent, MADE).shifts[:, 3].any()
    assert BY_ID["wrong-capacitor"].make(replace(EXPECTED, C=None), MADE) is None


@pytest.mark.parametrize("name", ["turn-missing", "turn-extra", "broken-strand", "ferrite"])
def test_loss_is_divided_as_the_design_says(name):
    # All at direct current: nothing is left that could grow with frequency, and the reverse.
    for dc, column in ((EXPECTED.loss, 3), (0.0, 2)):
        members = BY_ID[name].make(replace(EXPECTED, dc=dc), MADE)
        np.testing.assert_allclose(members.shifts[:, column], 0.0, atol=1e-12)


WORDS = [
    ("shorted-turn", 0.25, "a closed turn coupled with k = 0.50"),
    ("turn-missing", 48.0, "one of about 48 turns"),
    ("broken-strand", 0.2, "20 % of the strands broken"),
    ("ferrite", 0.31, "31 % of the inductance lost"),
    ("cold-joint", 2.5, "2.5 Ω in series"),
]


@pytest.mark.parametrize(("name", "size", "words"), WORDS)
def test_the_size_of_a_fault_is_told_in_the_words_of_the_trade(name, size, words):
    assert BY_ID[name].words(size, EXPECTED) == words
