"""Faulty parts follow from their build: against the circuit room, the coil room and each other."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench.faulty import (
    BUILD,
    FAULTS,
    draw_build,
    inductances,
    measured,
    sound,
    vary,
)
from benchapp.circuit import CIRCUITS
from benchapp.coil.section import Section, mean_mutual

F = np.geomspace(2e3, 600e3, 51)


def _rng(seed=1):
    return np.random.default_rng(seed)


def test_a_sound_part_is_the_coil_circuit():
    part = sound(BUILD)
    expected = CIRCUITS["coil"].impedance(F, (part.L, part.C, part.Rdc, part.Rac))
    assert part.impedance(F) == pytest.approx(expected, rel=1e-12)


def test_the_inductance_of_all_turns_is_that_of_the_winding_section():
    # A flat bundle seen as a uniform section, without the insulation between its round wires.
    build = replace(BUILD, turns=48, layers=4)
    across = build.layers * build.pitch
    length = math.ceil(build.turns / build.layers) * build.pitch
    middle = build.radius + (build.layers - 1) / 2 * build.pitch
    section = Section(inner=middle - across / 2, outer=middle + across / 2, length=length)
    whole = build.turns**2 * mean_mutual(section, section)
    assert float(inductances(build, build.turns).sum()) == pytest.approx(whole, rel=0.01)


def test_the_matrix_of_turns_is_symmetric_and_positive():
    matrix = inductances(BUILD, BUILD.turns)
    assert matrix == pytest.approx(matrix.T)
    assert np.linalg.eigvalsh(matrix).min() > 0


def test_a_shorted_turn_hardly_shows_at_low_and_fully_at_high_frequency():
    part = FAULTS["shorted-turn"](BUILD, _rng())
    alone = replace(part, mutual_henry=0.0)
    corner = part.ring_ohm / part.ring_henry / (2 * math.pi)
    low, high = 1e-3 * corner, 1e3 * corner
    change = [
        complex((part.impedance(f) - alone.impedance(f)) / (2j * np.pi * f * alone.L))
        for f in (low, high)
    ]
    k2 = part.mutual_henry**2 / part.ring_henry / part.L
    bare = [replace(each, C=1e-30) for each in (part, alone)]
    drop = [
        (bare[1].impedance(f) - bare[0].impedance(f)).imag / (2 * np.pi * f * part.L)
        for f in (low, high)
    ]
    assert abs(change[0]) < 0.01
    assert float(drop[0]) == pytest.approx(0.0, abs=1e-3)
    assert float(drop[1]) == pytest.approx(k2, rel=1e-3)


def test_one_turn_more_or_less_moves_l_about_twice_as_far_as_r():
    good = sound(BUILD)
    signs = set()
    for seed in range(8):
        part = FAULTS["turn-count"](BUILD, _rng(seed))
        length, henry = part.Rdc / good.Rdc - 1, part.L / good.L - 1
        assert abs(length) == pytest.approx(1 / BUILD.turns)
        assert 1.3 < henry / length < 2.2
        signs.add(math.copysign(1, length))
    assert signs == {-1.0, 1.0}


def test_broken_strands_raise_both_resistances_and_leave_l():
    good = sound(BUILD)
    part = FAULTS["broken-strand"](BUILD, _rng())
    assert (part.L, part.C) == (good.L, good.C)
    assert part.Rdc / good.Rdc > part.Rac / good.Rac > 1


def test_lost_ferrite_takes_inductance_and_loss_but_no_copper():
    build = replace(BUILD, plate=1.6, core_share=0.3)
    good = sound(build)
    for seed in range(10):
        part = FAULTS["ferrite"](build, _rng(seed))
        assert 1 / 1.6 - 1e-9 <= part.L / good.L < 1
        assert part.Rac < good.Rac
        assert part.Rdc == good.Rdc


def test_a_wrong_capacitor_changes_nothing_else_but_its_loss():
    good = sound(BUILD)
    losses = set()
    for seed in range(12):
        part = FAULTS["wrong-capacitor"](BUILD, _rng(seed))
        assert (part.L, part.Rdc, part.Rac) == (good.L, good.Rdc, good.Rac)
        assert abs(part.C / good.C - 1) > 0.1
        losses.add(part.loss > 0)
    assert losses == {True, False}


def test_a_cold_joint_is_a_resistance_in_series():
    good, part = sound(BUILD), FAULTS["cold-joint"](BUILD, _rng())
    assert part.Rdc > good.Rdc
    assert replace(part, Rdc=good.Rdc) == good


def test_a_drawn_build_resonates_at_the_carrier():
    for seed in range(5):
        build = draw_build(_rng(seed), ferrite=seed % 2 == 0)
        part = sound(build)
        assert 1 / (2 * math.pi * math.sqrt(part.L * part.C)) == pytest.approx(134.2e3)
        assert (build.plate > 1) == (seed % 2 == 0)


def test_parts_of_one_make_scatter_as_stated_and_repeat_from_a_seed():
    good, rng = sound(BUILD), _rng(4)
    ratio = np.array([vary(good, rng).L for _ in range(2000)]) / good.L
    assert ratio.std() == pytest.approx(0.008, rel=0.05)
    assert vary(good, _rng(9)) == vary(good, _rng(9))
    z = measured(good, F, _rng(2), noise=1e-2)
    assert np.array_equal(z, measured(good, F, _rng(2), noise=1e-2))
    rms = np.sqrt(np.mean(np.abs(z / good.impedance(F) - 1) ** 2))
    assert rms == pytest.approx(1e-2, rel=0.25)
