"""The daily check of the reference coil, kept beside its file."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench import Meter, Setup, meter, scenario
from benchapp.capture import Conditions, Origin, Step, Sweep
from benchapp.errors import RecordError, UsageError
from benchapp.instruments import PARTIAL
from benchapp.jobs import (
    CheckReference,
    NoteFile,
    OpenReference,
    ReviewReference,
    StationGate,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.lot import Check


@pytest.fixture
def coil(tmp_path):
    """The file of a reference in a folder of its own."""
    return shutil.copy(sample_folder() / "ga12_reference.toml", tmp_path / "coil.toml")


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


def station(reference, notes):
    return StationGate(reference=reference, notes=notes)(silent, not_cancelled)


def test_a_check_is_kept_beside_the_file_and_opens_the_station(coil, reference):
    notes = NoteFile.beside(coil)
    assert station(reference, notes).state == "never"
    found = check(reference, notes, taken(), who="A. Brandt")
    assert found.gate.is_open
    assert notes.path.name == "coil.checks.jsonl"
    (kept,) = NoteFile.beside(coil).notes("reference-check")
    assert Check.from_note(kept) == found.check
    assert found.check.who == "A. Brandt"
    assert station(reference, NoteFile(notes.path)).is_open


def test_a_bad_check_is_kept_too_and_a_review_needs_a_new_one(coil, reference):
    notes = NoteFile.beside(coil)
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
    found = check(reference, NoteFile.beside(coil), capture)
    assert found.check.taken == "2020-01-02T03:04:05+00:00"
    assert found.gate.state == "overdue"


def test_a_sweep_that_was_broken_off_is_no_check(coil, reference):
    part = replace(taken(), history=(Step(name=PARTIAL),))
    notes = NoteFile.beside(coil)
    with pytest.raises(UsageError, match="its check must be a whole sweep"):
        check(reference, notes, part)
    assert notes.notes("reference-check") == ()


@pytest.mark.parametrize(("who", "reason"), [("", "cleaned"), ("A. Brandt", " ")])
def test_a_review_has_a_name_and_a_reason(coil, reference, who, reason):
    job = ReviewReference(reference=reference, notes=NoteFile.beside(coil), who=who, reason=reason)
    with pytest.raises(UsageError, match="review: must have a name and a reason"):
        job(silent, not_cancelled)


@pytest.mark.parametrize("line", ["{", "[1, 2]", '{"kind": "reference-check"}', "17"])
def test_a_damaged_line_is_named(tmp_path, line):
    path = tmp_path / "checks.jsonl"
    path.write_text(f'{{"kind": "other", "note": {{}}}}\n{line}\n', encoding="ascii")
    with pytest.raises(RecordError, match=r"checks\.jsonl, line 2: must be a note"):
        NoteFile(path).notes("reference-check")


def test_checks_that_cannot_be_read_or_written_are_said(tmp_path, reference):
    odd = tmp_path / "odd.jsonl"
    odd.write_bytes(b"\xff\xfe")
    with pytest.raises(RecordError, match="must be a text file that can be read"):
        NoteFile(odd).notes("reference-check")
    with pytest.raises(RecordError, match="the checks must be written here"):
        check(reference, NoteFile(tmp_path / "no" / "x.jsonl"), taken())
