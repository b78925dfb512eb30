"""Diagnoses and disagreements give their likeliest answer, or none."""

from __future__ import annotations

import pickle

from benchapp.diagnosis import Cause, Diagnosis, Disagreement, Hypothesis

FAULT = Hypothesis(
    id="cold-joint",
    title="cold joint",
    share=0.8,
    as_if="2 ohm",
    evidence=("R up",),
    next_test="x",
)
CAUSE = Cause(id="level", title="test level", share=0.9, size="L 1 % higher", next_test="x")


def test_the_best_is_the_first_and_none_where_nothing_is_named():
    assert Diagnosis(hypotheses=(FAULT,)).best is FAULT
    assert Diagnosis(reason="none fits").best is None
    said = Disagreement(first="A", second="B", agree=False, causes=(CAUSE,))
    assert said.cause is CAUSE
    assert Disagreement(first="A", second="B", agree=True).cause is None


def test_they_cross_a_process_boundary():
    for value in (Diagnosis(hypotheses=(FAULT,)), Disagreement(first="A", second="B", agree=True)):
        assert pickle.loads(pickle.dumps(value)) == value
