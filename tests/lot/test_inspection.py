"""Plans for a lot: from the tables, by hypergeometric, or every part."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import hypergeom

from benchapp.errors import UsageError
from benchapp.lot import KINDS, PlanChoice


def test_a_plan_by_attributes_comes_from_the_table():
    # MIL-STD-105E Tables I and II-A: 500 parts, level II: letter H, n 50; AQL 1.0: Ac 1, Re 2.
    plan = PlanChoice().plan(500)
    assert (plan.letter, plan.n, plan.accept, plan.reject) == ("H", 50, 1, 2)
    assert "MIL-STD-105E" in plan.source
    assert "copy of the standard in force" in plan.source
    assert not plan.everything


def test_a_sample_as_large_as_the_lot_is_the_whole_lot():
    # Letter B at AQL 1.0 has an arrow down to E: n 13, Ac 0.
    plan = PlanChoice().plan(13)
    assert (plan.letter, plan.used_letter, plan.n, plan.accept) == ("B", "E", 13, 0)
    assert plan.everything


def test_a_zero_acceptance_plan_keeps_bad_lots_out():
    plan = PlanChoice(kind="zero", fraction=0.05, risk=0.1).plan(200)
    assert (plan.accept, plan.reject) == (0, 1)
    assert hypergeom(200, 10, plan.n).pmf(0) <= 0.1 < hypergeom(200, 10, plan.n - 1).pmf(0)


def test_a_plan_by_variables_has_k_and_m():
    # ANSI Z1.9 Table B-3 (s method): letter F at AQL 1.0, n 10, M 3.27 % (as in tests/truth).
    plan = PlanChoice(kind="variables").plan(100)
    assert (plan.letter, plan.n) == ("F", 10)
    assert plan.most == pytest.approx(0.0327, abs=1e-6)
    assert plan.k is not None
    assert plan.acceptance(np.array([0.01])) is None


def test_every_part_is_a_plan_too():
    plan = PlanChoice(kind="all").plan(77)
    assert (plan.n, plan.accept, plan.reject, plan.everything) == (77, 0, 1, True)


def test_a_single_part_needs_no_table():
    assert PlanChoice().plan(1).kind == "all"


def test_the_probability_of_acceptance_is_exact_for_the_lot():
    plan = PlanChoice().plan(500)
    found = plan.acceptance(np.array([0.0, 0.01, 0.04, 1.0]))
    expected = [hypergeom(500, bad, 50).cdf(1) for bad in (0, 5, 20, 500)]
    assert found == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_source(kind):
    assert PlanChoice(kind=kind).plan(60).source


@pytest.mark.parametrize(
    ("choice", "quantity", "match"),
    [
        ({"kind": "guess"}, 50, r"plan: must be one of attributes, zero, variables, all"),
        ({}, 0, r"lot size: must be one part or more \(got 0\)"),
        ({"kind": "variables", "severity": "tightened"}, 50, r"severity: must be normal"),
        ({"aql": 1.1}, 50, r"AQL: must be a value of the table"),
    ],
)
def test_an_impossible_choice_is_refused(choice, quantity, match):
    with pytest.raises(UsageError, match=match):
        PlanChoice(**choice).plan(quantity)
