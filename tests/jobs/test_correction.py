"""Readings of a fixture from files, and a part corrected by them."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.bench import Meter, Setup, meter, scenario
from benchapp.bench.fixture import OPEN
from benchapp.bench.offer import CLIP
from benchapp.capture import Origin, Sweep, Transient
from benchapp.errors import CancelledError, FileAccessError, UsageError
from benchapp.fixture import Compensation, Corrections
from benchapp.jobs import (
    CorrectCapture,
    Nulling,
    OpenCorrections,
    OpenStandard,
    Recheck,
    SaveCaptures,
    not_cancelled,
    silent,
)
from benchapp.readers import Answers

F = np.linspace(114e3, 154e3, 31)


def taken(device, seed=1, clip=CLIP):
    setup = Setup(device=device, fixture=clip)
    readings = meter.measure(Meter(noise=1e-5), setup, F, np.random.default_rng(seed))
    return Sweep(
        frequency=F,
        impedance=readings.impedance,
        origin=Origin(taken="2026-03-02T12:00:00+00:00"),
    )


def saved(folder, name, *captures):
    path = str(folder / f"{name}.csv")
    return SaveCaptures(path=path, captures=captures)(silent, not_cancelled)


def test_open_short_and_load_are_read_from_files_and_correct_a_part(tmp_path):
    nulling = Nulling(
        opened=saved(tmp_path, "open", taken(OPEN)),
        shorted=saved(tmp_path, "short", taken(0.0)),
        load=saved(tmp_path, "load", taken(1000.0)),
        load_value=1000 + 0j,
    )
    known = OpenCorrections(nulling=nulling, others=Corrections(oldest=60.0))(
        silent, not_cancelled
    )
    assert known.compensation.words == "open, short, load"
    assert known.oldest == 60.0
    raw = taken(scenario.TANK, seed=2)
    done = CorrectCapture(capture=raw, corrections=known)(silent, not_cancelled)
    bare = taken(scenario.TANK, seed=2, clip=type(CLIP)())
    np.testing.assert_allclose(done.capture.impedance, bare.impedance, rtol=3e-3)
    assert np.abs(raw.impedance / bare.impedance - 1).max() > 0.1
    assert done.raw is raw


def test_without_files_the_other_corrections_stand_alone():
    others = Corrections(delay=1e-9)
    assert OpenCorrections(nulling=Nulling(), others=others)(silent, not_cancelled) is others


@pytest.mark.parametrize(
    ("captures", "got"),
    [
        ((taken(OPEN), taken(OPEN, seed=3)), "got sweep, sweep"),
        ((Transient(time=np.arange(9) * 1e-6, voltage=np.ones(9)),), "got transient"),
    ],
)
def test_a_reading_of_the_fixture_is_one_sweep_of_impedance(tmp_path, captures, got):
    path = saved(tmp_path, "open", *captures)
    with pytest.raises(UsageError, match=got):
        OpenCorrections(nulling=Nulling(opened=path))(silent, not_cancelled)


def test_a_recheck_says_how_much_the_part_would_change():
    def null(farad):
        clip = type(CLIP)(open_farad=farad, short_henry=30e-9, short_ohm=0.04)
        return Compensation(opened=taken(OPEN, clip=clip), shorted=taken(0.0, clip=clip))

    words = Recheck(sweep=taken(scenario.TANK), before=null(2e-12), again=null(2.1e-12))(
        silent, not_cancelled
    )
    assert words.startswith("re-check of the fixture: |Z| of the part would change by ")
    assert words.endswith(" rms")
    assert " kHz; " in words


def test_a_stop_is_heard_before_the_work_begins():
    job = CorrectCapture(capture=taken(47.0), corrections=Corrections(delay=1e-9))
    with pytest.raises(CancelledError):
        job(silent, lambda: True)


def test_one_saved_reading_is_opened_bit_for_bit(tmp_path):
    sweep = taken(0.0)
    again = OpenStandard(path=saved(tmp_path, "short", sweep))(silent, not_cancelled)
    assert again.digest == sweep.digest
    with pytest.raises(FileAccessError, match=r"none\.csv"):
        OpenStandard(path=str(tmp_path / "none.csv"))(silent, not_cancelled)


@pytest.mark.parametrize("port", ["reflection", None])
def test_a_reading_through_the_port_of_a_network_analyser_is_one_of_impedance(tmp_path, port):
    path = tmp_path / "open.s1p"
    path.write_text("# kHz S RI R 50\n100 0.99 0\n120 0.99 0.001\n140 0.99 0.002\n")
    answers = Answers() if port is None else Answers(port=port)
    found = OpenStandard(path=str(path), answers=answers)(silent, not_cancelled)
    assert found.frequency.size == 3
    assert found.impedance[0].real == pytest.approx(50 * 1.99 / 0.01)


@pytest.mark.parametrize(
    ("before", "again", "shift"),
    [
        (0.00, 0.00, "+0.00%"),
        (0.00, 1.00, "-2.13%"),
        (1.00, 0.00, "+2.17%"),
        (0.05, 0.15, "-0.21%"),
    ],
)
def test_a_recheck_of_a_short_shifts_a_resistor_by_its_share(before, again, shift):
    def null(ohm):
        return Compensation(shorted=Sweep(frequency=F, impedance=ohm + 0j * F))

    part = Sweep(frequency=F, impedance=47.0 + 0j * F)
    words = Recheck(sweep=part, before=null(before), again=null(again))(silent, not_cancelled)
    assert f"would change by {shift} at most" in words
