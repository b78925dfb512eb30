"""A lot goes part by part to its conclusion, and nothing that was measured is lost."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import UsageError
from benchapp.lot import CONCLUSIONS, Conclusion, LotForm, PlanChoice, begin, next_severity
from benchapp.nominal import Outcome
from tests.lot.parts import filled, record, state

PASS, FAIL, NOT = Outcome.PASS, Outcome.FAIL, Outcome.NOT_JUDGED


def test_a_lot_is_open_until_its_sample_is_complete():
    lot = filled(state(), 12)
    assert (lot.decision, lot.remaining, lot.counted) == ("open", 1, 12)
    lot = filled(lot, 1)
    assert (lot.decision, lot.remaining) == ("accept", 0)


def test_a_lot_is_rejected_as_soon_as_the_rejection_number_is_reached():
    lot = filled(state(500), 3, bad=1)
    assert lot.decision == "open"
    assert filled(lot, 0, bad=1).decision == "reject"


def test_a_rejected_lot_can_be_gone_on_with():
    lot = filled(state(), 2, bad=1)
    assert lot.decision == "reject"
    assert filled(lot, 3, bad=1).rejected == 2


def test_a_part_that_could_not_be_judged_never_counts_as_good():
    lot = filled(state(), 12, unjudged=1)
    assert (lot.decision, lot.counted) == ("undecided", 12)
    assert [part.serial for part in lot.not_judged] == ["0013"]
    assert filled(state(), 11, bad=1, unjudged=1).decision == "reject"


def test_parts_beyond_the_sample_do_not_count_for_the_plan_but_are_kept_apart():
    lot = filled(state(500), 50)
    more = lot.add(record("extra", FAIL)).add(record("other", FAIL))
    assert more.decision == "accept"
    assert [part.serial for part in more.quarantined] == ["extra", "other"]


def test_a_conditional_fail_is_nonconforming_and_a_conditional_pass_is_not():
    lot = state().add(record("a", Outcome.CONDITIONAL_FAIL))
    lot = lot.add(record("b", Outcome.CONDITIONAL_PASS))
    assert lot.rejected == 1
    assert [part.serial for part in lot.quarantined] == ["a"]


def test_a_retest_counts_instead_and_the_first_stays():
    lot = filled(state(), 12, bad=1)
    again = lot.retest(record("0013", PASS, cause="clip was loose"))
    assert again.decision == "accept"
    assert [part.outcome for part in again.parts if part.serial == "0013"] == [FAIL, PASS]
    assert again.latest["0013"].attempt == 2
    assert again.latest["0013"].position == lot.latest["0013"].position


def test_a_retest_keeps_the_number_that_the_record_gave_it():
    lot = state().add(record("a", FAIL)).retest(record("a", FAIL, attempt=4))
    assert lot.latest["a"].attempt == 4
    assert lot.retest(record("a", PASS, attempt=2)).latest["a"].attempt == 5


def test_retests_without_a_cause_are_testing_into_compliance():
    lot = state().add(record("a", FAIL)).retest(record("a", FAIL))
    assert lot.unlogged_retests == ()
    assert lot.retest(record("a", PASS)).unlogged_retests == ("a",)
    assert lot.retest(record("a", PASS, cause="new clip")).unlogged_retests == ()


def test_what_is_undone_stays_as_taken_back():
    lot = filled(state(), 2)
    back = lot.undo()
    assert [part.serial for part in back.parts] == ["0001"]
    assert [part.serial for part in back.undone] == ["0002"]
    assert back.next_serial == "0002"


def test_serials_are_counted_past_those_that_were_typed():
    lot = state().add(record("0002"))
    assert lot.next_serial == "0003"
    assert state().next_serial == "0001"


def test_positions_are_drawn_at_random_and_the_same_seed_draws_them_again():
    plan = PlanChoice().plan(500)
    lots = [begin(LotForm(), plan, np.random.default_rng(seed)) for seed in (1, 1, 2)]
    assert lots[0].positions == lots[1].positions != lots[2].positions
    assert len(set(lots[0].positions)) == 50
    assert all(1 <= position <= 500 for position in lots[0].positions)
    first = lots[0].add(record("a"))
    assert first.parts[0].position == lots[0].positions[0]
    assert first.next_position == lots[0].positions[1]


def test_where_every_part_is_inspected_no_position_is_drawn():
    lot = begin(LotForm(), PlanChoice().plan(13), np.random.default_rng(1))
    assert lot.positions == ()
    assert lot.next_position is None


def test_a_reduced_plan_has_a_gap_that_accepts_and_ends_reduced_inspection():
    # MIL-STD-105E Table II-C: letter K at AQL 1.0: n 50, Ac 1, Re 4.
    lot = filled(state(2000, severity="reduced"), 47, bad=3)
    assert (lot.plan.accept, lot.plan.reject) == (1, 4)
    assert lot.decision == "accept"
    assert lot.in_gap


@pytest.mark.parametrize(
    ("act", "match"),
    [
        (lambda lot: lot.add(record(" ")), "serial: must not be empty"),
        (lambda lot: lot.add(record("0001")), r"serial: must be new in this lot \(got '0001'"),
        (lambda lot: lot.retest(record("9")), "serial: must have been measured before"),
        (lambda _lot: state().undo(), "lot: must have a measurement to take back"),
    ],
)
def test_an_act_that_cannot_be_is_refused(act, match):
    with pytest.raises(UsageError, match=match):
        act(filled(state(), 1))


def conclude(lot, outcome, name="M. Ito", reason=""):
    return lot.conclude(Conclusion(outcome=outcome, name=name, reason=reason))


def test_what_the_plan_says_needs_no_reason():
    assert conclude(filled(state(), 13), "accept").conclusion.outcome == "accept"
    assert conclude(filled(state(), 0, bad=1), "reject").conclusion.outcome == "reject"


def test_a_rejected_lot_is_only_taken_by_concession():
    lot = filled(state(), 12, bad=1)
    with pytest.raises(UsageError, match="must not be accept where the plan rejects"):
        conclude(lot, "accept", reason="we need them")
    assert conclude(lot, "concession", reason="Q 1 % low, agreed").conclusion.reason


@pytest.mark.parametrize("outcome", sorted(set(CONCLUSIONS) - {"accept"}))
def test_everything_else_needs_a_reason(outcome):
    with pytest.raises(UsageError, match=f"must have a reason for {outcome}"):
        conclude(filled(state(), 13), outcome)


def test_a_conclusion_needs_a_name_and_a_known_outcome():
    lot = filled(state(), 13)
    with pytest.raises(UsageError, match="must have the name of who decides"):
        conclude(lot, "accept", name=" ")
    with pytest.raises(UsageError, match="conclusion: must be one of accept, reject, hold"):
        conclude(lot, "perhaps")


def test_a_concluded_lot_stays_as_it_is():
    lot = conclude(filled(state(), 13), "accept")
    for act in (lambda: lot.add(record("x")), lot.undo, lambda: conclude(lot, "accept")):
        with pytest.raises(UsageError, match="lot: must be open"):
            act()


def test_two_rejected_lots_of_five_tighten_the_next():
    good, bad = filled(state(), 13), filled(state(), 0, bad=1)
    assert next_severity([good, bad, good]).severity == "normal"
    assert next_severity([good, bad, good, bad]).severity == "tightened"


def test_lots_that_are_open_or_without_a_table_do_not_switch():
    open_lot, whole = filled(state(), 1), filled(state(kind="all"), 0, bad=1)
    assert next_severity([open_lot, whole, whole, whole]).severity == "normal"


@given(st.lists(st.sampled_from([PASS, FAIL, NOT]), max_size=30), st.integers(2, 40))
def test_nothing_measured_is_lost_and_the_counts_agree(outcomes, quantity):
    lot = state(quantity)
    for outcome in outcomes:
        lot = lot.add(record(lot.next_serial, outcome))
    assert [part.outcome for part in lot.parts] == outcomes
    assert lot.counted + len(lot.not_judged) == len(lot.sample) == min(len(outcomes), lot.plan.n)
    assert lot.rejected <= lot.counted
    while lot.parts:
        lot = lot.undo()
    assert [part.outcome for part in reversed(lot.undone)] == outcomes
