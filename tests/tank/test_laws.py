"""Laws that hold for every tank: scaling, symmetry, monotony, and values that cross processes."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.tank import (
    Band,
    CapacitorDuty,
    CapacitorRatings,
    Contributor,
    Drive,
    Elements,
    Losses,
    StackUp,
    TankDesign,
    Temperature,
    drive_tank,
    judge_stress,
    link,
    operate,
    place_in_band,
    respond,
    simulate,
    solve,
    stack,
    stack_of,
    stress_cases,
)
from benchapp.units import Quantity, parse_quantity

inductances = st.floats(1e-7, 1e-1)
capacitances = st.floats(1e-12, 1e-5)
quality = st.floats(1.0, 500.0)
circuits = st.sampled_from(["series", "parallel"])


def _design(L, C, q, circuit="series", **more):
    return TankDesign(
        inductance=Quantity(value=L, unit="H"),
        capacitance=Quantity(value=C, unit="F"),
        circuit=circuit,
        losses=Losses(coil_q=q),
        **more,
    )


@settings(deadline=None)
@given(inductances, capacitances, quality, st.floats(0.1, 10.0), circuits)
def test_impedance_level_scales_without_moving_a_frequency(L, C, q, factor, circuit):
    """L and R times a, C divided by a: the same frequencies, a times the impedance."""
    one, other = (
        solve(_design(L, C, q, circuit)),
        solve(_design(factor * L, C / factor, q, circuit)),
    )
    assert other.frequency.nominal == pytest.approx(one.frequency.nominal, rel=1e-9)
    assert other.z_tank == pytest.approx(factor * one.z_tank, rel=1e-9)
    assert other.q == pytest.approx(one.q, rel=1e-9)
    assert other.decay_time == pytest.approx(one.decay_time, rel=1e-9)
    if one.terminal_impedance is not None:
        assert other.terminal_impedance == pytest.approx(factor * one.terminal_impedance, rel=1e-9)


@settings(deadline=None)
@given(inductances, capacitances, quality, st.floats(0.1, 10.0), circuits)
def test_frequency_scales_without_moving_an_impedance(L, C, q, factor, circuit):
    """L and C divided by a: a times the frequency, the same impedances and Q."""
    one, other = (
        solve(_design(L, C, q, circuit)),
        solve(_design(L / factor, C / factor, q, circuit)),
    )
    assert other.frequency.nominal == pytest.approx(factor * one.frequency.nominal, rel=1e-9)
    assert other.z_tank == pytest.approx(one.z_tank, rel=1e-9)
    assert other.bandwidth == pytest.approx(factor * one.bandwidth, rel=1e-9)
    assert other.decay_time == pytest.approx(one.decay_time / factor, rel=1e-9)


@settings(deadline=None)
@given(inductances, capacitances, quality)
def test_working_out_any_of_the_three_goes_round_in_a_circle(L, C, q):
    f = solve(_design(L, C, q)).frequency.nominal
    frequency = Quantity(value=f, unit="Hz")
    back_c = solve(TankDesign(inductance=Quantity(value=L, unit="H"), frequency=frequency))
    back_l = solve(TankDesign(capacitance=Quantity(value=C, unit="F"), frequency=frequency))
    assert back_c.capacitance.nominal == pytest.approx(C, rel=1e-9)
    assert back_l.inductance.nominal == pytest.approx(L, rel=1e-9)


@settings(deadline=None)
@given(quality, st.floats(1e-6, 0.1), st.floats(1e-6, 50.0))
def test_every_further_loss_lowers_q(q, tangent, joints):
    bare = solve(_design(1e-3, 1e-9, q)).q
    more = solve(
        TankDesign(
            inductance=Quantity(value=1e-3, unit="H"),
            capacitance=Quantity(value=1e-9, unit="F"),
            losses=Losses(coil_q=q, loss_tangent=tangent, joints=joints),
        )
    )
    assert more.q <= bare * (1 + 1e-12)
    assert 1 / more.q == pytest.approx(1 / q + tangent + joints / more.z_tank)


@settings(deadline=None)
@given(circuits, st.floats(0.2, 5.0), st.floats(0.1, 100.0))
def test_currents_and_voltages_are_proportional_to_the_drive_and_watts_to_its_square(
    circuit, ratio, factor
):
    elements = Elements(
        circuit=circuit, inductance=1e-3, capacitance=1e-9, coil=10.0, source=50.0, load=200.0
    )
    f = ratio * 159154.9
    one = operate(elements, Drive(form="sine", size=1.0), f)
    other = operate(elements, Drive(form="sine", size=factor), f)
    for name in ("source_current", "coil_voltage", "capacitor_voltage", "capacitor_current"):
        assert getattr(other, name) == pytest.approx(factor * getattr(one, name), rel=1e-9)
    assert other.power == pytest.approx(factor**2 * one.power, rel=1e-9)
    assert other.phase_degrees == pytest.approx(one.phase_degrees)


@settings(deadline=None)
@given(st.floats(0.2, 5.0))
def test_far_from_resonance_a_series_tank_is_its_coil_or_its_capacitor(ratio):
    elements = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, coil=1e-6)
    f = ratio * 159154.9
    reactance = 2 * math.pi * f * 1e-3 - 1 / (2 * math.pi * f * 1e-9)
    found = respond(elements, Drive(form="sine", size=1.0), [f])
    assert found.impedance[0] == pytest.approx(abs(reactance), rel=1e-6, abs=1e-5)


def test_a_full_bridge_drives_twice_as_much_as_a_half_bridge():
    elements = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, coil=10.0)
    half, full = (
        operate(elements, Drive(form=form, size=24.0), 159e3)
        for form in ("half-bridge", "full-bridge")
    )
    assert full.capacitor_voltage == pytest.approx(2 * half.capacitor_voltage)
    assert full.power == pytest.approx(4 * half.power)


@settings(deadline=None)
@given(st.floats(1.0, 400.0), st.floats(1.01, 3.0))
def test_stress_grows_with_voltage_and_with_frequency(voltage, factor):
    duty = CapacitorDuty(voltage=voltage, frequency=1e5, capacitance=1e-8, loss_tangent=1e-3)
    higher = CapacitorDuty(
        voltage=factor * voltage, frequency=1e5, capacitance=1e-8, loss_tangent=1e-3
    )
    faster = CapacitorDuty(
        voltage=voltage, frequency=factor * 1e5, capacitance=1e-8, loss_tangent=1e-3
    )
    assert higher.peak == pytest.approx(factor * duty.peak)
    assert higher.current == pytest.approx(factor * duty.current)
    assert higher.dissipation == pytest.approx(factor**2 * duty.dissipation)
    assert faster.peak == duty.peak
    assert faster.slew == pytest.approx(factor * duty.slew)
    assert faster.dissipation == pytest.approx(factor * duty.dissipation)


_ORDER = ("within", "near the limit", "over")


@settings(deadline=None)
@given(st.floats(1.0, 1e3), st.floats(1.0, 1e3))
def test_a_higher_voltage_is_never_judged_better(first, second):
    ratings = CapacitorRatings(
        dc_volt=630.0,
        curve=((1e3, 250.0), (1e6, 100.0)),
        current=5.0,
        slew=200e6,
        dissipation=0.5,
    )
    low, high = sorted((first, second))
    outcomes = [
        judge_stress(
            CapacitorDuty(voltage=volt, frequency=1e5, capacitance=1e-8, loss_tangent=1e-3),
            ratings,
        )
        for volt in (low, high)
    ]
    for one, other in zip(outcomes[0].limits, outcomes[1].limits, strict=True):
        assert _ORDER.index(one.outcome) <= _ORDER.index(other.outcome)


@settings(deadline=None)
@given(st.floats(0.001, 0.6), quality, quality, st.floats(1.01, 3.0))
def test_a_link_gets_better_with_coupling_and_with_q(k, q1, q2, factor):
    base = link(k, q1, q2)
    assert 0 < base.efficiency < 1
    assert link(min(0.99, factor * k), q1, q2).efficiency > base.efficiency
    assert link(k, factor * q1, q2).efficiency > base.efficiency
    assert link(k, q2, q1).efficiency == pytest.approx(base.efficiency)


halves = st.floats(1e-3, 0.2)


@settings(deadline=None)
@given(halves, halves)
def test_the_order_of_contributors_does_not_matter(first, second):
    parts = (
        Contributor(name="a", target="L", low=-first, high=first),
        Contributor(name="b", target="C", low=-second, high=second),
    )
    one, other = (
        stack(StackUp(frequency=1e5, contributors=order)) for order in (parts, parts[::-1])
    )
    assert one.worst_low == pytest.approx(other.worst_low)
    assert one.rss_high == pytest.approx(other.rss_high)


@settings(deadline=None)
@given(halves, halves)
def test_root_sum_of_squares_lies_within_the_sum_and_beyond_each_part(first, second):
    parts = (
        Contributor(name="a", target="L", low=-first, high=first),
        Contributor(name="b", target="C", low=-second, high=second),
    )
    result = stack(StackUp(frequency=1.0, contributors=parts))
    width = result.rss_high - 1
    assert max(first, second) / 2 <= width * (1 + 1e-12)
    assert width <= (first + second) / 2 * (1 + 1e-12)


def test_a_tolerance_of_l_and_the_same_of_c_do_the_same():
    for target in ("L", "C"):
        part = Contributor(name="x", target=target, low=-0.05, high=0.05)
        assert stack(StackUp(frequency=1.0, contributors=(part,))).worst_high == pytest.approx(
            1 / math.sqrt(0.95)
        )


def test_a_temperature_range_of_one_point_at_the_reference_moves_nothing():
    result = stack(
        StackUp(
            frequency=1e5,
            contributors=(),
            temperature=Temperature(inductance=(1e-4, 1e-4), low_celsius=23.0, high_celsius=23.0),
        )
    )
    assert result.worst_low == result.worst_high == 1e5


DESIGN = TankDesign(
    inductance=parse_quantity("1.62mH±3%", "H"),
    capacitance=parse_quantity("868pF±2%", "F"),
    losses=Losses(coil_resistance=16.0, loss_tangent=3e-4, source=2.0, load=30.0),
    drive=Drive(form="full-bridge", size=12.0),
    band=Band(low=132e3, high=136e3),
)


def _values():
    sums = solve(DESIGN)
    driven = drive_tank(DESIGN, sums)
    assert driven is not None
    stacked = stack_of(sums, band=DESIGN.band)
    return {
        "design": DESIGN,
        "sums": sums,
        "stack-up": stacked,
        "result": stack(stacked),
        "place": place_in_band(sums.frequency, Band(low=1.0)),
        "cases": stress_cases(DESIGN, sums, driven, CapacitorRatings(dc_volt=630.0)),
        "link": link(0.1, 100.0, 50.0),
    }


@pytest.mark.parametrize("name", sorted(_values()))
def test_values_cross_a_process_boundary_whole(name):
    value = _values()[name]
    assert pickle.loads(pickle.dumps(value)) == value


@pytest.mark.parametrize("name", sorted(_values()))
def test_values_are_equal_when_made_again_and_can_be_kept_in_a_set(name):
    first, second = _values()[name], _values()[name]
    assert first == second
    assert len({first, second}) == 1


def test_a_simulation_keeps_no_hold_on_the_generator():
    design = stack_of(solve(DESIGN))
    generator = np.random.default_rng(1)
    first, second = (simulate(design, generator, 1000) for _ in range(2))
    assert first.mean != second.mean
