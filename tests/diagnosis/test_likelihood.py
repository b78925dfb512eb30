"""Marginal likelihoods against numbers worked out independently."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from benchapp.diagnosis.likelihood import judge_family, within_reach


def test_the_likelihood_of_a_family_is_the_mean_over_its_members():
    rng = np.random.default_rng(1)
    root = rng.standard_normal((3, 3))
    spread = root @ root.T + np.eye(3)
    seen, expected = rng.standard_normal(3), rng.standard_normal((7, 3))
    each = [stats.multivariate_normal(row, spread).pdf(seen) for row in expected]
    judged = judge_family(seen, expected, spread)
    assert judged.log_likelihood == pytest.approx(math.log(np.mean(each)))
    assert judged.best == int(np.argmax(each))
    off = seen - expected[judged.best]
    assert judged.chi_square == pytest.approx(off @ np.linalg.solve(spread, off))


def test_members_may_have_their_own_covariance():
    spreads = np.array([np.eye(2), 4 * np.eye(2)])
    judged = judge_family(np.zeros(2), np.zeros((2, 2)), spreads)
    each = [1 / (2 * math.pi), 1 / (8 * math.pi)]
    assert judged.log_likelihood == pytest.approx(math.log(sum(each) / 2))


def test_a_hopeless_family_has_a_finite_likelihood():
    judged = judge_family(np.array([1e3]), np.zeros((2, 1)), np.eye(1))
    assert np.isfinite(judged.log_likelihood)


@pytest.mark.parametrize("size", range(1, 7))
def test_reach_is_the_thousandth_of_chi_square(size):
    edge = stats.chi2.isf(1e-3, size)
    assert within_reach(edge * 0.999, size)
    assert not within_reach(edge * 1.001, size)


def _problem(seed):
    rng = np.random.default_rng(seed)
    root = rng.standard_normal((3, 3))
    return rng.standard_normal(3), rng.standard_normal((9, 3)), root @ root.T + np.eye(3)


@pytest.mark.parametrize("seed", range(4))
def test_the_order_and_the_repetition_of_members_do_not_matter(seed):
    seen, expected, spread = _problem(seed)
    order = np.random.default_rng(seed).permutation(9)
    plain = judge_family(seen, expected, spread)
    mixed = judge_family(seen, expected[order], spread)
    assert mixed.log_likelihood == pytest.approx(plain.log_likelihood)
    assert order[mixed.best] == plain.best
    twice = judge_family(seen, np.concatenate((expected, expected)), spread)
    assert twice.log_likelihood == pytest.approx(plain.log_likelihood)
    assert twice.chi_square == pytest.approx(plain.chi_square)


@pytest.mark.parametrize("seed", range(4))
def test_a_change_of_units_changes_no_misfit_and_no_odds(seed):
    seen, expected, spread = _problem(seed)
    change = np.random.default_rng(seed + 10).standard_normal((3, 3)) + 3 * np.eye(3)
    plain = judge_family(seen, expected, spread)
    moved = judge_family(change @ seen, expected @ change.T, change @ spread @ change.T)
    assert moved.chi_square == pytest.approx(plain.chi_square)
    assert moved.best == plain.best
    volume = math.log(abs(np.linalg.det(change)))
    assert moved.log_likelihood + volume == pytest.approx(plain.log_likelihood)


def test_members_that_explain_nothing_cost_a_family_their_number():
    # Occam: nine hopeless sizes beside one that fits leave a tenth of its likelihood.
    one = judge_family(np.zeros(2), np.zeros((1, 2)), np.eye(2))
    many = judge_family(np.zeros(2), np.vstack((np.zeros(2), np.full((9, 2), 1e3))), np.eye(2))
    assert one.log_likelihood - many.log_likelihood == pytest.approx(math.log(10))
    assert (many.best, many.chi_square) == (0, 0.0)


def test_a_family_with_wide_scatter_is_likelier_only_where_the_narrow_one_misses():
    near, far = np.array([0.5]), np.array([5.0])
    for seen, better in ((near, 1.0), (far, 25.0)):
        likelihood = {
            spread: judge_family(seen, np.zeros((1, 1)), spread * np.eye(1)).log_likelihood
            for spread in (1.0, 25.0)
        }
        assert max(likelihood, key=likelihood.get) == better


def test_more_values_than_the_table_holds_are_judged_by_its_last_row():
    assert within_reach(22.4, 9)
    assert not within_reach(22.5, 9)
