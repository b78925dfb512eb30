"""The window's model of the reference coil: opened, checked, reviewed, and what it forbids."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from benchapp.bench import Meter, Setup, meter, scenario
from benchapp.capture import Conditions, Step, Sweep
from benchapp.gui.referencecoil import ReferenceCoil
from benchapp.instruments import PARTIAL
from benchapp.jobs import RecordNotes, sample_folder


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHAPP_RECORD", str(tmp_path / "parts.benchlog"))
    return str(shutil.copy(sample_folder() / "ga12_reference.toml", tmp_path / "coil.toml"))


@pytest.fixture
def coil(worker, memory):
    made = ReferenceCoil(worker, memory)
    made.heard = []
    made.told.connect(made.heard.append)
    return made


def taken(device=scenario.TANK, **more):
    frequency = np.linspace(114e3, 154e3, 81)
    readings = meter.measure(
        Meter(noise=1e-4), Setup(device=device), frequency, np.random.default_rng(1)
    )
    conditions = Conditions(temperature_celsius=23.0)
    return Sweep(frequency=frequency, impedance=readings.impedance, conditions=conditions, **more)


def opened(qtbot, coil, path):
    with qtbot.waitSignal(coil.changed, timeout=5000):
        coil.open(path)


def checked(qtbot, coil, capture):
    with qtbot.waitSignal(coil.changed, timeout=5000):
        coil.check(capture, None)


def test_without_a_coil_nothing_is_forbidden(coil):
    assert coil.gate is None
    assert coil.obstacle == coil.words == ""
    coil.check(taken(), None)
    coil.review("nothing")
    assert coil.heard == []


def test_a_coil_locks_until_it_is_checked(qtbot, coil, path, memory):
    opened(qtbot, coil, path)
    assert coil.obstacle.startswith("Lot work is locked: reference RC-1 has not been checked")
    coil.who = " A. Brandt "
    checked(qtbot, coil, taken())
    assert coil.obstacle == ""
    assert "open; " in coil.words
    assert coil.gate.last.who == "A. Brandt"
    assert coil.heard[-1].mark == "good"
    assert memory.reference == path


def test_the_next_start_knows_the_coil_and_its_checks(qtbot, coil, path, worker, memory):
    opened(qtbot, coil, path)
    checked(qtbot, coil, taken())
    again = ReferenceCoil(worker, memory)
    qtbot.waitUntil(lambda: again.reference is not None)
    assert again.gate.is_open


def test_a_bad_check_locks_and_a_review_asks_for_a_new_one(qtbot, coil, path):
    opened(qtbot, coil, path)
    checked(qtbot, coil, taken(scenario.SHORTED_TURN))
    assert "is outside its limits" in coil.obstacle
    assert coil.heard[-1].mark == "stop"
    coil.who = "A. Brandt"
    with qtbot.waitSignal(coil.changed, timeout=5000):
        coil.review("another coil was in the clip")
    assert coil.gate.state == "never"
    assert len(RecordNotes().notes("reference-review")) == 1


def test_a_review_without_a_name_is_refused(qtbot, coil, path):
    opened(qtbot, coil, path)
    with qtbot.waitSignal(coil.changed, timeout=5000):
        coil.review("cleaned")
    assert "must have a name and a reason" in coil.heard[-1].text


def test_a_broken_sweep_is_no_check(qtbot, coil, path):
    opened(qtbot, coil, path)
    checked(qtbot, coil, taken(history=(Step(name=PARTIAL),)))
    assert "its check must be a whole sweep" in coil.heard[-1].text
    assert coil.gate.state == "never"


def test_a_file_that_cannot_be_read_locks_and_is_named(qtbot, coil, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("title = 3", encoding="utf-8")
    opened(qtbot, coil, str(bad))
    assert coil.heard[-1].text.startswith("bad.toml")
    assert "cannot be read" in coil.obstacle
    coil.forget()
    assert coil.obstacle == ""


def test_a_gate_is_not_decided_anew_at_every_look(qtbot, coil, path):
    opened(qtbot, coil, path)
    first = coil.gate
    assert coil.gate is first
    checked(qtbot, coil, taken())
    assert coil.gate is not first
