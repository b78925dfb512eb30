"""The daily check of the reference coil, kept in the record."""

from __future__ import annotations

import datetime as dt
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.bench import Meter, Setup, meter, scenario
from benchapp.capture import Conditions, Origin, Step, Sweep
from benchapp.errors import CancelledError, RecordError, UsageError
from benchapp.instruments import PARTIAL
from benchapp.jobs import (
    CheckReference,
    OpenReference,
    ReadChecks,
    RecordNotes,
    ReviewReference,
    StationGate,
    not_cancelled,
    sample_folder,
    silent,
    station_words,
)
from benchapp.lot import Check


@pytest.fixture
def coil(tmp_path):
    """The file of a reference in a folder of its own."""
    return Path(shutil.copy(sample_folder() / "ga12_reference.toml", tmp_path / "coil.toml"))


@pytest.fixture
def reference(coil):
    return OpenReference(path=str(coil))(silent, not_cancelled)


def taken(device=scenario.TANK, seed=1, **origin):
    frequency = np.linspace(114e3, 154e3, 81)
    readings = meter.measure(
        Meter(noise=1e-4), Setup(device=device), frequency, np.random.default_rng(seed)
    )
    return Sweep(
        frequency=frequency,
        impedance=readings.impedance,
        conditions=Conditions(temperature_celsius=23.0),
        origin=Origin(source="METER", **origin),
    )


def check(reference, notes, capture, **more):
    return CheckReference(reference=reference, capture=capture, notes=notes, **more)(
        silent, not_cancelled
    )


def record(coil):
    return RecordNotes(address=str(coil.with_name("parts.benchlog")))


def station(reference, notes):
    return StationGate(reference=reference, notes=notes)(silent, not_cancelled)


def test_a_check_is_kept_in_the_record_and_opens_the_station(coil, reference):
    notes = record(coil)
    assert station(reference, notes).state == "never"
    found = check(reference, notes, taken(), who="A. Brandt")
    assert found.gate.is_open
    (kept,) = record(coil).notes("reference-check")
    assert Check.from_note(kept) == found.check
    assert found.check.who == "A. Brandt"
    assert station(reference, RecordNotes(address=notes.address)).is_open


def test_a_bad_check_is_kept_too_and_a_review_needs_a_new_one(coil, reference):
    notes = record(coil)
    check(reference, notes, taken())
    locked = check(reference, notes, taken(scenario.SHORTED_TURN)).gate
    assert locked.state == "outside"
    assert len(notes.notes("reference-check")) == 2
    review = ReviewReference(
        reference=reference, notes=notes, who="A. Brandt", reason="clip was dirty"
    )
    assert review(silent, not_cancelled).state == "never"
    assert station(reference, notes).last_good is not None


def test_the_time_of_the_sweep_is_that_of_the_check(coil, reference):
    capture = taken(taken="2020-01-02T03:04:05+00:00")
    found = check(reference, record(coil), capture)
    assert found.check.taken == "2020-01-02T03:04:05+00:00"
    assert found.gate.state == "overdue"


def test_how_the_coil_stands_is_said_in_one_line(coil, reference):
    notes = record(coil)
    title = reference.nominal.title
    assert station_words(reference, station(reference, notes)).startswith(f"{title}: locked; ")
    check(reference, notes, taken())
    assert station_words(reference, station(reference, notes)).startswith(f"{title}: open; ")


def test_a_sweep_that_was_broken_off_is_no_check(coil, reference):
    part = replace(taken(), history=(Step(name=PARTIAL),))
    notes = record(coil)
    with pytest.raises(UsageError, match="its check must be a whole sweep"):
        check(reference, notes, part)
    assert notes.notes("reference-check") == ()


@pytest.mark.parametrize(("who", "reason"), [("", "cleaned"), ("A. Brandt", " ")])
def test_a_review_has_a_name_and_a_reason(coil, reference, who, reason):
    job = ReviewReference(
        reference=reference,
        notes=record(coil),
        who=who,
        reason=reason,
    )
    with pytest.raises(UsageError, match="review: must have a name and a reason"):
        job(silent, not_cancelled)


def test_without_an_address_it_is_the_usual_record(coil, reference, monkeypatch):
    monkeypatch.setenv("BENCHAPP_RECORD", str(coil.with_name("usual.benchlog")))
    assert RecordNotes().notes("reference-check") == ()
    assert not coil.with_name("usual.benchlog").exists()
    check(reference, RecordNotes(), taken())
    assert len(RecordNotes().notes("reference-check")) == 1


def test_a_file_that_is_no_record_is_said(coil, reference):
    with pytest.raises(RecordError, match=r"coil\.toml"):
        check(reference, RecordNotes(address=str(coil)), taken())


def test_every_check_and_review_is_read_back_in_the_order_of_the_record(coil, reference):
    notes = record(coil)
    for seed, device in enumerate((scenario.TANK, scenario.SHORTED_TURN, scenario.TANK)):
        check(reference, notes, taken(device, seed=seed))
    kept = ReadChecks(notes=notes)(silent, not_cancelled)
    assert [one.outcome.value for one in kept.checks] == ["pass", "fail", "pass"]
    assert kept.reviews == ()
    assert kept.gate(reference).is_open
    assert kept.gate(replace(reference, serial="RC-2")).state == "never"


@pytest.mark.parametrize(
    ("hours", "state"), [(25.0, "overdue"), (0.0, "open"), (23.9, "open"), (1000.0, "overdue")]
)
def test_a_check_counts_for_a_day(coil, reference, hours, state):
    when = dt.datetime.now(dt.UTC) - dt.timedelta(hours=hours)
    notes = record(coil)
    check(reference, notes, taken(taken=when.isoformat()))
    assert station(reference, notes).state == state


def test_a_check_that_is_stopped_is_not_kept(coil, reference):
    notes = record(coil)
    job = CheckReference(reference=reference, capture=taken(), notes=notes)
    with pytest.raises(CancelledError):
        job(silent, lambda: True)
    assert notes.notes("reference-check") == ()
