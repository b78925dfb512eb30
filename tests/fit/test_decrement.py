"""Counting a decay: zero crossings and extrema."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from benchapp.fit.decrement import decrement

IDENTITIES = tomllib.loads(
    (Path(__file__).parents[1] / "truth" / "resonance.toml").read_text("utf-8")
)


def ring(n, Q, per_period=80.0, phase=0.3):
    w0 = 2 * math.pi / per_period
    omega = w0 * math.sqrt(1 - 1 / (4 * Q * Q))
    return np.exp(-w0 / (2 * Q) * n) * np.cos(omega * n + phase)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_decrement_gives_q_by_the_exact_formula(place):
    Q = IDENTITIES["RES-4"]["Q"][place]
    n = np.arange(4000.0)
    found = decrement(n, ring(n, Q), 1e-6, 80.0)
    seen = math.pi / math.sqrt(found.Q**2 - 0.25)
    assert seen == pytest.approx(IDENTITIES["RES-4"]["decrement"][place], rel=2e-3)
    assert found.f0 == pytest.approx(1 / 80, rel=1e-3 / Q)


def test_q_is_not_the_number_of_cycles():
    n = np.arange(6000.0)
    found = decrement(n, ring(n, 30 * math.pi), 1e-6, 80.0)
    assert abs(found.Q / 94.25 - 1) < 1e-3


@pytest.mark.parametrize("per_period", [80.0, 20.0])
def test_scatter_is_what_the_uncertainty_says(per_period):
    rng = np.random.default_rng(3)
    n, scores = np.arange(3000.0), []
    for _ in range(60):
        voltage = ring(n, 30.0, per_period) + 5e-3 * rng.standard_normal(n.size)
        found = decrement(n, voltage, 5e-3, per_period)
        scores.append([(found.f0 - 1 / per_period) / found.u_f0, (found.Q - 30) / found.u_q])
    rms = np.sqrt(np.mean(np.square(scores), axis=0))
    assert np.all((rms > 0.6) & (rms < 1.5))


def test_gaps_of_clipped_samples_are_passed_over():
    n = np.arange(4000.0)
    voltage = ring(n, 60.0) + 1e-3 * np.random.default_rng(4).standard_normal(n.size)
    kept = np.abs(voltage) < 0.8
    found = decrement(n[kept], voltage[kept], 1e-3, 80.0)
    assert abs(found.Q - 60) < 4 * found.u_q
    assert found.u_q < 0.5


def test_too_short_or_too_faint_a_decay_gives_no_answer():
    n = np.arange(100.0)
    assert decrement(n, ring(n, 30.0), 1e-3, 80.0) is None
    n = np.arange(2000.0)
    assert decrement(n, 0.01 * ring(n, 30.0), 0.01, 80.0) is None


def test_growing_swing_has_no_decrement():
    n = np.arange(2000.0)
    assert decrement(n, ring(n, 30.0)[::-1], 1e-3, 80.0) is None
