"""Each station says where the work stands, in a mark, a word and one line."""

from __future__ import annotations

import pytest

from benchapp.checks import Finding
from benchapp.errors import FitError
from benchapp.gui.instrument import Instrument
from benchapp.gui.marks import MARKS
from benchapp.gui.session import Part
from benchapp.gui.stations import STATIONS, extent_words
from benchapp.nominal import Outcome, Verdict
from tests.gui.factories import (
    FINDINGS,
    Q_LIMIT,
    fit,
    judged,
    judged_limit,
    nominal,
    reading,
    sweep,
    transient,
    verdict,
)

STOP = Finding(id="sign", level="stop", text="The phase has the wrong sign.")
BY_KEY = {station.key: station for station in STATIONS}


def state(session, key):
    return BY_KEY[key].state(session, Instrument())


def open_one(session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(101)))


def settle(direct, **changes):
    task = direct.take("result")
    task.done(judged(task.job.capture, **changes))


def test_the_stations_stand_in_the_order_of_the_work():
    assert [station.key for station in STATIONS] == [
        *("nominal", "setup", "capture"),
        *("verdict", "lot", "records"),
    ]


def test_a_new_session_has_nothing_done(session):
    for key in BY_KEY:
        assert state(session, key).mark == "empty"
        assert state(session, key).line


def test_a_design_is_told_with_its_revision_and_first_nominal(session):
    session.use_nominal(nominal())
    told = state(session, "nominal")
    assert (told.mark, told.word) == ("good", "open")
    assert told.line == "Gate antenna coil GA-12 rev C · L 1.62 mH ±3 %"


def test_a_design_without_a_nominal_is_told_with_its_first_limit(session):
    session.use_nominal(nominal(revision="", limits=(Q_LIMIT,)))
    assert state(session, "nominal").line == "Gate antenna coil GA-12 · Q 60 to 110"


def test_a_capture_is_told_with_its_extent_while_it_is_fitted(session, direct):
    open_one(session, direct)
    told = state(session, "capture")
    assert (told.mark, told.word) == ("working", "fitting")
    assert told.line == "tank.csv · 101 points · 114 to 154 kHz"
    assert state(session, "verdict").mark == "working"


def test_extents_are_told_in_one_unit_and_in_time_too():
    ring = Part(path="ring.csv", capture=transient())
    assert extent_words(ring) == "801 points · 0 to 2 ms"
    assert extent_words(Part(path="one", capture=sweep(1))) == "1 point · 114 to 114 kHz"


@pytest.mark.parametrize(
    ("changes", "mark", "word"),
    [
        ({"findings": ()}, "good", "fitted"),
        ({"findings": FINDINGS}, "doubt", "fitted, with warnings"),
        ({"findings": FINDINGS[:1]}, "good", "fitted"),
        ({"findings": (STOP, *FINDINGS)}, "stop", "fitted, not to be trusted"),
        ({"findings": (), "fit": {"describes": False}}, "doubt", "fitted, with warnings"),
        ({"findings": (), "fit": {"undetermined": ("C",)}}, "doubt", "fitted in part"),
    ],
)
def test_a_fit_is_marked_by_its_gravest_finding(session, direct, changes, mark, word):
    open_one(session, direct)
    if "fit" in changes:
        changes = {**changes, "fit": fit(session.part.capture, **changes["fit"])}
    settle(direct, **changes)
    told = state(session, "capture")
    assert (told.mark, told.word) == (mark, word)


def test_a_capture_that_cannot_be_fitted_is_marked_so(session, direct):
    open_one(session, direct)
    direct.take("result").failed(FitError("no."))
    assert state(session, "capture").mark == "stop"
    assert state(session, "verdict").mark == "unknown"
    assert state(session, "verdict").line == "no nominal design"


@pytest.mark.parametrize("outcome", Outcome)
def test_the_verdict_is_told_in_words_with_a_mark(session, direct, outcome):
    session.use_nominal(nominal())
    open_one(session, direct)
    settle(direct, verdict=verdict(outcome, value=1.6653e-3))
    told = state(session, "verdict")
    assert told.word == outcome.words
    assert told.mark in MARKS
    assert told.line == "L +2.8 %"


def test_a_limit_without_nominal_is_told_by_its_margin(session, direct):
    session.use_nominal(nominal())
    open_one(session, direct)
    entry = judged_limit(Outcome.FAIL, limit=Q_LIMIT, value=30.6, margin=-49.0)
    settle(direct, verdict=Verdict(outcome=Outcome.FAIL, limits=(entry,)))
    assert state(session, "verdict").line == "Q at 134.2 kHz 49 % outside"


def test_a_verdict_that_was_withheld_gives_its_reason(session, direct):
    session.use_nominal(nominal())
    open_one(session, direct)
    settle(direct, verdict=Verdict(outcome=Outcome.NOT_JUDGED, reason="the sign is wrong"))
    assert state(session, "verdict").line == "the sign is wrong"
    settle_again = state(session, "verdict")
    assert settle_again.word == "not judged"


def setup_state(session, **facts):
    instrument = Instrument()
    for name, value in facts.items():
        setattr(instrument, name, value)
    return BY_KEY["setup"].state(session, instrument)


@pytest.mark.parametrize(
    ("facts", "mark", "word", "line"),
    [
        ({}, "empty", "", "no instrument"),
        ({"address": "GPIB0::5::INSTR"}, "unknown", "not asked yet", "GPIB0::5::INSTR"),
        ({"address": "A", "identity": "X"}, "good", "output off", "A · no compensation"),
        ({"address": "A", "doing": "trial"}, "working", "at work", "no compensation"),
        ({"address": "A", "bias": "unknown"}, "stop", "BIAS ON", "do not disconnect"),
        ({"address": "A", "output": "unknown"}, "stop", "output unknown", "switch it off"),
    ],
)
def test_the_set_up_says_how_the_instrument_stands(session, facts, mark, word, line):
    told = setup_state(session, **facts)
    assert (told.mark, told.word) == (mark, word)
    assert line in told.line


def test_a_running_sweep_is_told_at_the_capture_station(session):
    instrument = Instrument()
    instrument.doing, instrument.progress = "sweep", ("sweep: 7 of 201", 0.034)
    told = BY_KEY["capture"].state(session, instrument)
    assert (told.mark, told.word, told.line) == (
        "working",
        "measuring",
        "sweep: 7 of 201 · 3 %",
    )


def test_a_locked_station_says_why(session):
    instrument = Instrument()
    instrument.choose(address="GPIB0::5::INSTR")
    assert BY_KEY["setup"].state(session, instrument).word == "not asked yet"
    session.gate = lambda: "Lot work is locked: no check today."
    told = BY_KEY["setup"].state(session, instrument)
    assert (told.mark, told.word) == ("stop", "lot work locked")
    assert told.line == "Lot work is locked: no check today."


def test_a_reading_of_the_fixture_without_a_time_is_of_unknown_age(session):
    instrument = Instrument()
    instrument.choose(address="GPIB0::5::INSTR")
    instrument.fixture.use("shorted", sweep(11), "short.csv", None)
    line = BY_KEY["setup"].state(session, instrument).line
    assert line == "GPIB0::5::INSTR · fixture of unknown age"
