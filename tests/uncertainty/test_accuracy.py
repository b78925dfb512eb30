"""Stated bounds become standard uncertainties as the GUM has it."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest

from benchapp.errors import QuantityError
from benchapp.uncertainty import DIVISORS, Accuracy, Stated

DRAWS = {
    "rectangular": lambda rng, n: rng.uniform(-1, 1, n),
    "triangular": lambda rng, n: rng.triangular(-1, 0, 1, n),
    "arcsine": lambda rng, n: np.sin(rng.uniform(0, 2 * np.pi, n)),
}


@pytest.mark.parametrize("distribution", sorted(DIVISORS))
def test_the_divisor_is_that_of_draws_from_the_distribution(distribution):
    draws = DRAWS[distribution](np.random.default_rng(5), 200_000)
    assert Stated(bound=1.0, distribution=distribution).u == pytest.approx(draws.std(), rel=5e-3)


def test_a_normal_bound_is_divided_by_its_coverage():
    assert Stated(bound=3.0, distribution="normal", coverage=3.0).u == 1.0
    assert Stated(bound=3.0, distribution="normal").u == 1.5


@pytest.mark.parametrize(
    "values", [{"bound": -1.0}, {"bound": 1.0, "coverage": 0.0}, {"bound": 1.0, "dof": 0.0}]
)
def test_an_impossible_bound_is_refused(values):
    with pytest.raises(QuantityError, match="stated bound: must be zero or more"):
        Stated(**values)


def test_only_what_is_stated_is_listed():
    accuracy = Accuracy(title="x", reading=Stated(bound=1e-3), drift_kelvin=5.0)
    assert dict(accuracy.stated) == {"reading": Stated(bound=1e-3)}
    assert dict(Accuracy().stated) == {}


def test_an_accuracy_survives_pickling():
    accuracy = Accuracy(phase=Stated(bound=1e-3, dof=20), part_per_kelvin=(("R", 0.004),))
    assert pickle.loads(pickle.dumps(accuracy)) == accuracy
    assert accuracy.phase.coverage == 2.0
    assert math.isinf(Stated(bound=1.0).dof)
