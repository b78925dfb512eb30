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
