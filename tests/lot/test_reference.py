"""The reference coil: its checks, its control chart, and the gate of lot work."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.bench import Meter, Setup, meter, scenario
from benchapp.capture import Conditions, Origin, Sweep
from benchapp.errors import RecordError
from benchapp.fit import fit
from benchapp.lot import (
    Check,
    Review,
    check_of,
    controls,
    gate,
    individuals,
    load_reference,
    normalised_error,
)
from benchapp.nominal import Outcome
from benchapp.units import Estimate

REFERENCE = load_reference(
    Path(__file__).parent.parent.parent / "sample_captures" / "ga12_reference.toml"
)
L = 1.6313e-3
START = dt.datetime(2026, 3, 2, 8, tzinfo=dt.UTC)


def at(day, hours=0.0):
    return (START + dt.timedelta(days=day, hours=hours)).isoformat()


def check(day, sigmas=0.0, *, outcome=Outcome.PASS, **more):
    """A check whose L lies so many thousandths of a permille off."""
    given = {
        "taken": at(day),
        "serial": "RC-1",
        "outcome": outcome,
        "values": (Estimate(name="L", value=L * (1 + 1e-4 * sigmas), u=1e-7, unit="H"),),
        "sha256": REFERENCE.nominal.sha256,
    }
    return Check(**given | more)


def alternating(days):
    """Good days whose mean moving range gives a standard deviation of 1.128 units over 1.128."""
    return [check(day, 0.564 * (-1) ** day) for day in range(days)]


def taken(device=scenario.TANK, seed=1, **conditions):
    frequency = np.linspace(114e3, 154e3, 101)
    readings = meter.measure(
        Meter(noise=1e-4), Setup(device=device), frequency, np.random.default_rng(seed)
    )
    return Sweep(
        frequency=frequency,
        impedance=readings.impedance,
        conditions=Conditions(**{"temperature_celsius": 23.0} | conditions),
        origin=Origin(source="METER"),
    )


def checked(capture):
    return check_of(REFERENCE, fit(capture, REFERENCE.nominal.circuit), capture, at(0))


# --- one check ---------------------------------------------------------------------------


def test_a_good_measurement_holds_and_keeps_every_judged_value():
    capture = taken()
    found = checked(capture)
    assert found.outcome in (Outcome.PASS, Outcome.CONDITIONAL_PASS)
    assert [one.name for one in found.values] == ["L", "f0", "Q"]
    assert found.value("L").value == pytest.approx(L, rel=2e-4)
    assert found.value("R") is None
    assert (found.serial, found.instrument) == ("RC-1", "METER")
    assert found.digest == capture.digest
    assert found.sha256 == REFERENCE.nominal.sha256


def test_another_coil_in_the_clip_is_outside():
    assert checked(taken(scenario.SHORTED_TURN)).outcome is Outcome.FAIL


def test_at_another_temperature_it_is_not_judged():
    found = checked(taken(temperature_celsius=35.0))
    assert found.outcome is Outcome.NOT_JUDGED
    assert "temperature" in found.reason


def test_a_check_comes_back_from_the_record_as_it_was():
    found = checked(taken())
    assert Check.from_note(json.loads(json.dumps(found.as_note()))) == found


@pytest.mark.parametrize(
    "change",
    [
        {"taken": "yesterday"},
        {"outcome": "fine"},
        {"values": [["L", 1.0]]},
        {"values": None},
    ],
)
def test_a_note_that_is_no_check_is_refused(change):
    note = check(0).as_note() | change
    with pytest.raises(RecordError, match="a check of a reference must have time, serial"):
        Check.from_note(note)


def test_a_review_comes_back_and_half_a_one_is_refused():
    review = Review(taken=at(1), serial="RC-1", who="A. Brandt", reason="clip cleaned")
    assert Review.from_note(review.as_note()) == review
    with pytest.raises(RecordError, match="a review must have time, serial, name and reason"):
        Review.from_note({"taken": at(1), "serial": "RC-1"})


def test_the_normalised_error_holds_both_uncertainties():
    limit = REFERENCE.nominal.limits[0]
    off = check(0, 10.0)  # 0.1 % with U of 0.05 % and of 2e-7 H
    both = np.hypot(2e-7, 5e-4 * L)
    assert normalised_error(REFERENCE, limit, off) == pytest.approx(1e-3 * L / both)
    assert normalised_error(replace(REFERENCE, U={}), limit, off) is None


# --- the chart ---------------------------------------------------------------------------


def test_control_limits_come_from_the_first_good_readings_alone():
    checks = [*alternating(10), check(10, 30.0)]
    (chart, *_) = controls(REFERENCE, checks)
    first = individuals([one.value("L").value for one in checks[:10]])
    assert chart.needed == 0
    assert chart.chart.centre == pytest.approx(first.location.centre)
    assert chart.chart.upper == pytest.approx(first.location.upper)
    assert chart.points.size == 11
    assert chart.completed == ("one point more than three standard deviations from the centre",)


def test_before_that_there_are_none_and_it_says_how_many_are_missing():
    (chart, *_) = controls(REFERENCE, [*alternating(4), check(4, outcome=Outcome.FAIL)])
    assert (chart.chart, chart.needed) == (None, 6)
    assert chart.points.size == 5
    (empty, *_) = controls(REFERENCE, [])
    assert (empty.points.size, empty.needed) == (0, 10)


def test_stated_limits_can_take_their_place():
    stated = replace(REFERENCE, first_readings=None)
    (chart, *_) = controls(stated, [check(0)])
    assert chart.chart.centre == pytest.approx(L)
    assert chart.chart.upper == pytest.approx(1.005 * L)


def test_a_limit_with_one_side_has_no_stated_chart():
    (limit, *_) = REFERENCE.nominal.limits
    nominal = replace(REFERENCE.nominal, limits=(replace(limit, upper=None),))
    (chart,) = controls(replace(REFERENCE, nominal=nominal, first_readings=None), [check(0)])
    assert chart.chart is None


def test_checks_are_put_in_the_order_of_time():
    (chart, *_) = controls(REFERENCE, [check(2), check(0), check(1)])
    assert chart.times == (at(0), at(1), at(2))


# --- the gate ----------------------------------------------------------------------------


def test_a_fresh_good_check_opens_the_gate():
    found = gate(REFERENCE, [check(0)], [], at(0, 3))
    assert found.is_open
    assert found.state == "open"
    assert found.age == 3 * 3600
    assert found.last_good == at(0)
    (caution,) = found.cautions
    assert caution.startswith("control limits follow after 10 more good readings")


def test_without_a_check_it_is_locked():
    found = gate(REFERENCE, [], [], at(0))
    assert (found.is_open, found.state, found.age, found.last_good) == (False, "never", None, None)


def test_an_old_check_locks_and_says_how_old():
    found = gate(REFERENCE, [check(0)], [], at(1, 1))
    assert found.state == "overdue"
    assert found.reason == "the last check of reference RC-1 is 25 h old, more than 24 h"


def test_a_check_from_the_future_locks():
    assert "check the clock" in gate(REFERENCE, [check(1)], [], at(0)).reason


def test_a_check_outside_locks_and_names_the_last_good_one():
    bad = check(1, 80.0, outcome=Outcome.FAIL, reason="L is 8 uH above the upper limit")
    found = gate(REFERENCE, [check(0), bad], [], at(1))
    assert found.state == "outside"
    assert found.reason == (
        "reference RC-1 is outside its limits: L is 8 uH above the upper limit"
    )
    assert found.last_good == at(0)


def test_a_check_that_could_not_be_judged_locks():
    odd = check(0, outcome=Outcome.NOT_JUDGED, reason="the fit did not settle")
    assert gate(REFERENCE, [odd], [], at(0)).state == "not judged"


def test_an_ended_certificate_locks():
    ended = replace(REFERENCE, due="2026-03-01")
    found = gate(ended, [check(0)], [], at(0))
    assert (found.state, found.reason) == (
        "certificate",
        "the certificate of reference RC-1 ended on 2026-03-01",
    )
    assert gate(replace(REFERENCE, due="2026-03-02"), [check(0)], [], at(0)).is_open


def test_eight_on_one_side_lock_although_each_is_within_its_limits():
    checks = [*alternating(10), *[check(day, 0.8) for day in range(10, 18)]]
    assert gate(REFERENCE, checks[:17], [], at(16)).is_open
    found = gate(REFERENCE, checks, [], at(17))
    assert found.state == "outside"
    assert "L: eight points on one side" in found.reason
    assert found.last_good == at(16)


def test_a_pattern_that_does_not_lock_is_a_caution():
    checks = alternating(14)
    found = gate(REFERENCE, checks, [], at(13))
    assert found.is_open
    assert "L: fourteen points going up and down by turns" in found.cautions


def test_a_review_begins_anew_and_needs_a_new_check():
    bad = check(1, 80.0, outcome=Outcome.FAIL)
    review = Review(taken=at(1, 2), serial="RC-1", who="A. Brandt", reason="clip cleaned")
    locked = gate(REFERENCE, [check(0), bad], [review], at(1, 3))
    assert (locked.state, locked.last_good) == ("never", at(0))
    again = [check(0), bad, check(1, taken=at(1, 4))]
    assert gate(REFERENCE, again, [review], at(1, 5)).is_open
    other = replace(review, serial="RC-2")
    assert not gate(REFERENCE, [check(0), bad], [other], at(1, 3)).is_open


def test_checks_of_another_coil_do_not_count():
    assert gate(REFERENCE, [check(0, serial="RC-2")], [], at(0)).state == "never"


def test_a_changed_file_and_a_great_difference_are_cautions():
    found = gate(REFERENCE, [check(0, 20.0, sha256="other")], [], at(0))
    assert found.is_open
    assert "the file of the reference has changed since the last check" in found.cautions
    assert "L differs from the stated value by more than both uncertainties allow (E_n +3.9)" in (
        found.cautions
    )


def test_chance_rarely_locks_a_station_that_is_in_control():
    """The rules together cry wolf in a few per cent of the checks."""
    rng = np.random.default_rng(11)
    locked = total = 0
    for _ in range(20):
        checks = [check(day, float(rng.normal())) for day in range(100)]
        for day in range(30, 100, 5):
            locked += not gate(
                replace(REFERENCE, first_readings=25), checks[: day + 1], [], at(day)
            ).is_open
            total += 1
    assert locked / total < 0.08


HIGH, MIDDLE, LOW = 3.5, 0.1, -0.1
PATTERNS = {
    "one beyond three": ([HIGH], True),
    "one beyond three, below": ([-HIGH], True),
    "not quite three": ([2.9], False),
    "two of three beyond two": ([2.3, MIDDLE, 2.3], True),
    "two beyond two, on either side": ([2.3, MIDDLE, -2.3], False),
    "two of four beyond two": ([2.3, MIDDLE, LOW, 2.3], False),
    "four of five beyond one": ([1.5, 1.5, MIDDLE, 1.5, 1.5], True),
    "three of five beyond one": ([1.5, 1.5, MIDDLE, LOW, 1.5], False),
    "eight on one side": ([0.5, 0.2] * 4, True),
    "seven on one side": ([0.5, 0.2] * 3 + [0.5], False),
    "six rising": ([-1.2, -0.8, -0.4, 0.2, 0.6, 0.9], True),
    "five rising": ([0.5, -0.8, -0.4, 0.2, 0.6], False),
    "an old signal that is past": ([HIGH, LOW, MIDDLE, LOW, MIDDLE, LOW], False),
}


@pytest.mark.parametrize(("sigmas", "locks"), PATTERNS.values(), ids=PATTERNS)
def test_each_pattern_locks_or_does_not(sigmas, locks):
    """Limits are stated here, so that a standard deviation is a sixth of their width."""
    stated = replace(REFERENCE, first_readings=None)
    step = 0.005 / 3 / 1e-4  # of `check`, for one standard deviation
    before = [0.3 * (-1) ** day for day in range(6)]
    checks = [check(day, step * size) for day, size in enumerate([*before, *sigmas])]
    found = gate(stated, checks, [], checks[-1].taken)
    assert found.is_open is not locks, found.reason
    assert (found.state == "outside") is locks
    if locks:
        assert found.reason.startswith("the control chart of reference RC-1 shows L: ")
