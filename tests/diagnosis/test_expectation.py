"""What a design lets expect, and how a fit differs from it."""

from __future__ import annotations

import math
from dataclasses import replace

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


ESR = {"nominal": "17 ohm", "tolerance": "±10 %", "at": "134.2 kHz"}


def test_the_order_of_the_limits_says_nothing():
    plain = _of(L=L, f0=RESONANCE, ESR=ESR, DCR={"nominal": "5 ohm", "tolerance": "±6 %"})
    mixed = _of(DCR={"nominal": "5 ohm", "tolerance": "±6 %"}, ESR=ESR, f0=RESONANCE, L=L)
    assert plain == mixed


def test_a_limit_without_a_nominal_value_lies_about_its_geometric_middle():
    found = _of(L={"lower": "1 mH", "upper": "4 mH"}, f0=RESONANCE)
    assert pytest.approx(2e-3) == found.L
    assert found.L_spread == pytest.approx(math.log(2) / 3)


def test_a_tolerance_tighter_than_any_process_is_widened_to_a_thousandth():
    found = _of(L={"nominal": "1.62 mH", "tolerance": "±0.01 %"}, f0=RESONANCE)
    assert found.L_spread == pytest.approx(1e-3)


def test_l_and_c_stated_need_no_f0_but_a_frequency_to_be_compared_at():
    stated = {"nominal": "868 pF", "tolerance": "±1 %"}
    assert _of(L=L, C=stated) is None
    found = _of(L=L, C=stated, ESR=ESR)
    assert (found.L, found.C, found.frequency) == (1.62e-3, 868e-12, 134.2e3)


@pytest.mark.parametrize(("dc", "share"), [("5 ohm", 5 / 17), ("17 ohm", 1.0), ("30 ohm", 1.0)])
def test_the_share_at_direct_current_never_exceeds_the_whole(dc, share):
    found = _of(L=L, f0=RESONANCE, ESR=ESR, DCR={"nominal": dc, "tolerance": "±6 %"})
    assert found.dc_share == pytest.approx(share)


@pytest.mark.parametrize("factor", [1e-3, 0.2, 50.0])
def test_another_level_of_impedance_is_the_same_difference(factor):
    # L and R times k, C over k, of the design and of the part: nothing is relatively different.
    build = tuned(BUILD)
    expected, part = expectation(design(build)), sound(build)
    scaled = replace(
        expected,
        L=expected.L * factor,
        C=expected.C / factor,
        loss=expected.loss * factor,
        dc=expected.dc * factor,
    )
    other = replace(
        part,
        L=1.05 * part.L * factor,
        C=part.C / factor,
        Rdc=part.Rdc * factor,
        Rac=part.Rac * factor,
    )
    plain = observation(expected, fit(swept(replace(part, L=1.05 * part.L)), "coil"))
    moved = observation(scaled, fit(swept(other), "coil"))
    assert moved.known == plain.known
    assert moved.seen == pytest.approx(plain.seen, rel=1e-4, abs=1e-6)
    assert moved.covariance == pytest.approx(plain.covariance, rel=1e-3, abs=1e-12)
    assert plain.seen[0] == pytest.approx(math.log(1.05), abs=2e-3)


def test_the_uncertainty_of_a_difference_is_that_of_the_fit():
    build = tuned(BUILD)
    found = fit(swept(sound(build)), "coil")
    seen = observation(expectation(design(build)), found)
    for place, name in enumerate("LC"):
        own = found.estimates[name]
        assert math.sqrt(seen.covariance[place, place]) == pytest.approx(own.u / own.value)


def test_a_fit_that_did_not_settle_says_nothing():
    build = tuned(BUILD)
    found = replace(fit(swept(sound(build)), "coil"), converged=False)
    assert observation(expectation(design(build)), found) is None


def test_a_fit_by_another_circuit_tells_l_and_c_but_no_loss():
    build = tuned(BUILD)
    near = np.linspace(130e3, 138e3, 101)
    found = fit(swept(sound(build), frequency=near), "parallel-rlc")
    assert observation(expectation(design(build)), found).known == (0, 1)


def test_a_part_with_more_of_everything_differs_upwards():
    build = tuned(BUILD)
    part = sound(build)
    more = replace(part, L=1.1 * part.L, C=1.2 * part.C, Rdc=2 * part.Rdc, Rac=1.5 * part.Rac)
    expected = expectation(design(build))
    seen = observation(expected, fit(swept(more), "coil"))
    root = math.sqrt(F0)
    wanted = (
        math.log(1.1),
        math.log(1.2),
        part.Rdc / expected.loss,
        0.5 * part.Rac * root / expected.loss,
    )
    assert seen.seen == pytest.approx(wanted, abs=0.02)
