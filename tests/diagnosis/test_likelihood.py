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
