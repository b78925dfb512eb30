"""The instrument's part: exact linear response, budgets that add up, coverage of the truth."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.capture import Noise, Sweep, Transient
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit, quantity
from benchapp.uncertainty import Accuracy, Stated, budget, combine, described, holds, response
from benchapp.uncertainty.instrument import _SOURCES, _seen

TANK = (1.62e-3, 868e-12, 17.1)
NAMES = ("L", "C", "R", "f0", "Q", "ESR", "|Z|", "theta")


def _sweep(seed=1, circuit="tank", values=TANK, noise=1e-3, points=301):
    frequency = np.linspace(114e3, 154e3, points)
    rng = np.random.default_rng(seed)
    pair = rng.standard_normal((2, points)) * noise / math.sqrt(2)
    z = CIRCUITS[circuit].impedance(frequency, values) * (1 + pair[0] + 1j * pair[1])
    return Sweep(frequency=frequency, impedance=z)


def _with(**entries):
    return Accuracy(**{name: Stated(bound=size) for name, size in entries.items()})


FULL = Accuracy(
    reading=Stated(bound=1e-3, distribution="normal"),
    phase=Stated(bound=1e-3),
    parallel=Stated(bound=2e-9, dof=12),
    frequency=Stated(bound=5e-5),
    fixture_farad=Stated(bound=2e-13),
    drift=Stated(bound=2e-5),
    drift_kelvin=5.0,
    part_kelvin=Stated(bound=2.0),
    part_per_kelvin=(("C", -250e-6), ("R", 3.93e-3)),
    ranges=(1e3, 10e3, 100e3, 1e6),
)


@pytest.mark.parametrize("key", sorted(_SOURCES))
def test_the_response_is_that_of_a_fit_to_changed_data(key):
    capture = _sweep()
    found = fit(capture, "tank")
    for shape in _SOURCES[key].shape(_seen(found, capture)):
        change = 1e-4 * shape / np.abs(shape).max()
        changed = fit(replace(capture, impedance=capture.impedance * np.exp(change)), "tank")
        moved = (changed.values - found.values) / found.values
        said = response(found, capture, change) / found.values
        assert said == pytest.approx(moved, rel=5e-3, abs=1e-7)


@pytest.mark.parametrize(
    ("kind", "there", "back"),
    [
        ("absolute", lambda z: z, lambda t: t),
        ("reflection", lambda z: (z - 50) / (z + 50), lambda t: 50 * (1 + t) / (1 - t)),
        ("series-through", lambda z: 100 / (z + 100), lambda t: 100 / t - 100),
    ],
)
def test_the_response_follows_the_weights_of_the_noise(kind, there, back):
    values = (1.6e-3, 868e-12, 17.0)
    frequency = np.linspace(114e3, 154e3, 301)
    rng = np.random.default_rng(8)
    clean = there(CIRCUITS["series-rlc"].impedance(frequency, values))
    size = 1e-4 * np.abs(clean).mean()
    noise = size * (rng.standard_normal(301) + 1j * rng.standard_normal(301))
    capture = Sweep(frequency=frequency, impedance=back(clean + noise), noise=Noise(kind=kind))
    found = fit(capture, "series-rlc")
    change = 1e-4 * (1 + 0.5j) * (frequency / 134e3 - 1)
    changed = fit(replace(capture, impedance=capture.impedance * np.exp(change)), "series-rlc")
    moved = (changed.values - found.values) / found.values
    said = response(found, capture, change) / found.values
    assert said == pytest.approx(moved, rel=0.02, abs=2e-7)
    even = response(replace(found, residual=np.zeros(301)), capture, change) / found.values
    assert np.abs(even - moved).max() > 10 * np.abs(said - moved).max()


def test_an_error_of_gain_is_an_error_of_l_and_r_and_none_of_f0_and_q():
    capture = _sweep()
    found = fit(capture, "tank")
    wide = combine(found, capture, _with(reading=3e-3))
    u = 3e-3 / math.sqrt(3)
    for name in ("L", "C", "R"):
        own, both = found.estimates[name], wide.estimates[name]
        assert both.u**2 - own.u**2 == pytest.approx((u * own.value) ** 2, rel=1e-6)
    for name in ("f0", "Q"):
        assert wide.estimates[name].u == pytest.approx(found.estimates[name].u, rel=1e-6)


def test_an_error_of_frequency_is_an_error_of_f0_alone_beside_l_and_c():
    capture = _sweep()
    found = fit(capture, "tank")
    terms = {
        name: budget(found, capture, _with(frequency=1e-4), name).terms[1] for name in ("f0", "Q")
    }
    assert terms["f0"].contribution == pytest.approx(
        1e-4 / math.sqrt(3) * found.estimates["f0"].value, rel=1e-4
    )
    assert terms["Q"].contribution < 1e-6 * found.estimates["Q"].value


def test_stray_capacitance_is_found_in_c_and_nowhere_else():
    capture = _sweep()
    found = fit(capture, "tank")
    term = budget(found, capture, _with(fixture_farad=1e-12), "C").terms[1]
    assert term.contribution == pytest.approx(1e-12 / math.sqrt(3), rel=1e-6)
    assert budget(found, capture, _with(fixture_farad=1e-12), "L").terms[1].contribution < 1e-12


@pytest.mark.parametrize("name", NAMES)
def test_the_budget_adds_up_to_the_combined_uncertainty(name):
    capture = _sweep()
    found = fit(capture, "tank")
    at = 134.2e3 if name in ("|Z|", "theta", "ESR") else None
    whole = quantity(combine(found, capture, FULL), name, at)
    told = budget(found, capture, FULL, name, at)
    assert told.u == pytest.approx(whole.u, rel=1e-6)
    assert told.value == whole.value
    assert [term.evaluation for term in told.terms] == ["A"] + ["B"] * (len(told.terms) - 1)


def test_ranges_have_errors_of_their_own():
    # One common error of gain leaves Q alone; independent ones on either side of a range do not.
    capture = _sweep()
    found = fit(capture, "tank")
    one = budget(found, capture, _with(reading=1e-3), "Q").terms[1].contribution
    accuracy = replace(_with(reading=1e-3), ranges=(10e3, 100e3))
    several = budget(found, capture, accuracy, "Q").terms[1].contribution
    assert several > 100 * one
    beyond = replace(_with(reading=1e-3), ranges=(1e9,))
    assert budget(found, capture, beyond, "Q").terms[1].contribution == pytest.approx(one)


def test_a_part_that_may_be_warmer_is_uncertain_in_proportion():
    capture = _sweep()
    found = fit(capture, "tank")
    accuracy = Accuracy(part_kelvin=Stated(bound=2.0), part_per_kelvin=(("R", 3.93e-3),))
    term = budget(found, capture, accuracy, "R").terms[1]
    assert term.contribution == pytest.approx(2 / math.sqrt(3) * 3.93e-3 * found.values[2])
    assert budget(found, capture, accuracy, "L").terms[1].contribution == 0.0


def test_a_fixed_element_is_not_moved_by_the_instrument():
    capture = _sweep()
    found = fit(capture, "tank", fix={"C": fit(capture, "tank").estimates["C"]})
    moved = response(found, capture, 1e-3 * np.ones(301, dtype=complex))
    assert moved[1] == 0.0
    assert moved[0] > 0


def test_data_without_noise_have_a_response_too():
    capture = _sweep(noise=0.0)
    found = fit(capture, "tank")
    moved = response(found, capture, 1e-3 * np.ones(301, dtype=complex))
    assert moved / found.values == pytest.approx([1e-3, -1e-3, 1e-3], rel=1e-6)


def test_what_the_instrument_cannot_tell_becomes_undetermined():
    frequency = np.geomspace(1e3, 50e3, 101)
    rng = np.random.default_rng(3)
    z = CIRCUITS["inductor"].impedance(frequency, (1.6e-3, 2.0))
    noise = 1 + 1e-4 * (rng.standard_normal(101) + 1j * rng.standard_normal(101))
    capture = Sweep(frequency=frequency, impedance=z * noise)
    found = fit(capture, "inductor")
    assert "R" in found.estimates
    wide = combine(found, capture, _with(series=2.0))
    assert "R" in wide.undetermined
    assert "R" not in wide.estimates
    assert "L" in wide.estimates


def _ring_down():
    time = np.arange(2500) * 4e-7
    rng = np.random.default_rng(4)
    wave = np.exp(-time / 1.9e-4) * np.cos(2 * np.pi * 134.2e3 * time)
    return Transient(time=time, voltage=wave + 2e-3 * rng.standard_normal(2500))


def test_of_a_ring_down_only_the_time_base_counts():
    capture = _ring_down()
    found = fit(capture)
    accuracy = _with(frequency=1e-3, reading=0.1)
    wide = combine(found, capture, accuracy)
    f0 = found.estimates["f0"]
    expected = math.hypot(f0.u, f0.value * 1e-3 / math.sqrt(3))
    assert wide.estimates["f0"].u == pytest.approx(expected)
    assert wide.estimates["Q"].u == found.estimates["Q"].u
    told = budget(found, capture, accuracy, "f0")
    assert told.u == pytest.approx(expected)
    assert [term.name for term in told.terms][1:] == ["frequency of the instrument"]


def test_nothing_stated_changes_nothing():
    capture = _sweep()
    found = fit(capture, "tank")
    assert combine(found, capture, None) is found
    assert combine(found, capture, Accuracy()) is found
    assert budget(found, capture, None, "L").u == pytest.approx(found.estimates["L"].u)
    assert budget(found, capture, None, "DCR") is None


def test_it_is_said_what_an_uncertainty_holds():
    swept, rung = fit(_sweep(), "tank"), fit(_ring_down())
    assert holds(swept, None) == holds(swept, Accuracy(title="x")) == "scatter"
    assert holds(swept, _with(reading=1e-3)) == "scatter and instrument"
    assert holds(rung, _with(reading=1e-3)) == "scatter"
    assert holds(rung, _with(frequency=1e-5)) == "scatter and instrument"


def test_effective_degrees_of_freedom_follow_the_least_known_large_term():
    capture = _sweep()
    found = fit(capture, "tank")
    accuracy = Accuracy(reading=Stated(bound=1e-2, dof=7.0))
    assert budget(found, capture, accuracy, "L").dof == pytest.approx(7.0, rel=0.01)


def test_combined_intervals_cover_the_truth_with_errors_of_the_instrument():
    rng = np.random.default_rng(20)
    hits, count = 0, 250
    accuracy = Accuracy(
        reading=Stated(bound=1e-3, distribution="normal"),
        parallel=Stated(bound=5e-9, distribution="normal"),
        fixture_farad=Stated(bound=4e-13, distribution="normal"),
        frequency=Stated(bound=2e-5, distribution="normal"),
    )
    narrow = 0
    for _ in range(count):
        values = np.array(TANK) * (1 + 0.01 * rng.standard_normal(3))
        frequency = np.linspace(114e3, 154e3, 101)
        true = frequency * (1 + 1e-5 * rng.standard_normal())
        z = CIRCUITS["tank"].impedance(true, values)
        y = 2.5e-9 * (rng.standard_normal() + 1j * rng.standard_normal())
        z = 1 / (1 / z + y + 2j * np.pi * true * 2e-13 * rng.standard_normal())
        z = z * (1 + 5e-4 * rng.standard_normal())
        noise = 1e-3 / math.sqrt(2) * (rng.standard_normal(101) + 1j * rng.standard_normal(101))
        capture = Sweep(frequency=frequency, impedance=z * (1 + noise))
        found = fit(capture, "tank")
        wide = combine(found, capture, accuracy)
        for place, name in enumerate("LCR"):
            error = abs(found.values[place] - values[place])
            hits += error <= 1.96 * wide.estimates[name].u
            narrow += error <= 1.96 * found.estimates[name].u
    share = hits / (3 * count)
    assert 0.93 <= share <= 0.97
    assert narrow / (3 * count) < 0.5


def test_structure_within_the_stated_accuracy_is_no_misfit():
    turned = _sweep()
    turned = replace(turned, impedance=turned.impedance * np.exp(1.5e-3j))
    found = fit(turned, "tank")
    assert not found.describes
    assert not described(found, turned, None)
    assert described(found, turned, _with(phase=3e-3))
    assert not described(found, turned, _with(phase=5e-5))
    assert not described(found, turned, _with(reading=3e-3))


def test_a_wrong_circuit_stays_a_misfit_whatever_the_instrument():
    capture = _sweep(circuit="series-rlc", values=(1.62e-3, 868e-12, 170.0))
    found = fit(capture, "parallel-rlc")
    assert not described(found, capture, FULL)
    good = _sweep()
    assert described(fit(good, "tank"), good, None)


SIZES = {
    "reading": 1e-3,
    "phase": 1e-3,
    "series": 0.5,
    "parallel": 2e-9,
    "delay": 1e-9,
    "frequency": 5e-5,
    "reference": 1e-3,
    "fixture_ohm": 5.0,
    "fixture_henry": 5e-6,
    "fixture_farad": 2e-13,
    "fixture_siemens": 1e-9,
}


@pytest.mark.parametrize("key", sorted(SIZES))
def test_twice_the_bound_is_twice_the_contribution(key):
    capture = _sweep()
    found = fit(capture, "tank")
    for name in ("L", "C", "R", "Q"):
        one, two = (
            budget(found, capture, _with(**{key: factor * SIZES[key]}), name).terms[1].contribution
            for factor in (1, 2)
        )
        assert two == pytest.approx(2 * one, rel=1e-3, abs=1e-12 * found.estimates[name].value)


@pytest.mark.parametrize("key", sorted(SIZES))
def test_an_entry_never_narrows_an_uncertainty_and_moves_no_value(key):
    capture = _sweep()
    found = fit(capture, "tank")
    wide = combine(found, capture, _with(**{key: SIZES[key]}))
    assert np.array_equal(wide.values, found.values)
    for name, own in found.estimates.items():
        assert wide.estimates[name].value == pytest.approx(own.value, rel=1e-12)
        assert wide.estimates[name].u >= own.u * (1 - 1e-9)
    assert any(wide.estimates[name].u > 1.001 * found.estimates[name].u for name in "LCR")


@pytest.mark.parametrize("name", ["L", "C", "R", "f0", "Q"])
def test_entries_add_in_squares_whichever_comes_first(name):
    capture = _sweep()
    found = fit(capture, "tank")
    alone = [
        budget(found, capture, _with(**{key: size}), name).terms[1].contribution
        for key, size in SIZES.items()
    ]
    whole = budget(found, capture, _with(**SIZES), name)
    assert whole.u == pytest.approx(math.hypot(found.estimates[name].u, *alone), rel=1e-9)
    back = budget(found, capture, _with(**dict(reversed(SIZES.items()))), name)
    assert back.u == pytest.approx(whole.u, rel=1e-12)


def test_combining_step_by_step_is_combining_at_once():
    capture = _sweep()
    found = fit(capture, "tank")
    first, second = _with(reading=2e-3), _with(phase=2e-3, fixture_farad=1e-13)
    steps = combine(combine(found, capture, first), capture, second)
    once = combine(found, capture, _with(reading=2e-3, phase=2e-3, fixture_farad=1e-13))
    np.testing.assert_allclose(steps.covariance, once.covariance, rtol=1e-9)


def test_the_response_is_linear_in_the_change():
    capture = _sweep()
    found = fit(capture, "tank")
    rng = np.random.default_rng(3)
    a, b = rng.standard_normal((2, 301)) + 1j * rng.standard_normal((2, 301))
    both = response(found, capture, 2e-4 * a - 3e-4 * b)
    apart = 2e-4 * response(found, capture, a) - 3e-4 * response(found, capture, b)
    assert both == pytest.approx(apart, rel=1e-9)
    assert not response(found, capture, np.zeros(301, dtype=complex)).any()


@pytest.mark.parametrize("factor", [1e-2, 40.0])
def test_another_level_of_impedance_with_floors_to_match_is_the_same_uncertainty(factor):
    values = np.array(TANK) * (factor, 1 / factor, factor)
    relative = []
    for k, of in ((1.0, TANK), (factor, tuple(values))):
        capture = _sweep(values=of)
        found = fit(capture, "tank")
        accuracy = _with(
            series=0.5 * k, parallel=2e-9 / k, fixture_farad=2e-13 / k, fixture_ohm=0.02 * k
        )
        wide = combine(found, capture, accuracy)
        relative.append([wide.estimates[n].u / wide.estimates[n].value for n in "LCR"])
    assert relative[1] == pytest.approx(relative[0], rel=1e-5)


def test_an_instrument_at_its_temperature_of_calibration_has_not_drifted():
    capture = _sweep()
    found = fit(capture, "tank")
    still = replace(_with(drift=1e-3), drift_kelvin=0.0)
    assert budget(found, capture, still, "L").terms[1].contribution == 0.0
    warm = [
        budget(found, capture, replace(still, drift_kelvin=kelvin), "L").terms[1].contribution
        for kelvin in (2.0, 10.0)
    ]
    assert warm[1] == pytest.approx(5 * warm[0], rel=1e-6)


def test_skin_effect_takes_half_of_the_warmth_of_the_copper():
    # Rac grows with the root of the resistivity, Rdc with the resistivity itself.
    frequency = np.geomspace(5e3, 90e3, 201)
    rng = np.random.default_rng(6)
    z = CIRCUITS["coil"].impedance(frequency, (1.62e-3, 20e-12, 5.0, 0.03))
    noise = 1 + 1e-4 * (rng.standard_normal(201) + 1j * rng.standard_normal(201))
    capture = Sweep(frequency=frequency, impedance=z * noise)
    found = fit(capture, "coil")
    accuracy = Accuracy(part_kelvin=Stated(bound=2.0), part_per_kelvin=(("R", 3.93e-3),))
    for name, power in (("Rdc", 1.0), ("Rac", 0.5)):
        value = dict(zip(found.elements, found.values, strict=True))[name]
        told = budget(found, capture, accuracy, name).terms[1].contribution
        assert told == pytest.approx(power * 2 / math.sqrt(3) * 3.93e-3 * value, rel=1e-6)


@pytest.mark.parametrize("name", ["f0", "tau", "Q"])
def test_a_slow_clock_lengthens_times_and_lowers_frequencies(name):
    capture = _ring_down()
    found = fit(capture)
    told = budget(found, capture, _with(frequency=3e-3), name)
    share = 0.0 if name == "Q" else 3e-3 / math.sqrt(3) * told.value
    assert told.terms[1].contribution == pytest.approx(share)


def test_a_fit_that_did_not_settle_is_not_excused_by_the_instrument():
    turned = _sweep()
    turned = replace(turned, impedance=turned.impedance * np.exp(1.5e-3j))
    found = fit(turned, "tank")
    assert described(found, turned, _with(phase=3e-3))
    assert not described(replace(found, converged=False), turned, _with(phase=3e-3))
    unused = replace(found, used=np.zeros(301, dtype=bool))
    assert not described(unused, turned, _with(phase=3e-3))


def test_a_record_that_is_not_described_is_not_excused_by_an_accuracy_of_impedance():
    capture = _ring_down()
    missed = replace(fit(capture), describes=False)
    assert not described(missed, capture, FULL)


def test_a_fit_without_a_point_gets_no_instrument_part():
    capture = _sweep()
    found = fit(capture, "tank")
    none = replace(found, used=np.zeros(301, dtype=bool))
    told = budget(none, capture, FULL, "L")
    assert [term.name for term in told.terms] == ["scatter of the fit"]


def test_a_bound_beyond_all_reason_is_no_small_contribution():
    capture = _sweep()
    found = fit(capture, "tank")
    one, huge = (
        budget(found, capture, _with(series=size), "L").terms[1].contribution
        for size in (1.0, 1e200)
    )
    assert huge == pytest.approx(1e200 * one, rel=1e-3)


def test_a_change_beyond_the_range_of_numbers_has_no_finite_response():
    capture = _sweep()
    found = fit(capture, "tank")
    huge = response(found, capture, np.full(301, 1e200, dtype=complex))
    assert np.isinf(huge).all()
    endless = response(found, capture, np.full(301, np.nan, dtype=complex))
    assert np.isinf(endless).all()


def test_a_slope_of_the_gain_that_is_not_stated_stays_a_misfit():
    sloping = _sweep()
    gain = 1 + 0.02 * np.log10(sloping.frequency / sloping.frequency[0])
    sloping = replace(sloping, impedance=sloping.impedance * gain)
    found = fit(sloping, "tank")
    assert not found.describes
    assert not described(found, sloping, _with(phase=1e-6))
