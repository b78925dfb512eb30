"""What a design lets expect, and how a fit differs from it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.bench.faulty import BUILD, sound
from benchapp.diagnosis.expectation import expectation, observation
from benchapp.fit import fit
from benchapp.nominal import nominal_from
from tests.diagnosis.scene import F0, design, swept, tuned


def _of(circuit="tank", **limits):
    return expectation(nominal_from({"title": "x", "circuit": circuit, "limits": limits}))


L = {"nominal": "1.62 mH", "tolerance": "±3 %"}
RESONANCE = {"nominal": "134.2 kHz", "tolerance": "±1.5 %"}


def test_the_capacitance_follows_from_l_and_f0():
    found = _of(L=L, f0=RESONANCE)
    assert found.L == 1.62e-3
    assert pytest.approx(868.2e-12, rel=1e-3) == found.C
    assert found.L_spread == pytest.approx(0.01, rel=1e-3)
    assert (found.loss, found.q, found.dc) == (None, None, None)
    assert found.frequency == 134.2e3
    assert found.dc_share == 0.5


def test_the_inductance_follows_from_c_and_f0():
    found = _of(C={"nominal": "868 pF", "tolerance": "±1 %"}, f0=RESONANCE)
    assert pytest.approx(1.6204e-3, rel=1e-3) == found.L
    assert found.L_spread == pytest.approx(math.hypot(0.01, 0.01 / 3), rel=1e-3)


@pytest.mark.parametrize(
    ("limits", "ohm"),
    [
        ({"Q": {"nominal": "80", "lower": "60", "upper": "110", "at": "134.2 kHz"}}, 17.075),
        ({"D": {"lower": "0.01", "upper": "0.016", "at": "134.2 kHz"}}, 17.279),
        ({"ESR": {"nominal": "17 ohm", "tolerance": "±10 %", "at": "134.2 kHz"}}, 17.0),
        ({"R": {"nominal": "17 ohm", "tolerance": "±10 %"}}, 17.0),
    ],
)
def test_the_loss_follows_from_any_limit_with_two_sides(limits, ohm):
    found = _of(L=L, f0=RESONANCE, **limits)
    assert found.loss == pytest.approx(ohm, rel=1e-3)
    assert found.q == pytest.approx(2 * math.pi * 134.2e3 * 1.62e-3 / ohm, rel=1e-3)


def test_a_limit_with_one_side_says_nothing_of_good_parts():
    found = _of(L=L, f0=RESONANCE, ESR={"upper": "22 ohm", "at": "134.2 kHz"})
    assert found.loss is None
    assert _of(L={"lower": "1 mH"}, f0=RESONANCE) is None
    assert _of(L=L) is None


def test_a_good_part_differs_by_nothing():
    build = tuned(BUILD)
    seen = observation(expectation(design(build)), fit(swept(sound(build)), "coil"))
    assert seen.known == (0, 1, 2, 3)
    assert np.abs(seen.seen).max() < 0.01
    assert np.all(np.abs(seen.seen) < 5 * np.sqrt(seen.covariance.diagonal()))


def test_without_a_known_dc_resistance_the_loss_is_taken_whole():
    build = tuned(BUILD)
    part = sound(build)
    esr = part.Rdc + part.Rac * math.sqrt(F0)
    limits = {
        "L": {"nominal": f"{part.L:.6g} H", "tolerance": "±3 %"},
        "f0": RESONANCE,
        "ESR": {"nominal": f"{esr:.6g} ohm", "tolerance": "±12 %", "at": "134.2 kHz"},
    }
    seen = observation(expectation(design(build, **limits)), fit(swept(part), "coil"))
    assert seen.known == (0, 1, 3)
    assert seen.seen[2] == pytest.approx(0.0, abs=0.01)


def test_a_fit_without_an_inductance_says_nothing():
    build = tuned(BUILD)
    expected = expectation(design(build))
    capacitor = fit(swept(sound(build), frequency=np.geomspace(2e5, 4e5, 61)), "capacitor")
    assert observation(expected, capacitor) is None or 0 in observation(expected, capacitor).known
