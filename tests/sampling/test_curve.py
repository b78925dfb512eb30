"""Operating characteristics and plans from them, against published values and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from benchapp.errors import UsageError
from benchapp.sampling import (
    accept_binomial,
    accept_hypergeometric,
    accept_poisson,
    attributes_plan_for,
    fraction_at,
    operating_characteristic,
    pick,
    variables_plan_for,
    zero_acceptance,
)

LOT_5 = (
    *(0.9999980, 0.9999695, 0.9998529, 0.9995574, 0.9989715),
    *(0.9979707, 0.9964239, 0.9941987, 0.9911662, 0.9872048),
)


@pytest.mark.parametrize(("percent", "probability"), list(enumerate(LOT_5, 1)))
def test_lot_5_binomial_of_10_and_3(percent, probability):
    """Manual of a public acceptance-sampling package for R, p. 13."""
    assert accept_binomial(10, 3, percent / 100) == pytest.approx(probability, abs=5e-8)


@pytest.mark.parametrize(("fraction", "probability"), [(0.05, 0.35848592), (0.15, 0.03875953)])
def test_lot_6_binomial_of_20_and_0(fraction, probability):
    """Same manual, p. 14."""
    assert accept_binomial(20, 0, fraction) == pytest.approx(probability, abs=5e-9)


def test_lot_7_plans_for_two_points():
    """Same manual, p. 14 and 15: n 80, c 7; by variables with known sigma n 26, k 1.322271."""
    plan = attributes_plan_for((0.05, 0.95), (0.15, 0.075))
    assert (plan.n, plan.accept) == (80, 7)
    assert plan.producer_probability == pytest.approx(0.953408473, abs=5e-10)
    assert plan.consumer_probability == pytest.approx(0.0727174929, abs=5e-11)
    by_variables = variables_plan_for((0.05, 0.95), (0.15, 0.075))
    assert by_variables.n == 26
    assert by_variables.k == pytest.approx(1.322271, abs=5e-7)


@pytest.mark.parametrize(
    ("rate", "probability", "published"), [(0.01, 0.265025915, 0.26), (0.001, 0.998248377, 0.99)]
)
def test_lot_8_poisson_of_500_and_3(rate, probability, published):
    """7 CFR 42.140: 26 percent, and about 99 percent."""
    found = accept_poisson(500, 3, rate)
    assert found == pytest.approx(probability, abs=5e-10)
    assert found == pytest.approx(published, abs=0.01)


def test_lot_9_three_models_of_one_lot():
    """Computed with 50 digits: N 50, n 5, c 1, 10 % nonconforming."""
    assert accept_hypergeometric(50, 5, 1, 5) == pytest.approx(0.928247654288, abs=1e-12)
    assert accept_binomial(5, 1, 0.1) == pytest.approx(0.91854, abs=1e-12)
    assert accept_poisson(5, 1, 0.1) == pytest.approx(0.909795989569, abs=1e-12)


@pytest.mark.parametrize(
    ("n", "accept", "percents"),
    [
        (80, 2, (1.02978, 3.32853, 6.51597)),
        (125, 3, (1.10029, 2.92977, 5.26632)),
        (200, 7, (2.00568, 3.82822, 5.81528)),
        (50, 1, (0.715372, 3.33402, 7.55806)),
        (13, 0, (0.393786, 5.19225, 16.2322)),
    ],
)
def test_lot_10_fraction_at_a_probability(n, accept, percents):
    """Computed independently."""
    for probability, percent in zip((0.95, 0.5, 0.1), percents, strict=True):
        assert 100 * fraction_at(n, accept, probability) == pytest.approx(percent, rel=5e-6)


@pytest.mark.parametrize(
    ("n", "accept", "probability"),
    [(50, 1, 0.911), (80, 2, 0.953), (125, 3, 0.963), (13, 0, 0.878)],
)
def test_probability_at_one_percent_as_practice_has_it(n, accept, probability):
    assert accept_binomial(n, accept, 0.01) == pytest.approx(probability, abs=5e-4)


@settings(deadline=None)
@given(st.integers(1, 2000), st.integers(0, 44), st.floats(0, 1))
def test_binomial_and_poisson_are_those_of_scipy(n, accept, fraction):
    assert accept_binomial(n, accept, fraction) == pytest.approx(
        stats.binom.cdf(accept, n, fraction), rel=1e-9, abs=1e-12
    )
    assert accept_poisson(n, accept, fraction) == pytest.approx(
        stats.poisson.cdf(accept, n * fraction), rel=1e-9, abs=1e-12
    )


@settings(deadline=None)
@given(st.integers(1, 20_000), st.data())
def test_hypergeometric_is_that_of_scipy(lot_size, data):
    n = data.draw(st.integers(1, lot_size))
    bad = data.draw(st.integers(0, lot_size))
    accept = data.draw(st.integers(0, 30))
    assert accept_hypergeometric(lot_size, n, accept, bad) == pytest.approx(
        stats.hypergeom.cdf(accept, lot_size, bad, n), rel=1e-7, abs=1e-10
    )


def test_the_curve_falls_and_begins_at_one():
    fraction = np.linspace(0, 1, 101)
    for curve in (
        operating_characteristic(50, 1, fraction),
        operating_characteristic(50, 1, fraction, lot_size=400),
    ):
        assert curve[0] == 1
        assert curve[-1] == 0
        assert np.all(np.diff(curve) <= 1e-12)


def test_the_exact_curve_of_a_lot_nears_the_binomial_for_large_lots():
    fraction = np.array([0.01, 0.05])
    np.testing.assert_allclose(
        operating_characteristic(50, 1, fraction, lot_size=1_000_000),
        operating_characteristic(50, 1, fraction),
        rtol=1e-3,
    )


@settings(deadline=None)
@given(st.integers(1, 3000), st.floats(0.001, 1), st.sampled_from([0.05, 0.1]))
def test_zero_acceptance_is_the_least_sample_that_keeps_bad_lots_out(lot_size, fraction, risk):
    n = zero_acceptance(lot_size, fraction, risk)
    bad = max(1, int(np.ceil(round(fraction * lot_size, 9))))
    assert stats.hypergeom.cdf(0, lot_size, bad, n) <= risk * (1 + 1e-9)
    if n > 1:
        assert stats.hypergeom.cdf(0, lot_size, bad, n - 1) > risk * (1 - 1e-9)


def test_zero_acceptance_of_one_bad_part_needs_nearly_the_whole_lot():
    assert zero_acceptance(100, 0.001, 0.05) == 95


def test_positions_to_pick_are_distinct_and_within_the_lot():
    drawn = pick(500, 50, np.random.default_rng(3))
    assert len(set(drawn)) == 50
    assert list(drawn) == sorted(drawn)
    assert drawn[0] >= 1
    assert drawn[-1] <= 500
    assert drawn == pick(500, 50, np.random.default_rng(3))


def test_every_position_is_equally_likely():
    generator = np.random.default_rng(4)
    counts = np.zeros(20)
    for _ in range(4000):
        counts[np.array(pick(20, 5, generator)) - 1] += 1
    assert stats.chisquare(counts).pvalue > 1e-4


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: accept_binomial(0, 0, 0.1), "plan: must have a sample of one or more"),
        (lambda: accept_poisson(5, -1, 0.1), "plan: must have a sample of one or more"),
        (lambda: accept_hypergeometric(10, 11, 0, 1), "lot: must hold the sample"),
        (lambda: accept_hypergeometric(10, 5, 0, 11), "lot: must hold the sample"),
        (lambda: fraction_at(50, 1, 1.0), "probability of acceptance: must be above 0"),
        (lambda: attributes_plan_for((0.1, 0.95), (0.05, 0.1)), "plan points: must be a good"),
        (lambda: variables_plan_for((0.1, 0.1), (0.2, 0.95)), "plan points: must be a good"),
        (lambda: zero_acceptance(0, 0.1), "zero-acceptance plan: must have a lot"),
        (lambda: zero_acceptance(10, 0.0), "zero-acceptance plan: must have a lot"),
        (lambda: pick(10, 11, np.random.default_rng(1)), "sample: must be from 1 to the lot size"),
    ],
)
def test_impossible_plans_are_refused(call, sentence):
    with pytest.raises(UsageError, match=sentence):
        call()


def test_points_too_close_together_are_refused():
    with pytest.raises(UsageError, match="plan points: must lie further apart"):
        attributes_plan_for((0.5, 0.999999), (0.505, 0.000001))


def _exact(lot_size, n, accept, bad):
    """Give the hypergeometric sum in whole numbers."""
    good = sum(
        math.comb(bad, found) * math.comb(lot_size - bad, n - found)
        for found in range(accept + 1)
        if found <= min(bad, n) and n - found <= lot_size - bad
    )
    return good / math.comb(lot_size, n)


@pytest.mark.parametrize("lot_size", [5, 20, 50, 200])
@pytest.mark.parametrize("accept", [0, 1, 3])
def test_hypergeometric_is_the_count_of_samples(lot_size, accept):
    for n in {1, 2, lot_size // 3, lot_size - 1, lot_size}:
        for bad in {0, 1, 2, lot_size // 4, lot_size}:
            assert accept_hypergeometric(lot_size, n, accept, bad) == pytest.approx(
                _exact(lot_size, n, accept, bad), rel=1e-10, abs=1e-12
            )


@pytest.mark.parametrize(
    ("n", "accept", "fraction", "probability"),
    [
        (1, 0, 0.25, 0.75),
        (2, 0, 0.5, 0.25),
        (2, 1, 0.5, 0.75),
        (3, 1, 0.5, 0.5),
        (10, 10, 0.9, 1.0),
        (5, 0, 0.0, 1.0),
        (5, 0, 1.0, 0.0),
        (5, 5, 1.0, 1.0),
    ],
)
def test_binomial_by_hand(n, accept, fraction, probability):
    assert accept_binomial(n, accept, fraction) == pytest.approx(probability)


@pytest.mark.parametrize(
    ("n", "accept", "rate", "probability"),
    [
        (1, 0, 0.0, 1.0),
        (1, 0, 1.0, math.exp(-1)),
        (2, 0, 0.5, math.exp(-1)),
        (1, 1, 1.0, 2 * math.exp(-1)),
        (10, 1, 0.1, 2 * math.exp(-1)),
    ],
)
def test_poisson_by_hand(n, accept, rate, probability):
    assert accept_poisson(n, accept, rate) == pytest.approx(probability)


@pytest.mark.parametrize(
    ("n", "accept", "good", "bad"),
    [
        (50, 1, 0.71, 7.6),
        (80, 2, 1.03, 6.5),
        (13, 0, 0.39, 16.2),
    ],
)
def test_what_plans_accept_as_practice_has_it(n, accept, good, bad):
    """n 50 Ac 1 accepts 95 % of lots at 0.71 % bad and still 10 % of lots at 7.6 %; so on."""
    assert 100 * fraction_at(n, accept, 0.95) == pytest.approx(good, abs=0.006)
    assert 100 * fraction_at(n, accept, 0.10) == pytest.approx(bad, abs=0.06)
