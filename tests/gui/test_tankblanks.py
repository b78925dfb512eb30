"""Every blank of the sheet can be understood: a known unit, a tip, a key of its own."""

from __future__ import annotations

import pytest

from benchapp.gui.tankblanks import DRIVE, DUTY, LOSSES, RATINGS, TANK, TOLERANCES
from benchapp.tank import Losses
from benchapp.units import UNITS

ALL = (*TANK, *LOSSES, *DRIVE, *TOLERANCES, *DUTY, *RATINGS)


@pytest.mark.parametrize("blank", ALL, ids=lambda blank: blank.key)
def test_a_blank_has_a_known_unit_and_says_what_it_is(blank):
    assert blank.unit in {"", *UNITS}
    assert len(blank.tip) > 10
    assert blank.label


def test_no_two_blanks_share_a_key():
    assert len({blank.key for blank in ALL}) == len(ALL)


def test_the_losses_are_those_of_the_core():
    assert {blank.key for blank in LOSSES} == set(Losses.__slots__)
