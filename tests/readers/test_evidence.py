"""What the numbers show of themselves, and what they leave open."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.readers.axis import Run
from benchapp.readers.evidence import (
    check_impedance,
    check_scattering,
    is_level,
    phase_factor,
    slope_of_phase,
)
from benchapp.readers.notes import Notes
from benchapp.readers.reading import Answers

DEGREE = math.pi / 180
F = np.geomspace(1e4, 1e6, 81)
W = 2 * np.pi * F
COIL = 5 + 1j * W * 1e-3
CAPACITOR = 0.5 + 1 / (1j * W * 1e-9)
TANK = 1 / (1 / (20 + 1j * W * 1.62e-3) + 1j * W * 868e-12)


def run(impedance) -> Run:
    return Run(axis=F, values=impedance[:, None], lines=np.arange(2, F.size + 2))


def notes(**answers) -> Notes:
    return Notes(answers=Answers(**answers))


@pytest.mark.parametrize("part", [COIL, CAPACITOR, TANK])
def test_the_slope_of_the_magnitude_tells_radian_from_degrees(part):
    radian = slope_of_phase(F, abs(part), np.angle(part))
    assert 0.2 < radian < 2
    degrees = slope_of_phase(F, abs(part), np.angle(part, deg=True))
    assert degrees == pytest.approx(radian / DEGREE)


def test_an_inverted_sign_shows_in_the_slope():
    assert slope_of_phase(F, abs(COIL), -np.angle(COIL)) < -0.5


def test_the_order_of_the_rows_does_not_matter():
    order = np.random.default_rng(2).permutation(F.size)
    found = slope_of_phase(F[order], abs(COIL)[order], np.angle(COIL)[order])
    assert found == pytest.approx(slope_of_phase(F, abs(COIL), np.angle(COIL)))


@pytest.mark.parametrize("points", [3, 81])
def test_a_flat_magnitude_or_few_points_tell_nothing(points):
    flat = np.full(points, 50.0)
    assert slope_of_phase(F[:points], flat, np.zeros(points)) is None


def test_more_than_a_turn_can_only_be_degrees():
    held = notes()
    assert phase_factor(np.array([-170.0, 80.0]), None, None, held) == DEGREE
    assert held.assumptions[0].confidence >= 0.9


def test_a_quarter_turn_at_most_is_radian():
    held = notes()
    assert phase_factor(np.angle(TANK), None, None, held) == 1.0
    assert held.assumptions[0].value == "rad"


def test_a_small_phase_without_evidence_is_asked_for():
    held = notes()
    assert phase_factor(np.array([0.1, 0.2, 0.3]), None, None, held) == DEGREE
    assert [(asked.name, asked.proposed) for asked in held.questions] == [("phase_unit", "deg")]


def test_a_stated_unit_is_kept_but_doubted_where_the_numbers_contradict():
    held = notes()
    slope = slope_of_phase(F, abs(TANK), np.angle(TANK))
    assert phase_factor(np.angle(TANK), DEGREE, slope, held) == DEGREE
    assert "looks like rad" in held.questions[0].text
    quiet = notes()
    assert phase_factor(np.angle(TANK), 1.0, slope, quiet) == 1.0
    assert quiet.questions == []


def test_a_wrapped_phase_in_radian_is_not_doubted():
    held = notes()
    assert phase_factor(np.array([-3.1, 3.1]), 1.0, None, held) == 1.0
    assert held.questions == []


@pytest.mark.parametrize(("unit", "factor"), [("deg", DEGREE), ("rad", 1.0)])
def test_the_answer_settles_the_phase_unit(unit, factor):
    held = notes(phase_unit=unit)
    assert phase_factor(np.array([0.1]), 1.0, None, held) == factor
    assert (held.questions, held.assumptions) == ([], [])


@pytest.mark.parametrize(
    ("raw", "stated", "expected", "asked"),
    [
        ([-3.0, -40.0], None, True, False),
        ([0.9, 0.1], None, False, True),
        ([-3.0, -40.0], True, True, False),
        ([0.9, 0.1], False, False, False),
        ([-3.0, -40.0], False, True, True),
        ([0.9, 0.5, 0.1, 0.2, 0.3], True, True, True),
    ],
)
def test_decibel_and_linear_are_told_apart_or_asked_for(raw, stated, expected, asked):
    held = notes()
    assert is_level(np.array(raw), stated, held) is expected
    assert bool(held.questions) is asked


@pytest.mark.parametrize(("unit", "expected"), [("dB", True), ("linear", False)])
def test_the_answer_settles_the_level_unit(unit, expected):
    assert is_level(np.array([-3.0]), not expected, notes(level_unit=unit)) is expected


@pytest.mark.parametrize("part", [COIL, CAPACITOR, TANK])
def test_a_passive_part_raises_no_doubt(part):
    held = notes()
    assert check_impedance(run(part), held).tolist() == part.tolist()
    assert (held.assumptions, held.questions) == ([], [])


@pytest.mark.parametrize("part", [COIL, CAPACITOR])
def test_an_inverted_sign_is_asked_for_with_the_evidence(part):
    held = notes()
    check_impedance(run(part.conj()), held)
    (asked,) = held.questions
    assert (asked.name, asked.proposed) == ("sign", "as written")
    assert "falls with frequency at 80 of 80 points" in asked.text


def test_a_lossy_resistor_with_stray_capacitance_is_no_inverted_sign():
    part = 1 / (1 / 1000 + 1j * W * 20e-12)
    held = notes()
    check_impedance(run(part), held)
    assert held.questions == []


def test_the_answered_sign_turns_the_reactance():
    assert check_impedance(run(COIL.conj()), notes(sign="inverted")).tolist() == COIL.tolist()
    held = notes(sign="as written")
    check_impedance(run(COIL.conj()), held)
    assert held.questions == []


def test_negative_resistance_is_said():
    held = notes()
    check_impedance(run(COIL - 200), held)
    assert held.assumptions[0].subject == "passive part"
    assert held.assumptions[0].confidence < 0.5


def test_a_ratio_above_one_is_said():
    held = notes()
    check_scattering("S11", np.array([0.5, 1.2 + 0j, np.nan]), held)
    assert held.assumptions[0].value == "up to 1.2"
    quiet = notes()
    check_scattering("S11", np.array([0.999 + 0j]), quiet)
    assert quiet.assumptions == []
