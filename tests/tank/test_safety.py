"""Cautions beside dangerous voltages."""

from __future__ import annotations

import math

import pytest

from benchapp.tank import DEFERRING, safety_lines


def test_below_the_touch_limit_there_is_nothing_to_say():
    assert safety_lines(29.9, frequency=50e3) == ()
    assert safety_lines(0.0, frequency=50.0, bias=41.0) == ()


@pytest.mark.parametrize(
    ("voltage", "bias"), [(30.1, 0.0), (0.0, 61.0), (0.0, -61.0), (20.0, 20.0)]
)
def test_above_it_the_danger_is_named_and_local_rules_have_the_last_word(voltage, bias):
    lines = safety_lines(voltage, frequency=50e3, bias=bias)
    assert "touch limit" in lines[0]
    assert "Switch off before you touch" in lines[0]
    assert lines[-1] == DEFERRING
    assert "follow your workplace's rules" in DEFERRING
    assert "qualified" in DEFERRING


def test_radio_frequency_burns_are_named_from_100_kilohertz():
    assert any("burns deep" in line for line in safety_lines(50.0, frequency=134.2e3))
    assert not any("burns deep" in line for line in safety_lines(50.0, frequency=50e3))


def test_stored_charge_is_named_above_45_microcoulomb():
    """IEC 60335-1 8.1.4 as quoted: 45 uC; 45 nF at 1 kV."""
    peak = 1000.0
    above = safety_lines(peak / math.sqrt(2), frequency=1e3, capacitance=45.5e-9)
    below = safety_lines(peak / math.sqrt(2), frequency=1e3, capacitance=44.5e-9)
    assert any("discharge it through a resistor and measure zero" in line for line in above)
    assert not any("discharge" in line for line in below)


def test_no_line_calls_anything_safe():
    lines = safety_lines(1e3, frequency=134.2e3, capacitance=1e-6, bias=100.0)
    assert len(lines) == 4
    assert not any("safe" in line.lower().split() for line in lines)


@pytest.mark.parametrize(
    ("voltage", "bias", "warned"),
    [
        (1.0, 0.0, False),
        (12.0, 0.0, False),
        (24.0, 0.0, False),
        (29.9, 0.0, False),
        (30.1, 0.0, True),
        (50.0, 0.0, True),
        (230.0, 0.0, True),
        (0.0, 24.0, False),
        (0.0, 42.0, False),
        (0.0, 48.0, True),
        (0.0, 325.0, True),
        (10.0, 24.0, False),
        (15.0, 24.0, True),
    ],
)
def test_which_voltages_are_cautioned(voltage, bias, warned):
    """42.4 V peak, DC included: the stricter reading of 60 V DC."""
    assert bool(safety_lines(voltage, frequency=1e3, bias=bias)) is warned


def test_the_peak_is_said():
    assert "1.41 kV peak" in safety_lines(1000.0, frequency=1e3)[0]
    assert "283 V peak" in safety_lines(200.0, frequency=1e3)[0]
