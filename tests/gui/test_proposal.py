"""Limits proposed from the stack-up hold all that the stack-up says, rounded outwards."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.gui.proposal import BASES, tank_proposal
from benchapp.gui.tanksheet import EXAMPLE, work_out
from benchapp.tank import simulate

WORKED = work_out(EXAMPLE)
DRAWN = simulate(WORKED.stack_up, np.random.default_rng(1), 20_000)
SPANS = {
    "worst": (WORKED.stacked.worst_low, WORKED.stacked.worst_high),
    "rss": (WORKED.stacked.rss_low, WORKED.stacked.rss_high),
    "simulated": (DRAWN.quantiles[0], DRAWN.quantiles[-1]),
}


@pytest.mark.parametrize("basis", BASES)
def test_limits_of_f0_hold_the_range_of_their_basis_and_little_more(basis):
    limits = {one.quantity: one for one in tank_proposal(WORKED, DRAWN, basis).limits}
    low, high = SPANS[basis]
    f0 = limits["f0"]
    assert f0.lower <= low < f0.nominal < high <= f0.upper
    assert low - f0.lower < 1.1e-4 * f0.nominal
    assert f0.upper - high < 1.1e-4 * f0.nominal


def test_limits_of_l_and_c_are_as_typed():
    limits = {one.quantity: one for one in tank_proposal(WORKED, None, "worst").limits}
    assert limits["L"].lower == pytest.approx(0.97 * 1.62e-3)
    assert limits["C"].upper == pytest.approx(1.02 * 868e-12)
    assert list(limits) == ["L", "C", "f0"]


@given(tolerance=st.floats(0.01, 30))
def test_no_tank_within_its_tolerances_is_outside_the_proposed_limits(tolerance):
    worked = work_out({"L": f"1 mH ±{tolerance:.4f} %", "C": "1 nF"})
    f0 = tank_proposal(worked, None, "worst").limits[-1]
    assert f0.lower <= worked.stacked.worst_low
    assert f0.upper >= worked.stacked.worst_high


def test_what_was_worked_out_from_a_wish_is_not_proposed():
    worked = work_out({"L": "1.62 mH ±3 %", "f0": "134.2 kHz"})
    assert tank_proposal(worked, None, "worst").names == ("L", "f0")


def test_without_tolerances_nothing_is_proposed():
    assert tank_proposal(work_out({"L": "1 mH", "C": "1 nF"}), None, "worst") is None
    assert tank_proposal(WORKED, None, "simulated") is None


@pytest.mark.parametrize(("circuit", "name"), [("series", "series-rlc"), ("parallel", "tank")])
def test_a_new_design_gets_the_circuit_of_the_tank(circuit, name):
    worked = work_out({**EXAMPLE, "circuit": circuit})
    found = tank_proposal(worked, None, "worst")
    assert found.circuit == name
    assert found.frequency == pytest.approx(worked.sums.frequency.nominal, rel=1e-4)
