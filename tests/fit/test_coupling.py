"""From loaded to unloaded: the formulas, their gradients, and when nothing can be said."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.fit.coupling import unload
from benchapp.fit.resonance import COMPLEX, MAGNITUDE
from benchapp.units import Estimate

PLAIN, SYMMETRIC = COMPLEX["plain"], MAGNITUDE["symmetric"]
LEVEL = Estimate(name="through", value=1.0, u=None, unit="1")


def point(a, d, QL=50.0):
    return np.array([0.0, math.log(QL), a.real, a.imag, d.real, d.imag])


def spread(size, u=1e-4):
    return np.eye(size) * u**2


def test_formulas_of_the_three_kinds():
    a, d = 0.9 * np.exp(0.3j), -0.3 * np.exp(0.3j)
    for kind, dip, share in (
        ("reflection", True, 0.3 / 0.9 / 2),
        ("transmission", True, 0.3 / 0.9),
        ("transmission", False, 0.3),
    ):
        found = unload(kind, PLAIN, point(a, d), spread(6), dip=dip, through=LEVEL)
        assert found.Q.value == pytest.approx(50 / (1 - share))
        assert found.coupling.value == pytest.approx(share / (1 - share))


@given(
    seed=st.integers(0, 2**31),
    kind=st.sampled_from(["reflection", "transmission"]),
    dip=st.booleans(),
)
def test_uncertainty_is_that_of_the_delta_method_with_correlations(seed, kind, dip):
    rng = np.random.default_rng(seed)
    a = rng.uniform(0.5, 1) * np.exp(2j * np.pi * rng.random())
    d = rng.uniform(0.05, 0.45) * np.exp(2j * np.pi * rng.random())
    half = rng.standard_normal((6, 6)) * 1e-4
    covariance, p = half @ half.T, point(a, d)

    def unloaded(p):
        found = unload(kind, PLAIN, p, spread(6), dip=dip, through=LEVEL)
        return found.Q.value

    gradient = np.array([(unloaded(p + h) - unloaded(p - h)) / 2e-6 for h in 1e-6 * np.eye(6)])
    found = unload(kind, PLAIN, p, covariance, dip=dip, through=LEVEL)
    assert found.Q.u == pytest.approx(math.sqrt(gradient @ covariance @ gradient), rel=1e-4)


def test_magnitude_of_a_notch_has_the_gradient_of_its_depth():
    p, covariance = np.array([0.0, math.log(50), 1.0, -0.91]), np.diag([0, 1e-8, 4e-8, 9e-8])

    def unloaded(p):
        found = unload("transmission", SYMMETRIC, p, covariance, dip=True, through=None)
        return found.Q.value

    assert unloaded(p) == pytest.approx(50 / 0.3)
    gradient = np.array([(unloaded(p + h) - unloaded(p - h)) / 2e-6 for h in 1e-6 * np.eye(4)])
    found = unload("transmission", SYMMETRIC, p, covariance, dip=True, through=None)
    assert found.Q.u == pytest.approx(math.sqrt(gradient @ covariance @ gradient), rel=1e-4)


def test_magnitude_of_a_peak_uses_its_height():
    p = np.array([0.0, math.log(50), 1e-4, 0.04])
    found = unload("transmission", SYMMETRIC, p, spread(4), dip=False, through=None)
    assert found.Q.value == pytest.approx(50 / 0.8)


def test_tilted_peak_counts_both_parts_of_its_height():
    p = np.array([0.0, math.log(50), 0.0, 0.0, 0.1, 0.0, 0.2, 0.0])
    found = unload("gain", COMPLEX["tilt"], p, spread(8), dip=False, through=LEVEL)
    assert found.Q.value == pytest.approx(50 / 0.7)


def test_gain_peak_without_a_level_tells_nothing():
    found = unload("gain", PLAIN, point(0.01, 0.5), spread(6), dip=False, through=None)
    assert found.Q is None
    assert found.coupling is None
    assert "through" in found.remarks[0].text


def test_coupling_that_hides_the_resonator_is_not_determined():
    p, covariance = point(1.0 + 0j, -0.999 + 0j), spread(6, 1e-3)
    found = unload("transmission", PLAIN, p, covariance, dip=True, through=None)
    assert found.Q is None
    assert "not determined" in found.remarks[0].text


def test_lossless_looking_circle_is_refused():
    found = unload(
        "reflection", PLAIN, point(0.5 + 0j, -1.1 + 0j), spread(6), dip=True, through=None
    )
    assert found.Q is None
    assert "too large" in found.remarks[0].text


def test_reflection_magnitude_gives_both_answers_in_words():
    p = np.array([0.0, math.log(60), 1.0, -0.75])  # |reflection| 0.5 at the resonance
    found = unload("reflection", SYMMETRIC, p, spread(4), dip=True, through=None)
    assert found.Q is None
    assert " 80 " in found.remarks[0].text
    assert "240 " in found.remarks[0].text


def test_straight_notch_draws_no_remark():
    found = unload(
        "transmission", PLAIN, point(1.0 + 0j, -0.9 + 0j), spread(6), dip=True, through=None
    )
    assert found.remarks == ()
