from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.bench import Converter, Pickup
from benchapp.bench.converter import leakage, quantise, wave


def test_eight_bits_over_plus_minus_one_volt_step_by_a_128th():
    converter = Converter(bits=8, full_scale=1.0)
    assert converter.step == 1 / 128
    assert converter.limits == (-1.0, 127 / 128)


@given(
    bits=st.integers(2, 16),
    volts=st.lists(st.floats(-3, 3), min_size=1, max_size=20),
)
def test_a_code_is_half_a_step_from_the_voltage_or_at_an_end(bits, volts):
    converter = Converter(bits=bits, full_scale=1.0)
    given_volts = np.array(volts)
    codes = quantise(converter, given_volts)
    low, high = converter.limits
    inside = (given_volts >= low) & (given_volts <= high)
    assert np.all(np.abs(codes - given_volts)[inside] <= converter.step / 2 * (1 + 1e-12))
    assert np.all((codes == low) | (codes == high) | inside)
    np.testing.assert_array_equal(codes, quantise(converter, codes))


def test_mains_swings_at_its_frequency_and_amplitude(rng):
    time = np.arange(4000) / 100e3  # two periods of 50 Hz
    volts = wave(Pickup(volt=0.3, mains=50.0), time, rng)
    assert np.abs(volts).max() == pytest.approx(0.3, rel=1e-3)
    phasor = 2 * np.mean(volts * np.exp(-2j * np.pi * 50 * time))
    assert abs(phasor) == pytest.approx(0.3, rel=1e-9)


def test_whole_mains_periods_leave_no_mains_in_a_reading(rng):
    """Integrating over 20 ms rejects 50 Hz at every multiple of 50 Hz; over 7 ms it does not."""
    f = np.array([1e3, 10e3])
    hum = Pickup(volt=1.0, mains=50.0)
    assert np.all(np.abs(leakage(hum, f, 20e-3, rng)) < 1e-12)
    assert np.all(np.abs(leakage(hum, f, 7.3e-3, rng)) > 1e-4)


def test_leakage_is_what_a_rectangular_window_passes(rng):
    """Reference: the mains wave times a turning phasor, averaged sample by sample."""
    hum, f, span = Pickup(volt=1.0, mains=50.0), np.array([137.0]), 31e-3
    time = (np.arange(200_000) + 0.5) / 200_000 * span
    turning = np.exp(2j * np.pi * (hum.mains - f[0]) * time)
    assert abs(leakage(hum, f, span, rng)[0]) == pytest.approx(abs(turning.mean()), rel=1e-6)
