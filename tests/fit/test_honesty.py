"""Structure in residuals is seen; noise is not taken for structure."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.fit.honesty import LIMIT, determined, whiteness
from tests.fit.simulated import circular


def test_noise_almost_never_raises_an_alarm():
    alarms = [not whiteness(circular(201, seed)).describes for seed in range(1000)]
    assert np.mean(alarms) <= 0.005


@pytest.mark.parametrize("size", [51, 401])
def test_scores_of_noise_are_normal(size):
    scores = [whiteness(circular(size, seed)) for seed in range(1500)]
    for name in ("runs", "lag_one"):
        values = np.array([getattr(score, name) for score in scores])
        assert abs(values.mean()) < 0.15
        assert values.std() == pytest.approx(1.0, abs=0.08)


def test_a_slow_wave_raises_an_alarm():
    found = whiteness(circular(201) + 1.5 * np.sin(np.linspace(0, 10, 201)))
    assert not found.describes
    assert "follow one another" in found.reasons


def test_more_noise_than_the_instruments_raises_an_alarm():
    found = whiteness(circular(201), excess=1.4)
    assert not found.describes
    assert "1.4 times the instrument's noise" in found.reasons
    assert whiteness(circular(201), excess=1.1).describes


def test_few_points_are_not_judged():
    assert whiteness(np.ones(3, dtype=complex)).describes


def test_residuals_of_one_sign_are_structure():
    assert not whiteness(np.full(20, 1 + 1j)).describes


def test_a_value_is_determined_up_to_a_relative_uncertainty_of_thirty_percent():
    assert LIMIT == 0.3
    values = np.array([1.0, 1.0, -1.0, 0.0, np.nan, np.inf])
    u = np.array([0.29, 0.31, 0.01, 0.01, 0.01, 0.01])
    assert determined(values, u).tolist() == [True, False, False, False, False, False]


def test_neighbours_off_in_one_direction_are_structure():
    rng = np.random.default_rng(5)
    residual = rng.normal(size=201) + 1j * rng.normal(size=201)
    assert not whiteness(residual).structured
    residual[90:97] = 6 * np.exp(1j * np.linspace(0, 3, 7))
    found = whiteness(residual)
    assert found.together == 7
    assert found.structured


def test_noise_that_grows_at_one_place_is_no_cluster():
    rng = np.random.default_rng(6)
    alarms = 0
    for _ in range(300):
        residual = rng.normal(size=201) + 1j * rng.normal(size=201)
        residual[90:110] *= 3
        alarms += whiteness(residual).together >= 5
    assert alarms <= 12
