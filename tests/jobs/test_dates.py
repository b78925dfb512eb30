"""Whether a calibration held is asked of the day of the capture."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from benchapp.capture import Origin, Sweep
from benchapp.checks import Facts
from benchapp.jobs import ComparePart, Examination, not_cancelled, silent
from benchapp.jobs.dates import dated
from tests.checks.scene import sweep

CAPTURE = Sweep(
    frequency=np.array([1e5]),
    impedance=np.array([1 + 1j]),
    origin=Origin(taken="2026-03-31T23:30:00+00:00"),
)
UNDATED = replace(CAPTURE, origin=Origin())
DUE = Facts(calibration_due="2026-03-31")


def test_the_day_is_that_of_the_capture():
    assert dated(DUE, CAPTURE).today == "2026-03-31"


def test_a_capture_without_a_time_is_from_today():
    before = dt.datetime.now(dt.UTC).date().isoformat()
    day = dated(DUE, UNDATED).today
    assert before <= day <= dt.datetime.now(dt.UTC).date().isoformat()


def test_a_day_that_a_person_states_stays():
    stated = replace(DUE, today="2020-01-01")
    assert dated(stated, CAPTURE) is stated


def test_without_a_date_of_calibration_no_day_is_needed():
    for facts in (Facts(), Facts(calibration_due="")):
        assert dated(facts, CAPTURE) is facts


def test_a_part_is_compared_with_the_day_it_was_measured_on():
    ids = []
    for day in ("2026-03-31", "2026-04-02"):
        capture = replace(sweep(), origin=Origin(taken=f"{day}T08:00:00+00:00"))
        part = ComparePart(capture=capture, examination=Examination(facts=DUE))(
            silent, not_cancelled
        )
        ids.append({finding.id for finding in part.findings})
    assert "calibration-overdue" not in ids[0]
    assert "calibration-overdue" in ids[1]
