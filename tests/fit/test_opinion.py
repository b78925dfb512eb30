"""Second opinions: other methods on the same points agree where the circuit is right."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.capture import Noise, Response, Sweep, Transient
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.fit.circle import run_of_circle
from benchapp.fit.opinion import agreement, opinions
from benchapp.fit.response import fit_response
from benchapp.fit.ring_down import fit_ring_down
from benchapp.units import Estimate

L, C = 1.62e-3, 868e-12
F0, Z_TANK = 1 / (2 * math.pi * math.sqrt(L * C)), math.sqrt(L / C)


def impedance(circuit, f, Q):
    w = 2 * np.pi * f
    if circuit == "tank":
        return 1 / (1j * w * C + 1 / (Z_TANK / Q + 1j * w * L))
    if circuit == "series-rlc":
        return Z_TANK / Q + 1j * w * L + 1 / (1j * w * C)
    return 1 / (1 / (Q * Z_TANK) + 1 / (1j * w * L) + 1j * w * C)


def sweep(circuit, Q, *, noise=3e-3, seed=1, widths=5.0, points=301, extra=0.0):
    f = F0 * np.exp(np.linspace(-widths / Q / 2, widths / Q / 2, points))
    rng = np.random.default_rng(seed)
    dirt = noise / math.sqrt(2) * (rng.standard_normal(points) + 1j * rng.standard_normal(points))
    z = (impedance(circuit, f, Q) + extra) * (1 + dirt)
    return Sweep(frequency=f, impedance=z, noise=Noise(kind="relative"))


def by_method(found):
    return {(opinion.method, opinion.estimate.name): opinion for opinion in found}


@pytest.mark.parametrize("Q", [3.0, 30.0, 300.0])
@pytest.mark.parametrize("circuit", ["tank", "series-rlc", "parallel-rlc"])
def test_methods_find_the_truth_and_agree_with_the_fit(circuit, Q):
    agreeing = []
    for seed in range(8):
        capture = sweep(circuit, Q, seed=seed)
        found = opinions(capture, fit(capture, circuit))
        assert len(found) == 6
        for opinion in found:
            truth = {"f0": F0, "Q": Q}[opinion.estimate.name]
            assert opinion.estimate.value == pytest.approx(truth, abs=4.5 * opinion.estimate.u)
            assert opinion.estimate.u < 0.02 * truth
            agreeing.append(opinion.agrees)
    assert np.mean(agreeing) > 0.95


@pytest.mark.parametrize("Q", [3.0, 30.0, 300.0])
def test_circle_of_a_coil_is_followed_until_nothing_changes(Q, monkeypatch):
    capture = sweep("tank", Q)
    found = fit(capture, "tank")
    runs = []

    def run(*points):
        runs.append(points)
        return run_of_circle(*points)

    monkeypatch.setattr("benchapp.fit.opinion.run_of_circle", run)
    few, count = by_method(opinions(capture, found)), len(runs)
    monkeypatch.setattr("benchapp.fit.opinion._SETTLED", -1.0)
    all_passes = by_method(opinions(capture, found))
    assert count < len(runs) - count
    for key, one in few.items():
        last = all_passes[key].estimate
        assert one.estimate.value == pytest.approx(last.value, abs=0.02 * last.u)
        assert one.estimate.u == pytest.approx(last.u, rel=0.01)


def test_dip_and_peak_are_read_in_the_right_direction():
    dip, peak = sweep("series-rlc", 30.0), sweep("parallel-rlc", 30.0)
    for capture, circuit in ((dip, "series-rlc"), (peak, "parallel-rlc")):
        found = by_method(opinions(capture, fit(capture, circuit)))
        assert found["half-power width", "Q"].estimate.value == pytest.approx(30, rel=0.02)
    names = {method for method, _ in by_method(opinions(dip, fit(dip, "series-rlc")))}
    assert "circle of admittance" in names


def test_lead_resistance_that_the_circuit_lacks_makes_the_methods_disagree():
    capture = sweep("tank", 30.0, noise=1e-3, extra=-0.06 * Z_TANK * 30)
    found = opinions(capture, fit(capture, "tank"))
    assert not all(opinion.agrees for opinion in found)


def test_methods_do_not_use_the_fitted_curve():
    capture = sweep("tank", 30.0)
    right, wrong = fit(capture, "tank"), fit(capture, "parallel-rlc")
    first = by_method(opinions(capture, right))["half-power width", "f0"].estimate
    u = right.noise / math.sqrt(2)
    again = replace(
        right,
        values=wrong.values,
        fitted=wrong.fitted,
        residual=(capture.impedance / wrong.fitted - 1) / u,
    )
    second = by_method(opinions(capture, again))["half-power width", "f0"].estimate
    assert first.value == pytest.approx(second.value, rel=1e-7)
    assert second.u > first.u  # the method misreads a curve of another circuit


def test_the_error_of_a_method_on_a_sparse_grid_is_in_its_uncertainty():
    capture = sweep("tank", 30.0, noise=1e-6, widths=20.0, points=101)
    found = by_method(opinions(capture, fit(capture, "tank")))
    slope = found["slope of the phase", "Q"]
    assert slope.agrees
    assert abs(slope.estimate.value - 30) > 5e-3  # thousands of times the noise
    assert slope.estimate.u == pytest.approx(abs(slope.estimate.value - 30), rel=0.2)


def test_too_few_points_within_the_width_give_no_opinion():
    capture = sweep("tank", 300.0, widths=200.0, points=301)
    assert opinions(capture, fit(capture, "tank")) == ()


def test_coil_with_skin_effect_has_no_second_opinion():
    capture = sweep("tank", 30.0)
    assert opinions(capture, fit(capture, "coil")) == ()


@pytest.mark.parametrize("circuit", ["tank", "series-rlc", "parallel-rlc"])
def test_methods_hardly_ever_disagree_on_a_clean_sweep(circuit):
    rng, wrong, asked = np.random.default_rng(6), 0, 0
    for seed in range(60):
        Q, noise = math.exp(rng.uniform(0.5, 6)), math.exp(rng.uniform(-9, -3.5))
        points = int(rng.integers(21, 300))
        widths = rng.uniform(2, 20)
        capture = sweep(circuit, Q, noise=noise, seed=seed, widths=widths, points=points)
        found = opinions(capture, fit(capture, circuit))
        asked += bool(found)
        wrong += not all(opinion.agrees for opinion in found)
    assert asked >= 40
    assert wrong <= 1


@pytest.mark.parametrize(
    "distort",
    [
        lambda z, _x: z * np.exp(1j * np.radians(1.0)),
        lambda z, x: z * (1 + 0.03 * x),
        lambda z, x: z + 0.1 * np.abs(z).max() / (1 + 2j * (x - 1.5)),
    ],
    ids=["phase off by a degree", "sloping gain", "second resonance"],
)
def test_methods_disagree_on_a_distorted_sweep(distort):
    for seed in range(5):
        capture = sweep("tank", 50.0, seed=seed)
        x = 50.0 * (capture.frequency / F0 - F0 / capture.frequency)
        bent = Sweep(
            frequency=capture.frequency,
            impedance=distort(capture.impedance, x),
            noise=capture.noise,
        )
        found = opinions(bent, fit(bent, "tank", advise=False))
        assert not all(opinion.agrees for opinion in found)


def test_circuit_without_a_resonance_has_no_opinions():
    f = np.linspace(1e3, 1e5, 101)
    rng = np.random.default_rng(3)
    z = (10 + 2j * np.pi * f * 1e-3) * (1 + 1e-3 * rng.standard_normal(101))
    capture = Sweep(frequency=f, impedance=z, noise=Noise(kind="relative"))
    assert opinions(capture, fit(capture, "inductor")) == ()


def test_sweep_that_ends_before_an_edge_has_fewer_opinions():
    capture = sweep("tank", 30.0, widths=0.8)
    methods = {opinion.method for opinion in opinions(capture, fit(capture, "tank"))}
    assert "half-power width" not in methods
    assert "slope of the phase" in methods


def response(kind, seed=1, *, phase=True, background=0.0):
    f = F0 * np.exp(np.linspace(-0.06, 0.06, 301))
    t = f / F0 - F0 / f
    rng = np.random.default_rng(seed)
    bell = 1 / (1 + 50j * t)
    ratio = 1 - 0.6 * bell if kind == "reflection" else 0.3 * bell + background
    ratio = ratio + 7e-4 * (rng.standard_normal(301) + 1j * rng.standard_normal(301))
    return Response(
        frequency=f, ratio=ratio if phase else np.abs(ratio), kind=kind, has_phase=phase
    )


def test_circle_and_width_of_a_response_give_the_loaded_q():
    for kind, count in (("reflection", 2), ("transmission", 4)):
        capture = response(kind)
        found = opinions(capture, fit_response(capture))
        assert len(found) == count
        for opinion in found:
            truth = {"f0": F0, "QL": 50.0}[opinion.estimate.name]
            assert opinion.estimate.value == pytest.approx(truth, abs=4 * opinion.estimate.u)
            assert opinion.agrees


def test_width_of_a_reflection_dip_is_never_offered():
    """The half-power points of a reflection say nothing about Q."""
    capture = response("reflection")
    assert {o.method for o in opinions(capture, fit_response(capture))} == {"circle of the ratio"}


def test_background_widens_the_uncertainty_of_the_width():
    clean, leaking = response("transmission"), response("transmission", background=0.02 + 0.02j)
    widths = [
        by_method(opinions(capture, fit_response(capture)))["half-power width", "QL"].estimate
        for capture in (clean, leaking)
    ]
    assert widths[1].u > 5 * widths[0].u
    assert widths[1].value == pytest.approx(50, abs=4 * widths[1].u)


def test_magnitude_alone_has_a_width_but_no_circle():
    capture = response("gain", phase=False)
    methods = {opinion.method for opinion in opinions(capture, fit_response(capture))}
    assert methods == {"half-power width"}


def ringing(Q=60.0, seed=1):
    t = (np.arange(4000) - 300) / 5e6
    w0, late = 2 * np.pi * F0, np.maximum(t, 0)
    omega = w0 * math.sqrt(1 - 1 / (4 * Q * Q))
    rng = np.random.default_rng(seed)
    swing = np.where(t < 0, 0, 0.9 * np.exp(-w0 / 2 / Q * late) * np.cos(omega * late + 0.3))
    return Transient(time=t, voltage=swing + 4e-3 * rng.standard_normal(4000))


def test_counted_decrement_agrees_with_the_fitted_decay():
    capture = ringing()
    found = by_method(opinions(capture, fit_ring_down(capture)))
    assert set(found) == {("log decrement", "f0"), ("log decrement", "Q")}
    q = found["log decrement", "Q"]
    assert q.agrees
    assert q.estimate.value == pytest.approx(60, abs=4 * q.estimate.u)


def test_record_without_a_decay_has_no_opinions():
    rng = np.random.default_rng(5)
    capture = Transient(time=np.arange(500.0), voltage=rng.standard_normal(500))
    assert opinions(capture, fit_ring_down(capture)) == ()


def test_ring_down_agrees_with_the_sweep_of_the_same_tank():
    swept = fit(sweep("tank", 60.0, noise=1e-3), "tank")
    rung = fit_ring_down(ringing())
    for name in ("f0", "Q"):
        assert agreement(rung.estimates[name], swept.estimates[name], coverage=3).agrees


def test_other_loading_makes_ring_down_and_sweep_disagree():
    swept = fit(sweep("tank", 80.0, noise=1e-3), "tank")
    rung = fit_ring_down(ringing(Q=60.0))
    found = agreement(rung.estimates["Q"], swept.estimates["Q"])
    assert not found.agrees
    assert found.difference == pytest.approx(-20, abs=1)


def estimate(value, u, unit="Hz"):
    return Estimate(name="f0", value=value, u=u, unit=unit)


def test_agreement_is_the_ratio_of_difference_and_expanded_uncertainty():
    found = agreement(estimate(100.0, 3.0), estimate(90.0, 4.0))
    assert (found.difference, found.u, found.ratio) == (10.0, 5.0, 1.0)
    assert found.agrees
    assert not agreement(estimate(100.1, 3.0), estimate(90.0, 4.0)).agrees
    assert agreement(estimate(100.1, 3.0), estimate(90.0, 4.0), coverage=3).agrees


def test_agreement_of_different_units_is_refused():
    with pytest.raises(FitError, match="must be in one unit"):
        agreement(estimate(1.0, 0.1), estimate(1.0, 0.1, "H"))


def test_agreement_without_any_uncertainty_is_refused():
    with pytest.raises(FitError, match="at least one uncertainty"):
        agreement(estimate(1.0, None), estimate(1.0, None))
