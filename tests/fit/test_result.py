"""A fit is a frozen value that survives pickling."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from benchapp.fit import fit
from tests.fit.simulated import simulated


@pytest.fixture(scope="module")
def result():
    return fit(simulated("tank"))


def test_arrays_cannot_be_written(result):
    for name in ("values", "covariance", "used", "fitted", "residual"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(result, name)[0] = 0


def test_it_survives_pickling(result):
    again = pickle.loads(pickle.dumps(result))
    assert again.estimates == result.estimates
    np.testing.assert_array_equal(again.fitted, result.fitted)
    with pytest.raises(ValueError, match="read-only"):
        again.values[0] = 0


def test_estimates_are_found_by_name_and_cannot_be_changed(result):
    assert set(result.estimates) == {"L", "C", "R", "f0", "Q"}
    with pytest.raises(TypeError):
        result.estimates["L"] = None


def test_it_names_the_capture_it_belongs_to(result):
    assert result.digest == simulated("tank").digest
