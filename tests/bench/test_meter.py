from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench import Core, Meter, MeterRange, Pickup, Setup
from benchapp.bench.device import impedance
from benchapp.bench.meter import OVERLOAD, measure, ranges_with_steps
from tests.bench.conftest import part, resistor

F = np.linspace(114e3, 154e3, 401)
EXACT = Meter(noise=0.0)


def test_a_meter_without_faults_reads_the_part(tank, rng):
    readings = measure(EXACT, Setup(device=tank), F, rng)
    np.testing.assert_allclose(readings.impedance, impedance(tank, F), rtol=1e-12)
    assert not readings.status.any()


def test_the_same_seed_gives_the_same_readings_and_another_does_not(tank):
    def read(seed):
        rng = np.random.default_rng(seed)
        return measure(Meter(), Setup(device=tank), F, rng).impedance

    np.testing.assert_array_equal(read(1), read(1))
    assert not np.any(read(1) == read(2))


@pytest.mark.parametrize("averages", [1, 16])
def test_noise_is_the_stated_rms_and_falls_with_the_root_of_averages(tank, rng, averages):
    f = np.linspace(114e3, 154e3, 20_000)
    meter = Meter(noise=3e-3, averages=averages)
    relative = measure(meter, Setup(device=tank), f, rng).impedance / impedance(tank, f) - 1
    rms = np.sqrt(np.mean(np.abs(relative) ** 2))
    assert rms == pytest.approx(3e-3 / np.sqrt(averages), rel=0.03)  # 4 sigma for 20,000 points


def test_the_source_resistance_drops_the_level_at_the_part(rng):
    meter = replace(EXACT, level_volt=2.0, source_ohm=100.0)
    readings = measure(meter, Setup(device=resistor(300.0)), [1e3], rng)
    assert readings.level_volt[0] == pytest.approx(1.5)


def test_a_cored_coil_reads_more_inductance_at_a_higher_level(rng):
    coil = replace(part("inductor", R=1.0, L=1e-3), core=Core(growth_per_ampere=0.5))
    read = [
        measure(replace(EXACT, level_volt=volt), Setup(device=coil), [10e3], rng).impedance[0].imag
        for volt in (0.01, 1.0, 5.0)
    ]
    assert read[0] < read[1] < read[2]
    assert read[0] == pytest.approx(2 * np.pi * 10e3 * 1e-3, rel=1e-4)


def test_each_range_has_its_own_error_so_that_readings_step(rng):
    meter = Meter(
        noise=0.0,
        ranges=(MeterRange(upper_ohm=100.0, gain=1.01), MeterRange(upper_ohm=1e3, gain=0.99)),
    )
    read = [measure(meter, Setup(device=resistor(ohm)), [1e3], rng) for ohm in (99.0, 101.0)]
    assert [int(r.range_index[0]) for r in read] == [0, 1]
    assert read[0].impedance[0].real == pytest.approx(99.0 * 1.01)
    assert read[1].impedance[0].real == pytest.approx(101.0 * 0.99)


def test_a_held_range_overloads_beyond_its_headroom(rng):
    meter = Meter(noise=0.0, ranges=(MeterRange(upper_ohm=100.0),), held=0)
    good = measure(meter, Setup(device=resistor(109.0)), [1e3], rng)
    over = measure(meter, Setup(device=resistor(111.0)), [1e3], rng)
    assert (good.status[0], over.status[0]) == (0, 1)
    assert over.impedance[0] == complex(OVERLOAD, OVERLOAD)


def test_a_range_of_few_bits_reads_in_steps(rng):
    meter = Meter(noise=0.0, bits=8, ranges=(MeterRange(upper_ohm=128.0),))
    read = measure(meter, Setup(device=resistor(33.4)), [1e3], rng).impedance[0]
    assert read.real == 33.0


def test_drawn_ranges_scatter_by_the_stated_errors():
    errors = np.array(
        [
            entry.gain - 1
            for seed in range(400)
            for entry in ranges_with_steps(np.random.default_rng(seed), gain=1e-3, phase=2e-3)
        ]
    )
    assert errors.real.std() == pytest.approx(1e-3, rel=0.06)
    assert errors.imag.std() == pytest.approx(2e-3, rel=0.06)


def test_mains_disturbs_a_reading_by_its_voltage_over_the_current(rng):
    """0.1 V of 50 Hz through a 7 ms window near 1 kHz, 1 mA through the part."""
    f = np.array([1003.0])
    meter = Meter(
        noise=0.0, source_ohm=0.0, level_volt=1.0, span=7e-3, pickup=Pickup(volt=0.1, mains=50.0)
    )
    error = abs(measure(meter, Setup(device=resistor(1e3)), f, rng).impedance[0] - 1e3)
    expected = 0.1 * abs(np.sinc((1003.0 - 50.0) * 7e-3)) / 1e-3
    assert error == pytest.approx(expected, rel=1e-9)
