"""The size of the noise is found from the residuals where nobody said how it scales."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.fit.noise import shapes
from benchapp.fit.spread import follows_level, law_of, one_port_law
from tests.fit.simulated import GRID, circular, exact

Z = exact("tank")
LAWS = {
    "relative": [9e-6, 0.0, 0.0],
    "absolute": [0.0, 25.0, 0.0],
    "one-port": [0.0, 0.0, 1e-6],
    "relative and absolute": [9e-6, 4.0, 0.0],
}


def deviation(parts, seed):
    """Errors in ohm that follow a law."""
    return np.sqrt(np.array(parts) @ shapes(Z)) * np.abs(Z) * circular(GRID.size, seed)


@pytest.mark.parametrize("name", LAWS)
def test_the_law_found_is_near_the_one_drawn_from(name):
    true = np.sqrt(np.array(LAWS[name]) @ shapes(Z)) * np.abs(Z)
    ratios = [law_of(deviation(LAWS[name], seed), Z).spread / true for seed in range(40)]
    typical = np.median(ratios, axis=0)
    assert np.median(typical) == pytest.approx(1.0, abs=0.03)
    np.testing.assert_allclose(typical, 1.0, atol=0.15)


def test_no_part_of_a_law_is_negative():
    for seed in range(30):
        assert np.all(law_of(deviation([9e-6, 0, 0], seed), Z).parts >= 0)


def test_perfect_data_give_a_law_that_can_be_divided_by():
    law = law_of(np.zeros(GRID.size, dtype=complex), Z)
    assert np.all(law.spread > 0)
    assert np.all(np.isfinite(law.spread))


def test_only_uneven_noise_follows_the_level():
    even = [follows_level(deviation(LAWS["relative"], seed) / Z, Z) for seed in range(200)]
    uneven = [follows_level(deviation(LAWS["absolute"], seed) / Z, Z) for seed in range(200)]
    assert np.mean(even) < 0.02
    assert np.all(uneven)


def test_three_points_or_perfect_data_say_nothing_about_the_level():
    assert not follows_level(circular(3), Z[:3])
    assert not follows_level(np.zeros(GRID.size, dtype=complex), Z)


def test_a_first_law_holds_the_whole_of_the_deviations():
    away = deviation([0, 0, 1e-8], 3)
    law = one_port_law(away, Z)
    assert law.parts[:2].tolist() == [0.0, 0.0]
    level = np.mean((np.abs(away) / np.abs(Z)) ** 2)
    assert np.mean((law.spread / np.abs(Z)) ** 2) == pytest.approx(level)


def test_noise_of_a_few_points_at_a_sharp_resonance_is_noticed():
    residual = 1e-5 * circular(Z.size, 4)
    top = int(np.argmax(np.abs(Z)))
    residual[top - 1 : top + 2] *= 1000.0
    assert follows_level(residual, Z)
    assert not follows_level(1e-5 * circular(Z.size, 4), Z)
