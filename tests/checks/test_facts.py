"""Facts known beside a capture, and the file they come from."""

from __future__ import annotations

from dataclasses import fields

import pytest

from benchapp.checks import Facts, LevelPoint, load_facts
from benchapp.errors import FileAccessError, UsageError
from benchapp.tank import CapacitorDuty, CapacitorRatings

WHOLE = """
dwell = "5 ms"
f0_up = "134.1 kHz"
f0_down = "133.9 kHz"
monitor_variation = 0.02
levels = [{level = 0.3, f0 = "134 kHz", q = 78}, {level = 1, f0 = "133 kHz", q = 70}]
probe_capacitance = "10 pF"
probe_resistance = "10 Mohm"
source_resistance = "50 ohm"
looser_f0 = "134.2 kHz"
looser_q = 80
skew_degrees = 0.3
excitation_ends = "20 us"
compensated = true
compensation_age_hours = 9
compensation_change_kelvin = 2
open_ratio = 300
short_ratio = 0.001
fixture_resonance = "12 MHz"
repeats_resistance = ["17.1 ohm", "17.4 ohm"]
repeats_f0 = ["134 kHz", "134.1 kHz"]
dcr = "6.2 ohm"
dcr_expanded = "20 mohm"
capacitor_loss = 3e-4
calibration_due = "2026-12-31"
today = "2026-03-31"
reference_within = true
reference_open = "never checked"
in_lot = true
attempt = 2
unexplained_retests = 1
serial_seen = "lot 7"
gauge_percent = 12
capability_parts = 13
random_sample = false
sample_patterns = ["L: eight in a row on one side."]
dielectric = "X7R"
duty_q_loaded = false
band = ["133 kHz", "135 kHz"]
f0_tolerance = 0.01
drive_frequency = "134.2 kHz"

[duty]
voltage = "144.7 V"
frequency = "100 kHz"
capacitance = "220 nF"
loss_tangent = 3e-4

[ratings]
dc_volt = "630 V"
slew = 1e8
curve = [["1 kHz", "250 V"], ["100 kHz", "160 V"]]
"""


def _file(tmp_path, text):
    path = tmp_path / "facts.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_fact_can_stand_in_the_file(tmp_path):
    facts = load_facts(_file(tmp_path, WHOLE))
    nothing = Facts()
    unset = [
        one.name for one in fields(Facts) if getattr(facts, one.name) == getattr(nothing, one.name)
    ]
    assert unset == []
    assert facts.dwell == pytest.approx(5e-3)
    assert facts.levels[1] == LevelPoint(level=1, f0=133e3, q=70)
    assert facts.band == pytest.approx((133e3, 135e3))
    assert facts.repeats_resistance == pytest.approx((17.1, 17.4))
    assert facts.attempt == 2
    assert facts.duty == CapacitorDuty(
        voltage=144.7, frequency=100e3, capacitance=pytest.approx(220e-9), loss_tangent=3e-4
    )
    assert facts.ratings == CapacitorRatings(
        dc_volt=630, slew=1e8, curve=((1e3, 250), (100e3, 160))
    )


def test_nothing_is_known_without_a_fact(tmp_path):
    assert load_facts(_file(tmp_path, "# nothing\n")) == Facts()


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("dwel = 1\n", r"line 1: dwel must be a known key of the facts"),
        ('dwell = "5"\n', r"line 1: dwell must"),
        ('\ndwell = "5 V"\n', r"line 2: dwell must"),
        ("compensated = 1\n", r"line 1: compensated must be true or false \(got 1\)"),
        ('band = ["1 kHz"]\n', r"line 1: band must be a list of 2"),
        ("repeats_f0 = 3\n", r"line 1: repeats_f0 must be a list \(got 3\)"),
        ("levels = [3]\n", r"line 1: levels must be a table"),
        ("levels = [{level = 1}]\n", r"line 1: levels must have f0"),
        ('[duty]\nvoltage = "1 V"\n', r"line 1: duty must have frequency"),
        ("[ratings]\ncurve = [1]\n", r"line 2: ratings.curve must be pairs of frequency and"),
        ("looser_q = true\n", r"line 1: looser_q must be a number"),
        ('today = "tomorrow"\n', r"today: must be a date \(got 'tomorrow'\)"),
    ],
)
def test_a_broken_file_of_facts_is_refused(tmp_path, text, match):
    with pytest.raises(UsageError, match=match):
        load_facts(_file(tmp_path, text))


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(FileAccessError):
        load_facts(tmp_path / "none.toml")


def test_facts_complete_each_other_and_the_first_go_before():
    first = Facts(dwell=1e-3, in_lot=False, repeats_f0=(1.0, 2.0))
    second = Facts(dwell=2e-3, in_lot=True, attempt=2, repeats_f0=(3.0,), levels=())
    both = first.completed(second)
    assert both == Facts(dwell=1e-3, in_lot=False, attempt=2, repeats_f0=(1.0, 2.0))
    assert Facts().completed(second) == second
    assert first.completed(Facts()) == first


def test_zero_is_a_fact():
    assert Facts(unexplained_retests=0).completed(Facts(unexplained_retests=3)) == Facts(
        unexplained_retests=0
    )
