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


@pytest.mark.parametrize(
    ("lots", "severity", "word"),
    [
        ("", "normal", "begins"),
        ("+", "normal", "begins"),
        ("+-+", "normal", "begins"),
        ("--", "tightened", "2 of the last 2"),
        ("+--", "tightened", "2 of the last 3"),
        ("+++-+-", "tightened", "2 of the last 5"),
        ("--+++++", "normal", "5 lots accepted under tightened"),
        ("--++-+++++", "normal", "5 lots accepted under tightened"),
        ("--+-", "tightened", "2 of the last 2"),
        ("-------", "discontinued", "5 lots rejected under tightened"),
        ("--+++++-", "normal", "5 lots accepted under tightened"),
    ],
)
def test_severity_and_its_reason(lots, severity, word):
    state = switch(_history(lots))
    assert state.severity == severity
    assert word in state.why


def test_rejections_before_tightened_inspection_do_not_count_towards_the_stop():
    """Two rejections bring tightened inspection; the stop needs five more."""
    assert switch(_history("--" + "-" * 4)).severity == "tightened"
    assert switch(_history("--" + "-" * 5)).severity == "discontinued"


def test_a_new_period_of_tightened_inspection_counts_afresh():
    assert switch(_history("--" + "----" + "+++++" + "--" + "----")).severity == "tightened"


@pytest.mark.parametrize("accepted", [9, 10, 11, 20])
def test_ten_lots_in_a_row_make_reduced_inspection_possible(accepted):
    state = switch([GOOD] * accepted, limit_number=0)
    assert state.reduced_possible is (accepted >= 10)


def test_a_rejected_lot_among_the_ten_forbids_reduced_inspection():
    assert switch(_history("+++++-+++++"), limit_number=5).reduced_possible is False
    assert switch(_history("+++++-++++++++++"), limit_number=5).reduced_possible is True


def test_only_the_last_ten_lots_count_towards_the_limit_number():
    early = [LotResult(accepted=True, nonconforming=9)] * 3
    assert switch([*early, *[GOOD] * 10], limit_number=0).reduced_possible is True


def test_reduced_inspection_goes_on_while_lots_are_good():
    state = switch([GOOD] * 25, limit_number=0, reduced_agreed=True)
    assert state.severity == "reduced"
    assert "agreed" in state.why
