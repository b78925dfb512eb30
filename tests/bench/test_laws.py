"""Laws that hold on the bench whatever lies on it: cables, converters, meters, parts, decays."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.bench import Core, Device, Element, Fixture, Setup, meter, scope
from benchapp.bench.analyser import METHODS, Analyser, measure, parameter
from benchapp.bench.converter import Converter, Pickup, leakage, quantise
from benchapp.bench.device import draw, impedance, seen, settling_time
from benchapp.bench.fixture import OPEN, SPEED_OF_LIGHT, Cable, through
from benchapp.bench.meter import OVERLOAD, Meter, MeterRange, ranges_with_steps

F = np.geomspace(1e3, 50e6, 61)
TANK = Device(
    circuit="tank",
    elements=(
        Element(name="L", value=1.62e-3, per_kelvin=40e-6, spread=0.01),
        Element(name="C", value=868e-12, per_kelvin=-250e-6, spread=0.02),
        Element(name="R", value=17.1, per_kelvin=0.00393, spread=0.05),
    ),
)
COIL = Device(
    circuit="coil",
    elements=(
        Element(name="L", value=1.62e-3),
        Element(name="C", value=9e-12),
        Element(name="Rdc", value=6.0),
        Element(name="Rac", value=0.03),
    ),
)
NEAR = np.linspace(114e3, 154e3, 81)

reactive = st.builds(complex, st.floats(1e-3, 1e4), st.floats(-1e4, 1e4))


# Cables and fixtures


@given(z=reactive, length=st.floats(0.0, 20.0), more=st.floats(0.0, 20.0))
def test_two_pieces_of_cable_are_one_long_piece(z, length, more):
    part = np.full(F.shape, z)
    near = through(Fixture(cable=Cable(length=length)), F, part)
    both = through(Fixture(cable=Cable(length=more)), F, near)
    whole = through(Fixture(cable=Cable(length=length + more)), F, part)
    np.testing.assert_allclose(both, whole, rtol=1e-6)


@given(length=st.floats(0.0, 100.0), ohm=st.sampled_from([50.0, 75.0, 120.0]))
def test_a_cable_that_is_matched_is_not_seen(length, ohm):
    cable = Cable(length=length, impedance=ohm)
    z = through(Fixture(cable=cable), F, np.full(F.shape, ohm, dtype=complex))
    np.testing.assert_allclose(z, ohm, rtol=1e-12)


@given(z=reactive)
def test_half_a_wave_of_cable_without_loss_shows_the_part_itself(z):
    cable = Cable(length=3.0, loss_db=0.0)
    half = np.array([cable.speed * SPEED_OF_LIGHT / (2 * cable.length)])
    found = through(Fixture(cable=cable), half, np.array([z]))
    assert found[0] == pytest.approx(z, rel=1e-6)


@given(z=reactive)
def test_a_quarter_wave_of_cable_without_loss_turns_an_impedance_over(z):
    cable = Cable(length=3.0, loss_db=0.0)
    quarter = np.array([cable.speed * SPEED_OF_LIGHT / (4 * cable.length)])
    found = through(Fixture(cable=cable), quarter, np.array([z]))
    assert found[0] * z == pytest.approx(50.0**2, rel=1e-6)


@given(z=reactive, loss=st.floats(0.0, 1.0), length=st.floats(0.01, 30.0))
def test_a_cable_makes_no_mismatch_worse(z, loss, length):
    def reflected(impedance):
        return np.abs((impedance - 50) / (impedance + 50))

    part = np.full(F.shape, z)
    far = through(Fixture(cable=Cable(length=length, loss_db=loss)), F, part)
    assert np.all(reflected(far) <= reflected(part) * (1 + 1e-9) + 1e-12)


def test_open_and_short_tell_every_stray_of_a_fixture_apart():
    fixture = Fixture(open_farad=3e-12, open_siemens=2e-9, short_ohm=0.08, short_henry=40e-9)
    shorted = through(fixture, F, np.zeros(F.shape, dtype=complex))
    opened = 1 / (through(fixture, F, np.full(F.shape, OPEN, dtype=complex)) - shorted)
    np.testing.assert_allclose(shorted, 0.08 + 2j * np.pi * F * 40e-9, rtol=1e-12)
    np.testing.assert_allclose(opened, 2e-9 + 2j * np.pi * F * 3e-12, rtol=1e-9)


# Converters and mains


@given(st.lists(st.floats(-3, 3), min_size=1, max_size=30), st.integers(2, 16))
def test_a_code_is_read_as_itself(volts, bits):
    converter = Converter(bits=bits)
    once = quantise(converter, np.array(volts))
    assert np.array_equal(quantise(converter, once), once)
    low, high = converter.limits
    assert np.all((once >= low) & (once <= high))


@given(st.lists(st.floats(-3, 3), min_size=2, max_size=30), st.integers(2, 12))
def test_a_higher_voltage_never_reads_lower(volts, bits):
    rising = np.sort(np.array(volts))
    assert np.all(np.diff(quantise(Converter(bits=bits), rising)) >= 0)


@given(st.lists(st.floats(-2, 2), min_size=1, max_size=20), st.integers(-8, 8))
def test_a_range_with_its_signal_keeps_the_codes(volts, power):
    factor = 2.0**power
    one, other = Converter(bits=8), Converter(bits=8, full_scale=factor)
    codes = quantise(one, np.array(volts)) / one.step
    assert np.array_equal(quantise(other, factor * np.array(volts)) / other.step, codes)


@pytest.mark.parametrize("volt", [1e-3, 0.4])
def test_mains_left_in_a_reading_grows_with_the_mains(volt):
    one, some = (leakage(Pickup(volt=v), F, 0.013, np.random.default_rng(2)) for v in (1.0, volt))
    np.testing.assert_allclose(some, volt * one)
    assert np.all(np.abs(one) <= 1 / (np.pi * np.abs(F - 50) * 0.013) + 1e-12)


# Meters


def _read(instrument, device=TANK, seed=3, frequency=NEAR):
    return meter.measure(instrument, Setup(device=device), frequency, np.random.default_rng(seed))


@pytest.mark.parametrize("noise", [1e-5, 1e-3, 3e-2])
def test_the_error_of_a_reading_grows_with_the_noise(noise):
    clean = _read(Meter(noise=0.0)).impedance
    off = _read(Meter(noise=noise)).impedance / clean - 1
    usual = _read(Meter(noise=1e-3)).impedance / clean - 1
    np.testing.assert_allclose(off / noise, usual / 1e-3, rtol=1e-6)


@pytest.mark.parametrize("gain", [1.002, 1 + 0.001j, 0.5])
def test_the_gain_of_a_range_multiplies_its_readings(gain):
    plain = _read(Meter(noise=0.0, ranges=(MeterRange(upper_ohm=1e9),)))
    off = _read(Meter(noise=0.0, ranges=(MeterRange(upper_ohm=1e9, gain=gain),)))
    np.testing.assert_allclose(off.impedance, gain * plain.impedance, rtol=1e-12)


def test_automatic_range_is_the_lowest_that_holds_the_part():
    ranges = ranges_with_steps(np.random.default_rng(1))
    found = _read(Meter(ranges=ranges, noise=0.0))
    uppers = np.array([entry.upper_ohm for entry in ranges])
    size = np.abs(seen(Setup(device=TANK), NEAR))
    assert np.all(size <= uppers[found.range_index])
    lower = np.where(found.range_index > 0, uppers[found.range_index - 1], 0.0)
    assert np.all(size > lower)
    assert set(found.status) == {0}


@pytest.mark.parametrize(("ohm", "over"), [(109.9, False), (110.1, True), (1e4, True)])
def test_a_range_ends_a_tenth_above_its_name(ohm, over):
    held = Meter(ranges=(MeterRange(upper_ohm=100.0),), noise=0.0, held=0)
    found = _read(held, device=ohm, frequency=np.array([1e3]))
    assert bool(found.status[0]) == over
    assert (found.impedance[0] == complex(OVERLOAD, OVERLOAD)) == over


@pytest.mark.parametrize("source", [1e-9, 100.0, 1e4])
def test_the_level_at_a_part_is_that_of_a_divider(source):
    found = _read(Meter(source_ohm=source, level_volt=2.0))
    z = seen(Setup(device=TANK), NEAR)
    np.testing.assert_allclose(found.level_volt, 2.0 * np.abs(z / (z + source)), rtol=1e-9)


def test_the_level_of_a_part_without_core_scales_with_that_of_the_generator():
    one, ten = _read(Meter(level_volt=0.1)), _read(Meter(level_volt=1.0))
    np.testing.assert_allclose(ten.level_volt, 10 * one.level_volt)
    np.testing.assert_allclose(ten.impedance, one.impedance)


# Analysers

ARRANGED = sorted(METHODS)


@pytest.mark.parametrize("method", ARRANGED)
@given(z=reactive, factor=st.floats(1e-3, 1e3))
@settings(max_examples=40)
def test_an_s_parameter_depends_on_the_ratio_to_its_reference_alone(method, z, factor):
    part = np.array([z])
    assert parameter(method, factor * part, factor * 50.0)[0] == pytest.approx(
        parameter(method, part, 50.0)[0], rel=1e-9, abs=1e-12
    )
    assert abs(parameter(method, part, 50.0)[0]) <= 1 + 1e-12


@given(z=reactive)
def test_series_and_shunt_arrangements_are_duals(z):
    part = np.array([z])
    shunt = parameter("shunt-through", part, 50.0)
    assert parameter("series-through", 50.0**2 / part, 50.0)[0] == pytest.approx(shunt[0])
    turned = parameter("reflection", 50.0**2 / part, 50.0)
    assert turned[0] == pytest.approx(-parameter("reflection", part, 50.0)[0], abs=1e-12)


@pytest.mark.parametrize(
    ("method", "short", "middle", "open_"),
    [
        ("reflection", -1.0, 0.0, 1.0),
        ("series-through", 1.0, 2 / 3, 0.0),
        ("shunt-through", 0.0, 2 / 3, 1.0),
    ],
)
def test_short_match_and_open_are_where_they_must_be(method, short, middle, open_):
    found = parameter(method, np.array([0.0, 50.0, 1e15]), 50.0)
    assert found == pytest.approx([short, middle, open_], abs=1e-12)


@pytest.mark.parametrize("method", ARRANGED)
def test_the_noise_of_an_analyser_does_not_depend_on_the_part(method):
    def off(device):
        setup = Setup(device=device)
        clean, noisy = (
            measure(Analyser(noise=n), setup, method, NEAR, np.random.default_rng(8))
            for n in (0.0, 1e-3)
        )
        return noisy - clean

    np.testing.assert_allclose(off(TANK), off(COIL), atol=1e-15)
    np.testing.assert_allclose(off(TANK), off(5.0), atol=1e-15)


# Parts


@pytest.mark.parametrize("kelvin", [-40.0, 10.0, 77.0])
def test_each_element_warms_by_its_own_coefficient(kelvin):
    warm = replace(
        TANK,
        elements=tuple(
            replace(e, value=e.value * (1 + e.per_kelvin * kelvin), per_kelvin=0.0)
            for e in TANK.elements
        ),
    )
    np.testing.assert_allclose(
        impedance(TANK, NEAR, temperature_celsius=23.0 + kelvin), impedance(warm, NEAR)
    )


def test_parts_without_spread_are_all_the_same():
    exact = replace(TANK, elements=tuple(replace(e, spread=0.0) for e in TANK.elements))
    assert draw(exact, np.random.default_rng(1)) == draw(exact, np.random.default_rng(2)) == exact
    assert draw(TANK, np.random.default_rng(1)) != draw(TANK, np.random.default_rng(2))


@pytest.mark.parametrize("circuit", ["inductor", "series-rlc"])
def test_twice_the_current_is_twice_the_growth_of_a_core(circuit):
    elements = [Element(name="L", value=1e-3), Element(name="R", value=1.0)]
    if circuit == "series-rlc":
        elements.append(Element(name="C", value=1e-6))
    cored = Device(circuit=circuit, elements=tuple(elements), core=Core(growth_per_ampere=0.02))
    frequency = np.array([100e3])
    plain = impedance(replace(cored, core=Core()), frequency)
    small = [
        (impedance(cored, frequency, volt=volt) - plain)[0].imag / (2 * np.pi * 100e3)
        for volt in (0.5, 1.0)
    ]
    assert small[1] == pytest.approx(2 * small[0], rel=1e-3)
    ampere = 1.0 * math.sqrt(2) / abs(plain[0])
    assert small[1] / 1e-3 == pytest.approx(0.02 * ampere, rel=1e-3)


@pytest.mark.parametrize("device", [TANK, COIL])
def test_a_part_settles_as_it_rings(device):
    swing = scope.ringing(device, scope.Scope())
    assert settling_time(device) == pytest.approx(swing.tau, rel=1e-9)
    assert pytest.approx(math.pi * swing.f0 * swing.tau, rel=1e-9) == swing.Q
    square = swing.f0**2 - swing.damped_frequency**2
    assert square == pytest.approx((1 / (2 * math.pi * swing.tau)) ** 2, rel=1e-6)


# Scopes

QUIET = scope.Scope(noise=0.0, converter=Converter(bits=24))


@pytest.mark.parametrize("farad", [1e-12, 40e-12, 868e-12])
def test_a_probe_is_a_capacitor_more_in_the_part(farad):
    probed = scope.ringing(TANK, replace(QUIET, probe_farad=farad))
    more = tuple(
        replace(e, value=e.value + (farad if e.name == "C" else 0.0)) for e in TANK.elements
    )
    assert probed == scope.ringing(replace(TANK, elements=more), QUIET)


def test_losses_of_coil_and_probe_add():
    alone, infinite = (
        scope.ringing(TANK, replace(QUIET, probe_ohm=ohm)) for ohm in (1e6, math.inf)
    )
    by_probe = 1 / (2 * math.pi * alone.f0 * 868e-12 * 1e6)
    assert pytest.approx(1 / infinite.Q + 1 / (1 / by_probe), rel=2e-3) == 1 / alone.Q


@pytest.mark.parametrize("volt", [0.01, 0.3])
def test_a_decay_is_as_large_as_its_start(volt):
    setup = Setup(device=TANK)
    one, some = (
        scope.record_decay(QUIET, setup, np.random.default_rng(1), volt=v).voltage[0]
        for v in (0.9, volt)
    )
    np.testing.assert_allclose(some / volt, one / 0.9, atol=2 * QUIET.converter.step / volt)
    assert some[0] == pytest.approx(volt, rel=1e-4)


def test_samples_before_the_release_only_move_the_record():
    setup = Setup(device=TANK)
    plain = scope.record_decay(QUIET, setup, np.random.default_rng(1), volt=0.5)
    early = scope.record_decay(QUIET, setup, np.random.default_rng(1), volt=0.5, before=300)
    assert early.time[300] == 0.0
    np.testing.assert_allclose(early.voltage[0, 300:], plain.voltage[0, :-300], atol=1e-6)
    assert np.ptp(early.voltage[0, :300]) <= QUIET.converter.step


@pytest.mark.parametrize("ohm", [100.0, 1e3, 22e3])
def test_any_known_resistor_gives_the_same_impedance(ohm):
    frequency = 134e3
    record = scope.record_sine(
        replace(QUIET, samples=4000),
        Setup(device=TANK),
        frequency,
        np.random.default_rng(1),
        series_ohm=ohm,
    )
    turn = np.exp(-2j * np.pi * frequency * record.time)
    first, second = (2 * np.mean(row * turn) for row in record.voltage)
    found = ohm * second / (first - second)
    true = seen(Setup(device=TANK), np.array([frequency]))[0]
    assert found == pytest.approx(true, rel=3e-2 * max(1.0, abs(true) / ohm) ** 0.5)
