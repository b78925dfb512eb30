"""The curves of a resonance: their derivatives, what they are in special cases, their starts."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.fit.resonance import COMPLEX, MAGNITUDE, candidates, curve, drawn, linear, slopes

Y = np.geomspace(0.8, 1.25, 61)
SHAPES = (*COMPLEX.values(), *MAGNITUDE.values())


def parameters(shape, rng):
    """Random parameters whose magnitude curve stays above zero."""
    p = 0.3 * rng.standard_normal(shape.size)
    p[1] = rng.uniform(0.5, 3)
    if shape.magnitude:
        p[2:4] = rng.uniform(0.5, 1, 2)
        p[4:] *= 0.3
    return p


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@given(seed=st.integers(0, 2**31))
def test_slopes_are_the_derivatives_of_the_curve(shape, seed):
    p = parameters(shape, np.random.default_rng(seed))
    found = slopes(shape, Y, p)
    assert found.shape == (Y.size, shape.size)
    for place in range(shape.size):
        step = np.zeros(shape.size)
        step[place] = 1e-6
        rise = (curve(shape, Y, p + step) - curve(shape, Y, p - step)) / 2e-6
        assert found[:, place] == pytest.approx(rise, abs=1e-6 * (1 + np.abs(rise).max()))


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@given(seed=st.integers(0, 2**31))
def test_linear_parameters_are_found_when_the_others_are_right(shape, seed):
    p = parameters(shape, np.random.default_rng(seed))
    found = linear(shape, Y, curve(shape, Y, p), p[: shape.nonlinear])
    assert curve(shape, Y, found) == pytest.approx(curve(shape, Y, p), rel=1e-5, abs=1e-6)


def test_half_power_points_of_the_plain_circle_are_at_unit_detuning():
    shape, p = COMPLEX["plain"], np.array([0.0, np.log(8.0), 0, 0, 1, 0])
    edges = np.array([np.sqrt(1 + 1 / 256) - 1 / 16, np.sqrt(1 + 1 / 256) + 1 / 16])
    assert np.abs(curve(shape, edges, p)) == pytest.approx(np.full(2, np.sqrt(0.5)), rel=1e-12)


def test_low_pass_and_high_pass_tank_are_within_the_tilted_shape():
    Q, s = 2.0, 1j * Y
    for top in (1, s * s):
        tank = top / (1 + s / Q + s * s)
        found = linear(COMPLEX["tilt"], Y, tank, np.array([0.0, np.log(Q)]))
        assert curve(COMPLEX["tilt"], Y, found) == pytest.approx(tank, abs=1e-12)


def test_line_turns_the_plain_circle():
    p = np.array([0.1, 2.0, 0.5, 0.1, 0.3, -0.2])
    turned = np.insert(p, 2, 4.0)
    expected = curve(COMPLEX["plain"], Y, p) * np.exp(-4j * (Y - 1))
    assert curve(COMPLEX["line"], Y, turned) == pytest.approx(expected)


def test_symmetric_magnitude_is_that_of_a_real_circle():
    p = np.array([0.05, 2.0, 1.0, 0.0, -0.8, 0.0])
    squared = np.array([0.05, 2.0, 1.0, (1 - 0.8) ** 2 - 1])
    circle = np.abs(curve(COMPLEX["plain"], Y, p))
    assert curve(MAGNITUDE["symmetric"], Y, squared) == pytest.approx(circle)


def test_magnitude_outside_its_domain_is_infinite():
    p = np.array([0, 1, -1.0, 0.5])
    assert np.isinf(curve(MAGNITUDE["symmetric"], Y, p)).all()
    assert not drawn(MAGNITUDE["symmetric"], Y, p).any()


@given(
    place=st.floats(-0.8, 0.8),
    widths=st.floats(1.0, 30.0),
    Q=st.floats(3.0, 3000.0),
    turn=st.floats(0, 6.2),
)
def test_first_candidate_of_a_noise_free_circle_is_the_resonance(place, widths, Q, turn):
    half = widths / Q / 2
    y = np.exp(np.linspace(-half, half, 101))
    x0 = place * half
    t = 2 * np.sinh(np.log(y) - x0)
    seen = np.exp(1j * turn) * (0.7 - 0.5 / (1 + 1j * Q * t))
    first = next(candidates(y, seen, phase=True))
    assert first[0] == pytest.approx(x0, abs=0.02 / Q + 0.1 * half**3)
    assert first[1] == pytest.approx(np.log(Q), abs=0.02 + half**2)


@given(Q=st.floats(5.0, 1000.0), floor=st.floats(0.0, 0.1))
def test_first_candidate_of_a_magnitude_is_the_resonance(Q, floor):
    y = np.exp(np.linspace(-3 / Q, 3 / Q, 101))
    u = Q * 2 * np.sinh(np.log(y) - 0.5 / Q)
    seen = np.sqrt(floor + 1 / (1 + u * u)) + 0j
    first = next(candidates(y, seen, phase=False))
    assert first[0] == pytest.approx(0.5 / Q, abs=0.05 / Q)
    assert first[1] == pytest.approx(np.log(Q), abs=0.1)


def test_candidates_are_finite_and_inside_reach_of_the_sweep():
    rng = np.random.default_rng(5)
    seen = rng.standard_normal(40) + 1j * rng.standard_normal(40)
    for phase in (True, False):
        fronts = list(candidates(Y[:40], seen if phase else np.abs(seen) + 0j, phase=phase))
        assert len(fronts) >= 40
        assert np.isfinite(fronts).all()


def test_shapes_are_told_apart_by_name_and_size():
    assert [shape.size for shape in SHAPES] == [6, 7, 8, 8, 4, 5]
    assert [shape.is_plain for shape in SHAPES] == [True, False, False, False, True, False]
    for first, second in itertools.combinations(SHAPES, 2):
        assert first.name != second.name
        assert first.title != second.title
