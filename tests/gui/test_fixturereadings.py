"""Readings of the fixture and what was typed about cable, source and probe."""

from __future__ import annotations

import datetime as dt
import time

import numpy as np
import pytest

from benchapp.capture import Origin, Sweep, Transient
from benchapp.errors import CaptureError, QuantityError
from benchapp.gui.fixturereadings import BLANKS, FixtureReadings, Standard

F = np.linspace(1e5, 2e5, 11)


def sweep(z, taken=None):
    return Sweep(frequency=F, impedance=z + 0j * F, origin=Origin(taken=taken))


OPEN, SHORT, PART = sweep(1e7), sweep(0.01), sweep(100.0)


@pytest.fixture
def readings():
    return FixtureReadings({"load": "1 kohm"})


def test_nothing_is_known_at_first(readings):
    assert readings.compensation() is None
    assert readings.corrections().is_empty
    assert readings.correct(PART).capture is PART


def test_a_reading_corrects_from_then_on(readings):
    assert readings.use("shorted", SHORT, "", PART) == ""
    done = readings.correct(PART)
    np.testing.assert_allclose(done.capture.impedance, 99.99)
    assert done.raw is PART


def test_read_again_it_tells_what_that_changes(readings):
    readings.use("opened", OPEN, "", PART)
    readings.use("shorted", SHORT, "", PART)
    words = readings.use("shorted", sweep(1.01), "", PART)
    assert words.startswith("re-check of the fixture: |Z| of the part would change by -1.00%")
    assert readings.use("shorted", SHORT, "", None) == ""


def test_a_part_that_was_swept_otherwise_has_no_recheck(readings):
    readings.use("opened", OPEN, "", None)
    other = Sweep(frequency=F * 10, impedance=PART.impedance)
    assert readings.use("opened", OPEN, "", other) == ""


def test_blanks_become_corrections():
    typed = {"delay": "4.9 ns", "source": "50 ohm", "probe_farad": "10 pF", "probe_ohm": "1 Mohm"}
    assert set(typed) == set(BLANKS)
    found = FixtureReadings(typed | {"load": ""}).corrections()
    assert (found.delay, found.series_ohm) == (pytest.approx(4.9e-9), 50.0)
    assert (found.probe_farad, found.probe_ohm) == (pytest.approx(10e-12), 1e6)


@pytest.mark.parametrize(("words", "kind"), [("soon", QuantityError), ("-5 ohm", CaptureError)])
def test_a_blank_that_cannot_be_is_named(words, kind):
    with pytest.raises(kind) as refusal:
        FixtureReadings({"source": words}).corrections()
    assert refusal.value.facts["key"] == "source"


def test_a_record_of_time_is_left_as_it_is():
    record = Transient(time=[0.0, 1.0], voltage=[1.0, 0.5])
    readings = FixtureReadings({"source": "50 ohm"})
    assert readings.correct(record).capture is record


def test_the_age_of_a_saved_reading_is_that_of_its_sweep(readings):
    taken = (dt.datetime.now(dt.UTC) - dt.timedelta(minutes=12)).isoformat()
    readings.use("opened", sweep(1e7, taken), "open.csv", None)
    assert readings.standards["opened"].minutes(time.monotonic()) == 12
    assert readings.standards["opened"].path == "open.csv"


@pytest.mark.parametrize("taken", [None, "yesterday", "2026-03-02T12:00:00"])
def test_an_unknown_age_stays_unknown(readings, taken):
    readings.use("opened", sweep(1e7, taken), "open.csv", None)
    assert readings.standards["opened"].minutes(time.monotonic()) is None


def test_a_load_counts_with_its_value_once_open_and_short_are_there():
    readings = FixtureReadings({"load": "100 ohm"})
    readings.use("load", sweep(100.0), "", None)
    assert readings.compensation() is None
    readings.use("opened", OPEN, "", None)
    assert readings.compensation().words == "open"
    readings.use("shorted", SHORT, "", None)
    assert readings.compensation().words == "open, short, load"
    assert readings.compensation().load_value == 100.0


@pytest.mark.parametrize("words", ["", "heavy", "3 V"])
def test_a_load_without_a_value_is_named(words):
    readings = FixtureReadings({"load": words})
    for name, reading in (("opened", OPEN), ("shorted", SHORT), ("load", sweep(100.0))):
        readings.standards[name] = Standard(sweep=reading, at=None)
    with pytest.raises(QuantityError) as refusal:
        readings.corrections()
    assert refusal.value.facts["key"] == "load"
