"""Simulated tanks against the distributions they are drawn from."""

from __future__ import annotations

import copy
import math
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from benchapp.errors import UsageError
from benchapp.tank import (
    Band,
    Contributor,
    StackUp,
    Temperature,
    clopper_pearson,
    simulate,
    stack,
    wilson,
)

F0 = 134.2e3
UNITS = 200_000


def design(distribution="normal", correlation=0.0, width=(0.1, 0.05), **more):
    return StackUp(
        frequency=F0,
        contributors=(
            Contributor(
                name="L", target="L", low=-width[0], high=width[0], distribution=distribution
            ),
            Contributor(
                name="C", target="C", low=-width[1], high=width[1], distribution=distribution
            ),
        ),
        correlations=(("L", "C", correlation),) if correlation else (),
        **more,
    )


def seeded(seed=1):
    return np.random.default_rng(seed)


_SIGMA = {"normal": 1 / 3, "uniform": 1 / math.sqrt(3), "triangular": 1 / math.sqrt(6)}


@pytest.mark.parametrize("distribution", ["normal", "uniform", "triangular"])
@pytest.mark.parametrize("correlation", [0.0, 0.7, -0.7])
def test_spread_is_that_of_the_distributions(distribution, correlation):
    """For small tolerances f0 is linear: variance (s_L^2 + s_C^2 + 2 r s_L s_C)/4.

    The correlation holds for normal scores; that of the deviations is r for normal ones, (6/pi)
    asin(r/2) for uniform ones, and for triangular ones taken from a large draw of its own.
    """
    width = (0.01, 0.005)
    found = simulate(design(distribution, correlation, width), seeded(), UNITS)
    r = {
        "normal": correlation,
        "uniform": 6 / math.pi * math.asin(correlation / 2),
        "triangular": _triangular_correlation(correlation),
    }[distribution]
    one, other = (half * _SIGMA[distribution] for half in width)
    expected = F0 / 2 * math.sqrt(one**2 + other**2 + 2 * r * one * other)
    assert found.sd == pytest.approx(expected, rel=0.01)
    assert found.mean == pytest.approx(F0, rel=2e-4)


def _triangular_correlation(r):
    scores = np.random.default_rng(5).multivariate_normal([0, 0], [[1, r], [r, 1]], 200_000)
    drawn = stats.triang.ppf(stats.norm.cdf(scores), 0.5)
    return float(np.corrcoef(drawn.T)[0, 1])


@pytest.mark.parametrize("distribution", ["uniform", "triangular"])
@pytest.mark.parametrize("correlation", [0.0, 0.5])
def test_bounded_distributions_stay_within_the_worst_case(distribution, correlation):
    one = design(distribution, correlation)
    found, corners = simulate(one, seeded(), UNITS), stack(one)
    assert found.edges[0] >= corners.worst_low * (1 - 1e-12)
    assert found.edges[-1] <= corners.worst_high * (1 + 1e-12)


def test_fraction_outside_agrees_with_the_integral_over_the_normal_parts():
    """P(f0 > edge) by numerical integration of the normal density of L over that of C."""
    band = Band(low=0.97 * F0, high=1.03 * F0)
    found = simulate(design(band=band), seeded(), 1_000_000)
    x = np.linspace(-6, 6, 4001)
    density = np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)
    coil = 1 + 0.1 / 3 * x
    expected = 0.0
    for edge, above in ((band.low, False), (band.high, True)):
        limit = ((F0 / edge) ** 2 / coil - 1) / (0.05 / 3)
        tail = stats.norm.cdf(limit) if above else stats.norm.sf(limit)
        expected += float((density * tail).sum() * (x[1] - x[0]))
    assert found.outside == pytest.approx(expected, abs=4 * math.sqrt(expected / 1e6))
    low, high = found.outside_interval
    assert low < expected < high
    assert found.outside == (found.below + found.above) / found.units


def test_an_open_band_counts_one_side_only():
    found = simulate(design(band=Band(low=F0)), seeded(), 10_000)
    assert found.above == 0
    assert 0.45 < found.outside < 0.55


def test_without_a_band_nothing_is_counted():
    found = simulate(design(), seeded(), 1000)
    assert (found.below, found.above, found.outside, found.outside_interval) == (None,) * 4


