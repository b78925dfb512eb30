"""Capability indices with their bounds, and the yield."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchapp.errors import CaptureError
from benchapp.lot.capability import (
    capability,
    centred_index,
    centred_interval,
    spread_index,
    spread_interval,
    yield_of,
)
from benchapp.lot.chart import individuals
from tests.coil.truth import values as sections

TRUTH = sections("capability.toml")


def test_fifty_values_have_the_published_indices_and_exact_interval():
    known = TRUTH["fifty"]
    found = capability(known["values"], known["lower"], known["upper"])
    assert found.pp.value == pytest.approx(known["pp"], rel=1e-12)
    assert (found.pp.low, found.pp.high) == pytest.approx(known["pp_interval"], rel=1e-9)
    assert found.ppk.value == pytest.approx(known["ppk"], rel=1e-12)
    assert (found.ppk.low, found.ppk.high) == pytest.approx(known["ppk_interval"], rel=1e-9)
    assert found.cp is None
    assert found.cpk is None


def test_bissells_interval_of_a_textbook_problem():
    known = TRUTH["thirty"]
    index = centred_index(known["mean"], known["sd"], known["lower"], known["upper"])
    found = centred_interval(index, known["n"], known["n"] - 1)
    assert found.value == pytest.approx(known["cpk"])
    assert (found.low, found.high) == pytest.approx(known["interval"], rel=1e-9)


def test_handbook_example():
    known = TRUTH["nist"]
    limits = (known["lower"], known["upper"])
    assert spread_index(known["sd"], *limits) == pytest.approx(known["cp"])
    centred = centred_index(known["mean"], known["sd"], *limits)
    assert centred == pytest.approx(known["cpk"], abs=5e-5)


@pytest.mark.parametrize(
    ("n", "bound"), list(zip(TRUTH["bounds"]["n"], TRUTH["bounds"]["lower"], strict=True))
)
def test_a_measured_index_of_1_33_promises_less(n, bound):
    found = centred_interval(TRUTH["bounds"]["cpk"], n, n - 1)
    assert found.lower_bound == pytest.approx(bound, abs=5e-3)


def test_exact_interval_covers_as_often_as_it_says():
    rng = np.random.default_rng(20260301)
    true, covered, above = 1.0, 0, 0
    for _ in range(4000):
        sd = float(np.std(rng.normal(size=20), ddof=1))
        found = spread_interval(spread_index(sd, -3.0, 3.0), 19)
        covered += found.low <= true <= found.high
        above += found.lower_bound <= true
    assert covered / 4000 == pytest.approx(0.95, abs=0.012)
    assert above / 4000 == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize(("n", "shift"), [(30, 0.0), (30, 0.8), (100, 0.8)])
def test_bissells_bound_covers_nearly_as_often_as_it_says(n, shift):
    rng = np.random.default_rng(20260302 + n)
    true = (4.0 - shift) / 3
    covered = 0
    for _ in range(4000):
        x = rng.normal(shift, 1.0, n)
        index = centred_index(float(x.mean()), float(np.std(x, ddof=1)), -4.0, 4.0)
        covered += centred_interval(index, n, n - 1).lower_bound <= true
    assert 0.935 < covered / 4000 < 0.985


def test_a_short_term_spread_gives_cp_and_cpk():
    values = np.random.default_rng(20260303).normal(10, 1, 40)
    found = capability(values, 6.0, 14.0, within=(0.5, 20.0))
    assert found.cp.value == pytest.approx(8 / 3)
    assert found.cpk.value == pytest.approx(min(values.mean() - 6, 14 - values.mean()) / 1.5)
    assert found.cp.high - found.cp.low > found.pp.high - found.pp.low


@given(st.floats(-3, 3), st.floats(0.1, 5))
def test_the_centred_index_never_exceeds_the_spread_index(mean, sigma):
    centred = centred_index(mean, sigma, -3.0, 3.0)
    assert centred <= spread_index(sigma, -3.0, 3.0) * (1 + 1e-12)


def test_one_limit_has_a_centred_index_only():
    values = np.random.default_rng(20260304).normal(70, 3, 30)
    found = capability(values, 60.0, None)
    assert found.pp is None
    expected = (values.mean() - 60) / (3 * np.std(values, ddof=1))
    assert found.ppk.value == pytest.approx(expected)


def test_expected_share_outside_is_that_of_the_normal_distribution():
    values = np.array([-1.0, 0.0, 1.0])
    found = capability(values, -2.0, 1.0)
    expected = stats.norm.cdf(-2.0) + stats.norm.sf(1.0)
    assert found.expected_outside == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("values", [[5.0], [5.0, 5.0, 5.0]])
def test_without_spread_nothing_is_computed(values):
    found = capability(values, 1.0, 9.0)
    assert (found.pp, found.ppk, found.cp, found.cpk) == (None, None, None, None)
    assert found.expected_outside is None


@pytest.mark.parametrize(
    ("limits", "within", "message"),
    [
        ((None, None), None, r"capability: must have at least one limit \(got none\)"),
        ((3.0, 1.0), None, r"the lower limit must lie below the upper \(got 3 and 1\)"),
        ((2.0, 2.0), None, "the lower limit must lie below the upper"),
        ((1.0, 3.0), (0.0, 5.0), "short-term standard deviation must be above zero"),
        ((1.0, 3.0), (0.1, 0.0), "with 0 degrees of freedom"),
    ],
)
def test_what_cannot_be_judged_is_refused(limits, within, message):
    with pytest.raises(CaptureError, match=message):
        capability([1.0, 2.0, 3.0], *limits, within=within)


def test_yield_counts_and_a_part_on_the_limit_is_inside():
    found = yield_of([1.0, 2.0, 3.0, 4.0], 1.0, 3.0)
    assert (found.n, found.inside, found.share) == (4, 3, 0.75)


def test_no_reject_in_59_parts_proves_95_percent_one_sidedly():
    """0.95^59 < 0.05: common practice; at 90 % two-sided the lower end is the 95 % bound."""
    found = yield_of([2.0] * 59, 1.0, 3.0, confidence=0.90)
    assert found.low == pytest.approx(0.05 ** (1 / 59), rel=1e-9)
    assert found.high == 1.0


@given(st.integers(1, 200), st.data())
def test_yield_interval_is_that_of_clopper_and_pearson(n, data):
    inside = data.draw(st.integers(0, n))
    found = yield_of([2.0] * inside + [9.0] * (n - inside), 1.0, 3.0)
    exact = stats.binomtest(inside, n).proportion_ci(0.95, method="exact")
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_open_limits_let_everything_pass():
    assert yield_of([1.0, -math.pi], None, None).share == 1.0


@given(st.floats(1e-6, 1e6), st.floats(-1e3, 1e3), st.booleans())
def test_indices_do_not_depend_on_the_unit_or_its_sign(scale, shift, mirrored):
    values = np.random.default_rng(12).normal(0.3, 1, 40)
    sign = -1.0 if mirrored else 1.0
    there = capability(values, -4.0, 4.0)
    ends = sorted((sign * scale * -4.0 + shift, sign * scale * 4.0 + shift))
    back = capability(sign * scale * values + shift, *ends)
    assert back.pp.value == pytest.approx(there.pp.value, rel=1e-5)
    assert back.ppk.value == pytest.approx(there.ppk.value, rel=1e-5)
    assert back.expected_outside == pytest.approx(there.expected_outside, rel=1e-3)


@given(st.integers(3, 500), st.floats(0.3, 3))
def test_more_parts_promise_more(n, index):
    few, many = centred_interval(index, n, n - 1), centred_interval(index, 2 * n, 2 * n - 1)
    assert few.low < many.low < index < many.high < few.high
    assert few.low < few.lower_bound < index


@given(st.floats(0.3, 3), st.integers(5, 300), st.floats(0.5, 0.99))
def test_exact_interval_agrees_with_the_chi_square_distribution(index, n, confidence):
    found = spread_interval(index, n - 1, confidence)
    tail = (1 - confidence) / 2
    for bound, probability in ((found.low, tail), (found.high, 1 - tail)):
        expected = index * math.sqrt(stats.chi2.ppf(probability, n - 1) / (n - 1))
        assert bound == pytest.approx(expected, rel=1e-9)


def test_a_centred_process_has_equal_indices():
    values = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    found = capability(values, -6.0, 6.0)
    assert found.pp.value == pytest.approx(found.ppk.value)


def test_a_mean_outside_the_limits_has_a_negative_index():
    found = capability([9.0, 10.0, 11.0], 0.0, 8.0)
    assert found.ppk.value < 0 < found.pp.value
    assert found.expected_outside > 0.9


def test_short_term_spread_from_a_chart_makes_cp():
    rng = np.random.default_rng(13)
    drifting = rng.normal(0, 1, 100) + np.linspace(-3, 3, 100)
    chart = individuals(drifting)
    found = capability(drifting, -9.0, 9.0, within=(chart.sigma, chart.dof))
    assert found.cp.value > 1.5 * found.pp.value
    assert found.cp.value == pytest.approx(3.0, rel=0.2)
