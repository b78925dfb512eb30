"""Families of faults: signs and sizes as physics has them, and words for each."""

from __future__ import annotations

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
