"""The decay itself: exact for exact data, at the bound with noise, and what it notices."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.fit.decay import Burst, belonging, bend, certain, scan, solve, swing

TRUTH = tomllib.loads((Path(__file__).parents[1] / "truth" / "sine.toml").read_text("utf-8"))
MODEL, RING = TRUTH["model"], TRUTH["SIN-5"]
OMEGA = 2 * math.pi * MODEL["f"]
N = np.arange(float(MODEL["N"]))


def ring(n, rate=RING["alpha"], omega=OMEGA, phase=MODEL["phi"], offset=0.1, amplitude=1.0):
    return amplitude * np.exp(-rate * n) * np.cos(omega * n + phase) + offset


def noisy(seed=1, n=N, **shape):
    rng = np.random.default_rng(seed)
    return Burst(time=n, voltage=ring(n, **shape) + MODEL["sigma"] * rng.standard_normal(n.size))


@given(
    Q=st.floats(1.5, 1000.0),
    omega=st.floats(0.05, 2.5),
    phase=st.floats(-3, 3),
    offset=st.floats(-1, 1),
)
def test_noise_free_decay_is_found_exactly(Q, omega, phase, offset):
    n, rate = np.arange(400.0), omega / (2 * Q)
    burst = Burst(time=n, voltage=ring(n, rate, omega, phase, offset))
    found = solve([burst], rate * 1.1, omega * 1.001)
    assert found.converged
    assert found.rate == pytest.approx(rate, abs=1e-9 + 1e-7 * rate)
    assert found.omega == pytest.approx(omega, rel=1e-8, abs=1e-9)
    assert swing(found, 0, n) == pytest.approx(burst.voltage, abs=1e-7)


def test_standard_uncertainties_are_the_bound():
    found = solve([noisy()], RING["alpha"], OMEGA)
    ratio = found.noise / MODEL["sigma"]
    u = np.sqrt(np.diag(found.covariance)) / ratio
    assert ratio == pytest.approx(1, abs=0.08)
    assert u[0] == pytest.approx(RING["sd_alpha"], rel=0.01)
    assert u[1] / (2 * math.pi) == pytest.approx(RING["sd_f"], rel=0.01)
    assert found.dof == 1000 - 5


def test_errors_are_at_the_bound():
    errors = []
    for seed in range(200):
        found = solve([noisy(seed)], RING["alpha"], OMEGA)
        errors.append([found.rate - RING["alpha"], (found.omega - OMEGA) / (2 * math.pi)])
    rms = np.sqrt(np.mean(np.square(errors), axis=0))
    # 200 draws know a root mean square to 5 %
    assert rms == pytest.approx([RING["sd_alpha"], RING["sd_f"]], rel=0.15)


def test_bursts_with_their_own_phase_and_offset_share_rate_and_frequency():
    bursts = [noisy(seed, phase=seed, offset=0.1 * seed, amplitude=1 + seed) for seed in range(4)]
    single = solve(bursts[:1], RING["alpha"], OMEGA)
    found = solve(bursts, RING["alpha"], OMEGA)
    assert found.rate == pytest.approx(RING["alpha"], abs=5 * found.covariance[0, 0] ** 0.5)
    # amplitudes 1, 2, 3, 4 at equal noise: information 1 + 4 + 9 + 16
    gain = single.covariance[0, 0] / found.covariance[0, 0]
    assert gain == pytest.approx(30 * (single.noise / found.noise) ** 2, rel=0.01)
    assert [factors[2] for factors in found.linear] == pytest.approx([0, 0.1, 0.2, 0.3], abs=0.01)


@pytest.mark.parametrize("Q", [1.5, 10, 100, 1000])
def test_scan_lands_where_the_optimum_is_reached(Q):
    omega = 0.4
    rate = omega / (2 * Q)
    n = np.arange(float(min(int(6 / rate), 6000)))
    burst = noisy(2, n, rate=rate, omega=omega)
    start, frequency, left = scan(burst, omega * (1 + 0.3 / n.size))
    assert left < 0.5
    found = solve([burst], start, frequency)
    spread = np.sqrt(np.diag(found.covariance))
    assert found.rate == pytest.approx(rate, abs=5 * spread[0])
    assert found.omega == pytest.approx(omega, abs=5 * spread[1])


def test_scan_of_noise_leaves_nearly_everything():
    rng = np.random.default_rng(3)
    burst = Burst(time=N, voltage=rng.standard_normal(1000))
    assert scan(burst, 0.3)[2] > 0.95


def test_even_decay_shows_no_bend():
    seen = [bend(solve([noisy(seed)], 3e-3, OMEGA), [noisy(seed)])[0] for seed in range(60)]
    assert np.mean(seen) == pytest.approx(2, abs=0.8)
    assert max(seen) < 20


def test_rate_that_changes_with_amplitude_shows_as_a_bend():
    rng = np.random.default_rng(4)
    height = 1 / (1.3 * np.exp(2e-3 * N) - 0.3)  # d ln a/dt = -2e-3 (1 + 0.3 a)
    voltage = height * np.cos(OMEGA * N) + 0.01 * rng.standard_normal(1000)
    burst = Burst(time=N, voltage=voltage)
    chi_square, change = bend(solve([burst], 2e-3, OMEGA), [burst])
    assert chi_square > 50
    assert -0.3 < change < -0.05  # the rate falls by up to 30 % as the amplitude goes


def before(burst, count):
    return burst.time[:count], burst.voltage[:count]


def later(burst, start):
    return Burst(time=burst.time[start:], voltage=burst.voltage[start:])


def test_samples_of_the_same_decay_belong_to_it():
    burst = noisy(5)
    part = later(burst, 200)
    found = solve([part], RING["alpha"], OMEGA)
    assert belonging(found, part, *before(burst, 200)) >= 195


@pytest.mark.parametrize("trigger", [40, 120, 199])
def test_samples_before_the_trigger_do_not_belong(trigger):
    burst = noisy(6)
    voltage = burst.voltage.copy()
    voltage[:trigger] = 0.1 + 0.01 * np.random.default_rng(7).standard_normal(trigger)
    part = later(burst, 200)
    found = solve([part], RING["alpha"], OMEGA)
    good = belonging(found, part, burst.time[:200], voltage[:200])
    assert 200 - good == pytest.approx(trigger, abs=3)


def test_single_odd_sample_is_no_trigger():
    burst = noisy(8)
    voltage = burst.voltage.copy()
    voltage[150] += 0.06  # six deviations
    part = later(burst, 200)
    found = solve([part], RING["alpha"], OMEGA)
    assert belonging(found, part, burst.time[:200], voltage[:200]) >= 190


def test_samples_without_a_value_have_no_say():
    burst = noisy(9)
    voltage = burst.voltage.copy()
    voltage[100:180] = np.nan
    part = later(burst, 200)
    found = solve([part], RING["alpha"], OMEGA)
    assert belonging(found, part, burst.time[:200], voltage[:200]) >= 195


def test_decay_is_certain_near_its_burst_and_not_far_from_it():
    time = np.arange(-2000.0, 0.0)
    short = noisy(10, np.arange(60.0), rate=0.05)
    found = solve([short], 0.05, OMEGA)
    count = certain(found, short, time)
    assert 3 <= count < 60
    long = noisy(10, np.arange(400.0))
    assert certain(solve([long], 3e-3, OMEGA), long, time) > count
