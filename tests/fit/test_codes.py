"""What a code of the converter says about the voltage before it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.fit.clipping import Rails
from benchapp.fit.codes import codes

FREE = Rails(low=None, high=None, stated=True)
ENDS = Rails(low=-1.0, high=1.0, stated=True)
ALL = slice(None)


def seen(voltage, *, ends=FREE, noise=0.0052, step=0.01, kept=None):
    voltage = np.asarray(voltage, dtype=float)
    kept = np.ones(voltage.size, dtype=bool) if kept is None else np.asarray(kept)
    return codes(voltage, ends, noise, step, kept)


def likelihood(lower, upper, expected, noise):
    """Probability of an interval, from the error function of the standard library."""

    def below(end):
        return 0.5 * math.erfc(-(end - expected) / noise / math.sqrt(2))

    return below(upper) - below(lower)


@given(st.floats(-0.02, 0.02))
def test_code_has_the_probability_of_its_interval(expected):
    told = seen([0.0])
    inner = math.sqrt(0.0052**2 - 0.01**2 / 12)
    assert told.noise == pytest.approx(inner)
    answer = told.told(np.array([expected]), ALL)
    share = likelihood(-0.005, 0.005, expected, inner)
    assert answer.deviance[0] == pytest.approx(-2 * math.log(share), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("voltage", [0.03, 1.0, -1.0])
@pytest.mark.parametrize("away", [-0.02, -0.003, 0.0, 0.004, 0.03])
@pytest.mark.parametrize("noise", [0.0052, 0.04])
def test_score_and_weight_are_the_slope_and_curvature_of_the_likelihood(voltage, away, noise):
    told = seen([voltage], ends=ENDS, noise=noise)
    h = 1e-6
    low, here, high = (told.told(np.array([voltage + away + d]), ALL) for d in (-h, 0.0, h))
    slope = -(high.deviance[0] - low.deviance[0]) / (4 * h)
    assert here.score[0] == pytest.approx(slope, rel=1e-5, abs=1e-3)
    curvature = -(high.score[0] - low.score[0]) / (2 * h)
    assert here.weight[0] == pytest.approx(curvature, rel=1e-4, abs=1e-2)


def test_mean_weight_of_rounded_samples_is_that_of_noise_and_rounding():
    rng = np.random.default_rng(1)
    expected = rng.uniform(-1, 1, 40000)
    voltage = 0.01 * np.round((expected + 0.005 * rng.standard_normal(expected.size)) / 0.01)
    noise = math.sqrt(0.005**2 + 0.01**2 / 12)
    weight = seen(voltage, noise=noise).told(expected, ALL).weight
    assert weight.mean() == pytest.approx(1 / noise**2, rel=0.02)


@pytest.mark.parametrize("noise", [0.003, 0.05])
def test_without_dither_or_in_much_noise_a_sample_is_a_number(noise):
    told = seen([0.02], noise=noise)
    assert told.lower[0] == told.upper[0] == 0.02
    answer = told.told(np.array([0.01]), ALL)
    assert answer.score[0] == pytest.approx(0.01 / noise**2)
    assert answer.weight[0] == pytest.approx(1 / noise**2)


def test_clipped_sample_says_nothing_against_a_voltage_far_beyond():
    answer = seen([1.0, -1.0], ends=ENDS).told(np.array([5.0, -5.0]), ALL)
    assert answer.deviance == pytest.approx([0, 0], abs=1e-12)
    assert answer.score == pytest.approx([0, 0], abs=1e-12)


def test_clipped_sample_pulls_an_expectation_out_of_the_range():
    answer = seen([1.0, -1.0], ends=ENDS).told(np.array([0.9, -0.9]), ALL)
    assert answer.score[0] > 0 > answer.score[1]


def test_crazy_expectations_give_finite_answers():
    told = seen([1.0, 0.0, -1.0], ends=ENDS)
    for size in (1e3, 1e12, 1e200):
        for sign in (-1, 1):
            answer = told.told(np.full(3, sign * size), ALL)
            assert np.isfinite(answer.deviance).all()
            assert np.isfinite(answer.score).all()
            assert np.all(answer.weight >= 0)


def test_ends_that_were_only_found_leave_their_samples_out():
    found = Rails(low=None, high=1.0, stated=False)
    told = seen([1.0, 0.2], ends=found, kept=[False, True])
    answer = told.told(np.array([0.5, 0.3]), ALL)
    assert answer.score[0] == answer.weight[0] == answer.deviance[0] == 0
    assert answer.score[1] < 0
    assert told.ended(ALL).tolist() == [True, False]


def test_record_without_a_step_is_one_of_numbers():
    told = seen([0.1], step=None)
    assert told.lower[0] == told.upper[0]
