"""Sampling by variables against the table of ANSI Z1.9 and against simulated lots."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import UsageError
from benchapp.sampling import (
    VARIABLES_AQLS,
    VARIABLES_LEVELS,
    estimated_fraction,
    judge_variables,
    s_method_plan,
    variables_letter,
)

FOLDER = Path(__file__).parent.parent / "truth" / "sampling"


def _rows(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


LETTERS = _rows("variables_code_letters.csv")
CELLS = _rows("s_method_normal.csv")


@pytest.mark.parametrize("row", LETTERS, ids=lambda row: row["lot_size"])
def test_code_letters_at_both_ends_of_every_row(row):
    low, _, high = row["lot_size"].partition("-")
    for level in VARIABLES_LEVELS:
        for size in (int(low), int(high) if high else 10_000_000):
            assert variables_letter(size, level) == row[level]


def _lot_of(letter):
    """Give the largest lot and a level that lead to a letter."""
    for row in reversed(LETTERS):
        for level in VARIABLES_LEVELS:
            if row[level] == letter:
                low, _, high = row["lot_size"].partition("-")
                return int(high or low), level
    raise AssertionError(letter)


@pytest.mark.parametrize("row", CELLS, ids=lambda row: f"{row['code_letter']}-{row['AQL']}")
def test_lot_11_every_cell_of_the_table(row):
    """J 1.0: n 35, M 2.66 % and k 1.894; B 4.0: n 3, k 0.958; k worked out from M."""
    size, level = _lot_of(row["code_letter"])
    plan = s_method_plan(size, float(row["AQL"]), level)
    assert plan.letter == row["code_letter"]
    assert plan.n == int(row["n"])
    assert 100 * plan.most == pytest.approx(float(row["M_percent"]))
    assert plan.k == pytest.approx(float(row["k_computed_from_M"]), abs=5.1e-5)


def test_the_table_is_whole():
    assert len(CELLS) == 14 * len(VARIABLES_AQLS)


def test_lot_11_printed_k():
    """The standard prints k 1.89 for letter J and AQL 1.0 (from memory)."""
    size, level = _lot_of("J")
    assert round(s_method_plan(size, 1.0, level).k, 2) == 1.89


@settings(deadline=None)
@given(st.floats(-3, 6), st.integers(3, 200))
def test_the_estimate_is_a_fraction_that_falls_with_the_distance(distance, n):
    found = estimated_fraction(distance, n)
    assert 0 <= found <= 1
    assert estimated_fraction(distance + 0.1, n) <= found


def test_the_estimate_is_unbiased():
    """Mean over 20000 samples of 10 from a normal part with 5 % beyond the limit."""
    generator = np.random.default_rng(11)
    samples = generator.standard_normal((20_000, 10))
    distance = (1.6448536 - samples.mean(axis=1)) / samples.std(axis=1, ddof=1)
    estimates = [estimated_fraction(float(d), 10) for d in distance[:4000]]
    assert np.mean(estimates) == pytest.approx(0.05, abs=0.003)


@settings(deadline=None)
@given(st.floats(-1, 5))
def test_for_one_limit_k_and_m_decide_alike(distance):
    plan = s_method_plan(1000, 1.0)
    verdict = judge_variables(plan, mean=-distance, deviation=1.0, upper=0.0)
    if abs(distance - plan.k) > 1e-6:
        assert verdict.accepted is (distance > plan.k)


def test_both_limits_count_together():
    plan = s_method_plan(1000, 1.0)
    one = judge_variables(plan, mean=0.0, deviation=1.0, upper=2.1)
    both = judge_variables(plan, mean=0.0, deviation=1.0, lower=-2.1, upper=2.1)
    assert both.outside == pytest.approx(2 * one.outside)
    assert one.accepted is True
    assert both.accepted is False
    assert (one.below, both.below) == (None, pytest.approx(one.above))


def test_a_small_lot_is_inspected_whole():
    plan = s_method_plan(5, 0.10)
    assert plan.everything is True
    assert plan.n == 5


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: variables_letter(1), "lot size: must be two or more"),
        (lambda: variables_letter(100, "S-1"), "inspection level: must be one of S-3"),
        (lambda: s_method_plan(100, 0.01), "AQL: must be one of 0.1,"),
        (lambda: estimated_fraction(1.0, 2), "sample by variables: must have three parts"),
        (lambda: judge_variables(s_method_plan(100, 1.0), 0.0, 1.0), "limits: must have one"),
        (
            lambda: judge_variables(s_method_plan(100, 1.0), 0.0, 0.0, upper=1.0),
            "standard deviation: must be above zero",
        ),
    ],
)
def test_what_cannot_be_judged_is_refused(call, sentence):
    with pytest.raises(UsageError, match=sentence):
        call()


@pytest.mark.parametrize("distance", [-0.9, -0.3, 0.0, 0.5, 1.0, 1.4])
def test_the_estimate_of_four_parts_is_a_straight_line(distance):
    """With n 4 both shapes are 1, the beta distribution is uniform: 1/2 - distance/3."""
    assert estimated_fraction(distance, 4) == pytest.approx(0.5 - distance / 3)


@pytest.mark.parametrize("distance", [-1.0, -0.5, 0.0, 0.5, 1.0])
def test_the_estimate_of_three_parts_is_an_arc_sine(distance):
    """With n 3 both shapes are 1/2: the arc-sine distribution."""
    place = 0.5 - distance * math.sqrt(3) / 4
    assert estimated_fraction(distance, 3) == pytest.approx(2 / math.pi * math.asin(place**0.5))


@pytest.mark.parametrize(("distance", "n"), [(2.0, 4), (5.0, 4), (10.0, 35)])
def test_beyond_the_possible_distance_the_estimate_is_zero(distance, n):
    """No sample of n has a value further than (n - 1)/sqrt(n) deviations from its mean."""
    assert distance > (n - 1) / math.sqrt(n) or estimated_fraction(distance, n) < 1e-9
    if distance > (n - 1) / math.sqrt(n):
        assert estimated_fraction(distance, n) == 0


@pytest.mark.parametrize("distance", [0.5, 1.0, 2.0, 3.0])
def test_for_many_parts_the_estimate_nears_the_normal_tail(distance):
    tail = 0.5 * math.erfc(distance / math.sqrt(2))
    assert estimated_fraction(distance, 5000) == pytest.approx(tail, rel=0.01)


def test_the_estimate_is_symmetric():
    for distance in (0.1, 0.7, 1.3):
        total = estimated_fraction(distance, 20) + estimated_fraction(-distance, 20)
        assert total == pytest.approx(1)


@pytest.mark.parametrize("aql", VARIABLES_AQLS)
def test_k_falls_and_m_grows_with_the_aql_along_the_table(aql):
    plans = [s_method_plan(1000, each) for each in VARIABLES_AQLS]
    ks, ms = [plan.k for plan in plans], [plan.most for plan in plans]
    assert ks == sorted(ks, reverse=True)
    assert ms == sorted(ms)
    assert s_method_plan(1000, aql).aql == aql


@pytest.mark.parametrize(
    ("mean", "lower", "upper", "accepted"),
    [
        (0.0, -4.0, 4.0, True),
        (0.0, -2.2, 4.0, True),
        (0.0, -1.8, 4.0, False),
        (0.0, None, 2.2, True),
        (0.0, None, 1.8, False),
        (0.0, -1.8, None, False),
        (1.0, None, 3.2, True),
        (1.0, None, 2.8, False),
    ],
)
def test_verdicts_of_a_lot_of_500(mean, lower, upper, accepted):
    """Lot 500, level II: letter I, n 25, AQL 1.0: k 1.849."""
    plan = s_method_plan(500, 1.0)
    assert (plan.letter, plan.n) == ("I", 25)
    verdict = judge_variables(plan, mean, 1.0, lower=lower, upper=upper)
    assert verdict.accepted is accepted
    assert (verdict.below is None) is (lower is None)
    assert (verdict.above is None) is (upper is None)
