"""Checks of a sweep itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.checks.scene import TANK, Case, coil, evidence, found, ring_down, sweep, transmission

# A small tank at 122 kHz, loosely coupled to the one that is measured.
NEIGHBOUR = (*TANK, 0.006, 122e3, 300.0)


def _conjugate(capture):
    return replace(capture, impedance=capture.impedance.conj())


def _shifted(capture, ohm):
    return replace(capture, impedance=capture.impedance + ohm)


def _edge(high):
    return evidence(sweep(low=110e3, high=high), "tank")


CASES = {
    "sweep-too-coarse": Case(
        raises=lambda: evidence(sweep(low=110e3, high=162e3, points=14), "tank"),
        misses=lambda: evidence(sweep(low=110e3, high=162e3, points=105), "tank"),
    ),
    "resonance-at-edge": Case(raises=lambda: _edge(134.9e3), misses=lambda: _edge(137.6e3)),
    "phase-sign": Case(
        raises=lambda: evidence(_conjugate(sweep()), "tank"),
        misses=lambda: evidence(sweep("capacitor", (868e-12, 3.0, 1e-9), low=50e3, high=200e3)),
    ),
    "negative-resistance": Case(
        raises=lambda: evidence(_shifted(coil(), -60.0), "coil"),
        misses=lambda: evidence(coil(noise=0.02), "coil"),
    ),
    "outside-method-range": Case(
        raises=lambda: evidence(sweep(kind="reflection", noise=1e-5), "tank"),
        misses=lambda: evidence(sweep(kind="series-through", noise=1e-5), "tank"),
    ),
    "resistance-from-reflection": Case(
        raises=lambda: evidence(coil(kind="reflection", noise=1e-5, low=50e3), "coil"),
        misses=lambda: evidence(sweep("series-rlc", kind="reflection", noise=1e-4), "series-rlc"),
    ),
    "second-resonance": Case(
        raises=lambda: evidence(sweep("coupled-pair", NEIGHBOUR), "tank"),
        misses=lambda: evidence(coil(), "tank"),
    ),
}


def test_a_coarse_sweep_is_told_what_to_sweep():
    (finding,) = found(CASES["sweep-too-coarse"].raises(), "sweep-too-coarse")
    assert finding.text.startswith(
        "The half-power band of 1.71 kHz around 134.0 kHz holds 1 point."
    )
    assert finding.advice.startswith("Sweep 128.9")


@pytest.mark.parametrize(("points", "raised"), [(19, True), (41, False)])
def test_a_magnitude_alone_needs_more_points(points, raised):
    seen = evidence(transmission(phase=False, points=points))
    assert bool(found(seen, "sweep-too-coarse")) is raised
    assert found(evidence(transmission(points=points)), "sweep-too-coarse") == []


@pytest.mark.parametrize(
    ("high", "level"), [(134.9e3, "warn"), (136.5e3, "note"), (132.5e3, "warn")]
)
def test_the_nearer_the_edge_the_graver(high, level):
    (finding,) = found(_edge(high), "resonance-at-edge")
    assert finding.level == level
    assert "upper end" in finding.text
    assert ("outside the sweep" in finding.text) is (high < 134e3)


def test_a_broad_resonance_needs_no_more_than_an_octave_below():
    broad = (TANK[0], TANK[1], 700.0)
    seen = evidence(sweep(values=broad, low=60e3, high=500e3), "tank")
    assert found(seen, "resonance-at-edge") == []


def test_the_lower_edge_is_named_too():
    (finding,) = found(evidence(sweep(low=133e3, high=160e3), "tank"), "resonance-at-edge")
    assert "lower end" in finding.text


def test_a_coarse_jump_through_resonance_is_no_falling_reactance():
    sharp = (TANK[0], TANK[1], 1.5)
    seen = evidence(sweep(values=sharp, points=31), "tank")
    assert found(seen, "phase-sign") == []


def test_noise_alone_does_not_invert_a_phase():
    for seed in range(20):
        seen = evidence(sweep(noise=0.03, points=801, seed=seed), "tank")
        assert found(seen, "phase-sign") == []


def test_negative_points_are_pointed_at():
    capture = _shifted(coil(), -60.0)
    (finding,) = found(evidence(capture, "coil"), "negative-resistance")
    assert "The resistance is negative at" in finding.text
    assert np.all(capture.impedance.real[list(finding.points)] < 0)


def test_a_few_points_are_too_few_to_call_a_resistance_negative():
    seen = evidence(_shifted(coil(points=7), -60.0), "inductor")
    assert found(seen, "negative-resistance") == []
    band = evidence(_shifted(coil(), -60.0), "inductor", band=(300e3, 320e3))
    assert found(band, "negative-resistance") == []


def test_shunt_through_does_not_suit_large_impedances():
    capture = sweep(noise=1e-5)
    shunt = replace(capture, noise=replace(capture.noise, kind="shunt-through"))
    (finding,) = found(evidence(shunt, "tank"), "outside-method-range")
    assert "At 100 % of the points 1 % in the S-parameter makes more than 10 %" in finding.text


@pytest.mark.parametrize(
    ("kind", "ohm", "percent"),
    [
        ("reflection", 950.0, 10.5),
        ("reflection", 900.0, 10.0),
        ("reflection", 2.8, 10.0),
        ("series-through", 11.0, 10.1),
        ("series-through", 100.0, 2.0),
        ("shunt-through", 225.0, 10.0),
        ("shunt-through", 25.0, 2.0),
    ],
)
def test_the_error_of_each_port_method_is_that_of_its_formula(kind, ohm, percent):
    # dS = 0.01 (reflection) or dS/S = 0.01 (transmission) with 50 ohm; network theory.
    from benchapp.capture import Noise
    from benchapp.checks.sweep import _relative_error

    error = _relative_error(np.array([ohm + 0j]), Noise(kind=kind), 0.01)
    assert 100 * error[0] == pytest.approx(percent, abs=0.06)


def test_a_neighbouring_resonance_is_pointed_at():
    capture = sweep("coupled-pair", NEIGHBOUR)
    (finding,) = found(evidence(capture, "tank"), "second-resonance")
    place = capture.frequency[list(finding.points)]
    assert place.min() < 122e3 < place.max()
    assert np.ptp(place) < 9e3


def test_a_record_over_time_has_no_sweep_to_check():
    seen = evidence(ring_down())
    for name in CASES:
        assert found(seen, name) == []
