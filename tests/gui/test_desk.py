"""What counts in a lot counts once, only when it is in the record, and is named before."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication

from benchapp.gui.desk import Desk
from benchapp.jobs import BeginLot, ConcludeLot, Examination, OpenLot, TakeBack
from benchapp.lot import LotForm, PlanChoice
from benchapp.nominal import Outcome
from benchapp.uncertainty import Accuracy
from tests.gui.factories import nominal, transient
from tests.gui.heldrecord import (
    PLAN,
    REFUSED,
    HeldRecord,
    conclusion,
    count,
    lot,
    opened,
    part,
    put_on,
)


@pytest.fixture
def desk(qapp, memory):
    made = Desk(HeldRecord(), memory)
    yield made
    made.deleteLater()


@pytest.fixture
def told(desk):
    said = []
    desk.told.connect(said.append)
    return said


@pytest.fixture
def changes(desk):
    seen = []
    desk.changed.connect(lambda: seen.append(desk.next_serial))
    return seen


def serials(desk):
    return [one.serial for one in desk.state.parts]


def test_without_a_lot_nothing_counts_and_nothing_is_next(desk, told):
    assert (desk.is_open, desk.is_counting, desk.is_decided, desk.can_undo) == (False,) * 4
    assert desk.next_serial == ""
    assert not desk.take(part("0147"))
    desk.undo()
    desk.conclude("accept", "B. Example", "")
    assert (desk.recorder.kept, desk.recorder.acts, told) == ([], [], [])


def test_a_lot_is_begun_in_the_record_and_only_then_on_the_bench(desk, memory):
    used = []
    desk.opened.connect(used.append)
    form = LotForm(part="GA-12", quantity=150, operator="A. Example")
    plan = PlanChoice().plan(150)
    desk.begin(form, plan, nominal())
    assert desk.state is None
    job = desk.recorder.acts[-1].job
    assert isinstance(job, BeginLot)
    assert (job.record, job.form, job.plan) == ("bench.benchlog", form, plan)
    assert memory.operator == "A. Example"
    found = opened(lot())
    desk.recorder.acts.pop().done(found)
    assert desk.is_counting
    assert (desk.key, desk.state, desk.nominal) == ("lot-1", found.state, found.nominal)
    assert used == [found.nominal]


def test_no_two_lots_draw_by_the_same_seed(desk):
    for _ in range(20):
        desk.begin(LotForm(quantity=150), PLAN, nominal())
    assert len({act.job.seed for act in desk.recorder.acts}) == 20


def test_a_lot_that_cannot_be_begun_is_told_with_what_to_do(desk, told):
    desk.begin(LotForm(quantity=150), PLAN, nominal())
    desk.recorder.acts.pop().failed(REFUSED)
    assert (told[0].text, told[0].hint, told[0].mark) == (REFUSED.message, "Go.", "stop")
    assert desk.state is None


def test_going_on_opens_the_lot_of_that_key_with_its_last_part(desk):
    desk.resume("lot-9")
    job = desk.recorder.acts[-1].job
    assert isinstance(job, OpenLot)
    assert job.key == "lot-9"
    desk.recorder.acts.pop().done(opened(lot(Outcome.PASS, Outcome.FAIL), "lot-9"))
    assert desk.last.serial == "0002"
    assert desk.next_serial == "0003"
    assert desk.state.next_position == 99


def test_a_concluded_lot_can_be_looked_at_and_counts_nothing(desk):
    put_on(desk, lot(Outcome.PASS).conclude(conclusion()))
    assert desk.state is not None
    assert (desk.is_open, desk.is_counting, desk.can_undo) == (False, False, False)


@pytest.mark.parametrize(
    ("capture", "serial"),
    [
        (part("0147", "/bench/other.csv"), "0147"),
        (part("", "/bench/0815.csv"), "0815"),
        (part("", "/bench/run.csv", label="coil 2"), "run coil 2"),
        (part(), "0001"),
    ],
    ids=["stated in the file", "name of the file", "one of several", "counted"],
)
def test_the_serial_is_what_the_capture_states_or_else_counted(desk, capture, serial):
    put_on(desk, lot())
    assert desk.take(capture)
    assert desk.recorder.place.serial == serial


def test_what_was_typed_goes_before_what_the_file_says_and_only_once(desk):
    put_on(desk, lot())
    desk.name("  GA-77 ")
    assert desk.next_serial == "GA-77"
    desk.take(part("0147"))
    assert desk.recorder.place.serial == "GA-77"
    desk.take(part("0148"))
    assert desk.recorder.place.serial == "0148"


def test_each_part_takes_the_next_drawn_position(desk):
    put_on(desk, lot())
    for name in ("a", "b", "c", "d"):
        desk.take(part(name))
    places = [handed.job[1] for handed in desk.recorder.kept]
    assert [place.position for place in places] == [7, 31, 99, None]
    assert {(place.lot, place.attempt, place.operator) for place in places} == {
        ("lot-1", 1, "A. Example")
    }


def test_a_part_of_a_lot_is_judged_by_its_design_as_the_window_judges(desk):
    stated = Examination(accuracy=Accuracy(title="meter"))
    desk.recorder.examination = lambda: stated
    put_on(desk, lot())
    desk.take(part("0147"))
    compare, _ = desk.recorder.kept[-1].job
    assert compare.nominal is desk.nominal
    assert compare.examination.accuracy is stated.accuracy
    assert compare.examination.facts.in_lot is True


def test_a_part_counts_only_when_the_record_holds_it(desk, changes):
    put_on(desk, lot())
    desk.take(part("0147"))
    assert desk.is_busy
    assert desk.state.parts == ()
    record = count(desk)
    assert not desk.is_busy
    assert desk.last == record
    assert serials(desk) == ["0147"]
    assert desk.chosen == "0147"
    assert len(changes) == 3


def test_counted_serials_skip_those_that_are_still_on_their_way(desk):
    put_on(desk, lot())
    desk.take(part())
    desk.take(part())
    assert [handed.job[1].serial for handed in desk.recorder.kept] == ["0001", "0002"]
    assert desk.next_serial == "0003"


def test_parts_count_in_the_order_in_which_the_record_took_them(desk):
    put_on(desk, lot())
    desk.take(part("a"))
    desk.take(part("b"))
    count(desk, at=0)
    count(desk, Outcome.FAIL)
    assert serials(desk) == ["a", "b"]
    assert desk.state.rejected == 1


@pytest.mark.parametrize("counted", [True, False], ids=["in the record", "on its way"])
def test_a_serial_does_not_count_twice(desk, told, counted):
    put_on(desk, lot())
    desk.take(part("0147"))
    if counted:
        count(desk)
    before = len(desk.recorder.kept)
    assert not desk.take(part("0147", seed=8))
    assert told[-1].text == "0147 was measured already in this lot: it does not count again."
    assert "Measure again" in told[-1].hint
    assert len(desk.recorder.kept) == before


def test_what_the_record_refuses_does_not_count_and_may_come_again(desk):
    put_on(desk, lot())
    desk.take(part("0147"))
    desk.recorder.kept.pop().failed(REFUSED)
    assert (desk.is_busy, desk.state.parts) == (False, ())
    assert desk.take(part("0147"))
    count(desk)
    assert serials(desk) == ["0147"]
    assert desk.state.parts[0].position == 7, "its own place in the delivery"


def test_a_part_that_is_not_kept_holds_its_serial_and_its_position(desk):
    put_on(desk, lot())
    desk.take(part())
    desk.recorder.kept.pop().failed(REFUSED)
    assert desk.next_serial == "0002"
    desk.take(part())
    assert (desk.recorder.place.serial, desk.recorder.place.position) == ("0002", 31)
    count(desk)
    assert desk.state.parts[0].position == 31


def test_a_retry_that_keeps_a_part_counts_it(desk):
    put_on(desk, lot())
    desk.take(part("0147"))
    lost = desk.recorder.kept.pop()
    lost.failed(REFUSED)
    desk.recorder.kept.append(lost)
    lost.begun()
    assert desk.is_busy
    count(desk)
    assert (desk.is_busy, serials(desk)) == (False, ["0147"])


def test_two_retests_handed_in_at_once_are_two_attempts(desk):
    put_on(desk, lot(Outcome.FAIL))
    for cause in ("poor contact", "clip was loose"):
        desk.retest("0001", cause)
        desk.take(part())
    places = [handed.job[1] for handed in desk.recorder.kept]
    assert [(one.attempt, one.cause) for one in places] == [
        (2, "poor contact"),
        (3, "clip was loose"),
    ]


def test_what_comes_into_the_record_after_the_lot_was_left_counts_in_no_other(desk):
    put_on(desk, lot())
    desk.take(part("0147"))
    desk.leave()
    put_on(desk, lot(), "lot-2")
    count(desk)
    assert desk.state.parts == ()
    assert not desk.is_busy
    assert dict(desk.sweeps) == {}


def test_the_sweep_of_a_counted_part_is_at_hand_and_cannot_be_changed(desk):
    put_on(desk, lot())
    one = part("0147")
    desk.take(one)
    count(desk)
    frequency, impedance = desk.sweeps["0147"]
    assert np.array_equal(impedance, one.capture.impedance)
    assert frequency[0] == 114e3
    with pytest.raises(TypeError, match="item assignment"):
        desk.sweeps["0148"] = desk.sweeps["0147"]


def test_a_ring_down_counts_without_a_sweep_at_hand(desk):
    put_on(desk, lot())
    ring = part("0147")
    ring.capture = transient()
    desk.name("0147")
    desk.take(ring)
    count(desk)
    assert serials(desk) == ["0147"]
    assert dict(desk.sweeps) == {}


def test_a_lot_stops_counting_once_decided_and_goes_on_by_choice(desk):
    put_on(desk, lot(Outcome.FAIL))
    assert desk.is_decided
    assert not desk.is_counting
    desk.go_on(beyond=True)
    assert desk.is_counting
    desk.go_on(beyond=False)
    assert not desk.is_counting


def test_a_decided_lot_still_takes_a_retest(desk):
    put_on(desk, lot(Outcome.FAIL))
    desk.retest("0001", "poor contact")
    assert desk.is_counting
    desk.take(part())
    count(desk, Outcome.PASS)
    assert desk.state.decision == "open"
    assert desk.is_counting


def test_a_paused_lot_counts_nothing_and_goes_on(desk):
    put_on(desk, lot())
    desk.pause(paused=True)
    assert not desk.is_counting
    desk.pause(paused=False)
    assert desk.is_counting


def test_pause_and_going_on_do_not_carry_over_to_the_next_lot(desk):
    put_on(desk, lot(Outcome.FAIL))
    desk.go_on(beyond=True)
    desk.pause(paused=True)
    put_on(desk, lot(), "lot-2")
    assert (desk.beyond, desk.paused, desk.is_counting) == (False, False, True)


def test_a_retest_names_the_part_its_attempt_and_its_reason(desk):
    put_on(desk, lot(Outcome.PASS, Outcome.PASS))
    desk.retest("0001", "  poor contact ")
    assert (desk.next_serial, desk.again, desk.cause) == ("0001", "0001", "poor contact")
    desk.take(part("whatever the file says"))
    place = desk.recorder.place
    assert (place.serial, place.attempt, place.cause) == ("0001", 2, "poor contact")
    assert place.position == 7
    count(desk, Outcome.FAIL)
    assert desk.state.counted == 2
    assert desk.state.latest["0001"].outcome is Outcome.FAIL
    assert [one.attempt for one in desk.state.parts] == [1, 1, 2]
    assert (desk.again, desk.cause) == ("", "")


@pytest.mark.parametrize("cause", ["", "   "])
def test_a_retest_without_a_reason_is_refused(desk, told, cause):
    put_on(desk, lot(Outcome.FAIL))
    desk.retest("0001", cause)
    assert desk.again == ""
    assert (told[0].text, told[0].mark) == ("A retest needs a reason.", "stop")
    assert told[0].hint == "Type why; it goes into the record."


def test_a_retest_can_be_left(desk):
    put_on(desk, lot(Outcome.PASS))
    desk.retest("0001", "poor contact")
    desk.drop_retest()
    assert desk.next_serial == "0002"
    desk.take(part())
    assert (desk.recorder.place.serial, desk.recorder.place.attempt) == ("0002", 1)
    assert desk.recorder.place.cause == ""


def test_a_choice_is_told_everywhere(qtbot, desk):
    with qtbot.waitSignal(desk.selected) as seen:
        desk.choose("0001")
    assert seen.args == ["0001"]
    assert desk.chosen == "0001"


def test_undo_takes_the_last_measurement_back_in_the_record_first(desk, told):
    put_on(desk, lot(Outcome.PASS, Outcome.FAIL))
    desk.undo()
    assert serials(desk) == ["0001", "0002"]
    job = desk.recorder.acts[-1].job
    assert isinstance(job, TakeBack)
    assert (job.entry, job.name) == (102, "A. Example")
    desk.recorder.acts.pop().done(102)
    assert serials(desk) == ["0001"]
    assert [one.serial for one in desk.state.undone] == ["0002"]
    assert told[-1].text == "0002 (fail) is taken back; it stays in the record as taken back."
    assert told[-1].mark == "note"
    assert (desk.last.serial, desk.chosen) == ("0001", "0001")


def test_undo_of_the_only_part_leaves_nothing_chosen(desk):
    put_on(desk, lot(Outcome.PASS))
    desk.undo()
    desk.recorder.acts.pop().done(101)
    assert (desk.last, desk.chosen, desk.can_undo) == (None, "", False)


def test_undo_of_a_retest_gives_the_first_measurement_back(desk):
    put_on(desk, lot(Outcome.FAIL))
    desk.retest("0001", "poor contact")
    desk.take(part())
    count(desk, Outcome.PASS)
    desk.undo()
    desk.recorder.acts.pop().done(7)
    assert desk.state.latest["0001"].outcome is Outcome.FAIL
    assert desk.is_decided


def test_undo_without_an_operator_is_signed_by_the_bench(desk):
    put_on(desk, lot(Outcome.PASS, form=LotForm(quantity=150)))
    desk.undo()
    assert desk.recorder.acts[-1].job.name == "the bench"


def test_undo_waits_for_what_is_on_its_way(desk):
    put_on(desk, lot(Outcome.PASS))
    desk.take(part("0147"))
    assert not desk.can_undo
    desk.undo()
    assert desk.recorder.acts == []
    count(desk)
    assert desk.can_undo


def test_an_undo_pressed_twice_takes_one_part_back(desk, told):
    put_on(desk, lot(Outcome.PASS, Outcome.PASS))
    desk.undo()
    desk.undo()
    for act in list(desk.recorder.acts):
        act.done(102)
    assert serials(desk) == ["0001"]
    assert len(told) == 1


def test_an_undo_that_the_record_refuses_takes_nothing_back(desk, told):
    put_on(desk, lot(Outcome.PASS))
    desk.undo()
    desk.recorder.acts.pop().failed(REFUSED)
    assert serials(desk) == ["0001"]
    assert told[-1].text == REFUSED.message


@pytest.mark.parametrize(
    ("outcomes", "signed", "words"),
    [
        ((), ("accept", "", ""), "conclusion: must have the name of who decides"),
        ((), ("accept", "B. E.", ""), "must have a reason for accept while the plan says open"),
        ((), ("hold", "B. E.", " "), "must have a reason for hold while the plan says open"),
        (("fail",), ("accept", "B. E.", "all fine"), "must not be accept where the plan rejects"),
        (("fail",), ("concession", "B. E.", ""), "must have a reason for concession"),
        (("pass",) * 3, ("reject", "B. E.", ""), "must have a reason for reject"),
        (("pass",) * 3, ("scrap", "B. E.", ""), "must be one of accept, reject, hold, concession"),
    ],
)
def test_a_conclusion_that_goes_beyond_the_plan_is_refused(desk, told, outcomes, signed, words):
    put_on(desk, lot(*(Outcome(one) for one in outcomes)))
    desk.conclude(*signed)
    assert words in told[-1].text
    assert told[-1].hint
    assert desk.is_open
    assert desk.recorder.acts == []


@pytest.mark.parametrize(
    ("outcomes", "outcome", "reason"),
    [
        (("pass",) * 3, "accept", ""),
        (("fail",), "reject", ""),
        (("fail",), "hold", "gauge in repair"),
        (("fail",), "concession", "used as spares"),
        (("pass",), "accept", "sample cut short by agreement"),
    ],
)
def test_a_lot_ends_when_its_conclusion_is_in_the_record(desk, outcomes, outcome, reason):
    put_on(desk, lot(*(Outcome(one) for one in outcomes)))
    desk.conclude(outcome, " B. Example ", f" {reason} ")
    assert desk.is_open
    job = desk.recorder.acts[-1].job
    assert isinstance(job, ConcludeLot)
    assert (job.key, job.conclusion.outcome) == ("lot-1", outcome)
    assert (job.conclusion.name, job.conclusion.reason) == ("B. Example", reason)
    desk.recorder.acts.pop().done(conclusion(outcome, reason=reason))
    assert not desk.is_open
    assert desk.state.conclusion.time


def test_a_lot_is_not_concluded_while_a_part_is_on_its_way(desk, told):
    put_on(desk, lot(Outcome.PASS, Outcome.PASS, Outcome.PASS))
    desk.go_on(beyond=True)
    desk.take(part("0147"))
    desk.conclude("accept", "B. Example", "")
    assert desk.recorder.acts == []
    assert "on its way into the record" in told[-1].text
    count(desk)
    desk.conclude("accept", "B. Example", "")
    assert len(desk.recorder.acts) == 1


def test_a_lot_put_away_leaves_an_empty_bench(desk):
    put_on(desk, lot(Outcome.PASS))
    desk.choose("0001")
    desk.retest("0001", "poor contact")
    desk.leave()
    assert (desk.state, desk.nominal, desk.last) == (None, None, None)
    assert (desk.key, desk.chosen, desk.again, desk.cause, desk.next_serial) == ("",) * 5


@pytest.mark.parametrize(
    ("sounds", "outcome", "heard"),
    [
        (True, Outcome.FAIL, 1),
        (True, Outcome.CONDITIONAL_PASS, 1),
        (True, Outcome.PASS, 0),
        (False, Outcome.FAIL, 0),
    ],
)
def test_a_sound_is_heard_at_a_part_that_is_not_good(
    desk, memory, monkeypatch, sounds, outcome, heard
):
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    memory.sounds = sounds
    put_on(desk, lot())
    desk.take(part("0147"))
    count(desk, outcome)
    assert len(beeps) == heard
