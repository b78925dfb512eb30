"""Smooth departures are found, named and sized; noise and what the elements take up are not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit, fit_batch
from benchapp.fit.departure import ALARM, added, departure, normal_score
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated

OMEGA = 2 * np.pi * GRID
CHANGES = {
    "gain": (1e-2, lambda z, size: z * (1 + size * np.log10(GRID / GRID[0]))),
    "phase": (1.0, lambda z, size: z * np.exp(1j * np.radians(size) * np.log10(GRID / GRID[0]))),
    "contact": (5.0, lambda z, size: z + size),
    "lead": (3e-6, lambda z, size: z + 1j * OMEGA * size),
    "leakage": (1.5e-6, lambda z, size: 1 / (1 / z + size)),
    "stray": (1e-11, lambda z, size: 1 / (1 / z + 1j * OMEGA * size)),
}
IN = {"leakage": "series-rlc", "stray": "series-rlc"}


def swept(z, seed=1, sigma=0.003):
    """Sweep with relative noise."""
    noisy = z * (1 + sigma * circular(GRID.size, seed))
    return Sweep(frequency=GRID, impedance=noisy, noise=Noise(kind="relative"))


def looked_at(sweep, circuit):
    """The departure from a fit."""
    found = fit(sweep, circuit)
    ones = np.ones((1, GRID.size))
    slopes = np.concatenate((ones, CIRCUITS[circuit].gradient(GRID, found.values)))
    return departure(GRID, found.fitted, sweep.impedance / found.fitted - 1, slopes)


@pytest.mark.parametrize("name", CHANGES)
def test_a_departure_is_named_with_its_size(name):
    circuit = IN.get(name, "tank")
    size, change = CHANGES[name]
    for sign in (1, -1):
        found = looked_at(swept(change(exact(circuit), sign * size)), circuit)
        found = next(one for one in (found, *found.others) if one.name == name)
        assert found.score > ALARM
        assert found.size.value == pytest.approx(sign * size, abs=4 * found.size.u, rel=0.05)


@pytest.mark.parametrize("name", CHANGES)
def test_a_fit_and_a_batch_say_so(name):
    circuit = IN.get(name, "tank")
    size, change = CHANGES[name]
    rows = [swept(change(exact(circuit), size), seed) for seed in range(6)]
    for sweep in rows:
        result = fit(sweep, circuit)
        assert not result.describes
        assert any("most like" in remark.text for remark in result.remarks)
    batch = fit_batch(GRID, np.stack([s.impedance for s in rows]), circuit)
    assert not batch.accepted.any()


@pytest.mark.parametrize("points", [51, 401])
def test_a_slope_of_the_gain_is_no_change_of_range(points):
    grid = np.geomspace(1e5 / 3, 3e5, points)
    for seed in range(10):
        z = exact("tank", frequency=grid) * (1 + 0.01 * np.log10(grid / 1e5))
        z = z * (1 + 0.003 * circular(points, seed))
        result = fit(Sweep(frequency=grid, impedance=z, noise=Noise(kind="relative")), "tank")
        assert not result.describes
        assert "a gain that changes by +" in result.remarks[0].text
        assert "% per decade" in result.remarks[0].text


@pytest.mark.parametrize("name", [name for name in VALUES if name != "coupled-pair"])
@pytest.mark.parametrize("kind", ["relative", "unknown"])
def test_noise_hardly_ever_raises_an_alarm(name, kind):
    z = exact(name) * (1 + 0.003 * circular((1000, GRID.size), 4))
    batch = fit_batch(GRID, z, name, noise=Noise(kind=kind))
    assert np.mean(~batch.accepted) <= 0.005


def test_noise_of_unlike_sizes_raises_none():
    """A few points hold most of the noise: the plain score has the tail of their power."""
    rng = np.random.default_rng(8)
    slopes = np.stack((np.ones(GRID.size), 1j * np.ones(GRID.size)))
    spread = np.where(np.arange(GRID.size) > 190, 8.0, 1.0)
    shape = np.log(GRID / 1.5e5) + 0j
    scores = []
    for _ in range(2000):
        noise = spread * (rng.normal(size=GRID.size) + 1j * rng.normal(size=GRID.size))
        scores.append(added(noise, slopes, [shape])[0].score)
    assert np.mean(np.array(scores) > ALARM) <= 0.001


def test_what_the_elements_take_up_is_not_looked_for():
    sweep = swept(CHANGES["stray"][1](exact("tank"), 1e-11))
    assert fit(sweep, "tank").describes
    values = np.array(VALUES["tank"])
    slopes = CIRCUITS["tank"].gradient(GRID, values) * values[:, None]
    taken = added(circular(GRID.size), slopes, [2 * slopes[1], slopes[0] + 1j])
    assert taken[0].score == 0.0
    assert taken[1].score > 0.0


def test_departures_that_look_alike_are_all_named():
    found = looked_at(swept(CHANGES["phase"][1](exact("tank"), -1.0)), "tank")
    assert {found.name, *(one.name for one in found.others)} >= {"phase", "leakage"}
    assert " or " in found.words
    assert not looked_at(swept(CHANGES["gain"][1](exact("tank"), 1e-2)), "tank").others


def test_few_points_and_no_residual_raise_none():
    slopes = np.ones((1, 3)) + 0j
    assert added(np.arange(3) + 0j, slopes, [np.arange(3) * 1j])[0].score == 0.0
    assert added(np.zeros(9) + 0j, np.ones((1, 9)) + 0j, [np.arange(9) * 1j])[0].score == 0.0


def test_size_and_uncertainty_are_those_of_least_squares():
    rng = np.random.default_rng(2)
    slopes = rng.normal(size=(2, 30)) + 1j * rng.normal(size=(2, 30))
    shape = rng.normal(size=30) + 1j * rng.normal(size=30)
    residual = circular(30) + 0.7 * shape
    rows = np.concatenate((slopes, shape[None, :]))
    matrix = np.concatenate((rows.real, rows.imag), axis=1).T
    right = np.concatenate((residual.real, residual.imag))
    solved, power, *_ = np.linalg.lstsq(matrix, right, rcond=None)
    covariance = np.linalg.inv(matrix.T @ matrix) * power[0] / (60 - 3)
    found = added(residual, slopes, [shape])[0]
    assert found.size == pytest.approx(solved[2], rel=1e-9)
    assert found.u == pytest.approx(math.sqrt(covariance[2, 2]), rel=1e-9)


@pytest.mark.parametrize("dof", [8, 20, 99, 800])
@pytest.mark.parametrize("t", [0.5, 2.0, 4.0, 7.0])
def test_scores_are_those_of_students_distribution(dof, t):
    n = dof - 1
    share = t * t / (n + t * t)
    expected = stats.norm.isf(stats.t.sf(t, n))
    assert float(normal_score(share, dof)) == pytest.approx(expected, rel=0.02)


def test_sizes_are_told_with_their_expanded_uncertainty():
    found = looked_at(swept(CHANGES["lead"][1](exact("tank"), 3e-6)), "tank")
    assert "an inductance of" in found.words
    assert "µH in series, as of a lead" in found.words
    assert looked_at(simulated("tank"), "tank") is None
