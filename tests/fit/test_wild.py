"""Wild points are found however many there are, and a range step is told from them."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from benchapp.fit.points import Points
from benchapp.fit.wild import keep, scattered, suspicious, without_wild
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated

SIZE = GRID.size


def sweep_with(change, name="tank", seed=1):
    """A simulated sweep, changed."""
    sweep = simulated(name, sigma=0.005, seed=seed)
    z = change(sweep.impedance.copy(), np.random.default_rng(seed))
    return type(sweep)(frequency=sweep.frequency, impedance=z)


def fitted(sweep, name="tank"):
    """Kept points and the optimum of a fit without wild points."""
    points = Points.of(sweep, np.ones(sweep.frequency.size, dtype=bool))
    return without_wild(CIRCUITS[name], points.grid.y, points.view), points


def spoil(share):
    """Multiply a share of the points by something wild."""

    def change(z, rng):
        bad = rng.random(z.size) < share
        z[bad] *= np.exp(2 * rng.normal(size=bad.sum()) + 6j * rng.random(bad.sum()))
        return z

    return change


@pytest.mark.parametrize("name", ["tank", "series-rlc", "parallel-rlc", "coil", "capacitor"])
@pytest.mark.parametrize("share", [0.02, 0.4])
def test_the_truth_is_found_among_wild_points(name, share):
    for seed in range(3):
        agreed, points = fitted(sweep_with(spoil(share), name, seed), name)
        kept, found = agreed
        values, slopes = CIRCUITS[name].decode(found.point, points.grid.scale)
        u = np.sqrt((slopes @ found.covariance @ slopes.T).diagonal())
        assert np.all(np.abs(values - VALUES[name]) < 5 * u)
        assert np.mean(~kept) == pytest.approx(share, abs=0.12)


def test_the_points_set_aside_are_the_wild_ones():
    marked = np.zeros(SIZE, dtype=bool)
    marked[[3, 77, 150]] = True

    def change(z, _rng):
        z[marked] *= 1.2
        return z

    (kept, _), _ = fitted(sweep_with(change))
    assert np.array_equal(~kept, marked)


def test_where_no_half_agrees_nothing_is_claimed():
    def change(z, rng):
        return z * np.exp(3 * rng.normal(size=z.size) + 6j * rng.random(z.size))

    agreed, _ = fitted(sweep_with(change))
    assert agreed is None or np.mean(agreed[0]) > 0.5


def test_the_same_sweep_always_has_the_same_answer():
    sweep = sweep_with(spoil(0.3))
    first, _ = fitted(sweep)
    second, _ = fitted(sweep)
    assert np.array_equal(first[0], second[0])
    np.testing.assert_array_equal(first[1].point, second[1].point)


def test_noise_is_not_suspicious_and_a_tail_is():
    assert np.mean([suspicious(circular(SIZE, seed)) for seed in range(300)]) < 0.01
    tailed = circular(SIZE)
    tailed[::5] *= 5
    assert suspicious(tailed)
    assert not suspicious(circular(8) * 1e3)


def test_what_is_kept_is_judged_by_the_median():
    residual = circular(SIZE)
    residual[10] = 1e6
    kept = keep(residual)
    assert not kept[10]
    assert np.mean(kept) > 0.98


def test_scattered_points_are_told_from_a_block():
    rng = np.random.default_rng(4)
    assert scattered(np.ones(SIZE, dtype=bool))
    assert all(scattered(rng.random(SIZE) > 0.2) for _ in range(50))
    block = np.ones(SIZE, dtype=bool)
    block[50:70] = False
    assert not scattered(block)
    three = np.ones(SIZE, dtype=bool)
    three[50:53] = False
    assert scattered(three)


def test_exact_data_with_one_wild_point_lose_that_point():
    z = exact("tank").copy()
    z[60] *= 1.5
    sweep = type(simulated("tank"))(frequency=GRID, impedance=z)
    (kept, _), _ = fitted(sweep)
    assert not kept[60]
    assert kept.sum() > 0.5 * SIZE


def test_the_points_of_one_resonance_are_not_scattered():
    kept = np.ones(61, dtype=bool)
    kept[20:34] = False
    assert not scattered(kept)
    rng = np.random.default_rng(8)
    assert all(scattered(rng.random(61) > 0.4) for _ in range(300))


def test_points_that_happen_to_be_neighbours_are_scattered_still():
    places = [36, 37, 41, 42, 43, 44, 51, 57, 79, 80, 103, 107, 137, 164]  # once in 500 draws
    kept = np.ones(201, dtype=bool)
    kept[places] = False
    assert scattered(kept)
    kept[:] = True
    kept[36:43] = kept[100:107] = False
    assert not scattered(kept)


def test_every_way_to_lie_scattered_has_its_chance():
    # 6 of 12 points: 7 ways to form one group, of 924; none is rare enough to be refused
    kept = np.ones(12, dtype=bool)
    kept[:6] = False
    assert scattered(kept)
    # all points but one set aside form one or two groups whatever happens
    kept[:] = False
    kept[4] = True
    assert scattered(kept)
