"""Checks of how a file was read."""

from __future__ import annotations

from dataclasses import replace

from benchapp.readers import Assumption, Question, SetAside
from tests.checks.scene import Case, evidence, found, ring_down, sweep, transmission


def _assumed(subject, confidence):
    made = Assumption(
        subject=subject, value="averaged", reason="they agree", confidence=confidence
    )
    return evidence(sweep(), "tank", facts={"assumptions": (made,)})


def _asked(name):
    question = Question(name=name, text="Is it so?", proposed="yes")
    return evidence(sweep(), "tank", facts={"questions": (question,)})


def _left_out(*lines):
    rows = tuple(SetAside(line=line, why="overload (9.9E37)") for line in lines)
    return evidence(sweep(), "tank", facts={"set_aside": rows})


def _reflection(most):
    capture = replace(transmission(peak=0.5), kind="reflection")
    ratio = capture.ratio * most / abs(capture.ratio).max()
    return evidence(replace(capture, ratio=ratio))


CASES = {
    "rows-left-out": Case(raises=lambda: _left_out(17), misses=_left_out),
    "unsure-assumption": Case(
        raises=lambda: _assumed("units", 0.69), misses=lambda: _assumed("units", 0.7)
    ),
    "rows-averaged": Case(
        raises=lambda: _assumed("repeated rows", 0.8), misses=lambda: _assumed("order", 0.8)
    ),
    "several-sweeps": Case(
        raises=lambda: _assumed("sweeps", 0.9), misses=lambda: _assumed("order", 0.9)
    ),
    "question-open": Case(raises=lambda: _asked("port"), misses=lambda: _asked("model")),
    "more-than-passive": Case(raises=lambda: _reflection(1.06), misses=lambda: _reflection(1.04)),
}


def test_rows_are_listed_with_their_lines_and_many_are_a_warning():
    (few,) = found(_left_out(17, 18, 19, 20, 21), "rows-left-out")
    assert "Left out of the file: 5 rows (line 17: overload (9.9E37); line 18" in few.text
    assert "and 2 more" in few.text
    (many,) = found(_left_out(*range(30)), "rows-left-out")
    assert (few.level, many.level) == ("note", "warn")


def test_rows_of_a_record_are_counted_against_its_samples():
    rows = (SetAside(line=3, why="no number"),)
    (finding,) = found(evidence(ring_down(), facts={"set_aside": rows}), "rows-left-out")
    assert finding.level == "note"


def test_an_answer_that_changes_the_numbers_stops():
    (stop,) = found(_asked("decimal"), "question-open")
    (warn,) = found(_asked("channel"), "question-open")
    assert (stop.level, warn.level) == ("stop", "warn")
    assert stop.text == "Is it so? Taken: yes."


def test_an_assumption_is_told_with_its_reason():
    (finding,) = found(_assumed("units", 0.5), "unsure-assumption")
    assert finding.text.startswith("units: taken as averaged, because they agree.")


def test_points_above_one_are_pointed_at():
    (finding,) = found(_reflection(1.2), "more-than-passive")
    assert finding.level == "stop"
    assert "|S| is up to 1.2 at" in finding.text
    assert 100 in finding.points


def test_a_gain_may_exceed_one():
    capture = replace(transmission(peak=30.0, noise=1e-3), kind="gain")
    assert found(evidence(capture), "more-than-passive") == []


def test_a_capture_without_a_file_has_nothing_to_report():
    seen = evidence(sweep(), "tank")
    assert [name for name in CASES if found(seen, name)] == []
