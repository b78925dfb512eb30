"""Laws of sampling plans: what grows, what falls, and what a plan does to simulated lots."""

from __future__ import annotations

import itertools
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.sampling import (
    AQLS,
    LETTERS,
    LEVELS,
    LotResult,
    accept_binomial,
    accept_hypergeometric,
    attributes_plan_for,
    code_letter,
    fraction_at,
    judge_variables,
    letter_plan,
    s_method_plan,
    single_plan,
    switch,
    variables_plan_for,
    zero_acceptance,
)

FRACTION_AQLS = [aql for aql in AQLS if aql <= 10]


@settings(deadline=None)
@given(st.integers(1, 500), st.integers(0, 20), st.floats(0.001, 0.5), st.floats(1.01, 1.9))
def test_worse_lots_are_accepted_less_often(n, accept, fraction, factor):
    assert accept_binomial(n, accept, factor * fraction) <= accept_binomial(n, accept, fraction)


@settings(deadline=None)
@given(st.integers(2, 500), st.integers(0, 20), st.floats(0.001, 0.5))
def test_a_larger_sample_accepts_less_and_a_larger_number_more(n, accept, fraction):
    base = accept_binomial(n, accept, fraction)
    assert accept_binomial(n + 1, accept, fraction) <= base + 1e-12
    assert accept_binomial(n, accept + 1, fraction) >= base - 1e-12


@settings(deadline=None)
@given(st.integers(2, 2000), st.data())
def test_the_whole_lot_as_sample_decides_for_certain(lot_size, data):
    bad = data.draw(st.integers(0, lot_size))
    accept = data.draw(st.integers(0, 50))
    found = accept_hypergeometric(lot_size, lot_size, accept, bad)
    assert found == pytest.approx(1.0 if bad <= accept else 0.0, abs=1e-9)


@settings(deadline=None)
@given(st.integers(2, 300), st.integers(0, 5), st.floats(0.02, 0.98))
def test_the_fraction_at_a_probability_goes_back_to_that_probability(n, accept, probability):
    accept = min(accept, n - 1)
    fraction = fraction_at(n, accept, probability)
    assert accept_binomial(n, accept, fraction) == pytest.approx(probability, abs=1e-9)


@pytest.mark.parametrize("level", LEVELS)
def test_letters_never_go_back_as_lots_grow(level):
    sizes = [2, 9, 16, 26, 51, 91, 151, 281, 501, 1201, 3201, 10001, 35001, 150001, 500001]
    places = [LETTERS.index(code_letter(size, level)) for size in sizes]
    assert places == sorted(places)


@pytest.mark.parametrize("size", [50, 500, 5000, 50000])
def test_a_higher_level_never_has_an_earlier_letter(size):
    places = [LETTERS.index(code_letter(size, level)) for level in LEVELS]
    assert places[:4] == sorted(places[:4])
    assert places[4:] == sorted(places[4:])


@pytest.mark.parametrize("aql", FRACTION_AQLS)
def test_lots_at_the_aql_are_accepted_mostly(aql):
    """The standard's plans accept lots at the AQL with 0.88 to 0.99 where Ac is 0 or more."""
    for letter in LETTERS:
        plan = letter_plan(letter, aql)
        assert accept_binomial(plan.n, plan.accept, aql / 100) > 0.84


@pytest.mark.parametrize("letter", LETTERS)
def test_the_acceptance_number_grows_with_the_aql(letter):
    plans = [letter_plan(letter, aql) for aql in AQLS]
    shares = [plan.accept / plan.n for plan in plans]
    assert all(one <= other + 1e-12 for one, other in itertools.pairwise(shares))


@settings(deadline=None, max_examples=25)
@given(st.floats(0.002, 0.05), st.floats(2.5, 10.0))
def test_a_plan_for_two_points_keeps_both_and_a_smaller_one_does_not(good, factor):
    bad = min(0.6, factor * good)
    plan = attributes_plan_for((good, 0.95), (bad, 0.10))
    assert accept_binomial(plan.n, plan.accept, good) >= 0.95
    assert accept_binomial(plan.n, plan.accept, bad) <= 0.10
    assert accept_binomial(plan.n - 1, plan.accept, bad) > 0.10


