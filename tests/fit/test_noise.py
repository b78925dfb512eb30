"""A residual is taken where the noise has one size."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.fit.noise import Law, View, shapes
from tests.fit.simulated import GRID, circular, exact

TRUTH = tomllib.loads((Path(__file__).parent.parent / "truth" / "resonance.toml").read_text())
KINDS = ("unknown", "relative", "absolute", "reflection", "series-through", "shunt-through")


def view_of(kind, z, **more):
    """See impedances in the domain of a kind."""
    return View(kind=kind, reference=50.0, measured=np.atleast_1d(z), **more)


@pytest.mark.parametrize(
    ("kind", "case", "name"),
    [
        ("reflection", "S-1", "S11"),
        ("shunt-through", "S-2", "S21"),
        ("series-through", "S-3", "S21"),
    ],
)
def test_the_domain_is_the_s_parameter_of_the_impedance(kind, case, name):
    # against a part far away whose S-parameter is known: residual = S(measured) - S(model)
    z, s = complex(*TRUTH[case]["Z"]), complex(*TRUTH[case][name])
    model = np.array([50.0 + 0j])
    at_fifty = {"reflection": 0.0, "shunt-through": 2 / 3, "series-through": 2 / 3}[kind]
    residual, _ = view_of(kind, z).weigh(model, np.ones((1, 1), dtype=complex))
    assert residual[0] == pytest.approx(s - at_fifty, rel=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_slopes_are_those_of_the_domain(kind):
    z = exact("tank")
    step = 1e-6 * circular(GRID.size)
    view = view_of(kind, z)
    before, slopes = view.weigh(z, step[None, :])
    after, _ = view.weigh(z * np.exp(step), step[None, :])
    np.testing.assert_allclose(before - after, slopes[0], atol=2e-6 * np.abs(slopes[0]).max())


@pytest.mark.parametrize("kind", KINDS)
def test_sensitivity_is_the_size_of_the_slope_by_ohm(kind):
    z = exact("tank")
    _, slopes = view_of(kind, z).weigh(z, np.ones((1, GRID.size), dtype=complex))
    np.testing.assert_allclose(view_of(kind, z).sensitivity(), np.abs(slopes[0] / z), rtol=1e-12)


def test_far_away_relative_residuals_are_logarithms():
    z = exact("tank")
    residual, _ = view_of("relative", z).far(z / 3.0, z[None, :])
    np.testing.assert_allclose(residual, np.log(3.0), atol=1e-12)


def test_a_weight_multiplies_residuals_and_slopes():
    z = exact("tank")
    weight = np.linspace(0, 1, GRID.size)
    plain = view_of("relative", z * 1.01).weigh(z, z[None, :])
    weighted = view_of("relative", z * 1.01, weight=weight).weigh(z, z[None, :])
    for one, other in zip(plain, weighted, strict=True):
        np.testing.assert_allclose(one * weight, other, rtol=1e-12)


def test_a_part_of_a_view_is_seen_alike():
    z = exact("tank")
    law = Law(parts=np.array([1e-4, 1.0, 0.0]), floor=1e-9, spread=np.ones(1)).of(z)
    whole = view_of("unknown", z * 1.01, law=law, weight=np.linspace(0, 1, z.size))
    chosen = np.arange(0, z.size, 3)
    part = whole.take(chosen)
    np.testing.assert_allclose(
        part.weigh(z[chosen], z[None, chosen])[0], whole.weigh(z, z[None, :])[0][chosen]
    )


def test_a_law_sums_three_kinds_of_variance():
    z = exact("tank")
    parts = np.array([1e-6, 0.25, 1e-8])
    law = Law(parts=parts, floor=0.0, spread=np.ones(1)).of(z)
    expected = 1e-6 * np.abs(z) ** 2 + 0.25 + 1e-8 * np.abs((z + 50) ** 2 / 100) ** 2
    np.testing.assert_allclose(law.spread**2, expected, rtol=1e-12)
    assert shapes(z).shape == (3, z.size)


def test_a_law_replaces_the_domain():
    z = exact("tank")
    law = Law(parts=np.array([0.0, 4.0, 0.0]), floor=0.0, spread=np.ones(1)).of(z)
    view = replace(view_of("unknown", z + 1.0), law=law)
    residual, _ = view.weigh(z, z[None, :])
    np.testing.assert_allclose(residual, 0.5, rtol=1e-9)
