"""The acts of the calculators give what the core gives, can be stopped, and cross a process."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from benchapp.coil import SHAPES, Deviation, calculate, turns_for
from benchapp.errors import CancelledError
from benchapp.jobs import ComputeCoil, SimulateTanks, not_cancelled, silent
from benchapp.tank import Contributor, StackUp, simulate

STACK_UP = StackUp(
    frequency=134.2e3,
    contributors=(Contributor(name="L", target="L", low=-0.03, high=0.03),),
)
VALUES = {"diameter": 0.05, "length": 0.03, "turns": 50.0, "wire": 0.0005}


def test_drawn_tanks_are_those_of_the_seed():
    found = SimulateTanks(stack_up=STACK_UP, units=5000)(silent, not_cancelled)
    expected = simulate(STACK_UP, np.random.default_rng(1), 5000)
    assert found.quantiles == expected.quantiles
    assert np.array_equal(found.counts, expected.counts)


def test_a_coil_is_computed_as_the_core_does():
    job = ComputeCoil(shape="solenoid", values=VALUES, frequencies=(134.2e3,))
    expected = calculate(SHAPES["solenoid"].build(VALUES), frequencies=(134.2e3,))
    assert job(silent, not_cancelled).result == expected
    assert job.is_quick


def test_turns_are_found_beside_the_coil_as_typed():
    job = ComputeCoil(shape="solenoid", values=VALUES, inductance=140e-6)
    answer = job(silent, not_cancelled)
    shape = SHAPES["solenoid"]
    expected = turns_for(lambda turns: shape.build({**VALUES, "turns": turns}), 140e-6)
    assert answer.wanted == expected
    assert expected.below[1] < 140e-6 < expected.above[1]
    assert not job.is_quick


@pytest.mark.parametrize(
    "job",
    [
        SimulateTanks(stack_up=STACK_UP, units=100),
        ComputeCoil(
            shape="solenoid", values=VALUES, deviations={"length": Deviation(low=-1e-4, high=1e-4)}
        ),
    ],
    ids=["tanks", "coil"],
)
def test_acts_can_be_stopped_tell_what_they_do_and_cross_a_process(job):
    with pytest.raises(CancelledError, match="stopped before it was done"):
        job(silent, lambda: True)
    said = []
    job(lambda words, _share: said.append(words), not_cancelled)
    assert said
    assert pickle.loads(pickle.dumps(job)) == job


def test_a_search_for_turns_can_be_stopped_after_the_first_part():
    answers = iter((False, True))
    job = ComputeCoil(shape="solenoid", values=VALUES, inductance=140e-6)
    with pytest.raises(CancelledError, match="stopped"):
        job(silent, lambda: next(answers))
