"""Which shape is chosen, which points are set aside, and when the points are weighted."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.fit.resonance import COMPLEX, MAGNITUDE, curve
from benchapp.fit.resonance_choice import Points, choose, halves, roughness

PLAIN = COMPLEX["plain"]
RICHER = {False: (COMPLEX["leak"],), True: (COMPLEX["line"],)}
Y = np.exp(np.linspace(-0.06, 0.06, 151))


def points(shape, p, *, noise=1e-3, seed=3, centre=1e6):
    rng = np.random.default_rng(seed)
    dirt = noise / math.sqrt(2) * (rng.standard_normal(Y.size) + 1j * rng.standard_normal(Y.size))
    seen = curve(shape, Y, np.asarray(p, dtype=float)) + dirt
    return Points(
        y=Y,
        centre=centre,
        seen=np.abs(seen) + 0j if shape.magnitude else seen,
        weight=np.ones(Y.size),
        magnitude=shape.magnitude,
        noise=roughness(seen),
    )


def test_plain_data_keep_the_plain_shape_in_nearly_every_draw():
    p = [0.001, math.log(50), 0.9, 0.1, -0.6, 0]
    chosen = [choose(points(PLAIN, p, seed=seed), RICHER).best.shape for seed in range(60)]
    assert sum(shape.is_plain for shape in chosen) >= 59


@pytest.mark.parametrize(
    ("name", "p"),
    [
        ("line", [0.001, math.log(50), 0.5, 0.9, 0.1, -0.6, 0]),
        ("leak", [0.001, math.log(50), 0.02, 0, 0.3, 0.1, 0.8, 0.5]),
    ],
)
def test_richer_shape_is_taken_where_the_data_have_it(name, p):
    choice = choose(points(COMPLEX[name], p), RICHER)
    assert choice.best.shape.name == name
    assert choice.best.white.describes
    assert not choice.weighted
    assert choice.best.p == pytest.approx(p, abs=0.05)


def test_tilted_shape_is_for_gains():
    p = [0.0, math.log(8), 0, 0, 0.1, 0.0, 0.0, 0.9]
    choice = choose(points(COMPLEX["tilt"], p, noise=1e-5), {False: (COMPLEX["tilt"],), True: ()})
    assert choice.best.shape.name == "tilt"


def test_implausibly_long_line_needs_strong_evidence():
    p = [0.0, math.log(50), 4.0, 0.9, 0.1, -0.6, 0]

    def chosen(noise, centre):
        return choose(points(COMPLEX["line"], p, noise=noise, centre=centre), RICHER).best.shape

    # at 1 GHz this is 0.6 ns, a lead; at 1 kHz 0.6 ms, more than a hundred kilometres
    assert chosen(0.2, 1e9).name == "line"
    assert chosen(0.2, 1e3).name == "plain"
    assert chosen(1e-3, 1e3).name == "line"


def test_curve_that_does_not_describe_the_sweep_is_fitted_near_the_resonance():
    p = np.array([0.0, math.log(50), 0.9, 0.1, -0.6, 0])
    data = points(PLAIN, p)
    bent = Points(
        y=Y,
        centre=1e6,
        seen=data.seen + 0.05 * np.sin(60 * (Y - 1)),
        weight=data.weight,
        magnitude=False,
        noise=data.noise,
    )
    choice = choose(bent, RICHER)
    assert choice.weighted
    assert not choice.best.white.describes


def test_wild_points_are_kept_out_and_good_ones_in():
    data = points(PLAIN, [0.0, math.log(50), 0.9, 0.1, -0.6, 0])
    seen = data.seen.copy()
    seen[[10, 74, 75, 120]] += [0.5, 0.3j, -0.4, 1.0]
    wild = Points(
        y=Y, centre=1e6, seen=seen, weight=data.weight, magnitude=False, noise=roughness(seen)
    )
    kept = choose(wild, RICHER).best.kept
    assert np.flatnonzero(~kept).tolist() == [10, 74, 75, 120]


def test_neighbours_that_lie_off_together_are_no_wild_points():
    data = points(PLAIN, [0.0, math.log(50), 0.9, 0.1, -0.6, 0])
    seen = data.seen.copy()
    seen[60:67] += np.array([0.005, 0.008, 0.012, 0.014, 0.012, 0.008, 0.005])
    disturbed = Points(
        y=Y, centre=1e6, seen=seen, weight=data.weight, magnitude=False, noise=roughness(seen)
    )
    assert choose(disturbed, RICHER).best.kept.all()


def test_narrow_resonance_of_few_points_is_no_wild_point():
    y = np.exp(np.linspace(-1.0, 1.0, 201))
    x = y / y[100] * np.exp(0.004)
    seen = 1 - 0.9 / (1 + 150j * (x - 1 / x))
    rng = np.random.default_rng(4)
    seen = seen + 1e-3 * (rng.standard_normal(201) + 1j * rng.standard_normal(201))
    data = Points(
        y=y, centre=1e6, seen=seen, weight=np.ones(201), magnitude=False, noise=roughness(seen)
    )
    best = choose(data, RICHER).best
    assert best.kept.all()
    assert math.exp(best.p[1]) == pytest.approx(150, rel=0.05)


def test_magnitude_has_its_own_shapes():
    p = [0.0, math.log(50), 0.05, 1.0, 0.3]
    only = {False: (MAGNITUDE["skewed"],), True: (MAGNITUDE["skewed"],)}
    choice = choose(points(MAGNITUDE["skewed"], p), only)
    assert choice.best.shape.name == "skewed"
    assert choice.best.p == pytest.approx(p, abs=0.05)


def test_roughness_is_the_noise_and_ignores_single_wild_points():
    rng = np.random.default_rng(6)
    noise = rng.standard_normal(500) + 1j * rng.standard_normal(500)
    clean = np.exp(1j * np.linspace(0, 1, 500))
    assert roughness(clean + 1e-3 * noise) == pytest.approx(1e-3, rel=0.4)
    spoilt = clean + 1e-3 * noise
    spoilt[::50] += 1
    assert roughness(spoilt) == pytest.approx(roughness(clean + 1e-3 * noise), rel=0.5)
    assert roughness(np.zeros(3, dtype=complex)) > 0


def test_halves_keep_every_pair_of_neighbours_but_one():
    assert halves(np.arange(7.0)).tolist() == [0 + 3j, 1 + 4j, 2 + 5j]
