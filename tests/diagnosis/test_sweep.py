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