def test_temperature_is_common_to_both_parts():
    """Equal and opposite coefficients cancel to first order: the parts share one temperature."""
    temperature = Temperature(
        inductance=(1e-4, 1e-4), capacitance=(-1e-4, -1e-4), low_celsius=-20, high_celsius=60
    )
    found = simulate(StackUp(frequency=F0, contributors=(), temperature=temperature), seeded())
    assert found.sd < 1e-5 * F0


def test_a_range_of_coefficients_spreads_the_units():
    wide = Temperature(capacitance=(-3e-4, -2e-4), low_celsius=60, high_celsius=60)
    found = simulate(StackUp(frequency=F0, contributors=(), temperature=wide), seeded(), UNITS)
    expected = F0 / 2 * 37 * 1e-4 / math.sqrt(12)
    assert found.sd == pytest.approx(expected, rel=0.03)


def test_the_same_seed_gives_the_same_tanks_and_another_seed_others():
    first, again, other = (simulate(design(), seeded(seed), 5000) for seed in (7, 7, 8))
    assert first.mean == again.mean
    assert first.quantiles == again.quantiles
    assert first.mean != other.mean


@pytest.mark.parametrize("units", [1, 2, 32768, 32769, 100_000])
def test_every_unit_is_counted_once(units):
    found = simulate(design(), seeded(), units)
    assert found.units == units
    assert int(found.counts.sum()) == units
    assert found.edges.size == found.counts.size + 1
    assert list(found.quantiles) == sorted(found.quantiles)


def test_quantiles_are_those_of_the_drawn_tanks():
    found = simulate(design(width=(0.003, 0.0001)), seeded(), UNITS)
    sigma = F0 / 2 * 0.001
    for level, value in zip((0.00135, 0.025, 0.5, 0.975, 0.99865), found.quantiles, strict=True):
        assert value == pytest.approx(F0 + stats.norm.ppf(level) * sigma, abs=0.1 * sigma)


def test_arrays_come_back_read_only_from_a_pickle_and_a_copy():
    for found in (
        pickle.loads(pickle.dumps(simulate(design(), seeded(), 100))),
        copy.copy(simulate(design(), seeded(), 100)),
    ):
        assert not found.edges.flags.writeable
        assert not found.counts.flags.writeable


def test_no_units_and_no_tolerances_are_refused():
    with pytest.raises(UsageError, match="units: must be at least 1"):
        simulate(design(), seeded(), 0)
    with pytest.raises(UsageError, match="stack-up: must have a tolerance or a temperature range"):
        simulate(StackUp(frequency=F0, contributors=()), seeded(), 10)


def test_correlations_that_contradict_each_other_are_refused():
    parts = tuple(
        Contributor(name=name, target="L", low=-0.01, high=0.01) for name in ("a", "b", "c")
    )
    impossible = StackUp(
        frequency=F0,
        contributors=parts,
        correlations=(("a", "b", 1.0), ("b", "c", 1.0), ("a", "c", -1.0)),
    )
    with pytest.raises(UsageError, match="correlations: must be possible together"):
        simulate(impossible, seeded(), 10)


def test_full_correlation_is_allowed():
    found = simulate(design(correlation=1.0, width=(0.01, 0.01)), seeded(), UNITS)
    assert found.sd == pytest.approx(F0 * 0.01 / 3, rel=0.01)


@settings(deadline=None)
@given(st.integers(0, 200), st.integers(1, 200), st.sampled_from([0.9, 0.95, 0.99]))
def test_intervals_are_those_of_scipy(count, units, confidence):
    count = min(count, units)
    for ours, method in ((wilson, "wilson"), (clopper_pearson, "exact")):
        theirs = stats.binomtest(count, units).proportion_ci(confidence, method)
        assert ours(count, units, confidence) == pytest.approx(
            (theirs.low, theirs.high), rel=1e-9, abs=1e-12
        )


def test_wilson_of_a_published_case():
    """E. B. Wilson's formula for 10 of 100: 0.0552 to 0.1744 (common textbook value)."""
    assert wilson(10, 100) == pytest.approx((0.0552, 0.1744), abs=5e-5)


def _one(distribution="normal", low=-0.02, high=0.05, **more):
    part = Contributor(name="L", target="L", low=low, high=high, distribution=distribution, **more)
    return StackUp(frequency=F0, contributors=(part,))


