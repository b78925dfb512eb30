"""The circuits obey the resonance identities, each with its own meaning of *resonance*."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS

TRUTH = tomllib.loads((Path(__file__).parent / "resonance.toml").read_text())
Z_TANK = 1000.0  # L = 1 mH, C = 1 nF
L, C, F0 = 1e-3, 1e-9, TRUTH["RES-1"]["f0"]
QS = [0, 1, 2]  # places in the lists of Q 2, 10 and 100


def impedance(circuit, frequency, **values):
    """Impedance of a circuit by element names."""
    table = CIRCUITS[circuit]
    ordered = np.array([values[name] for name in table.elements])
    return table.impedance(np.atleast_1d(frequency), ordered)


def tank(q, ratio):
    """Impedance of the tank of quality factor q at ratio times the undamped resonance."""
    return impedance("tank", F0 * np.atleast_1d(ratio), L=L, C=C, R=Z_TANK / q)


def test_the_series_circuit_is_purely_resistive_at_the_undamped_resonance():
    z = impedance("series-rlc", F0, L=L, C=C, R=TRUTH["RES-1"]["R"])[0]
    assert z.real == pytest.approx(10.0, rel=1e-14)
    assert abs(z.imag) < 1e-9 * Z_TANK


@pytest.mark.parametrize("edge", ["lower", "upper"])
def test_at_a_half_power_edge_reactance_equals_resistance(edge):
    z = impedance("series-rlc", TRUTH["RES-2"][edge], L=L, C=C, R=10.0)[0]
    assert abs(z.imag) == pytest.approx(z.real, rel=1e-9)


def test_the_edges_lie_one_bandwidth_apart_around_their_geometric_mean():
    lower, upper = TRUTH["RES-2"]["lower"], TRUTH["RES-2"]["upper"]
    assert upper - lower == pytest.approx(TRUTH["RES-1"]["BW"], rel=1e-12)
    assert math.sqrt(lower * upper) == pytest.approx(F0, rel=1e-14)
    offset = TRUTH["RES-2"]["arithmetic_mean_minus_f0"]
    assert (lower + upper) / 2 - F0 == pytest.approx(offset, rel=1e-9)


@pytest.mark.parametrize("place", QS)
def test_a_tank_has_zero_phase_below_its_undamped_resonance(place):
    q, ratio = TRUTH["RES-7"]["Q"][place], TRUTH["RES-7"]["ratio"][place]
    z = tank(q, ratio)[0]
    assert abs(z.imag) < 1e-11 * abs(z) * q
    assert z.real == pytest.approx(q * Z_TANK, rel=1e-12)  # L/(RC) = Q^2 R


@pytest.mark.parametrize("place", QS)
def test_the_greatest_magnitude_of_a_tank_lies_elsewhere(place):
    q, ratio = TRUTH["RES-8"]["Q"][place], TRUTH["RES-8"]["ratio"][place]
    step = 1e-3 / q
    left, peak, right = np.abs(tank(q, ratio + step * np.array([-1.0, 0.0, 1.0])))
    offset = (left - right) / (left - 2 * peak + right) / 2  # of a parabola through the three
    assert abs(offset) < 2e-3
    assert peak / (q * Z_TANK) == pytest.approx(TRUTH["RES-9"]["ratio"][place], rel=1e-12)


@pytest.mark.parametrize("place", [0, 1])
def test_below_self_resonance_a_coil_appears_larger_and_its_q_lower(place):
    x = TRUTH["RES-12"]["x"][place]
    z = impedance("coil", F0 * x, L=L, C=C, Rdc=1e-6, Rac=0.0)[0]
    alone = 2 * np.pi * F0 * x * L
    assert z.imag / alone == pytest.approx(TRUTH["RES-12"]["L_factor"][place], rel=1e-9)
    factor = z.imag / z.real / (alone / 1e-6)
    assert factor == pytest.approx(TRUTH["RES-12"]["Q_factor"][place], rel=1e-9)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_the_capacitor_that_tunes_a_coil_cancels_its_reactance(place):
    case = {name: TRUTH["RES-10"][name][place] for name in ("f0", "L", "C")}
    z = impedance("series-rlc", case["f0"], L=case["L"], C=case["C"], R=1.0)[0]
    assert abs(z.imag) < 1e-12 * 2 * np.pi * case["f0"] * case["L"]


def test_one_percent_more_inductance_lowers_the_resonance_by_less_than_half_a_percent():
    shifted = F0 * (1 + TRUTH["RES-11"]["shift"])
    z = impedance("series-rlc", shifted, L=1.01 * L, C=C, R=1.0)[0]
    assert abs(z.imag) < 1e-11 * Z_TANK


def test_the_capacitor_of_a_driven_series_tank_carries_q_times_the_drive():
    case = TRUTH["RES-13"]
    current = case["drive"] / impedance("series-rlc", F0, L=L, C=C, R=Z_TANK / case["Q"])[0]
    assert abs(current) / (2 * np.pi * F0 * C) == pytest.approx(case["voltage"], rel=1e-12)