def test_a_plan_by_variables_needs_far_fewer_parts():
    points = ((0.01, 0.95), (0.06, 0.10))
    assert 3 * variables_plan_for(*points).n < attributes_plan_for(*points).n


def test_a_plan_by_variables_with_known_sigma_does_what_it_says_to_simulated_lots():
    """20000 samples from normal lots with 1 % and with 6 % beyond the limit."""
    plan = variables_plan_for((0.01, 0.95), (0.06, 0.10))
    generator = np.random.default_rng(21)
    for distance, low, high in ((2.3263479, 0.94, 0.97), (1.5547736, 0.07, 0.11)):
        means = generator.standard_normal(20_000) / np.sqrt(plan.n)
        accepted = np.mean(distance - means >= plan.k)
        assert low < accepted < high


@pytest.mark.parametrize(("aql", "least"), [(0.65, 0.84), (1.0, 0.84), (2.5, 0.84)])
def test_the_s_method_accepts_simulated_lots_at_the_aql_mostly(aql, least):
    plan = s_method_plan(1000, aql)
    limit = {0.65: 2.4837691, 1.0: 2.3263479, 2.5: 1.9599640}[aql]
    generator = np.random.default_rng(22)
    samples = generator.standard_normal((2000, plan.n))
    means, spreads = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    accepted = sum(
        judge_variables(plan, float(mean), float(spread), upper=limit).accepted
        for mean, spread in zip(means, spreads, strict=True)
    )
    assert accepted / 2000 > least


def test_simulated_lots_are_accepted_as_often_as_the_curve_says():
    """10000 samples of 50 from lots with 3 % bad parts, accepted up to 1."""
    generator = np.random.default_rng(23)
    found = np.mean(generator.binomial(50, 0.03, 10_000) <= 1)
    assert found == pytest.approx(accept_binomial(50, 1, 0.03), abs=0.015)


@settings(deadline=None)
@given(st.integers(10, 2000), st.floats(0.01, 0.5))
def test_less_risk_needs_more_parts(lot_size, fraction):
    samples = [zero_acceptance(lot_size, fraction, risk) for risk in (0.2, 0.1, 0.05, 0.01)]
    assert samples == sorted(samples)
    assert samples[-1] <= lot_size


@pytest.mark.parametrize(
    ("lot_size", "fraction", "risk", "n"),
    [
        (10, 0.1, 0.1, 9),
        (100, 0.01, 0.1, 90),
        (20, 0.1, 0.1, 14),
        (50, 1.0, 0.1, 1),
        (2, 0.5, 0.5, 1),
    ],
)
def test_zero_acceptance_by_hand(lot_size, fraction, risk, n):
    """One bad of N: the sample misses it with (N - n)/N; two of 20: (20 - n)(19 - n)/380."""
    assert zero_acceptance(lot_size, fraction, risk) == n


VALUES = {
    "plan": single_plan(5000, 1.5),
    "attributes plan": attributes_plan_for((0.01, 0.95), (0.06, 0.1)),
    "variables plan": variables_plan_for((0.01, 0.95), (0.06, 0.1)),
    "s-method plan": s_method_plan(500, 1.0),
    "verdict": judge_variables(s_method_plan(500, 1.0), 0.0, 1.0, upper=3.0),
    "state": switch([LotResult(accepted=False), LotResult(accepted=False)]),
}


@pytest.mark.parametrize("name", sorted(VALUES))
def test_values_cross_a_process_boundary_whole(name):
    assert pickle.loads(pickle.dumps(VALUES[name])) == VALUES[name]


@pytest.mark.parametrize(
    ("lots", "severities"),
    [
        ("+-+-", ("normal", "normal", "normal", "tightened")),
        ("--+++++", ("normal", "tightened", *["tightened"] * 4, "normal")),
        ("-++++-+--", (*["normal"] * 7, "tightened", "tightened")),
    ],
)
def test_severity_lot_by_lot(lots, severities):
    results = [LotResult(accepted=letter == "+") for letter in lots]
    found = tuple(switch(results[:count]).severity for count in range(1, len(results) + 1))
    assert found == severities


def test_an_accepted_lot_after_the_stop_changes_nothing():
    stopped = [LotResult(accepted=False)] * 7
    assert switch(stopped).severity == "discontinued"
    assert switch([*stopped, *[LotResult(accepted=True)] * 5]).severity == "discontinued"
