"""The sine fit against the published bounds, and what it says where it cannot tell."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Transient
from benchapp.errors import FitError
from benchapp.fit.sine import fit_sine
from benchapp.units import Estimate

TRUTH = tomllib.loads((Path(__file__).parents[1] / "truth" / "sine.toml").read_text("utf-8"))
MODEL = TRUTH["model"]


def curve(n, *, amplitude=1.0, f=MODEL["f"], phase=MODEL["phi"], offset=0.0):
    return amplitude * np.cos(2 * np.pi * f * n + phase) + offset


def hertz(value, u=None):
    return Estimate(name="f", value=value, u=u, unit="Hz")


@given(
    amplitude=st.floats(1e-3, 1e3),
    f=st.floats(0.01, 0.4),
    phase=st.floats(-3.1, 3.1),
    offset=st.floats(-2, 2),
)
def test_noise_free_sine_comes_back_exactly(amplitude, f, phase, offset):
    n = np.arange(400.0)
    v = curve(n, amplitude=amplitude, f=f, phase=phase, offset=offset * amplitude)
    found = fit_sine(Transient(time=n, voltage=v))
    assert found.amplitude.value == pytest.approx(amplitude, rel=1e-9)
    assert found.frequency.value == pytest.approx(f, rel=1e-9)
    assert found.offset.value == pytest.approx(offset * amplitude, abs=1e-9 * amplitude)
    apart = math.radians(found.phase.value) - phase
    assert math.remainder(apart, 2 * math.pi) == pytest.approx(0, abs=1e-7)


def test_standard_uncertainties_are_the_bound_of_the_four_parameters():
    rng = np.random.default_rng(11)
    n = np.arange(float(MODEL["N"]))
    found = fit_sine(
        Transient(time=n, voltage=curve(n) + MODEL["sigma"] * rng.standard_normal(n.size))
    )
    bound, ratio = TRUTH["SIN-3"], found.noise / MODEL["sigma"]
    assert ratio == pytest.approx(1, abs=0.08)
    assert found.amplitude.u / ratio == pytest.approx(bound["A"], rel=5e-3)
    assert found.frequency.u / ratio == pytest.approx(bound["f"], rel=5e-3)
    assert math.radians(found.phase.u) / ratio == pytest.approx(bound["phi"], rel=5e-3)
    assert found.offset.u / ratio == pytest.approx(bound["c"], rel=5e-3)
    for name, value in TRUTH["SIN-4"].items():
        if name != "about":
            assert value == pytest.approx(bound[name], rel=2e-3)


def test_errors_at_eight_bit_are_at_the_bound():
    rng = np.random.default_rng(12)
    n = np.arange(float(MODEL["N"]))
    step, errors, covered = 2.2 / 256, [], []
    bound = np.array([TRUTH["SIN-3"][name] for name in ("A", "f", "phi", "c")])
    bound *= math.sqrt(1 + step**2 / 12 / MODEL["sigma"] ** 2)
    for _ in range(300):
        v = curve(n, offset=0.03) + MODEL["sigma"] * rng.standard_normal(n.size)
        found = fit_sine(Transient(time=n, voltage=step * np.round(v / step)))
        error = [
            found.amplitude.value - 1,
            found.frequency.value - MODEL["f"],
            math.radians(found.phase.value) - MODEL["phi"],
            found.offset.value - 0.03,
        ]
        u = [found.amplitude.u, found.frequency.u, math.radians(found.phase.u), found.offset.u]
        errors.append(error / bound)
        covered.append(np.abs(error) < 1.96 * np.array(u))
    # 300 draws know a root mean square to 4 %
    assert np.sqrt(np.mean(np.square(errors), axis=0)) == pytest.approx(np.ones(4), abs=0.12)
    assert np.mean(covered, axis=0) == pytest.approx(np.full(4, 0.95), abs=0.04)


def test_known_frequency_leaves_three_parameters_and_passes_its_uncertainty_on():
    n = np.arange(1000.0)
    v = curve(n) + 0.01 * np.random.default_rng(13).standard_normal(1000)
    capture = Transient(time=n, voltage=v)
    exact, vague = fit_sine(capture, hertz(MODEL["f"])), fit_sine(capture, hertz(MODEL["f"], 1e-6))
    assert exact.frequency.value == MODEL["f"]
    assert exact.phasor == pytest.approx(vague.phasor, abs=1e-12)
    assert math.radians(exact.phase.u) == pytest.approx(math.sqrt(2 / 1000) * 0.01, rel=0.1)
    # phase at time zero, seen from the middle of the record: 2 pi u(f) N/2
    extra = math.sqrt(math.radians(vague.phase.u) ** 2 - math.radians(exact.phase.u) ** 2)
    assert extra == pytest.approx(2 * math.pi * 1e-6 * 500, rel=0.05)


def test_phasor_is_amplitude_and_phase():
    n = np.arange(200.0)
    found = fit_sine(Transient(time=n, voltage=curve(n, amplitude=0.5, phase=-1.0)))
    assert found.phasor == pytest.approx(0.5 * np.exp(-1j), abs=1e-10)


def test_clipped_tops_do_not_bend_the_amplitude():
    n = np.arange(2000.0)
    v = curve(n, f=0.00617) + 2e-3 * np.random.default_rng(14).standard_normal(2000)
    v = np.clip(v, -0.9, 0.9)
    stated = fit_sine(Transient(time=n, voltage=v, limits_volt=(-0.9, 0.9)))
    unstated = fit_sine(Transient(time=n, voltage=v))
    assert np.count_nonzero(~stated.used) > 300
    for found in (stated, unstated):
        assert found.amplitude.value == pytest.approx(1, abs=4 * found.amplitude.u)
        assert found.amplitude.u < 2e-4
        assert found.describes


def test_flat_top_of_a_slow_sine_is_not_taken_for_clipping():
    n = np.arange(1000.0)
    step = 1 / 128
    v = curve(n, f=0.002) + 0.4 * step * np.random.default_rng(15).standard_normal(1000)
    found = fit_sine(Transient(time=n, voltage=step * np.round(v / step)))
    assert found.used.all()
    assert found.amplitude.value == pytest.approx(1, abs=4 * found.amplitude.u)


def test_uneven_samples_are_no_obstacle():
    rng = np.random.default_rng(16)
    n = np.sort(rng.uniform(0, 500, 400))
    found = fit_sine(Transient(time=n, voltage=curve(n) + 0.01 * rng.standard_normal(400)))
    assert found.frequency.value == pytest.approx(MODEL["f"], abs=5 * found.frequency.u)
    assert found.frequency.u < 1e-5


def test_distortion_is_said():
    n = np.arange(1000.0)
    v = curve(n, f=0.01) + 0.05 * curve(n, f=0.03)
    v += 0.005 * np.random.default_rng(17).standard_normal(1000)
    assert not fit_sine(Transient(time=n, voltage=v)).describes


def test_noise_alone_has_no_amplitude():
    v = np.random.default_rng(18).standard_normal(500)
    found = fit_sine(Transient(time=np.arange(500.0), voltage=v), hertz(0.1))
    assert not found.determined


def test_too_few_samples_are_refused():
    with pytest.raises(FitError, match="at least 6 samples for a sine"):
        fit_sine(Transient(time=np.arange(5.0), voltage=np.zeros(5)))


def test_frequency_must_be_positive():
    with pytest.raises(FitError, match="frequency: must be above zero"):
        fit_sine(Transient(time=np.arange(50.0), voltage=np.zeros(50)), hertz(0.0))


def test_record_that_is_all_clipped_is_refused():
    v = np.where(np.arange(50) % 2, 1.0, -1.0)
    with pytest.raises(FitError, match="within the range of the scope"):
        fit_sine(Transient(time=np.arange(50.0), voltage=v, limits_volt=(-1.0, 1.0)))
