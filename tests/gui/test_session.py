"""The session keeps designs, parts, choices and results together, whatever comes in between."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.checks import Facts
from benchapp.errors import FitError, ReadError, UsageError
from benchapp.fixture import Corrections, correct
from benchapp.gui.session import Message
from benchapp.jobs import ComparePart, FitChoices, OpenFile, OpenNominal
from benchapp.readers import Answers
from benchapp.uncertainty import Accuracy, Stated
from tests.gui.factories import PORT, judged, nominal, reading, sweep


class Ear:
    """Counts what a session tells."""

    def __init__(self, session):
        self.said = []
        self.messages = []
        for name in (
            "nominal_changed",
            "parts_changed",
            "choices_changed",
            "result_changed",
        ):
            getattr(session, name).connect(lambda name=name: self.said.append(name))
        session.told.connect(self.messages.append)
        self.asked = []
        session.asked.connect(self.asked.append)
        self.opened = []
        session.opened.connect(self.opened.append)


@pytest.fixture
def ear(session):
    return Ear(session)


def open_one(session, direct, path="tank.csv", capture=None):
    """Open a file and answer the reader; the fit is left to the test."""
    capture = sweep() if capture is None else capture
    session.open([path])
    direct.take(f"read {path}").done(reading(capture, source=path))
    return capture


def settle(session, direct):
    """Answer the fit that is under way."""
    task = direct.take("result")
    result = judged(task.job.capture)
    task.done(result)
    return task.job, result


def test_a_new_session_is_empty(session):
    assert session.parts == ()
    assert session.part is None
    assert session.result is None
    assert session.nominal is None
    assert session.is_settled
    assert not (session.can_undo)
    assert not (session.can_redo)
    assert not (session.is_reading)


def test_a_capture_is_read_then_fitted_then_shown(session, direct, ear):
    session.open(["tank.csv"])
    task = direct.take("read tank.csv")
    assert task.job == OpenFile(path="tank.csv", answers=Answers(), remember=True)
    assert session.is_reading
    capture = sweep()
    task.done(reading(capture))
    assert ear.opened == ["tank.csv"]
    assert not session.is_reading
    assert session.part.capture is capture
    assert session.result is None
    job, result = settle(session, direct)
    assert job == ComparePart(
        capture=capture, path="tank.csv", reading=session.part.reading, choices=FitChoices()
    )
    assert session.result is result
    assert ear.said == ["parts_changed", "result_changed", "result_changed"]


def test_designs_are_opened_before_captures_so_that_nothing_is_judged_twice(session, direct):
    session.open(["a.csv", "design.TOML", "b.csv"])
    assert [task.subject for task in direct.tasks] == ["nominal", "read a.csv", "read b.csv"]
    assert direct.tasks[0].job == OpenNominal(path="design.TOML")


def test_a_design_judges_what_is_open_already(session, direct, ear):
    open_one(session, direct)
    settle(session, direct)
    session.open(["ga12.toml"])
    design = nominal()
    direct.take("nominal").done(design)
    assert session.nominal is design
    assert session.nominal_path == "ga12.toml"
    job, _ = settle(session, direct)
    assert job.nominal is design
    assert ear.opened == ["tank.csv", "ga12.toml"]


def test_a_file_with_several_captures_gives_several_parts(session, direct):
    session.open(["lot.csv"])
    direct.take("read lot.csv").done(reading(sweep(11), sweep(21), sweep(31)))
    assert [part.capture.frequency.size for part in session.parts] == [11, 21, 31]
    assert session.position == 0


def test_each_part_is_fitted_when_it_is_first_shown_and_not_again(session, direct):
    session.open(["lot.csv"])
    direct.take("read lot.csv").done(reading(sweep(11), sweep(21)))
    settle(session, direct)
    assert session.next_part()
    settle(session, direct)
    session.choose_part(0)
    assert direct.tasks == []
    assert session.result.capture.frequency.size == 11


def test_there_is_no_part_after_the_last(session, direct):
    open_one(session, direct)
    settle(session, direct)
    assert not session.next_part()
    session.choose_part(7)
    session.choose_part(-1)
    assert session.position == 0


def test_a_part_left_before_its_fit_came_is_fitted_on_return(session, direct):
    session.open(["lot.csv"])
    direct.take("read lot.csv").done(reading(sweep(11), sweep(21)))
    session.choose_part(1)
    settle(session, direct)
    session.choose_part(0)
    job, _ = settle(session, direct)
    assert job.capture.frequency.size == 11


def test_reading_a_file_again_takes_the_place_of_its_parts(session, direct):
    open_one(session, direct, "a.csv")
    settle(session, direct)
    open_one(session, direct, "b.csv")
    settle(session, direct)
    session.read("a.csv", Answers(port="reflection"))
    task = direct.take("read a.csv")
    assert task.job.answers.port == "reflection"
    task.done(reading(sweep(33), source="a.csv"))
    assert [part.path for part in session.parts] == ["a.csv", "b.csv"]
    assert session.part.capture.frequency.size == 33


def test_a_file_that_cannot_be_read_leaves_everything_as_it_was(session, direct, ear):
    capture = open_one(session, direct)
    _, result = settle(session, direct)
    session.open(["bad.csv"])
    direct.take("read bad.csv").failed(ReadError("bad.csv: must hold numbers.", hint="Look."))
    assert ear.messages[-1] == Message(text="bad.csv: must hold numbers.", hint="Look.")
    assert session.part.capture is capture
    assert session.result is result
    assert not session.is_reading


def test_opening_the_next_file_takes_an_old_message_away(session, ear):
    session.open(["a.csv"])
    assert ear.messages == [None]


def test_a_file_that_must_be_asked_about_is_asked_about(session, direct, ear):
    session.open(["through.s2p"])
    asking = reading(questions=(PORT,), source="through.s2p")
    refusal = ReadError("must state everything.", reading=asking)
    direct.take("read through.s2p").failed(refusal)
    assert ear.asked == [asking]
    assert session.parts == ()
    session.answer("through.s2p", {"port": "series-through"})
    assert direct.take("read through.s2p").job.answers.port == "series-through"


def test_an_answer_that_cannot_be_one_is_told_and_nothing_is_read(session, direct, ear):
    session.answer("a.csv", {"reference": "fifty"})
    assert direct.tasks == []
    assert ear.messages[-1].text == "answer reference: must be a number above zero (got 'fifty')."


def test_a_part_that_cannot_be_fitted_says_why(session, direct, ear):
    open_one(session, direct)
    error = FitError("fit: must have more points.")
    direct.take("result").failed(error)
    assert session.part.error is error
    assert session.result is None
    assert session.is_settled


def test_choices_go_into_the_next_fit(session, direct):
    open_one(session, direct)
    settle(session, direct)
    session.choose_circuit("coil")
    session.restrict((120e3, 140e3))
    session.toggle_points([3, 5])
    job, _ = settle(session, direct)
    assert job.choices == FitChoices(circuit="coil", band=(120e3, 140e3), set_aside=(3, 5))


def test_a_point_that_is_set_aside_is_taken_back_by_choosing_it_again(session, direct):
    open_one(session, direct)
    session.toggle_points([3, 5])
    session.toggle_points([5, 9])
    assert session.part.choices.set_aside == (3, 9)


def test_the_same_choice_again_is_no_choice(session, direct):
    open_one(session, direct)
    settle(session, direct)
    session.choose_circuit("auto")
    session.restrict(None)
    assert direct.tasks == []
    assert not session.can_undo


def test_undo_and_redo_walk_through_the_choices(session, direct):
    open_one(session, direct)
    session.choose_circuit("coil")
    session.toggle_points([3])
    assert session.can_undo
    session.undo()
    assert session.part.choices == FitChoices(circuit="coil")
    session.undo()
    assert session.part.choices == FitChoices()
    assert not session.can_undo
    session.undo()
    session.redo()
    session.redo()
    assert session.part.choices == FitChoices(circuit="coil", set_aside=(3,))
    assert not session.can_redo
    session.redo()
    assert settle(session, direct)[0].choices.set_aside == (3,)


def test_a_choice_after_undo_takes_the_place_of_the_undone_ones(session, direct):
    open_one(session, direct)
    session.choose_circuit("coil")
    session.undo()
    session.choose_circuit("inductor")
    assert not session.can_redo
    session.undo()
    assert session.part.choices.circuit == "auto"


def test_choices_belong_to_their_part(session, direct):
    session.open(["lot.csv"])
    direct.take("read lot.csv").done(reading(sweep(11), sweep(21)))
    session.choose_circuit("coil")
    session.choose_part(1)
    assert session.part.choices.circuit == "auto"
    assert not session.can_undo


def test_a_result_that_is_long_in_coming_is_not_shown_as_the_old_one(qtbot, session, direct):
    open_one(session, direct)
    settle(session, direct)
    session.choose_circuit("coil")
    assert session.result is not None
    assert not session.is_settled
    with qtbot.waitSignal(session.result_changed, timeout=2000):
        pass
    assert session.result is None
    settle(session, direct)
    assert session.result is not None


def test_a_quick_result_replaces_the_old_one_without_a_gap(qtbot, session, direct, ear):
    open_one(session, direct)
    settle(session, direct)
    ear.said.clear()
    session.choose_circuit("coil")
    settle(session, direct)
    qtbot.wait(200)
    assert ear.said == ["choices_changed", "result_changed"]


def test_stopping_says_how_to_go_on_and_going_on_works(session, direct, ear):
    open_one(session, direct)
    session.cancel()
    assert direct.cancelled == 1
    assert session.part.error.hint == "Press F5 to start it again."
    session.refit()
    settle(session, direct)
    assert session.result is not None
    assert session.part.error is None


def test_stopping_with_nothing_to_stop_harms_nothing(session, direct):
    session.cancel()
    session.refit()
    open_one(session, direct)
    _, result = settle(session, direct)
    session.cancel()
    assert session.result is result


def test_closing_a_part_shows_its_neighbour(session, direct, ear):
    session.open(["lot.csv"])
    direct.take("read lot.csv").done(reading(sweep(11), sweep(21)))
    session.choose_part(1)
    session.close_part()
    assert session.part.capture.frequency.size == 11
    session.close_part()
    assert session.part is None
    session.close_part()
    assert ear.said[-1] == "result_changed"


def test_verbs_without_a_part_do_nothing(session, direct):
    session.choose_circuit("coil")
    session.restrict((1.0, 2.0))
    session.toggle_points([1])
    session.undo()
    session.redo()
    assert direct.tasks == []


def test_a_measured_capture_is_judged_with_what_its_profile_states(session, direct):
    stated = Accuracy(title="mine", reading=Stated(bound=1e-3))
    session.add_capture(sweep(), stated)
    assert direct.take("result").job.examination.accuracy is stated
    session.add_capture(sweep())
    assert direct.take("result").job.examination.accuracy is None


def _opened(session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(11)))
    task = direct.take("result")
    task.done(judged(task.job.capture))


def test_an_accuracy_counts_for_every_part_that_has_none_of_its_own(session, direct):
    _opened(session, direct)
    session.open_accuracy("meter.toml")
    stated = Accuracy(reading=Stated(bound=1e-3))
    direct.take("stated").done(stated)
    assert direct.take("result").job.examination.accuracy is stated
    assert session.accuracy_path == "meter.toml"
    own = Accuracy(reading=Stated(bound=2e-3))
    session.add_capture(sweep(12), own)
    assert direct.take("result").job.examination.accuracy is own


def test_an_accuracy_that_cannot_be_read_is_told(session, direct):
    told = []
    session.told.connect(told.append)
    session.open_accuracy("/there/meter.toml")
    direct.take("stated").failed(UsageError("/there/meter.toml: must be X.", hint="Do Y."))
    assert (told[-1].text, told[-1].hint) == ("meter.toml: must be X.", "Do Y.")
    assert session.examination.accuracy is None


def test_an_acknowledgement_without_a_reason_is_told(session, direct):
    _opened(session, direct)
    told = []
    session.told.connect(told.append)
    assert not session.acknowledge("resonance-at-edge", "A. Brandt", " ")
    assert "no reason" in told[-1].text
    assert session.acknowledge("resonance-at-edge", "A. Brandt", "search")
    assert session.part.acknowledged[0].reason == "search"


def test_what_was_accepted_and_becomes_a_stop_is_no_longer_accepted(session, direct):
    _opened(session, direct)
    session.acknowledge("question-open", "A. Brandt", "known")
    told = []
    session.told.connect(told.append)
    direct.take("result").failed(UsageError("acknowledgement: must be of a warning.", hint="x"))
    assert told[-1].text == "acknowledgement: must be of a warning."
    assert direct.take("result").job.examination.acknowledged == ()


def test_why_captures_disagree_is_asked_once_all_are_fitted(session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(11), sweep(12)))
    first = direct.take("result")
    first.done(judged(first.job.capture))
    session.explain()
    second = direct.take("result")
    assert second.job.capture is session.parts[1].capture
    second.done(judged(second.job.capture))
    said = []
    session.explained.connect(said.append)
    task = direct.take("explain")
    assert [part.capture for part in task.job.parts] == [
        session.parts[0].capture,
        session.parts[1].capture,
    ]
    task.done(("said",))
    assert said == [("said",)]


def test_the_question_why_stays_when_another_part_is_shown(session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(11), sweep(12), sweep(13)))
    first = direct.take("result")
    first.done(judged(first.job.capture))
    session.explain()
    direct.take("result")  # dropped by the fit of the part that is now shown
    session.choose_part(2)
    for place in (2, 1):
        task = direct.take("result")
        assert task.job.capture is session.parts[place].capture
        task.done(judged(task.job.capture))
    shown = direct.take("explain").job.parts
    assert [part.capture for part in shown] == [session.parts[at].capture for at in (2, 0, 1)]


def test_stopping_the_work_drops_the_question_why(session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(11), sweep(12)))
    first = direct.take("result")
    first.done(judged(first.job.capture))
    session.explain()
    direct.take("result")
    session.cancel()
    session.refit()
    task = direct.take("result")
    task.done(judged(task.job.capture))
    assert direct.tasks == []


def test_a_failed_fit_does_not_hang_the_question_why(session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(11), sweep(12)))
    first = direct.take("result")
    first.done(judged(first.job.capture))
    session.explain()
    direct.take("result").failed(FitError("no", hint="x"))
    assert len(direct.take("explain").job.parts) == 1


def test_what_the_station_knew_counts_where_nobody_stated_otherwise(session, direct):
    session.examine_by(replace(session.examination, facts=Facts(dwell=5e-3)))
    done = correct(sweep(), Corrections(series_ohm=2.0))
    session.add_capture(done.capture, None, Facts(dwell=1e-6, compensated=True), done)
    assert session.part.corrected is done
    facts = direct.take("result").job.examination.facts
    assert (facts.dwell, facts.compensated) == (5e-3, True)
    session.add_capture(sweep(12))
    assert direct.take("result").job.examination.facts == Facts(dwell=5e-3)
