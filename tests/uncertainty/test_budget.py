"""The budget of one result: shares, the dominant term, what halves U."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.uncertainty import Budget, Term
from benchapp.units import Estimate


def _budget():
    return Budget.of_fit(
        Estimate(name="L", value=1.62e-3, u=3e-6, unit="H"),
        dof=100,
        others=(Term(name="meter", contribution=4e-6), Term(name="clip", contribution=0.0)),
    )


def test_a_budget_combines_in_quadrature_and_names_the_dominant_term():
    budget = _budget()
    assert budget.u == pytest.approx(5e-6)
    assert budget.shares == pytest.approx((0.36, 0.64, 0.0))
    assert budget.dominant.name == "meter"
    assert budget.dof == pytest.approx(5**4 / (3**4 / 100))
    assert budget.estimate() == Estimate(name="L", value=1.62e-3, u=budget.u, unit="H")


def test_a_budget_says_what_removing_a_term_would_gain():
    budget = _budget()
    assert budget.without("meter") == pytest.approx(3e-6)
    assert budget.without("scatter of the fit") == pytest.approx(4e-6)


def test_a_budget_without_any_term_knows_no_uncertainty():
    budget = Budget.of_fit(Estimate(name="Q", value=80.0, u=None, unit="1"), dof=10)
    assert (budget.u, budget.dominant, budget.shares) == (None, None, ())
    assert budget.without("anything") is None
    exact = Budget.of_fit(Estimate(name="Q", value=80.0, u=0.0, unit="1"), dof=0)
    assert exact.shares == (0.0,)
    assert exact.dof == math.inf


@given(st.lists(st.floats(1e-9, 1e9), min_size=1, max_size=8))
def test_the_shares_of_a_budget_add_up_to_one(contributions):
    terms = tuple(Term(name=str(i), contribution=c) for i, c in enumerate(contributions))
    budget = Budget(quantity="L", value=1.0, unit="H", terms=terms)
    assert sum(budget.shares) == pytest.approx(1.0)
    assert budget.u >= max(contributions) * (1 - 1e-12)
    assert budget.without("0") is None or budget.without("0") <= budget.u * (1 + 1e-12)


def test_one_term_of_three_quarters_of_the_variance_halves_u_alone():
    budget = Budget.of_fit(
        Estimate(name="L", value=1.62e-3, u=1e-6, unit="H"),
        dof=800,
        others=(Term(name="reading", contribution=7e-6, remedy="Use a reference."),),
    )
    assert budget.halving == "To halve U, bring reading down to 48 %. Use a reference."
    reading = replace(budget.terms[1], contribution=7e-6 * math.sqrt((50 / 4 - 1) / 49))
    halved = replace(budget, terms=(budget.terms[0], reading))
    assert halved.u == pytest.approx(budget.u / 2)


def test_two_terms_are_named_where_one_cannot_halve_u():
    terms = (Term(name="a", contribution=3.0), Term(name="b", contribution=4.0))
    text = Budget(quantity="L", value=1.0, unit="H", terms=terms).halving
    assert text == "To halve U, bring b and a down to 50 %."


def test_without_uncertainty_there_is_nothing_to_halve():
    assert Budget(quantity="L", value=1.0, unit="H", terms=()).halving == ""


@given(st.lists(st.floats(1e-3, 1e3), min_size=1, max_size=8))
def test_what_is_said_to_halve_u_does_halve_it(contributions):
    terms = tuple(Term(name=f"t{i}", contribution=c) for i, c in enumerate(contributions))
    budget = Budget(quantity="L", value=1.0, unit="H", terms=terms)
    names, percent = budget.halving.removeprefix("To halve U, bring ").split(" down to ")
    named = set(names.split(" and "))
    factor = float(percent.removesuffix(" %.")) / 100
    reduced = tuple(
        replace(term, contribution=term.contribution * (factor if term.name in named else 1.0))
        for term in terms
    )
    assert replace(budget, terms=reduced).u == pytest.approx(budget.u / 2, rel=0.03)
