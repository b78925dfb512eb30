"""Even noise passes the screen; tails, trends and chains do not."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.fit.honesty import whiteness
from benchapp.fit.screen import _scattered, even, spread_limit, wild_limit
from tests.fit.simulated import circular

SIZE = 201
LEVEL = np.exp(np.linspace(-4, 4, SIZE))


def judged(rows, level, *, any_kind):
    """Rows of residuals as the screen sees them."""
    parts = np.stack((rows.real, rows.imag))
    return even(parts, level.copy(), np.empty_like(parts), any_kind=any_kind)


def passes(residual, level=LEVEL, *, any_kind=True):
    """Whether one row of residuals passes."""
    good, power = judged(residual[None, :], level[None, :], any_kind=any_kind)
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
    good, _ = judged(rows, level, any_kind=True)
    assert good.tolist() == [True, True, False, True, True]


def test_too_few_runs_do_not_pass_where_neighbours_hardly_correlate():
    # signs hold for six points while the sizes are drawn anew: small ones carry the signs
    rng = np.random.default_rng(3)
    sizes = np.where(rng.random((2, 400)) < 0.8, 0.35, 1.6) * rng.uniform(0.9, 1.1, (2, 400))
    steady = np.repeat([1.0, -1.0] * 34, 6)[:400]
    any_sign = np.where(rng.random((2, 400)) < 0.5, -1.0, 1.0)
    signed = sizes * np.where(sizes < 1.0, steady, any_sign)
    residual = signed[0] + 1j * signed[1]
    assert whiteness(residual).lag_one < 4.0
    assert whiteness(residual).runs < -4.0
    assert not apart(signed)
    assert apart(circular(400)[None, :].view(np.float64).reshape(2, 400))


def apart(parts):
    """Whether neighbours in one row of residuals are told to be unlike."""
    narrow = parts.astype(np.float32)[:, None, :]
    return _scattered(narrow, np.empty_like(narrow), np.atleast_1d((parts**2).sum(axis=0).mean()))[
        0
    ]


def test_neighbours_that_lie_off_together_do_not_pass():
    residual = circular(SIZE, 3)
    residual[60:65] = 2.6 * np.exp(1j * np.linspace(0.0, 0.4, 5))
    assert whiteness(residual).together == 5
    assert not passes(residual, any_kind=False)
    assert passes(circular(SIZE, 3), any_kind=False)


@pytest.mark.parametrize("seed", range(40))
def test_what_passes_is_never_structured_by_the_tests_of_one_sweep(seed):
    rng = np.random.default_rng([seed, 6])
    wave = rng.uniform(0, 0.8) * np.exp(1j * rng.uniform(0.01, 0.3) * np.arange(SIZE))
    residual = circular(SIZE, seed) + wave
    white = whiteness(residual)
    if passes(residual, any_kind=False):
        assert white.runs >= -4.0
        assert white.together < 5


def test_limits_are_exceeded_by_about_one_clean_sweep_in_ten_thousand():
    power = np.abs(circular(4_000_000, 9).reshape(-1, 200)) ** 2
    mean = power.mean(axis=1)
    wild = np.mean(power.max(axis=1) > wild_limit(200) * mean)
    heavy = np.mean(np.sqrt(power).mean(axis=1) < spread_limit(200) * np.sqrt(mean))
    assert wild < 5e-4
    assert heavy < 5e-4