_LEVELS = (0.00135, 0.025, 0.5, 0.975, 0.99865)


@pytest.mark.parametrize(
    ("distribution", "quantile"),
    [
        ("normal", lambda p: stats.norm.ppf(p, 0.015, 0.035 / 3)),
        ("uniform", lambda p: stats.uniform.ppf(p, -0.02, 0.07)),
        ("triangular", lambda p: stats.triang.ppf(p, 0.5, -0.02, 0.07)),
    ],
)
def test_quantiles_of_one_contributor_are_those_of_its_distribution(distribution, quantile):
    """f0 falls with L: the quantile p of f0 is that of L at 1 - p."""
    found = simulate(_one(distribution), seeded(2), 400_000)
    for level, value in zip(_LEVELS, found.quantiles, strict=True):
        expected = F0 / math.sqrt(1 + float(quantile(1 - level)))
        assert value == pytest.approx(expected, rel=4e-4)


@pytest.mark.parametrize("coverage", [1.0, 2.0, 3.0, 4.0])
def test_coverage_says_how_many_standard_deviations_a_tolerance_is(coverage):
    found = simulate(_one(low=-0.03, high=0.03, coverage=coverage), seeded(3), UNITS)
    assert found.sd == pytest.approx(F0 / 2 * 0.03 / coverage, rel=0.02)


@pytest.mark.parametrize("coverage", [2.0, 3.0])
def test_normal_parts_leave_their_tolerance_as_often_as_coverage_says(coverage):
    band = Band(low=F0 / math.sqrt(1.03), high=F0 / math.sqrt(0.97))
    part = _one(low=-0.03, high=0.03, coverage=coverage).contributors
    found = simulate(StackUp(frequency=F0, contributors=part, band=band), seeded(4), 1_000_000)
    expected = 2 * stats.norm.sf(coverage)
    assert found.outside == pytest.approx(expected, abs=4 * math.sqrt(expected / 1e6))


@pytest.mark.parametrize("r", [-0.9, -0.3, 0.3, 0.9])
def test_uniform_deviations_have_the_pearson_correlation_of_a_normal_copula(r):
    """(6/pi) asin(r/2), Pearson 1907; seen in the variance of the sum of equal parts."""
    parts = tuple(
        Contributor(name=name, target="L", low=-0.001, high=0.001, distribution="uniform")
        for name in ("a", "b")
    )
    joined = StackUp(frequency=F0, contributors=parts, correlations=(("a", "b", r),))
    found = simulate(joined, seeded(5), UNITS)
    single = 0.001 / math.sqrt(3)
    pearson = 2 * (found.sd / (F0 / 2 * single)) ** 2 / 4 - 1
    assert pearson == pytest.approx(6 / math.pi * math.asin(r / 2), abs=0.01)


def test_a_one_sided_contributor_moves_the_resonance_one_way():
    found = simulate(_one("uniform", low=0.0, high=0.04), seeded(6), 10_000)
    assert found.edges[-1] <= F0
    assert found.edges[0] >= F0 / math.sqrt(1.04) * (1 - 1e-12)


def test_a_contributor_without_width_moves_nothing():
    found = simulate(_one("uniform", low=0.0, high=0.0), seeded(7), 1000)
    assert found.mean == pytest.approx(F0)
    assert found.sd < 1e-9 * F0


def test_the_histogram_has_the_mean_of_the_tanks():
    found = simulate(design(), seeded(8), UNITS)
    centres = (found.edges[1:] + found.edges[:-1]) / 2
    mean = float((centres * found.counts).sum() / found.units)
    assert mean == pytest.approx(found.mean, abs=found.edges[1] - found.edges[0])


def test_wider_bands_leave_fewer_tanks_outside():
    shares = [
        simulate(
            design(band=Band(low=F0 * (1 - half), high=F0 * (1 + half))), seeded(9), 50_000
        ).outside
        for half in (0.01, 0.02, 0.03, 0.05, 0.1)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == 0
    assert shares[0] > 0.5


def test_no_tank_outside_still_has_an_upper_bound():
    found = simulate(design(band=Band(low=1.0)), seeded(10), 10_000)
    assert found.outside == 0
    assert found.outside_interval[0] == 0
    assert 0 < found.outside_interval[1] < 1e-3
