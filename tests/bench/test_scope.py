from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.bench import Converter, Pickup, Scope, Setup
from benchapp.bench.device import impedance
from benchapp.bench.scope import record_decay, record_sine, ringing
from benchapp.errors import UsageError
from tests.bench.conftest import part
from tests.truth.spice import RING_DOWN, RING_DOWN_ERROR, load

TRUTH = tomllib.loads((Path(__file__).parent.parent / "truth/resonance.toml").read_text())
EXACT = Scope(converter=Converter(bits=24, full_scale=2.0), noise=0.0, rate=50e6, samples=5000)


def test_a_ring_down_is_the_transient_that_an_independent_simulator_finds():
    solved = load(RING_DOWN)
    swing = ringing(part("tank", **solved.elements), Scope())
    turn = 2 * np.pi * swing.damped_frequency * solved.x + swing.phase
    ours = np.exp(-solved.x / swing.tau) * np.cos(turn) / math.cos(swing.phase)
    np.testing.assert_allclose(ours, solved.y.real, atol=RING_DOWN_ERROR, rtol=0)


@pytest.mark.parametrize("index", range(3))
def test_decrement_and_damped_frequency_agree_with_the_identities(index):
    """L = 1 mH, C = 1 nF: Z_tank = 1 kohm, so R = 1000/Q."""
    q = TRUTH["RES-3"]["Q"][index]
    swing = ringing(part("tank", L=1e-3, C=1e-9, R=1000 / q), Scope())
    assert pytest.approx(q, rel=1e-13) == swing.Q
    assert swing.damped_frequency / swing.f0 == pytest.approx(
        TRUTH["RES-3"]["ratio"][index], rel=1e-13
    )
    decrement = 1 / (swing.damped_frequency * swing.tau)
    assert decrement == pytest.approx(TRUTH["RES-4"]["decrement"][index], rel=1e-12)
    cycles = swing.tau * swing.damped_frequency
    assert cycles == pytest.approx(TRUTH["RES-6"]["cycles"][index], rel=1e-12)


def test_the_time_constant_is_the_handbooks():
    swing = ringing(part("tank", L=1e-3, C=1e-9, R=10.0), Scope())
    assert swing.tau == pytest.approx(TRUTH["RES-5"]["tau"], rel=1e-14)
    assert swing.f0 == pytest.approx(TRUTH["RES-1"]["f0"], rel=1e-14)


def test_a_probe_lowers_the_frequency_by_its_capacitance(tank):
    """10 pF on 868 pF: f0 falls by sqrt(868/878)."""
    plain, probed = (ringing(tank, Scope(probe_farad=farad)) for farad in (0.0, 10e-12))
    assert probed.f0 / plain.f0 == pytest.approx(math.sqrt(868 / 878), rel=1e-12)


def test_a_probe_resistance_across_the_tank_lowers_q_as_losses_add(tank):
    """1/Q = 1/Q_coil + Z_tank/Rp up to terms of the second order in 1/Q."""
    plain, probed = (ringing(tank, Scope(probe_ohm=ohm)) for ohm in (math.inf, 1e6))
    added = 1 / probed.Q - 1 / plain.Q
    assert added == pytest.approx(math.sqrt(1.62e-3 / 868e-12) / 1e6, rel=1e-3)


def test_the_coils_skin_resistance_counts_at_its_resonance():
    coil = part("coil", L=1e-3, C=1e-9, Rdc=4.0, Rac=6.0 / math.sqrt(159154.943091895))
    assert pytest.approx(100.0, rel=1e-9) == ringing(coil, Scope()).Q


def test_a_part_that_cannot_ring_alone_is_refused():
    with pytest.raises(UsageError, match=r"must be one of tank, coil .got 'inductor'."):
        ringing(part("inductor", R=1.0, L=1e-3), Scope())


def test_a_plain_resistor_does_not_ring():
    with pytest.raises(UsageError, match=r"must be one of tank, coil .got '50 ohm'."):
        ringing(50.0, Scope())


def test_a_part_that_creeps_back_without_swinging_is_refused():
    with pytest.raises(UsageError, match=r"Q must be above 0.5 .got 0.4"):
        ringing(part("tank", L=1e-3, C=1e-9, R=2500.0), Scope())


def test_a_record_stays_at_the_level_until_it_is_let_go(tank, rng):
    record = record_decay(EXACT, Setup(device=tank), rng, volt=0.8, before=100)
    assert record.time[100] == 0.0
    np.testing.assert_allclose(record.voltage[0, :101], 0.8, atol=EXACT.converter.step)
    assert record.voltage[0, 101:].min() < -0.7


def test_a_record_shows_noise_offset_mains_and_converter_steps(tank, rng):
    scope = replace(
        EXACT,
        converter=Converter(bits=12, full_scale=2.0),
        noise=0.01,
        offset=0.3,
        pickup=Pickup(volt=0.2, mains=50.0),
        rate=1e6,
        samples=40_000,
    )
    tail = record_decay(scope, Setup(device=tank), rng).voltage[0, 10_000:]
    time = np.arange(tail.size) / scope.rate
    hum = 2 * np.mean((tail - tail.mean())[:20_000] * np.exp(-2j * np.pi * 50 * time[:20_000]))
    assert tail[:20_000].mean() == pytest.approx(0.3, abs=1e-3)
    assert abs(hum) == pytest.approx(0.2, rel=0.01)
    codes = tail / scope.converter.step
    np.testing.assert_allclose(codes, np.round(codes), atol=1e-9)


def test_a_loud_record_is_clipped_at_the_converters_ends(tank, rng):
    scope = Scope(converter=Converter(bits=8, full_scale=0.5), noise=0.0)
    volts = record_decay(scope, Setup(device=tank), rng, volt=1.0).voltage[0]
    assert (volts.min(), volts.max()) == scope.converter.limits


def test_two_channels_across_a_known_resistor_give_the_impedance(tank, rng):
    f = 130e3
    scope = replace(EXACT, rate=f * 250, samples=5000)  # 20 whole periods
    record = record_sine(scope, Setup(device=tank), f, rng, series_ohm=2e4)
    phasors = record.voltage @ np.exp(-2j * np.pi * f * record.time)
    z = 2e4 * phasors[1] / (phasors[0] - phasors[1])
    expected = impedance(tank, np.array([f]))[0]
    assert abs(z / expected - 1) < 1e-5


def test_channel_skew_turns_the_phase_by_frequency_times_delay(tank, rng):
    """1 ns at 1 MHz is 0.36 degrees."""
    scope = replace(EXACT, rate=250e6, samples=5000)
    angles = []
    for skew in (0.0, 1e-9):
        record = record_sine(replace(scope, skew=skew), Setup(device=tank), 1e6, rng)
        phasors = record.voltage @ np.exp(-2j * np.pi * 1e6 * record.time)
        angles.append(np.degrees(np.angle(phasors[1] / phasors[0])))
    assert angles[0] - angles[1] == pytest.approx(0.36, abs=2e-4)


def test_the_probe_loads_the_second_channel(tank, rng):
    f = 134.2e3
    scope = replace(EXACT, rate=f * 250, samples=5000, probe_farad=10e-12)
    record = record_sine(scope, Setup(device=tank), f, rng, series_ohm=2e4)
    phasors = record.voltage @ np.exp(-2j * np.pi * f * record.time)
    z = 2e4 * phasors[1] / (phasors[0] - phasors[1])
    more = impedance(part("tank", L=1.62e-3, C=878e-12, R=17.08), np.array([f]))[0]
    assert abs(z / more - 1) < 1e-5
