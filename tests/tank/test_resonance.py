"""Formulas of one resonant circuit against tests/truth/resonance.toml and against brute force."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.tank.resonance import (
    characteristic_impedance,
    damped_frequency,
    half_power_edges,
    log_decrement,
    peak_impedance,
    resonance,
    tuning,
    zero_phase,
)

FOLDER = Path(__file__).parent.parent / "truth"
TRUTH = tomllib.loads((FOLDER / "resonance.toml").read_text(encoding="utf-8"))
PRACTICE = tomllib.loads((FOLDER / "tank_practice.toml").read_text(encoding="utf-8"))
RES1 = TRUTH["RES-1"]
L, C, F0 = RES1["L"], RES1["C"], RES1["f0"]
PLACES = [0, 1, 2]


def test_res_1_resonance_and_characteristic_impedance():
    assert resonance(L, C) == pytest.approx(F0, rel=1e-14)
    assert characteristic_impedance(L, C) == pytest.approx(RES1["Z_tank"], rel=1e-14)


def test_res_2_half_power_edges():
    low, high = half_power_edges(F0, RES1["Q"])
    assert low == pytest.approx(TRUTH["RES-2"]["lower"], rel=1e-13)
    assert high == pytest.approx(TRUTH["RES-2"]["upper"], rel=1e-13)
    assert high - low == pytest.approx(RES1["BW"], rel=1e-11)
    assert low * high == pytest.approx(F0**2, rel=1e-14)


@pytest.mark.parametrize("place", PLACES)
def test_res_3_damped_frequency(place):
    entry = TRUTH["RES-3"]
    found = damped_frequency(F0, entry["Q"][place])
    assert found == pytest.approx(F0 * entry["ratio"][place], rel=1e-14)


@pytest.mark.parametrize("place", PLACES)
def test_res_4_log_decrement(place):
    entry = TRUTH["RES-4"]
    assert log_decrement(entry["Q"][place]) == pytest.approx(entry["decrement"][place], rel=1e-13)


@pytest.mark.parametrize("place", PLACES)
def test_res_7_zero_phase(place):
    entry = TRUTH["RES-7"]
    q = entry["Q"][place]
    found = zero_phase(L, C, RES1["Z_tank"] / q, 0.0)
    assert found == pytest.approx(F0 * entry["ratio"][place], rel=1e-13)


@pytest.mark.parametrize("place", PLACES)
def test_res_8_and_9_greatest_impedance(place):
    q = TRUTH["RES-8"]["Q"][place]
    resistance = RES1["Z_tank"] / q
    found = peak_impedance(L, C, resistance, 0.0)
    assert found is not None
    assert found[0] == pytest.approx(F0 * TRUTH["RES-8"]["ratio"][place], rel=1e-13)
    assert found[1] == pytest.approx(TRUTH["RES-9"]["ratio"][place] * q**2 * resistance, rel=1e-12)


@pytest.mark.parametrize("place", PLACES)
def test_res_10_tuning_capacitor_and_back(place):
    entry = TRUTH["RES-10"]
    found = tuning(entry["L"][place], entry["f0"][place])
    assert found == pytest.approx(entry["C"][place], rel=1e-13)
    assert tuning(found, entry["f0"][place]) == pytest.approx(entry["L"][place], rel=1e-13)


def test_res_11_one_percent_of_inductance_is_less_than_half_a_percent():
    shift = resonance(1.01 * L, C) / resonance(L, C) - 1
    assert shift == pytest.approx(TRUTH["RES-11"]["shift"], rel=1e-12)


@pytest.mark.parametrize("place", range(4))
def test_zero_phase_lies_below_f0_as_practice_has_it(place):
    entry = PRACTICE["zero_phase"]
    found = zero_phase(L, C, 1000 / entry["Q"][place], 0.0)
    assert found is not None
    shift = 100 * (found / F0 - 1)
    assert shift == pytest.approx(entry["shift_percent"][place], abs=entry["rounding"][place])


def _impedance(frequency, coil, capacitor):
    omega = 2 * np.pi * frequency
    first, second = coil + 1j * omega * L, capacitor - 1j / (omega * C)
    return first * second / (first + second)


resistances = st.floats(0.5, 400.0)


@settings(deadline=None)
@given(resistances, resistances)
def test_zero_phase_is_where_the_reactance_vanishes(coil, capacitor):
    found = zero_phase(L, C, coil, capacitor)
    assert found is not None
    z = _impedance(found, coil, capacitor)
    assert abs(z.imag) < 1e-9 * abs(z)


@settings(deadline=None)
@given(resistances, resistances)
def test_no_frequency_has_more_impedance_than_the_peak(coil, capacitor):
    found = peak_impedance(L, C, coil, capacitor)
    assert found is not None
    grid = np.linspace(0.2 * F0, 5 * F0, 4001)
    assert np.abs(_impedance(grid, coil, capacitor)).max() <= found[1] * (1 + 1e-12)
    assert abs(_impedance(found[0], coil, capacitor)) == pytest.approx(found[1], rel=1e-9)


@pytest.mark.parametrize(
    ("coil", "capacitor"), [(1000.0, 0.0), (1500.0, 0.0), (0.0, 1000.0), (3000.0, 2000.0)]
)
def test_strong_damping_leaves_no_zero_phase(coil, capacitor):
    assert zero_phase(L, C, coil, capacitor) is None


def test_a_capacitor_more_lossy_than_the_coil_has_its_zero_phase_above_f0():
    found = zero_phase(L, C, 10.0, 200.0)
    assert found is not None
    assert found > F0


def test_without_any_loss_or_with_too_much_there_is_no_greatest_impedance():
    assert peak_impedance(L, C, 0.0, 0.0) is None
    assert peak_impedance(L, C, 5000.0, 0.0) is None
    assert peak_impedance(L, C, 1000.0, 1000.0) is None


@pytest.mark.parametrize("q", [0.5, 0.3])
def test_an_overdamped_tank_does_not_ring(q):
    assert damped_frequency(F0, q) is None
    assert log_decrement(q) is None


@settings(deadline=None)
@given(st.floats(0.6, 1e4))
def test_edges_multiply_to_the_square_and_differ_by_the_bandwidth(q):
    low, high = half_power_edges(F0, q)
    assert math.sqrt(low * high) == pytest.approx(F0, rel=1e-9)
    assert high - low == pytest.approx(F0 / q, rel=1e-9)
