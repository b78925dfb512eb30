"""Outcomes, verdicts and their deciding limit."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest

from benchapp.nominal import Limit, LimitVerdict, Outcome, Verdict
from benchapp.units import Estimate

L = Limit(quantity="L", unit="H", lower=1.57e-3, upper=1.67e-3)
Q = Limit(quantity="Q", unit="1", lower=60.0)


def test_a_verdict_is_not_a_truth_value():
    with pytest.raises(TypeError, match="compare its outcome"):
        bool(Verdict(outcome=Outcome.PASS))


def test_outcomes_are_written_as_words_and_as_json():
    assert [each.value for each in Outcome] == [
        "pass",
        "conditional-pass",
        "conditional-fail",
        "fail",
        "not-judged",
    ]
    assert Outcome.CONDITIONAL_PASS.words == "conditional pass"


def test_the_deciding_limit_has_the_worst_outcome_and_the_least_margin():
    entries = (
        LimitVerdict(limit=L, outcome=Outcome.PASS, margin_percent=0.1),
        LimitVerdict(limit=L, outcome=Outcome.FAIL, margin_percent=-1.0),
        LimitVerdict(limit=Q, outcome=Outcome.FAIL, margin_percent=-30.0),
        LimitVerdict(limit=Q, outcome=Outcome.FAIL),
    )
    verdict = Verdict(outcome=Outcome.FAIL, limits=entries)
    assert verdict.deciding is entries[2]
    assert Verdict(outcome=Outcome.NOT_JUDGED).deciding is None


def test_the_uncertainty_ratio_is_the_width_of_the_limits_over_two_u():
    entry = LimitVerdict(limit=L, outcome=Outcome.PASS, expanded=0.01e-3)
    assert entry.uncertainty_ratio == pytest.approx(5.0)


def test_the_margin_is_told_in_uncertainties_too():
    measured = Estimate(name="L", value=1.65e-3, u=5e-6, unit="H")
    entry = LimitVerdict(limit=L, outcome=Outcome.PASS, measured=measured)
    assert entry.margin_u == pytest.approx(4.0)
    assert replace(entry, limit=replace(L, upper=None)).margin_u == pytest.approx(16.0)
    assert replace(entry, limit=replace(L, lower=None)).margin_u == pytest.approx(4.0)
    assert replace(entry, outcome=Outcome.NOT_JUDGED).margin_u is None
    assert replace(entry, measured=replace(measured, u=0.0)).margin_u is None
    assert LimitVerdict(limit=L, outcome=Outcome.PASS).margin_u is None


def test_without_two_limits_or_without_u_there_is_no_uncertainty_ratio():
    assert LimitVerdict(limit=Q, outcome=Outcome.PASS, expanded=1.0).uncertainty_ratio is None
    assert LimitVerdict(limit=L, outcome=Outcome.PASS, expanded=0.0).uncertainty_ratio is None
    assert LimitVerdict(limit=L, outcome=Outcome.NOT_JUDGED).uncertainty_ratio is None


def test_a_verdict_crosses_a_process_boundary_whole():
    verdict = Verdict(outcome=Outcome.PASS, limits=(LimitVerdict(limit=L, outcome=Outcome.PASS),))
    assert pickle.loads(pickle.dumps(verdict)) == verdict


def test_what_was_not_judged_has_no_risks():
    limit = Limit(quantity="L", unit="H", upper=1.0)
    entry = LimitVerdict(limit=limit, outcome=Outcome.NOT_JUDGED)
    assert entry.probability_conforming is None
    assert entry.probability_false_accept is None
    assert entry.probability_false_reject is None
    assert entry.false_accept_at_limit is None
