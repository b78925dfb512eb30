"""Laws of fits: what is done to a part or to its record shows in the result, and only there."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from benchapp.capture import Noise, Response, Sweep, Transient
from benchapp.circuit import CIRCUITS
from benchapp.errors import FitError
from benchapp.fit import curve, fit, fit_batch, quantity
from benchapp.units import Estimate
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated, truth

RELATIVE = Noise(kind="relative")
LEVEL = {"L": 1, "R": 1, "Rdc": 1, "Rac": 1, "C": -1}
PITCH = {"L": -1, "C": -1, "Rac": -0.5, "f2": 1, "f0": 1}


def _sweep(z, sigma=1e-3, seed=1, frequency=GRID):
    return Sweep(
        frequency=frequency, impedance=z * (1 + sigma * circular(z.size, seed)), noise=RELATIVE
    )


# Sweeps


@pytest.mark.parametrize("name", sorted(VALUES))
@pytest.mark.parametrize(("level", "speed"), [(1e-3, 1.0), (1.0, 64.0), (256.0, 1 / 16)])
def test_every_circuit_scales_with_level_and_frequency(name, level, speed):
    plain = simulated(name, seed=5, noise=RELATIVE)
    scaled = replace(plain, frequency=plain.frequency * speed, impedance=plain.impedance * level)
    one, other = fit(plain, name), fit(scaled, name)
    for element in one.estimates:
        factor = level ** LEVEL.get(element, 0) * speed ** PITCH.get(element, 0)
        first, second = one.estimates[element], other.estimates[element]
        assert second.value == pytest.approx(factor * first.value, rel=1e-6), element
        assert second.u == pytest.approx(factor * first.u, rel=1e-4), element
    assert (one.describes, one.undetermined) == (other.describes, other.undetermined)


@pytest.mark.parametrize("name", ["series-rlc", "parallel-rlc", "tank", "inductor"])
@pytest.mark.parametrize("level", [1e-4, 3e3])
def test_the_choice_of_a_circuit_does_not_depend_on_the_level(name, level):
    plain = simulated(name, seed=3, noise=RELATIVE)
    scaled = replace(plain, impedance=plain.impedance * level)
    assert fit(plain).circuit == fit(scaled).circuit == name


@pytest.mark.parametrize("name", sorted(VALUES))
def test_half_the_noise_is_half_the_uncertainty(name):
    much, little = (fit(_sweep(exact(name), sigma=sigma, seed=2), name) for sigma in (2e-4, 1e-4))
    for element in much.elements:
        one, other = much.estimates[element], little.estimates[element]
        assert other.u == pytest.approx(one.u / 2, rel=0.02), element
    assert little.noise == pytest.approx(much.noise / 2, rel=0.01)


@pytest.mark.parametrize("name", ["series-rlc", "parallel-rlc", "tank", "coil"])
def test_four_times_the_points_are_half_the_uncertainty(name):
    dense = np.geomspace(GRID[0], GRID[-1], 4 * GRID.size - 3)
    few = fit(_sweep(exact(name), seed=4), name)
    many = fit(_sweep(exact(name, frequency=dense), seed=4, frequency=dense), name)
    for element in few.elements:
        assert many.estimates[element].u == pytest.approx(few.estimates[element].u / 2, rel=0.2)


@pytest.mark.parametrize("name", sorted(VALUES))
def test_the_truth_lies_within_five_uncertainties(name):
    found = fit(_sweep(exact(name), seed=9), name)
    for element, value in truth(name).items():
        estimate = found.estimates[element]
        assert abs(estimate.value - value) < 5 * estimate.u, element


def test_series_and_parallel_fits_are_duals():
    # 1/Z of the one is Z of the other; small relative noise of Z is the same noise of 1/Z.
    series = _sweep(exact("series-rlc"), sigma=1e-5)
    parallel = replace(series, impedance=1 / series.impedance)
    one, other = fit(series, "series-rlc"), fit(parallel, "parallel-rlc")
    pairs = {"L": other.estimates["C"].value, "C": other.estimates["L"].value}
    pairs["R"] = 1 / other.estimates["R"].value
    for element, value in pairs.items():
        own = one.estimates[element]
        assert value == pytest.approx(own.value, abs=0.05 * own.u)


@pytest.mark.parametrize(("name", "place"), [("inductor", 1), ("series-rlc", 2), ("capacitor", 1)])
def test_a_resistor_in_line_is_found_as_so_much_more_resistance(name, place):
    element = CIRCUITS[name].elements[place]
    plain = exact(name)
    noise = 1e-3 * np.abs(plain) * circular(GRID.size, 6)
    less, more = (
        fit(
            Sweep(frequency=GRID, impedance=plain + ohm + noise, noise=Noise(kind="absolute")),
            name,
        )
        for ohm in (0.0, 7.5)
    )
    added = more.estimates[element].value - less.estimates[element].value
    assert added == pytest.approx(7.5, rel=1e-6)
    for other in set(less.elements) - {element}:
        assert more.estimates[other].value == pytest.approx(less.estimates[other].value, rel=1e-6)


@pytest.mark.parametrize("name", ["tank", "coil", "parallel-rlc"])
def test_a_capacitor_across_is_found_as_so_much_more_capacitance(name):
    farad = 50e-12
    z = exact(name)
    across = 1 / (1 / z + 2j * np.pi * GRID * farad)
    less, more = (fit(_sweep(each, sigma=1e-6), name) for each in (z, across))
    assert more.estimates["C"].value - less.estimates["C"].value == pytest.approx(farad, rel=1e-3)
    assert more.estimates["L"].value == pytest.approx(less.estimates["L"].value, rel=1e-5)


def test_a_factor_on_the_readings_moves_l_c_and_r_and_not_f0_and_q():
    plain = simulated("tank", seed=8, noise=RELATIVE)
    one, other = fit(plain, "tank"), fit(replace(plain, impedance=1.01 * plain.impedance), "tank")
    for name, power in (("L", 1), ("C", -1), ("R", 1), ("f0", 0), ("Q", 0)):
        ratio = other.estimates[name].value / one.estimates[name].value
        assert ratio == pytest.approx(1.01**power, rel=1e-9)


@pytest.mark.parametrize("places", [(3, 100, 7), (7, 3, 100, 3, 7), (100, 7, 3)])
def test_points_set_aside_are_a_set(places):
    plain = simulated("tank", seed=4)
    one = fit(plain, "tank", set_aside=(3, 7, 100))
    other = fit(plain, "tank", set_aside=places)
    assert other.set_aside == (3, 7, 100)
    assert np.array_equal(one.values, other.values)
    assert np.isfinite(other.residual[[3, 7, 100]]).all()


@pytest.mark.parametrize("capture", ["sweep", "response", "transient"])
@pytest.mark.parametrize("place", [-1, 10_000_000])
def test_a_point_that_is_not_there_cannot_be_set_aside(capture, place):
    record = {"sweep": simulated("tank"), "response": _peak(), "transient": _rung()}[capture]
    with pytest.raises(FitError, match=r"set aside: must be points of the capture, 0 to \d+"):
        fit(record, set_aside=(1, place))


@pytest.mark.parametrize("name", sorted(VALUES))
def test_a_fit_says_the_same_twice_and_across_a_process_boundary(name):
    plain = simulated(name, seed=7)
    one, other = fit(plain, name), fit(plain, name)
    again = pickle.loads(pickle.dumps(one))
    for each in (other, again):
        assert np.array_equal(one.values, each.values)
        assert np.array_equal(one.covariance, each.covariance)
        assert one.results == each.results
        assert one.digest == each.digest
    assert not again.values.flags.writeable


@pytest.mark.parametrize("name", sorted(VALUES))
def test_the_curve_runs_through_the_fitted_values(name):
    plain = simulated(name, seed=7)
    found = fit(plain, name)
    np.testing.assert_allclose(curve(found, plain.frequency), found.fitted, rtol=1e-9)
    off = plain.impedance / found.fitted - 1
    assert np.sqrt(np.mean(np.abs(off) ** 2)) == pytest.approx(found.noise, rel=0.1)


@pytest.mark.parametrize("name", ["tank", "series-rlc"])
def test_what_follows_from_the_elements_follows_from_their_fit(name):
    found = fit(simulated(name, seed=2), name)
    inductance, capacitance, resistance = found.values
    w0 = 1 / np.sqrt(inductance * capacitance)
    assert found.estimates["f0"].value == pytest.approx(w0 / 2 / np.pi, rel=1e-9)
    assert found.estimates["Q"].value == pytest.approx(w0 * inductance / resistance, rel=1e-9)
    for at in (1e5, 2e5):
        q, d = quantity(found, "Q", at), quantity(found, "D", at)
        if name == "tank":
            assert q.value == pytest.approx(2 * np.pi * at * inductance / resistance, rel=1e-9)
            assert q.value * d.value == pytest.approx(1.0, rel=1e-9)
            assert q.u / q.value == pytest.approx(d.u / d.value, rel=1e-9)


@pytest.mark.parametrize("element", ["L", "C", "R"])
@pytest.mark.parametrize("u", [0.0, 0.01, 0.05])
def test_a_held_element_keeps_its_value_and_its_uncertainty(element, u):
    value = truth("tank")[element]
    unit = {"L": "H", "C": "F", "R": "ohm"}[element]
    known = Estimate(name=element, value=value, u=u * value, unit=unit)
    found = fit(simulated("tank", seed=3), "tank", fix={element: known})
    assert found.fixed == (element,)
    own = found.estimates[element]
    assert (own.value, own.u) == (pytest.approx(value), pytest.approx(u * value))
    place = found.elements.index(element)
    assert found.covariance[place, place] == pytest.approx((u * value) ** 2)
    relative = found.covariance / np.outer(found.values, found.values)
    assert np.all(np.linalg.eigvalsh(relative) > -1e-12)


@pytest.mark.parametrize("name", sorted(VALUES))
@pytest.mark.parametrize("off", [0.9, 1.0, 1.05, 1.2])
def test_an_element_held_at_a_wrong_value_does_not_describe_the_data(name, off):
    element = CIRCUITS[name].elements[0]
    unit = CIRCUITS[name].units[0]
    known = Estimate(name=element, value=off * VALUES[name][0], u=0.0, unit=unit)
    found = fit(simulated(name, seed=3), name, fix={element: known})
    assert found.describes == (off == 1.0)
    assert any(remark.name in ("misfit", "not-converged") for remark in found.remarks) == (
        off != 1.0
    )


@pytest.mark.parametrize("name", ["tank", "series-rlc", "parallel-rlc", "coil"])
def test_a_batch_does_not_depend_on_its_order(name):
    rows = np.array([simulated(name, seed=seed).impedance for seed in range(6)])
    order = np.array([4, 2, 0, 5, 1, 3])
    plain, mixed = fit_batch(GRID, rows, name), fit_batch(GRID, rows[order], name)
    np.testing.assert_allclose(mixed.values, plain.values[order], rtol=1e-9)


# Responses

F0, QL = 1.0e6, 60.0


def _peak(*, level=0.4, turn=0.0, f0=F0, points=201, sigma=1e-4, seed=1, kind="transmission"):
    frequency = f0 * np.linspace(0.95, 1.05, points)
    detuning = 1j * QL * (frequency / f0 - f0 / frequency)
    noise = sigma * level * circular(points, seed)
    ratio = level * np.exp(1j * turn) / (1 + detuning) + noise * np.exp(1j * turn)
    return Response(frequency=frequency, ratio=ratio, kind=kind)


@pytest.mark.parametrize("turn", [0.7, -2.5, np.pi])
def test_a_turn_of_the_phase_moves_no_resonance(turn):
    one, other = fit(_peak()), fit(_peak(turn=turn))
    for name in ("f0", "QL"):
        assert other.estimates[name].value == pytest.approx(one.estimates[name].value, rel=1e-7)
        assert other.estimates[name].u == pytest.approx(one.estimates[name].u, rel=1e-3)


@pytest.mark.parametrize("level", [1e-4, 0.02, 0.9])
def test_the_level_of_a_gain_moves_no_resonance(level):
    one, other = fit(_peak(kind="gain")), fit(_peak(kind="gain", level=level))
    for name in ("f0", "QL"):
        assert other.estimates[name].value == pytest.approx(one.estimates[name].value, rel=1e-7)
        assert other.estimates[name].u == pytest.approx(one.estimates[name].u, rel=1e-3)


@pytest.mark.parametrize("f0", [1e3, 134.2e3, 2.4e9])
def test_a_resonance_scales_with_frequency(f0):
    one, other = fit(_peak()), fit(_peak(f0=f0))
    assert other.estimates["f0"].value / f0 == pytest.approx(
        one.estimates["f0"].value / F0, rel=1e-8
    )
    assert other.estimates["QL"].value == pytest.approx(one.estimates["QL"].value, rel=1e-6)


def test_magnitudes_alone_give_the_same_resonance_less_surely():
    whole = _peak(kind="gain")
    bare = Response(
        frequency=whole.frequency, ratio=np.abs(whole.ratio), kind="gain", has_phase=False
    )
    one, other = fit(whole), fit(bare)
    for name in ("f0", "QL"):
        first, second = one.estimates[name], other.estimates[name]
        assert second.value == pytest.approx(first.value, abs=4 * (first.u + second.u))
        assert second.u > first.u
    assert one.estimates["QL"].value == pytest.approx(QL, rel=1e-3)


# Ring-downs

TIME = np.arange(2000) * 4e-7
F_RING, TAU = 134.2e3, 1.9e-4


def _rung(*, volt=1.0, offset=0.0, start=0.0, stretch=1.0, sigma=2e-3, seed=1, every=1):
    wave = np.exp(-TIME / TAU) * np.cos(2 * np.pi * F_RING * TIME + 0.4)
    noise = sigma * np.random.default_rng(seed).standard_normal(TIME.size)
    voltage = volt * (wave + noise) + offset
    return Transient(time=start + stretch * TIME[::every], voltage=voltage[::every])


def _same(one, other, rel=1e-7):
    for name in ("f0", "Q", "tau"):
        assert other.estimates[name].value == pytest.approx(one.estimates[name].value, rel=rel)
        assert other.estimates[name].u == pytest.approx(one.estimates[name].u, rel=1e-2)


@pytest.mark.parametrize("start", [-3e-4, 1.0, 3600.0])
def test_the_zero_of_the_clock_does_not_matter(start):
    _same(fit(_rung()), fit(_rung(start=start)), rel=1e-5)


@pytest.mark.parametrize("volt", [1e-6, -1.0, 0.05, 400.0])
def test_amplitude_and_sign_do_not_matter(volt):
    one, other = fit(_rung()), fit(_rung(volt=volt))
    _same(one, other)
    assert other.noise == pytest.approx(one.noise, rel=1e-5)


@pytest.mark.parametrize("offset", [-0.3, 2.0])
def test_a_direct_voltage_below_the_swing_does_not_matter(offset):
    _same(fit(_rung()), fit(_rung(offset=offset)), rel=1e-6)


@pytest.mark.parametrize("stretch", [1e-3, 10.0, 1e4])
def test_a_slower_clock_gives_a_lower_frequency_and_the_same_q(stretch):
    one, other = fit(_rung()), fit(_rung(stretch=stretch))
    for name, power in (("f0", -1), ("tau", 1), ("Q", 0)):
        factor = stretch**power
        assert other.estimates[name].value == pytest.approx(
            factor * one.estimates[name].value, rel=1e-6
        )


def test_every_second_sample_gives_the_same_within_its_uncertainty():
    one, other = fit(_rung()), fit(_rung(every=2))
    for name in ("f0", "Q", "tau"):
        first, second = one.estimates[name], other.estimates[name]
        assert second.value == pytest.approx(first.value, abs=4 * second.u)
        assert second.u == pytest.approx(first.u * np.sqrt(2), rel=0.15)


def test_frequency_quality_and_time_constant_obey_their_identity():
    found = fit(_rung())
    f0, q, tau = (found.estimates[name].value for name in ("f0", "Q", "tau"))
    assert q == pytest.approx(np.pi * f0 * tau, rel=1e-9)
    assert f0 == pytest.approx(F_RING * np.sqrt(1 + 1 / (4 * q**2)), rel=1e-5)
    assert tau == pytest.approx(TAU, rel=5e-3)


@pytest.mark.parametrize("known", ["C", "L"])
def test_a_known_element_and_its_uncertainty_give_the_other(known):
    unit = {"C": "F", "L": "H"}
    value = {"C": 864e-12, "L": 1.63e-3}[known]
    other = "L" if known == "C" else "C"
    exactly, roughly = (
        fit(_rung(), fix={known: Estimate(name=known, value=value, u=u, unit=unit[known])})
        for u in (0.0, 0.01 * value)
    )
    f0 = exactly.estimates["f0"].value
    expected = 1 / (value * (2 * np.pi * f0) ** 2)
    assert exactly.estimates[other].value == pytest.approx(expected, rel=1e-9)
    assert roughly.estimates[other].value == exactly.estimates[other].value
    relative = roughly.estimates[other].u / expected
    assert relative == pytest.approx(0.01, rel=1e-2)
