"""Switching rules, lot by lot."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.sampling import LotResult, switch

GOOD, BAD, GAP = (
    LotResult(accepted=True),
    LotResult(accepted=False),
    LotResult(accepted=True, in_gap=True),
)


def _history(letters):
    return [{"+": GOOD, "-": BAD, "~": GAP}[letter] for letter in letters]


@pytest.mark.parametrize(
    ("lots", "severity"),
    [
        ("", "normal"),
        ("+++++", "normal"),
        ("-", "normal"),
        ("--", "tightened"),
        ("-+++-", "tightened"),
        ("-++++-", "normal"),
        ("--++++", "tightened"),
        ("--+++++", "normal"),
        ("--++++-+++++", "normal"),
        ("-------", "discontinued"),
        ("--+-+-+-+-+-", "discontinued"),
        ("--+++++--", "tightened"),
    ],
)
def test_normal_tightened_discontinued(lots, severity):
    assert switch(_history(lots)).severity == severity


def test_the_reason_is_said():
    assert switch(_history("-+-")).why == "2 of the last 3 lots rejected"
    assert "tightened" in switch(_history("--+++++")).why
    assert "5 lots rejected" in switch(_history("-------")).why


def test_reduced_is_only_proposed_with_the_limit_number_and_taken_only_when_agreed():
    ten = _history("++++++++++")
    assert switch(ten).reduced_possible is False
    assert switch(ten, limit_number=0).reduced_possible is True
    assert switch(ten, limit_number=0).severity == "normal"
    assert switch(ten, limit_number=0, reduced_agreed=True).severity == "reduced"
    assert switch(ten[:9], limit_number=0, reduced_agreed=True).severity == "normal"


def test_too_many_nonconforming_parts_keep_inspection_normal():
    ten = [LotResult(accepted=True, nonconforming=1)] * 10
    assert switch(ten, limit_number=9).reduced_possible is False
    assert switch(ten, limit_number=10).reduced_possible is True


@pytest.mark.parametrize(("last", "word"), [("-", "rejected"), ("~", "between")])
def test_reduced_goes_back_to_normal_at_a_rejected_lot_and_in_the_gap(last, word):
    state = switch(_history("++++++++++" + last), limit_number=0, reduced_agreed=True)
    assert state.severity == "normal"
    assert word in state.why


@settings(deadline=None)
@given(st.text(alphabet="+-", max_size=40))
def test_discontinued_lasts_and_good_lots_never_tighten(lots):
    state = switch(_history(lots))
    if state.severity == "discontinued":
        assert switch(_history(lots + "++++++++++")).severity == "discontinued"
    elif state.severity == "normal":
        assert switch(_history(lots + "+")).severity == "normal"
