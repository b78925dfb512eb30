"""The circle of a resonance, and how fast it is run through."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.fit.circle import circle_through, run_of_circle

F0 = 134.2e3


def grid(Q, widths=6.0, points=201):
    return F0 * np.exp(np.linspace(-widths / Q / 2, widths / Q / 2, points))


def ratio(f, Q, a=1.0, d=-0.8):
    return a + d / (1 + 1j * Q * (f / F0 - F0 / f))


@given(
    x=st.floats(-10, 10),
    y=st.floats(-10, 10),
    radius=st.floats(0.01, 10),
    arc=st.floats(0.5, 6.2),
)
def test_points_on_a_circle_give_that_circle(x, y, radius, arc):
    points = complex(x, y) + radius * np.exp(1j * np.linspace(0, arc, 30))
    centre, found = circle_through(points)
    assert found == pytest.approx(radius, rel=1e-6)
    assert centre == pytest.approx(complex(x, y), abs=1e-6 * (1 + abs(complex(x, y))))


def test_points_on_a_line_have_no_circle_and_no_resonance():
    line = np.linspace(0.1, 0.9, 20) + 0j
    assert circle_through(line) == (pytest.approx(0.5), np.inf)
    assert circle_through(np.full(20, 0.5 + 0j)) == (pytest.approx(0.5), np.inf)
    assert run_of_circle(grid(50.0, points=20), line, np.full(20, 1e-3)) is None


def test_short_arc_in_noise_is_not_seen_too_small():
    rng = np.random.default_rng(1)
    radii = []
    for _ in range(300):
        noise = rng.standard_normal(100) + 1j * rng.standard_normal(100)
        radii.append(circle_through(np.exp(1j * np.linspace(0, 1.5, 100)) + 0.02 * noise)[1])
    assert np.mean(radii) == pytest.approx(1, abs=0.01)


@given(
    Q=st.floats(2.0, 3000.0),
    turn=st.floats(0, 6.2),
    size=st.floats(0.05, 1.9),
    shift=st.floats(-0.5, 0.5),
)
def test_run_of_a_noise_free_circle_is_exact(Q, turn, size, shift):
    f = grid(Q) * np.exp(shift / Q)
    points = np.exp(1j * turn) * ratio(f, Q, d=-size)
    found = run_of_circle(f, points, np.full(f.size, 1e-9))
    assert found.f0 == pytest.approx(F0, rel=1e-8)
    assert abs(found.Q / Q - 1) < 1e-6


def test_scatter_is_what_the_uncertainty_says():
    rng = np.random.default_rng(2)
    f, scores = grid(50.0), []
    for _ in range(200):
        noise = rng.standard_normal(f.size) + 1j * rng.standard_normal(f.size)
        found = run_of_circle(f, ratio(f, 50.0) + 3e-3 * noise, np.full(f.size, 3e-3))
        scores.append([(found.f0 - F0) / found.u_f0, (found.Q - 50) / found.u_q])
    assert np.sqrt(np.mean(np.square(scores), axis=0)) == pytest.approx([1, 1], abs=0.25)


def test_circle_run_through_the_other_way_is_the_same_resonance():
    f = grid(50.0)
    found = run_of_circle(f, ratio(f, 50.0).conj(), np.full(f.size, 1e-6))
    assert abs(found.Q / 50 - 1) < 1e-6


def test_less_than_a_quarter_of_a_circle_gives_no_answer():
    f = grid(50.0)
    far = f > F0 * 1.03
    assert run_of_circle(f[far], ratio(f[far], 50.0), np.full(far.sum(), 1e-6)) is None


def test_few_points_give_no_answer():
    f = grid(50.0, points=5)
    assert run_of_circle(f, ratio(f, 50.0), np.full(5, 1e-6)) is None
