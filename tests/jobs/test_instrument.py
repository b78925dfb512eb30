"""Jobs at instruments: the same act for the window and the command line."""

from __future__ import annotations

import pickle

import pytest

from benchapp.bench.offer import Offer
from benchapp.errors import CancelledError, FileAccessError, UsageError
from benchapp.instruments import PARTIAL, Plan, visa
from benchapp.jobs import (
    Discover,
    ExamineAddress,
    OpenFile,
    SaveCaptures,
    SwitchOff,
    TakeSweep,
    not_cancelled,
    silent,
)

PLAN = Plan(start=120e3, stop=150e3, points=11, zoom=False, level=0.5)


@pytest.fixture
def meter():
    with Offer().server() as server:
        yield server


def sweep(meter, plan=PLAN, **more):
    return TakeSweep(profile="lcr-points", address=meter.address, plan=plan, **more)


def test_a_sweep_shows_its_points_as_they_come(meter):
    seen, said = [], []
    job = sweep(meter, watch=seen.append)
    taken = job(lambda text, fraction: said.append((text, fraction)), not_cancelled)
    (capture,) = taken.captures
    assert [point.frequency for point in seen] == capture.frequency.tolist()
    assert said[-1] == ("sweep: 11 of 11", 1.0)
    assert not taken.partial
    assert capture.history == ()


def test_a_stop_keeps_the_points_and_marks_them(meter):
    seen = []
    taken = sweep(meter, watch=seen.append)(silent, lambda: len(seen) >= 4)
    assert isinstance(taken.trouble, CancelledError)
    (capture,) = taken.captures
    assert capture.frequency.size == 4
    assert capture.origin.label == "sweep, partial"
    (mark,) = capture.history
    assert (mark.name, mark.detail) == (PARTIAL, "broken off after 4 of 11 points")
    assert taken.ending.output == "off"
    assert not meter.panel.output


def test_a_bias_without_consent_switches_nothing(meter):
    plan = Plan(start=120e3, stop=150e3, bias=1.0)
    with pytest.raises(UsageError, match="bias: must be confirmed") as refusal:
        sweep(meter, plan)(silent, not_cancelled)
    assert refusal.value.facts["consent"]
    assert meter.heard == []


def test_another_visa_library_that_is_missing_is_said(meter):
    taken = sweep(meter, backend="nosuch@nosuch")(silent, not_cancelled)
    assert taken.captures == ()
    assert taken.trouble is not None
    assert taken.trouble.hint


def test_switching_off_brings_the_bias_down_in_steps(meter):
    meter.panel.execute("OUTP ON;:SOUR:VOLT:OFFS 4")
    job = SwitchOff(profile="lcr-points", address=meter.address, bias=4.0)
    ending = job(silent, lambda: True)
    assert (ending.output, ending.bias) == ("off", "off")
    steps = [float(line.split()[-1]) for line in meter.heard if "OFFS " in line]
    assert steps == [3.0, 2.0, 1.0, 0.0, 0.0]
    assert not meter.panel.output


def test_switching_off_what_is_gone_says_that_it_is_unsure():
    with Offer().server() as server:
        address = server.address
    ending = SwitchOff(profile="lcr-points", address=address)(silent, not_cancelled)
    assert ending.output == "unknown"
    assert "switch it off at the instrument" in " ".join(ending.warnings)


def test_the_examination_shows_each_step_and_gives_them_all(meter):
    shown = []
    job = ExamineAddress(address=meter.address, profile="lcr-points", watch=shown.append)
    steps = job(silent, not_cancelled)
    assert tuple(shown) == steps
    assert all(step.well for step in steps)


def test_discovery_asks_visa_and_can_be_stopped_before(monkeypatch):
    monkeypatch.setattr(visa, "discover", lambda backend: (f"found by {backend}",))
    assert Discover()(silent, not_cancelled) == ("found by @py",)
    with pytest.raises(CancelledError, match="stopped"):
        Discover()(silent, lambda: True)


def test_what_is_saved_opens_as_it_was(meter, tmp_path):
    taken = sweep(meter)(silent, not_cancelled)
    path = str(tmp_path / "tank.csv")
    assert SaveCaptures(path=path, captures=taken.captures)(silent, not_cancelled) == path
    reading = OpenFile(path=path)(silent, not_cancelled)
    assert reading.captures[0].digest == taken.captures[0].digest


def test_saving_replaces_nothing_unless_it_may(meter, tmp_path):
    captures = sweep(meter)(silent, not_cancelled).captures
    path = tmp_path / "kept.csv"
    path.write_text("precious", encoding="ascii")
    with pytest.raises(FileAccessError, match="must be a file that can be written"):
        SaveCaptures(path=str(path), captures=captures)(silent, not_cancelled)
    assert path.read_text(encoding="ascii") == "precious"
    SaveCaptures(path=str(path), captures=captures, overwrite=True)(silent, not_cancelled)
    assert path.read_text(encoding="ascii").startswith("# benchapp capture 1")


def test_a_folder_that_is_not_there_is_said(meter, tmp_path):
    captures = sweep(meter)(silent, not_cancelled).captures
    with pytest.raises(FileAccessError, match="must be a file that can be written") as refusal:
        SaveCaptures(path=str(tmp_path / "no" / "x.csv"), captures=captures)(silent, not_cancelled)
    assert "another folder" in refusal.value.hint


def test_jobs_cross_a_process_boundary(meter):
    for job in (sweep(meter), ExamineAddress(address=meter.address), Discover()):
        assert pickle.loads(pickle.dumps(job)) == job
