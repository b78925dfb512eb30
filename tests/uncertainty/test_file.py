"""The accuracy file: what it means, and refusals that name the line and what was expected."""

from __future__ import annotations

import hashlib
import math

import pytest

from benchapp.errors import FileAccessError, UsageError
from benchapp.uncertainty import Accuracy, Stated, accuracy_from, load_accuracy
from benchapp.uncertainty.file import ENTRIES

WHOLE = """\
title = "LCR meter"
distribution = "rectangular"

[instrument]
reading = { bound = "±0.1 %", distribution = "normal", coverage = 2, dof = 50 }
phase = "±0.06 deg"
series = "±5 mohm"
parallel = "±2 nS"
delay = "±1 ns"
frequency = "+/-50 ppm"
ranges = ["100 ohm", "10 kohm"]

[reference]
value = "0.05 %"

[fixture]
series_resistance = "±2 mohm"
series_inductance = "±10 nH"
parallel_capacitance = "±0.1 pF"
parallel_conductance = "±1 nS"

[temperature]
instrument = "±5 K"
reading_per_kelvin = "±20 ppm"
part = "±2 K"
R = "0.393 %"
C = "-250 ppm"
"""


def _load(tmp_path, text):
    path = tmp_path / "meter.toml"
    path.write_text(text, encoding="utf-8")
    return load_accuracy(path)


def test_every_entry_is_read_in_si_units(tmp_path):
    found = _load(tmp_path, WHOLE)
    assert found.title == "LCR meter"
    assert found.reading == Stated(bound=1e-3, distribution="normal", coverage=2.0, dof=50.0)
    assert found.phase.bound == pytest.approx(math.radians(0.06))
    assert (found.series.bound, found.parallel.bound) == (pytest.approx(5e-3), pytest.approx(2e-9))
    assert (found.delay.bound, found.frequency.bound) == (pytest.approx(1e-9), pytest.approx(5e-5))
    assert found.ranges == (100.0, 10e3)
    assert found.reference.bound == pytest.approx(5e-4)
    assert found.fixture_ohm.bound == pytest.approx(2e-3)
    assert found.fixture_henry.bound == pytest.approx(1e-8)
    assert found.fixture_farad.bound == pytest.approx(1e-13)
    assert found.fixture_siemens.bound == pytest.approx(1e-9)
    assert (found.drift.bound, found.drift_kelvin) == (pytest.approx(2e-5), 5.0)
    assert found.part_kelvin == Stated(bound=2.0)
    assert dict(found.part_per_kelvin) == {
        "R": pytest.approx(3.93e-3),
        "C": pytest.approx(-2.5e-4),
    }
    assert found.sha256 == hashlib.sha256(WHOLE.encode()).hexdigest()
    assert found.source.endswith("meter.toml")


def test_every_entry_of_the_table_fills_a_field_of_its_own():
    targets = [entry.field for entries in ENTRIES.values() for entry in entries.values()]
    assert len(set(targets)) == len(targets)
    assert set(targets) <= set(Accuracy.__slots__)


def test_the_distribution_of_the_file_holds_where_an_entry_states_none():
    found = accuracy_from(
        {"distribution": "triangular", "instrument": {"reading": "1 %", "phase": "1 deg"}}
    )
    assert found.reading.distribution == "triangular"


def test_an_empty_accuracy_states_nothing():
    assert dict(accuracy_from({}).stated) == {}


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("title =", "titel =", "line 1: titel must be a known key of the accuracy"),
        ("phase =", "fase =", r"line 6: instrument.fase must be a known key of \[instrument\]"),
        ('"±0.06 deg"', '"±0.06"', "line 6: instrument.phase must have a unit"),
        ('"±0.06 deg"', "0.06", "line 6: instrument.phase must have a unit"),
        ('"+/-50 ppm"', '"50"', "line 10: instrument.frequency must be a fraction in % or ppm"),
        ('"±5 mohm"', '"±-5 mohm"', "line 7: instrument.series must be half the width"),
        ('"±2 nS"', '"±2 nF"', "line 8: instrument.parallel must"),
        ('"normal"', '"gauss"', "distribution must be one of rectangular"),
        ("coverage = 2", "coverage = 0", "coverage must be above zero"),
        ('bound = "±0.1 %", ', "", "line 5: instrument.reading must have a bound"),
        ("dof = 50", "freedom = 50", "freedom must be a known key"),
        ('["100 ohm", "10 kohm"]', '["10 kohm", "100 ohm"]', "line 11: .*ranges must rise"),
        ('["100 ohm", "10 kohm"]', '"10 kohm"', "ranges must be a list of resistances"),
        ('instrument = "±5 K"\n', "", "must have reading_per_kelvin and instrument together"),
        ('part = "±2 K"\n', "", "must have part and L, C or R together"),
        ('"0.393 %"', '"0.00393"', "line 26: temperature.R must be a change per kelvin in %"),
        ("title = ", "title ", "line 1: must be TOML"),
    ],
)
def test_a_broken_rule_is_refused_with_its_line(tmp_path, old, new, match):
    assert WHOLE.count(old) == 1
    with pytest.raises(UsageError, match=match):
        _load(tmp_path, WHOLE.replace(old, new))


def test_another_file_is_refused_in_one_sentence(tmp_path):
    path = tmp_path / "meter.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UsageError, match="must be an accuracy file, a short UTF-8 text file"):
        load_accuracy(path)
    path.write_text("#" * 100_000, encoding="utf-8")
    with pytest.raises(UsageError, match="must be an accuracy file"):
        load_accuracy(path)
    with pytest.raises(FileAccessError):
        load_accuracy(tmp_path / "missing.toml")
