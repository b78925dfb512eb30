"""Circuits of faulty parts, fitted to whole sweeps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench.faulty import BUILD, FAULTS, sound
from benchapp.diagnosis.expectation import expectation
from benchapp.diagnosis.sweep import MODELS, impedance, try_models
from tests.diagnosis.scene import F0, WIDE, design, swept, tuned

BUILT = tuned(BUILD)
EXPECTED = expectation(design(BUILT))


def test_the_plain_circuit_is_the_part_of_the_design():
    z = impedance("plain", np.zeros(4), WIDE, EXPECTED)
    assert z == pytest.approx(sound(BUILT).impedance(WIDE), rel=1e-5)


def test_a_turn_without_coupling_and_a_capacitor_without_loss_change_nothing():
    plain = impedance("plain", np.zeros(4), WIDE, EXPECTED)
    for name, more in (("shorted-turn", (-60.0, 0.0)), ("wrong-capacitor", (-60.0,))):
        assert impedance(
            name, np.array([0.0, 0.0, 0.0, 0.0, *more]), WIDE, EXPECTED
        ) == pytest.approx(plain, rel=1e-12)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_coupling_and_resistance_of_a_shorted_turn_are_found(seed):
    part = FAULTS["shorted-turn"](BUILT, np.random.default_rng(seed))
    best = try_models(EXPECTED, swept(part))[0]
    k2 = part.mutual_henry**2 / part.ring_henry / part.L
    xi = 2 * math.pi * F0 * part.ring_henry / part.ring_ohm
    assert (best.id, best.describes) == ("shorted-turn", True)
    assert best.noise == pytest.approx(1e-3, rel=0.15)
    assert math.exp(best.values[4]) == pytest.approx(k2, rel=0.05)
    assert math.exp(best.values[5]) == pytest.approx(xi, rel=0.05)


def test_the_loss_of_a_capacitor_is_found():
    part = replace(sound(BUILT), C=1.2 * BUILT.farad, loss=8e-3)
    best = try_models(EXPECTED, swept(part))[0]
    assert (best.id, best.describes) == ("wrong-capacitor", True)
    assert math.exp(best.values[1]) == pytest.approx(1.2, rel=5e-3)
    assert math.exp(best.values[4]) == pytest.approx(8e-3, rel=0.03)


def test_what_none_of_them_is_described_by_none():
    part = sound(BUILT)
    second = 1 / (
        1 / part.impedance(WIDE)
        + 1 / (200 + 2j * np.pi * WIDE * 5e-3 + 1 / (2j * np.pi * WIDE * 1e-10))
    )
    capture = replace(swept(part), impedance=second)
    assert not any(each.describes for each in try_models(EXPECTED, capture))


def test_without_a_capacitance_or_a_loss_nothing_is_tried():
    capture = swept(sound(BUILT))
    assert try_models(replace(EXPECTED, C=None), capture) == ()
    assert try_models(replace(EXPECTED, loss=None), capture) == ()


def test_every_model_has_starts_for_its_values():
    for model in MODELS.values():
        assert all(len(start) == model.size - 4 for start in model.starts)


NAMES = {"plain": (), "shorted-turn": (-2.0, 0.5), "wrong-capacitor": (-5.0,)}


@pytest.mark.parametrize("name", sorted(NAMES))
@pytest.mark.parametrize("factor", [1e-3, 30.0])
def test_the_level_of_a_design_is_the_level_of_its_faulty_parts(name, factor):
    p = np.array([0.1, -0.2, 0.3, -0.1, *NAMES[name]])
    scaled = replace(
        EXPECTED,
        L=factor * EXPECTED.L,
        C=EXPECTED.C / factor,
        loss=factor * EXPECTED.loss,
        dc=factor * EXPECTED.dc,
    )
    z = impedance(name, p, WIDE, scaled)
    assert z == pytest.approx(factor * impedance(name, p, WIDE, EXPECTED), rel=1e-12)


@pytest.mark.parametrize("name", sorted(NAMES))
def test_a_faulty_part_gives_no_power(name):
    rng = np.random.default_rng(5)
    for _ in range(20):
        p = np.array([*rng.normal(0, 0.5, 4), *NAMES[name]])
        assert np.all(impedance(name, p, WIDE, EXPECTED).real > 0)


def test_a_turn_of_low_resistance_takes_the_coupled_share_of_the_inductance():
    # Far above its corner a closed turn leaves L (1 - k^2), and no loss of its own.
    high = np.geomspace(1e4, 1e5, 21)
    k2 = 0.3
    turned = impedance("shorted-turn", np.array([0, 0, 0, 0, math.log(k2), 9.0]), high, EXPECTED)
    less = impedance("plain", np.array([math.log(1 - k2), 0, 0, 0]), high, EXPECTED)
    assert turned == pytest.approx(less, rel=2e-3)


def test_a_turn_of_high_resistance_is_not_seen():
    turned = impedance("shorted-turn", np.array([0, 0, 0, 0, -1.0, -30.0]), WIDE, EXPECTED)
    assert turned == pytest.approx(impedance("plain", np.zeros(4), WIDE, EXPECTED), rel=1e-9)


def test_the_sharper_of_two_descriptions_comes_first():
    for seed, fault in enumerate(("shorted-turn", "wrong-capacitor", "cold-joint")):
        part = FAULTS[fault](BUILT, np.random.default_rng(seed))
        scores = [each.score for each in try_models(EXPECTED, swept(part, seed))]
        assert scores == sorted(scores)
        assert len(scores) >= 2


def test_a_sound_part_needs_no_fault_to_be_described():
    found = {each.id: each for each in try_models(EXPECTED, swept(sound(BUILT)))}
    plain = found["plain"]
    assert plain.describes
    assert plain.noise == pytest.approx(1e-3, rel=0.15)
    assert plain.values[:2] == pytest.approx([0.0, 0.0], abs=2e-3)
    assert min(each.score for each in found.values()) > plain.score - 10


def test_a_sweep_of_nothing_but_noise_is_described_by_no_circuit():
    rng = np.random.default_rng(4)
    z = np.exp(rng.normal(5, 2, WIDE.size)) * np.exp(2j * np.pi * rng.random(WIDE.size))
    tried = try_models(EXPECTED, replace(swept(sound(BUILT)), impedance=z))
    assert [each for each in tried if each.noise < 0.5] == []
    assert tried


def test_a_turn_without_resistance_is_no_shorted_turn():
    # It only takes inductance away, as a cracked core or a missing turn does.
    part = replace(sound(BUILT), L=0.7 * sound(BUILT).L)
    found = {each.id: each for each in try_models(EXPECTED, swept(part))}
    assert found["plain"].describes
    turn = found["shorted-turn"]
    assert turn.values[5] > math.log(100)
    assert not turn.describes
