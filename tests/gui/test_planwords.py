"""A plan in words says the same as its numbers."""

from __future__ import annotations

import pytest

from benchapp.gui.planwords import (
    FRACTIONS,
    acceptance_words,
    count_words,
    decision_words,
    plan_words,
    whole_shares,
)
from benchapp.lot import Conclusion, LotForm, LotPlan, LotState, PartRecord, PlanChoice
from benchapp.nominal import Outcome


def state(plan, *outcomes):
    parts = tuple(
        PartRecord(serial=str(at), outcome=outcome) for at, outcome in enumerate(outcomes)
    )
    return LotState(form=LotForm(quantity=plan.quantity), plan=plan, parts=parts)


def test_an_arrow_of_the_table_is_told():
    words = plan_words(PlanChoice().plan(150))
    assert words == (
        "Code letter F, by its arrow E. 13 of 150 parts are measured, drawn at random. "
        "Accepted only if no part is rejected (Ac 0), rejected from 1 on (Re 1)."
    )


def test_every_part_is_told_as_such():
    assert plan_words(PlanChoice(kind="all").plan(8)).startswith("All 8 parts are measured.")
    assert plan_words(PlanChoice(kind="all").plan(1)).startswith("The one part is measured.")


def test_a_plan_by_mean_and_spread_tells_its_k_and_m():
    plan = PlanChoice(kind="variables").plan(150)
    words = plan_words(plan)
    assert f"k = {plan.k:.3g}" in words
    assert f"{100 * plan.most:.3g} % outside (M)" in words
    assert acceptance_words(plan) == []


def test_acceptance_falls_with_the_share_of_bad_parts():
    pairs = acceptance_words(PlanChoice().plan(5000))
    assert [share for share, _ in pairs] == [f"{100 * one:g} %" for one in FRACTIONS]
    chances = [float(chance.strip("< %")) for _, chance in pairs]
    assert chances == sorted(chances, reverse=True)
    assert pairs[-1][1] == "< 0.1 %"


def test_shares_are_those_of_whole_parts():
    """1 % of 150 is no whole number of parts: the lot nearest to it has 2, which is 1.3 %."""
    plan = PlanChoice().plan(150)
    assert whole_shares(plan) * 150 == pytest.approx([2, 3, 8, 15, 30])
    assert [share for share, _ in acceptance_words(plan)] == [
        "1.3 %",
        "2 %",
        "5.3 %",
        "10 %",
        "20 %",
    ]


def test_a_small_lot_has_few_shares_and_none_of_no_part():
    plan = PlanChoice().plan(9)
    assert whole_shares(plan) * 9 == pytest.approx([0, 1, 2])
    assert [share for share, _ in acceptance_words(plan)] == ["11 %", "22 %"]


def test_the_count_tells_one_and_many_rejected():
    plan = PlanChoice().plan(150)
    assert count_words(state(plan, Outcome.FAIL)) == "1 of 13 · 1 rejected · Ac 0 Re 1"
    assert count_words(state(plan)) == "0 of 13 · 0 rejected · Ac 0 Re 1"


@pytest.mark.parametrize(
    ("outcome", "mark", "words"),
    [
        ("accept", "good", "accepted"),
        ("reject", "stop", "rejected"),
        ("hold", "unknown", "on hold"),
        ("concession", "doubt", "taken by concession"),
    ],
)
def test_the_signed_end_is_told_by_mark_and_word(outcome, mark, words):
    plan = PlanChoice(kind="all").plan(1)
    ended = state(plan, Outcome.PASS).conclude(
        Conclusion(outcome=outcome, name="B. E.", reason="agreed")
    )
    assert decision_words(ended) == (mark, words)


def test_what_cannot_be_judged_is_not_accepted():
    plan = PlanChoice(kind="all").plan(1)
    assert decision_words(state(plan, Outcome.NOT_JUDGED)) == (
        "unknown",
        "not decided by the count",
    )


@pytest.mark.parametrize(
    ("accept", "words"),
    [
        (0, "Accepted only if no part is rejected (Ac 0), rejected from 1 on (Re 1)."),
        (1, "Accepted with at most 1 rejected part (Ac 1), rejected from 2 on (Re 2)."),
        (7, "Accepted with at most 7 rejected parts (Ac 7), rejected from 8 on (Re 8)."),
    ],
)
def test_rejected_parts_are_counted_in_the_right_number(accept, words):
    plan = LotPlan(kind="attributes", quantity=500, n=50, accept=accept, reject=accept + 1)
    assert plan_words(plan).endswith(words)


def test_one_part_of_many_is_told_as_one():
    plan = LotPlan(kind="zero", quantity=5, n=1, accept=0, reject=1)
    assert plan_words(plan).startswith("1 of 5 parts is measured, drawn at random.")


def test_why_a_severity_holds_is_told_with_the_plan():
    plan = PlanChoice(severity="tightened", severity_why="2 of the last 3 lots rejected").plan(500)
    assert plan_words(plan).endswith("Tightened inspection: 2 of the last 3 lots rejected.")
    assert "inspection" not in plan_words(PlanChoice().plan(500))
