"""Even noise passes the screen; tails, trends and chains do not."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.fit.honesty import whiteness
from benchapp.fit.screen import even, spread_limit, wild_limit
from tests.fit.simulated import circular

SIZE = 201
LEVEL = np.exp(np.linspace(-4, 4, SIZE))


def passes(residual, level=LEVEL, *, any_kind=True):
    """Whether one row of residuals passes."""
    rows = residual[None, :]
    good, power = even(
        rows.real.copy(), rows.imag.copy(), level[None, :].copy(), any_kind=any_kind
    )
    assert power[0] == pytest.approx(np.sum(np.abs(residual) ** 2))
    return bool(good[0])


def test_almost_all_noise_passes():
    passed = [passes(circular(SIZE, seed)) for seed in range(400)]
    assert np.mean(passed) > 0.99


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda r: np.where(np.arange(SIZE) == 50, 8.0, r), "one wild point"),
        (lambda r: r * np.where(np.arange(SIZE) % 3 == 0, 5.0, 1.0), "a third with more noise"),
        (
            lambda r: np.where(np.arange(SIZE) % 5 < 2, 10.0 * (-1) ** np.arange(SIZE), r),
            "two fifths off",
        ),
        (lambda r: r + 1.0 * np.sin(np.linspace(0, 12, SIZE)), "a wave"),
        (lambda r: r * LEVEL**0.25, "noise that grows with the level"),
        (lambda r: r * (LEVEL**0.5 + LEVEL**-0.5), "noise that grows at both ends"),
    ],
)
def test_uneven_residuals_do_not_pass(change, reason):
    assert not passes(change(circular(SIZE))), reason


def test_noise_that_grows_with_the_level_passes_where_its_kind_is_known():
    assert passes(circular(SIZE) * LEVEL**0.05, any_kind=False)


def test_rows_are_judged_alone():
    rows = np.stack([circular(SIZE, seed) for seed in range(5)])
    rows[2, 100] = 20.0
    level = np.tile(LEVEL, (5, 1))
    good, _ = even(rows.real.copy(), rows.imag.copy(), level, any_kind=True)
    assert good.tolist() == [True, True, False, True, True]


def test_runs_are_counted_as_for_one_sweep():
    # residuals that hold their sign for four points have too few runs and nothing else
    slow = np.repeat(circular(SIZE, 3)[: SIZE // 4 + 1], 4)[:SIZE]
    assert whiteness(slow).runs < -4.0
    assert not passes(slow, any_kind=False)


def test_limits_are_exceeded_by_about_one_clean_sweep_in_ten_thousand():
    power = np.abs(circular(4_000_000, 9).reshape(-1, 200)) ** 2
    mean = power.mean(axis=1)
    wild = np.mean(power.max(axis=1) > wild_limit(200) * mean)
    heavy = np.mean(np.sqrt(power).mean(axis=1) < spread_limit(200) * np.sqrt(mean))
    assert wild < 5e-4
    assert heavy < 5e-4
