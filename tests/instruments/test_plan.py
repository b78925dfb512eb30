from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import UsageError
from benchapp.instruments.plan import Plan, around, check, coarse_grid, fine_grid, settling
from benchapp.instruments.profile_text import shipped_profiles

LCR = shipped_profiles()["lcr-points"]
SCOPE = shipped_profiles()["scope-gain-phase"]
RING = shipped_profiles()["scope-ring-down"]
NETWORK = shipped_profiles()["network-reflection"]
PLAN = Plan(start=1e3, stop=1e6)


def test_a_plan_within_the_limits_passes():
    check(replace(PLAN, level=0.5, averages=4), LCR)
    check(replace(PLAN, series_ohm=1e3, level=1.0), SCOPE)
    check(PLAN, NETWORK)


@pytest.mark.parametrize(
    ("changes", "profile", "why"),
    [
        ({"start": 2e6}, LCR, r"must rise .* \(got 2e\+06 to 1e\+06 Hz\)"),
        ({"start": 0.0}, LCR, r"above zero \(got 0 to"),
        ({"points": 1}, LCR, r"at least two points \(got 1, "),
        ({"start": 1.0}, LCR, r"frequency: must be from 20.00 Hz to 20.00 MHz.*got 1.000 Hz"),
        ({"stop": 1e9}, LCR, r"frequency: must be from .*got 1.000 GHz"),
        ({"level": 3.0, "consent": True}, LCR, r"level: must be from 5.000 mV to 2.000 V"),
        ({"bias": 50.0, "consent": True}, LCR, r"bias: must be from"),
        ({"averages": 1000}, LCR, r"averages: must be from"),
        ({"points": 5000}, NETWORK, r"points: must be from"),
        ({"samples": 1_000_000, "series_ohm": 1.0}, SCOPE, r"points: must be from"),
        ({"level": 0.1}, NETWORK, r"level: must be left to the instrument"),
        ({"bias": 1.0}, SCOPE, r"bias: must be left to the instrument"),
        ({}, SCOPE, r"known resistor: its measured value must be given"),
        ({"level": 1.5}, LCR, r"level: must be confirmed above 1.000 V \(got 1.500 V\)"),
        ({"bias": 0.1}, LCR, r"bias: must be confirmed above 0.000 V.*dangerous voltage"),
    ],
)
def test_what_the_instrument_cannot_do_or_needs_consent_is_refused(changes, profile, why):
    with pytest.raises(UsageError, match=why):
        check(replace(PLAN, **changes), profile)


@pytest.mark.parametrize("changes", [{"level": 1.5}, {"bias": 0.1}])
def test_consent_lets_a_cautioned_value_pass(changes):
    check(replace(PLAN, consent=True, **changes), LCR)


def test_a_ring_down_needs_no_frequencies():
    check(Plan(start=0.0, stop=0.0), RING)


def test_the_coarse_grid_covers_the_whole_range_and_without_zoom_has_all_points():
    grid = coarse_grid(PLAN)
    assert (grid[0], grid[-1], grid.size) == (1e3, pytest.approx(1e6), 61)
    assert coarse_grid(replace(PLAN, zoom=False)).size == 201
    linear = coarse_grid(replace(PLAN, spacing="linear"))
    np.testing.assert_allclose(np.diff(linear), np.diff(linear)[0])


@given(f0=st.floats(1e4, 1e5), q=st.floats(3, 1000))
def test_a_fine_sweep_has_ten_points_in_the_bandwidth_and_reaches_six_to_either_side(f0, q):
    grid = fine_grid(PLAN, f0, q)
    inside = np.abs(grid - f0) <= f0 / q / 2
    assert inside.sum() >= 10
    low, high = around(f0, q)
    assert f0 - low == pytest.approx(min(6 * f0 / q, 0.9 * f0))
    assert (grid[0], grid[-1]) == (pytest.approx(low), pytest.approx(high))


def test_a_fine_sweep_stays_within_the_range_asked_for():
    grid = fine_grid(PLAN, 990e3, 20.0)
    assert grid[-1] == pytest.approx(1e6)
    assert grid[0] > 600e3


def test_at_low_q_a_fine_sweep_is_wide_and_logarithmic():
    grid = fine_grid(PLAN, 1e5, 1.0)
    assert (grid[0], grid[-1]) == (pytest.approx(25e3), pytest.approx(400e3))
    np.testing.assert_allclose(np.diff(np.log(grid)), np.diff(np.log(grid))[0])


def test_the_wait_leaves_a_thousandth_even_if_q_was_found_a_tenth_too_low():
    wait = settling(PLAN, LCR, 50e3, (100e3, 80.0))
    assert wait == pytest.approx(1.1 * 2.2 * 80 / 100e3)
    tau = 1.1 * 80.0 / (np.pi * 100e3)
    assert np.exp(-wait / tau) == pytest.approx(1e-3, rel=0.01)


@pytest.mark.parametrize("way", [(100e3, 110e3), (110e3, 100e3), (100e3, 100.1e3), (60e3, 61e3)])
def test_the_wait_leaves_a_thousandth_of_a_reading_that_changes_by_more_than_itself(way):
    f0, Q = 100e3, 80.0
    old, new = (1 / (1 + 1j * Q * (f / f0 - f0 / f)) for f in way)
    wait = settling(PLAN, LCR, way[1], (f0, Q), way[0])
    left = abs(old - new) * np.exp(-wait * np.pi * f0 / (1.1 * Q))
    assert left <= 1.01e-3 * min(abs(old), abs(new))
    assert wait >= settling(PLAN, LCR, way[1], (f0, Q))


def test_until_the_resonance_is_known_the_expected_q_counts_at_the_present_frequency():
    assert settling(PLAN, LCR, 50e3, None) == pytest.approx(1.1 * 2.2 * 100 / 50e3)


def test_a_wait_that_was_asked_for_counts_and_the_instruments_own_time_is_the_least():
    slow = replace(LCR, settle=0.5)
    assert settling(replace(PLAN, settle=0.01), LCR, 50e3, None) == 0.01
    assert settling(replace(PLAN, settle=0.01), slow, 50e3, None) == 0.5
    assert settling(PLAN, slow, 50e3, None) == 0.5
