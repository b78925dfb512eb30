"""Half-power width and phase slope: exact where they are, honest about their uncertainty."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.fit.half_power import (
    Straight,
    half_power,
    of_tank,
    phase_slope,
    slope_of_tank,
)

IDENTITIES = tomllib.loads(
    (Path(__file__).parents[1] / "truth" / "resonance.toml").read_text("utf-8")
)
F0 = 134.2e3


def grid(Q, widths=5.0, points=401):
    return F0 * np.exp(np.linspace(-widths / Q / 2, widths / Q / 2, points))


def power(f, Q):
    return 1 + (Q * (f / F0 - F0 / f)) ** 2


def tank(f, Q):
    x = f / F0
    return (1 / Q + 1j * x) / (1 - x * x + 1j * x / Q)


def flat(f, u=1e-6):
    return np.full(f.size, u)


@given(Q=st.floats(2.0, 2000.0), shift=st.floats(-0.3, 0.3))
def test_half_power_width_of_a_simple_resonance_is_exact(Q, shift):
    f = grid(Q) * math.exp(shift / Q)
    found = half_power(f, power(f, Q), flat(f))
    assert found.f0 == pytest.approx(F0, rel=1e-4 / Q)
    assert abs(found.Q / Q - 1) < 2e-4 + 0.02 / Q**2


def test_edges_of_the_series_circuit_are_the_published_ones():
    truth = IDENTITIES["RES-2"]
    lower, upper = truth["lower"], truth["upper"]
    f = np.linspace(0.97, 1.03, 801) * math.sqrt(lower * upper)
    t = f / math.sqrt(lower * upper)
    found = half_power(f, 1 + (IDENTITIES["RES-1"]["Q"] * (t - 1 / t)) ** 2, flat(f))
    assert found.f0 == pytest.approx(math.sqrt(lower * upper), rel=1e-7)
    assert found.f0 / found.Q == pytest.approx(upper - lower, rel=1e-4)
    # the geometric mean, not the arithmetic one
    middle = (lower + upper) / 2
    assert middle - found.f0 == pytest.approx(truth["arithmetic_mean_minus_f0"], rel=0.01)


@pytest.mark.parametrize("Q", [2.0, 3.0, 10.0, 100.0])
def test_coil_with_resistance_across_a_capacitor_is_read_as_such(Q):
    f = grid(Q, widths=3.5)
    z = tank(f, Q)
    raw = half_power(f, np.abs(z) ** -2.0, flat(f))
    found = of_tank(raw)
    assert found.f0 == pytest.approx(F0, rel=2e-3 / Q)
    assert abs(found.Q / Q - 1) < 3e-3
    if Q < 5:
        assert abs(raw.Q / Q - 1) > 0.004


@given(Q=st.floats(2.0, 2000.0))
def test_phase_slope_of_a_simple_resonance_is_exact(Q):
    f = grid(Q)
    found = phase_slope(f, Q * (f / F0 - F0 / f), flat(f))
    assert found.f0 == pytest.approx(F0, rel=1e-6 / Q)
    assert abs(found.Q / Q - 1) < 1e-5


@pytest.mark.parametrize("place", [0, 1, 2])
def test_zero_phase_of_a_tank_is_where_the_identity_puts_it(place):
    Q = IDENTITIES["RES-7"]["Q"][place]
    f = grid(Q, widths=3.0, points=801)
    z = tank(f, Q)
    raw = phase_slope(f, z.imag / z.real, flat(f))
    assert raw.f0 / F0 == pytest.approx(IDENTITIES["RES-7"]["ratio"][place], rel=1e-4 / Q)
    found = slope_of_tank(raw)
    assert found.f0 == pytest.approx(F0, rel=2e-4)
    assert abs(found.Q / Q - 1) < 2e-3


@pytest.mark.parametrize(("points", "noise"), [(401, 3e-3), (41, 1e-2), (15, 3e-3)])
def test_scatter_is_what_the_uncertainty_says(points, noise):
    rng = np.random.default_rng(points)
    f, Q, scores = grid(30.0, points=points), 30.0, []
    z = 1 / (1 + 1j * Q * (f / F0 - F0 / f))
    for _ in range(150):
        dirt = rng.standard_normal(points) + 1j * rng.standard_normal(points)
        seen = z * (1 + noise * dirt)
        width = half_power(f, np.abs(seen) ** -2.0, flat(f, 2 * noise))
        slope = phase_slope(f, -seen.imag / seen.real, flat(f, noise))
        scores.append([
            (width.f0 - F0) / width.u_f0, (width.Q - Q) / width.u_q,
            (slope.f0 - F0) / slope.u_f0, (slope.Q - Q) / slope.u_q,
        ])  # fmt: skip
    rms = np.sqrt(np.mean(np.square(scores), axis=0))
    assert np.all(rms < 1.4)
    assert np.all(rms > 0.6)


def test_extremum_at_an_end_or_a_missing_edge_gives_no_answer():
    f = grid(30.0)
    y = power(f, 30.0)
    assert half_power(f[:230], y[:230], flat(f[:230])) is None
    assert half_power(f[200:], y[200:], flat(f[200:])) is None


def test_phase_without_a_zero_gives_no_answer():
    f = grid(30.0)
    ratio = 30 * (f / F0 - F0 / f)
    assert phase_slope(f[250:], ratio[250:], flat(f[250:])) is None
    assert phase_slope(f, np.where(ratio < 0, -50.0, 50.0), flat(f)) is None


def test_polynomial_knows_value_slope_and_where_it_crosses():
    s = np.linspace(-1, 1, 21)
    line = Straight.through(s, 1 + 2 * s + 3 * s**2, np.full(21, 0.1), 2)
    value, u, slope = line.at(0.5)
    assert (value, slope) == (pytest.approx(2.75), pytest.approx(5.0))
    assert 0 < u < 0.1
    assert line.cross(2.75, 0.6) == pytest.approx(0.5)
    assert line.cross(-10.0, 0.0) is None
