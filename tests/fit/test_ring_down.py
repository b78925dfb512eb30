"""Ring-downs: the values, their uncertainty, and what a record cannot tell."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.capture import Transient
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.fit.ring_down import fit_ring_down
from benchapp.units import Estimate
from tests.benchmarks.ring_down import measure
from tests.truth import spice

IDENTITIES = tomllib.loads(
    (Path(__file__).parents[1] / "truth" / "resonance.toml").read_text("utf-8")
)
STEP = 2 / 256
F0 = 134.2e3


def ring(t, *, f0=F0, Q=60.0, amplitude=0.9, phase=0.3):
    """Free decay from t = 0, rest before."""
    w0 = 2 * math.pi * f0
    late = np.maximum(t, 0.0)
    omega = w0 * math.sqrt(1 - 1 / (4 * Q * Q))
    swing = amplitude * np.exp(-w0 / (2 * Q) * late) * np.cos(omega * late + phase)
    return np.where(t < 0, 0.0, swing)


def scope(t, voltage, *, seed=1, noise=0.5, **facts):
    """What a scope of 8 bit shows: noise in steps, then rounded."""
    rng = np.random.default_rng(seed)
    dirty = voltage + noise * STEP * rng.standard_normal(t.size)
    facts.setdefault("step_volt", STEP)
    return Transient(time=t, voltage=STEP * np.round(dirty / STEP), **facts)


def times(size=4000, before=500, rate=5e6):
    return (np.arange(size) - before) / rate


def held(name, value, u=None):
    unit = {"C": "F", "L": "H"}.get(name, "1")
    return {name: Estimate(name=name, value=value, u=u, unit=unit)}


def value(found, name):
    return found.estimates[name].value


def names(found):
    return {remark.name for remark in found.remarks}


# ---------------------------------------------------------------- definitions


@settings(max_examples=40)
@given(Q=st.floats(1.5, 1000.0), phase=st.floats(-3.0, 3.0), offset=st.floats(-0.5, 0.5))
def test_exact_record_gives_the_undamped_frequency_and_q(Q, phase, offset):
    t = np.arange(4000) / 5e6
    found = fit_ring_down(Transient(time=t, voltage=ring(t, Q=Q, phase=phase) + offset))
    assert value(found, "f0") == pytest.approx(F0, rel=1e-7)
    assert value(found, "Q") == pytest.approx(Q, rel=1e-5)
    assert value(found, "tau") == pytest.approx(Q / (math.pi * F0), rel=1e-5)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_damped_frequency_decrement_and_cycles_obey_the_identities(place):
    Q = IDENTITIES["RES-3"]["Q"][place]
    t = np.arange(6000) / 5e6
    found = fit_ring_down(Transient(time=t, voltage=ring(t, Q=Q)))
    fd = found.values[found.elements.index("fd")]
    assert fd / value(found, "f0") == pytest.approx(IDENTITIES["RES-3"]["ratio"][place], rel=1e-9)
    period = 1 / fd / value(found, "tau")
    assert period == pytest.approx(IDENTITIES["RES-4"]["decrement"][place], rel=1e-6)
    assert 1 / period == pytest.approx(IDENTITIES["RES-6"]["cycles"][place], rel=1e-6)


def test_one_over_e_after_thirty_cycles_is_q_ninety_four():
    """Counting: Q is pi times the cycles to 1/e, not the cycles."""
    t = np.arange(8000) / 5e6
    Q = math.hypot(30 * math.pi, 0.5)
    found = fit_ring_down(Transient(time=t, voltage=ring(t, Q=Q)))
    fd = found.values[found.elements.index("fd")]
    assert fd * value(found, "tau") == pytest.approx(30, rel=1e-6)
    assert value(found, "Q") == pytest.approx(94.25, abs=0.01)


def test_known_capacitance_gives_inductance_and_series_resistance():
    truth = IDENTITIES["RES-1"]
    t = np.arange(4000) / 5e6
    capture = scope(t, ring(t, f0=truth["f0"], Q=truth["Q"]))
    found = fit_ring_down(capture, fix=held("C", truth["C"], 0.01 * truth["C"]))
    assert value(found, "L") == pytest.approx(truth["L"], rel=2e-4)
    assert value(found, "R") == pytest.approx(truth["R"], rel=5e-3)
    assert value(found, "tau") == pytest.approx(IDENTITIES["RES-5"]["tau"], rel=5e-3)
    # the capacitance is the larger part: both L and R go with 1/C
    assert found.estimates["L"].u == pytest.approx(0.01 * truth["L"], rel=0.01)
    ratio = found.estimates["R"].u / value(found, "R")
    own = found.estimates["tau"].u / value(found, "tau")
    assert ratio == pytest.approx(math.hypot(0.01, own), rel=0.02)
    assert found.fixed == ("C",)


def test_known_inductance_gives_capacitance():
    truth = IDENTITIES["RES-1"]
    t = np.arange(4000) / 5e6
    capture = scope(t, ring(t, f0=truth["f0"], Q=truth["Q"]))
    found = fit_ring_down(capture, fix=held("L", truth["L"], 1e-5))
    assert value(found, "C") == pytest.approx(truth["C"], rel=2e-4)
    assert value(found, "R") == pytest.approx(truth["R"], rel=5e-3)
    assert found.estimates["C"].u == pytest.approx(0.01 * truth["C"], rel=0.01)


def test_simulated_circuit_gives_its_elements_back():
    solved = spice.load(spice.RING_DOWN)
    L, C, R = (solved.elements[name] for name in ("L", "C", "R"))
    capture = Transient(time=solved.x, voltage=solved.y.real)
    found = fit_ring_down(capture, fix=held("C", C))
    f0 = 1 / (2 * math.pi * math.sqrt(L * C))
    assert value(found, "f0") == pytest.approx(f0, rel=1e-6)
    assert value(found, "Q") == pytest.approx(math.sqrt(L / C) / R, rel=1e-4)
    assert value(found, "L") == pytest.approx(L, rel=2e-6)
    assert value(found, "R") == pytest.approx(R, rel=1e-4)


# ---------------------------------------------------------------- eight bit, trigger, clipping


@pytest.mark.parametrize("Q", [1.5, 5.0, 30.0, 100.0])
@pytest.mark.parametrize("exciter", ["step", "release"])
def test_errors_at_eight_bit_are_at_the_bound_with_three_percent_clipped(Q, exciter):
    rng = np.random.default_rng(int(10 * Q))
    (rms, _, _), coverage, good, _, lost = measure(Q, exciter, 0.03, 0.5, 40, rng)
    assert lost == 0
    # what any method would do on the same draws is known, so 40 tell the rest to 5 %
    assert np.all(rms < 1.12)
    assert np.all(coverage >= 0.84)
    assert good >= 0.96


def test_driven_burst_does_not_bias_the_result():
    (_, rms, _), coverage, _, _, _ = measure(30.0, "burst", 0.0, 0.5, 50, np.random.default_rng(5))
    assert np.all(rms < 1.08)
    assert np.all(coverage >= 0.84)


def test_narrow_decay_of_q_thousand_is_found():
    (rms, _, _), _, good, _, lost = measure(1000.0, "step", 0.03, 0.5, 2, np.random.default_rng(6))
    assert lost == 0
    assert np.all(rms < 1.1)
    assert good == 1


@pytest.mark.parametrize("stated", [True, False])
def test_clipped_samples_are_set_aside_and_said(stated):
    t, end = times(), 115 * STEP
    voltage = np.clip(scope(t, ring(t, amplitude=1.4)).voltage, -end, end)
    limits = (-end, end) if stated else None
    found = fit_ring_down(Transient(time=t, voltage=voltage, step_volt=STEP, limits_volt=limits))
    clipped = next(remark for remark in found.remarks if remark.name == "clipped")
    assert len(clipped.points) > 20
    assert f"{len(clipped.points)} samples" in clipped.text
    assert not found.used[list(clipped.points)].any()
    assert value(found, "Q") == pytest.approx(60, abs=4 * found.estimates["Q"].u)
    assert found.describes


def test_swing_that_an_amplifier_cuts_off_is_followed_only_where_it_is_whole():
    t = times()
    found = fit_ring_down(scope(t, np.clip(ring(t, amplitude=1.4), -0.9, 0.9)))
    cut = np.flatnonzero(np.abs(ring(t, amplitude=1.4)) > 0.95)
    assert np.flatnonzero(found.used)[0] > cut[-1]
    assert value(found, "Q") == pytest.approx(60, abs=4 * found.estimates["Q"].u)


def test_trigger_instant_is_said_with_the_window():
    t = times(before=1000)
    found = fit_ring_down(scope(t, ring(t)))
    assert np.flatnonzero(found.used)[0] == pytest.approx(1000, abs=2)
    assert "time constants" in next(r.text for r in found.remarks if r.name == "window")


def test_several_bursts_are_averaged():
    t = times(10000, 0)
    whole = sum(ring(t - k * 500e-6, phase=k) for k in range(4))
    single = fit_ring_down(scope(t[:2500], whole[:2500]))
    found = fit_ring_down(scope(t, whole))
    assert "4 bursts" in next(r.text for r in found.remarks if r.name == "window")
    assert value(found, "Q") == pytest.approx(60, abs=4 * found.estimates["Q"].u)
    assert found.estimates["Q"].u == pytest.approx(single.estimates["Q"].u / 2, rel=0.15)


def test_segments_with_long_pauses_between_are_averaged():
    part = times(1500, 100)
    t = np.concatenate([part + k for k in range(5)])  # a second from trigger to trigger
    found = fit_ring_down(scope(t, np.tile(ring(part), 5)))
    assert "5 bursts" in next(r.text for r in found.remarks if r.name == "window")
    assert value(found, "Q") == pytest.approx(60, abs=4 * found.estimates["Q"].u)
    assert found.describes


@settings(max_examples=40)
@given(seed=st.integers(0, 2**31), size=st.integers(24, 400), kind=st.integers(0, 4))
def test_any_record_gets_an_answer(seed, size, kind):
    rng = np.random.default_rng(seed)
    voltage = {
        0: rng.standard_normal(size),
        1: np.sign(rng.standard_normal(size)),
        2: np.cumsum(rng.standard_normal(size)),
        3: rng.choice([-1.0, 0.0, 1.0], size) * (np.arange(size) % 7 == 0),
        4: np.exp(-np.arange(size) / rng.uniform(2, 200))
        * np.cos(np.arange(size) * rng.uniform(0, 3)),
    }[kind]
    time = np.cumsum(rng.uniform(0.5, 1.5, size)) * 10.0 ** rng.integers(-9, 3)
    limits = (-1.0, 1.0) if seed % 2 else None
    found = fit_ring_down(Transient(time=time, voltage=voltage, limits_volt=limits))
    assert found.used.size == found.fitted.size == size
    assert np.isfinite(found.fitted).all()
    if kind == 0:
        assert "Q" not in found.estimates  # noise has none


def test_offset_and_pretrigger_level_do_not_matter():
    t = times()
    shifted = np.where(t < 0, 0.35, ring(t, amplitude=0.6) - 0.2)
    found = fit_ring_down(scope(t, shifted))
    assert value(found, "f0") == pytest.approx(F0, abs=4 * found.estimates["f0"].u)
    assert value(found, "Q") == pytest.approx(60, abs=4 * found.estimates["Q"].u)


# ---------------------------------------------------------------- honesty


def test_loss_that_depends_on_amplitude_is_said():
    t = times(6000, 300)
    rate, height, heights = math.pi * F0 / 60, 0.9, []
    for moment in t:
        heights.append(height if moment >= 0 else 0.0)
        if moment >= 0:
            height -= rate * height * (1 + 0.3 * height) / 5e6
    found = fit_ring_down(scope(t, np.array(heights) * np.cos(2 * math.pi * F0 * t)))
    assert not found.describes
    text = next(r.text for r in found.remarks if r.name == "uneven decay")
    assert "amplitude" in text
    assert "-" in text  # the rate falls on the way


def test_two_swings_are_said():
    t = times(6000, 300)
    found = fit_ring_down(scope(t, 0.8 * ring(t) + ring(t, f0=1.1 * F0, Q=40, amplitude=0.1)))
    assert not found.describes
    assert names(found) & {"uneven decay", "residuals"}


def test_pickup_is_said():
    t = times(6000, 300)
    found = fit_ring_down(scope(t, ring(t) + 0.02 * np.sin(2 * math.pi * 300e3 * t)))
    assert not found.describes
    assert "residuals" in names(found)


def test_even_decay_is_not_suspected():
    t = times()
    good = [fit_ring_down(scope(t, ring(t), seed=seed)).describes for seed in range(25)]
    assert sum(good) >= 24


def test_decay_below_the_steps_of_the_converter_is_no_alarm():
    t = times(8000, 300)
    good = [
        fit_ring_down(scope(t, ring(t), seed=seed, noise=0.15)).describes for seed in range(20)
    ]
    assert sum(good) >= 19


def test_noise_is_no_ring_down():
    t = times()
    found = fit_ring_down(scope(t, np.zeros(t.size)), fix=held("C", 1e-9))
    assert dict(found.estimates) == {}
    assert found.undetermined == ("f0", "Q", "tau", "L", "R")
    assert not found.describes
    assert "no ring-down" in names(found)
    assert not found.used.any()


def test_constant_is_no_ring_down():
    t = times()
    found = fit_ring_down(Transient(time=t, voltage=np.full(t.size, 0.1)))
    assert dict(found.estimates) == {}
    assert found.fitted == pytest.approx(np.full(t.size, 0.1))


def test_steady_swing_has_a_frequency_but_no_q():
    t = times()
    found = fit_ring_down(scope(t, 0.8 * np.sin(2 * math.pi * F0 * t)), fix=held("C", 1e-9))
    assert value(found, "f0") == pytest.approx(F0, rel=1e-4)
    assert {"Q", "tau", "R"} <= set(found.undetermined)
    assert "steady" in names(found)


# ---------------------------------------------------------------- the answer as a value


def test_arrays_hold_volts_and_deviations():
    t = times()
    capture = scope(t, ring(t))
    found = fit_ring_down(capture)
    assert found.fitted.size == found.residual.size == t.size
    assert not found.fitted.imag.any()
    assert found.residual.real[found.used].std() == pytest.approx(1, abs=0.05)
    rest = capture.voltage[found.used] - found.fitted.real[found.used]
    assert rest.std() == pytest.approx(STEP * math.sqrt(0.25 + 1 / 12), rel=0.08)
    assert found.noise == pytest.approx(rest.std() / 0.9, rel=0.01)  # of the amplitude
    assert found.residual.real[found.used] == pytest.approx(rest / rest.std(), rel=0.01)


def test_elements_are_damped_frequency_and_rate():
    t = np.arange(4000) / 5e6
    found = fit_ring_down(scope(t, ring(t)))
    assert found.elements == ("fd", "alpha")
    fd, alpha = found.values
    assert value(found, "f0") == pytest.approx(math.hypot(fd, alpha / (2 * math.pi)))
    assert value(found, "tau") == pytest.approx(1 / alpha)
    assert found.estimates["tau"].u == pytest.approx(found.covariance[1, 1] ** 0.5 / alpha**2)


def test_fit_of_a_transient_comes_through_the_general_door():
    t = times()
    capture = scope(t, ring(t))
    found = fit(capture)
    assert found.circuit == "ring-down"
    assert found.digest == capture.digest
    assert found.results == fit_ring_down(capture).results


def test_samples_set_aside_by_a_person_are_not_used():
    t = times()
    aside = (*range(700, 720), 1500)
    capture = scope(t, ring(t))
    spoilt = capture.voltage.copy()
    spoilt[list(aside)] = 0.5
    found = fit(Transient(time=t, voltage=spoilt, step_volt=STEP), set_aside=aside)
    assert not found.used[list(aside)].any()
    assert np.flatnonzero(found.used)[0] == pytest.approx(500, abs=2)
    assert "clipped" not in names(found)
    assert value(found, "Q") == pytest.approx(60, abs=4 * found.estimates["Q"].u)
    assert found.fitted.real[700:720] == pytest.approx(ring(t)[700:720], abs=0.02)


def test_band_reaches_the_ring_down_through_the_general_door():
    t = times(6000, 300)
    capture = scope(t, 0.5 * ring(t) + 0.4 * ring(t, f0=700e3, Q=200))
    low, high = fit(capture, band=(100e3, 200e3)), fit(capture, band=(500e3, 900e3))
    assert value(low, "f0") == pytest.approx(F0, rel=0.01)
    assert value(high, "f0") == pytest.approx(700e3, rel=0.01)
    assert not low.describes
    assert not high.describes


def test_second_opinions_come_with_the_fit():
    t = times()
    found = fit_ring_down(scope(t, ring(t)))
    assert {opinion.method for opinion in found.opinions} == {"log decrement"}
    assert all(opinion.agrees for opinion in found.opinions)


# ---------------------------------------------------------------- what cannot be fitted


def test_too_few_samples_are_refused():
    with pytest.raises(FitError, match="at least 24 samples for a ring-down"):
        fit_ring_down(Transient(time=np.arange(20.0), voltage=np.zeros(20)))


def test_unknown_element_is_refused():
    t = times(100, 0)
    with pytest.raises(FitError, match="must be one of C, L for a ring-down"):
        fit_ring_down(Transient(time=t, voltage=ring(t)), fix=held("Q", 3.0))


def test_known_element_must_be_positive():
    t = times(100, 0)
    with pytest.raises(FitError, match="known element C: must be above zero"):
        fit_ring_down(Transient(time=t, voltage=ring(t)), fix=held("C", 0.0))


def test_both_elements_cannot_be_known():
    t = times(100, 0)
    with pytest.raises(FitError, match="C or L, not both"):
        fit_ring_down(Transient(time=t, voltage=ring(t)), fix=held("C", 1e-9) | held("L", 1e-3))


def test_band_must_rise():
    t = times(100, 0)
    with pytest.raises(FitError, match="band: must rise"):
        fit_ring_down(Transient(time=t, voltage=ring(t)), band=(2e5, 1e5))
