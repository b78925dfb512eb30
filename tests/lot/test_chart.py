"""Control charts and run rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from benchapp.errors import CaptureError
from benchapp.lot.chart import D2, D3, RULES, c4, individuals, signals, subgroups


def moment_of_range(n: int, power: int) -> float:
    """Mean of the range of n normal values to a power, by its density."""

    def density(width: float) -> float:
        def at(start: float) -> float:
            inside = stats.norm.cdf(start + width) - stats.norm.cdf(start)
            return stats.norm.pdf(start) * stats.norm.pdf(start + width) * inside ** (n - 2)

        nodes, weights = np.polynomial.legendre.leggauss(60)
        start = 8 * nodes
        return n * (n - 1) * float(np.sum(8 * weights * at(start)))

    value, _ = integrate.quad(lambda w: w**power * density(w), 0, 12, epsabs=1e-9, limit=200)
    return value


@pytest.mark.parametrize("n", D2)
def test_constants_of_the_range_are_its_moments(n):
    mean = moment_of_range(n, 1)
    assert D2[n] == pytest.approx(mean, abs=6e-4)
    assert D3[n] == pytest.approx(math.sqrt(moment_of_range(n, 2) - mean**2), abs=6e-4)


@pytest.mark.parametrize(("n", "value"), [(2, 0.7979), (5, 0.9400), (10, 0.9727), (25, 0.9896)])
def test_constant_of_the_standard_deviation(n, value):
    """Table of control chart constants, ASTM E2587 (from memory)."""
    assert c4(n) == pytest.approx(value, abs=5e-5)


def test_single_values_by_hand():
    charts = individuals([10.0, 12.0, 11.0, 13.0])
    mean_range = (2 + 1 + 2) / 3
    assert charts.spread.points.tolist() == [2.0, 1.0, 2.0]
    assert charts.sigma == pytest.approx(mean_range / 1.128)
    assert charts.location.centre == 11.5
    assert charts.location.upper - 11.5 == pytest.approx(2.66 * mean_range, rel=1e-3)
    assert charts.spread.upper == pytest.approx(3.267 * mean_range, rel=1e-3)


def freedom(sigma: np.ndarray) -> float:
    """Degrees of freedom of a standard deviation that scatters like these."""
    return 1 / (2 * (sigma.std() / sigma.mean()) ** 2)


def test_single_values_estimate_the_spread_with_their_stated_freedom():
    drawn = np.random.default_rng(20260401).normal(0, 2, (20_000, 30))
    charts = individuals(drawn[0])
    assert charts.sigma == pytest.approx(np.abs(np.diff(drawn[0])).mean() / 1.128)
    sigma = np.abs(np.diff(drawn, axis=1)).mean(axis=1) / 1.128
    assert sigma.mean() == pytest.approx(2.0, rel=0.01)
    assert charts.dof == pytest.approx(freedom(sigma), rel=0.04)


@pytest.mark.parametrize("size", [2, 5, 10, 15])
def test_subgroups_estimate_the_spread_with_their_stated_freedom(size):
    drawn = np.random.default_rng(20260402 + size).normal(7, 2, (20_000, 12, size))
    charts = subgroups(drawn[0])
    if size > 10:
        spread = np.std(drawn, axis=2, ddof=1) / c4(size)
    else:
        spread = np.ptp(drawn, axis=2) / D2[size]
    sigma = spread.mean(axis=1)
    assert charts.sigma == pytest.approx(sigma[0])
    assert sigma.mean() == pytest.approx(2.0, rel=0.01)
    assert charts.dof == pytest.approx(freedom(sigma), rel=0.04)


@pytest.mark.parametrize(
    ("size", "a2", "d4", "d3"),
    [(2, 1.880, 3.267, 0), (5, 0.577, 2.114, 0), (7, 0.419, 1.924, 0.076)],
)
def test_limits_of_subgroups_as_tabulated(size, a2, d4, d3):
    """Factors A2, D3, D4 of range charts, ASTM E2587 (from memory)."""
    values = np.random.default_rng(3).normal(10, 1, (20, size))
    charts = subgroups(values)
    mean_range = float(np.ptp(values, axis=1).mean())
    assert charts.location.upper - charts.location.centre == pytest.approx(
        a2 * mean_range, rel=2e-3
    )
    assert charts.spread.upper == pytest.approx(d4 * mean_range, rel=2e-3)
    assert charts.spread.lower == pytest.approx(d3 * mean_range, abs=2e-3 * mean_range)


def test_large_subgroups_are_charted_by_their_standard_deviation():
    charts = subgroups(np.random.default_rng(4).normal(10, 1, (20, 15)))
    assert charts.spread.title == "standard deviation of subgroups"
    assert charts.sigma == pytest.approx(1.0, rel=0.1)


def test_a_wild_subgroup_shows_in_the_spread():
    values = np.random.default_rng(5).normal(10, 1, (20, 5))
    values[7] = [1.0, 20.0, 10.0, 10.0, 10.0]
    assert subgroups(values).spread.signals[0].points == (7,)


@pytest.mark.parametrize("values", [[1.0], []])
def test_one_value_has_no_chart(values):
    with pytest.raises(CaptureError, match="values: must be one row of at least 2"):
        individuals(values)


@pytest.mark.parametrize("shape", [(4,), (1, 5), (5, 1), (2, 2, 2)])
def test_subgroups_that_are_none_are_refused(shape):
    with pytest.raises(CaptureError, match="subgroups: must be a table of two by two at least"):
        subgroups(np.zeros(shape))


def test_subgroups_with_a_gap_are_refused():
    with pytest.raises(CaptureError, match="every one must be finite"):
        subgroups([[1.0, math.nan], [2.0, 3.0]])


PATTERNS = {
    "beyond": ([0, 0.5, -0.4, 3.1, 0.2], (3,)),
    "two-of-three": ([0, 2.1, 0.3, 2.2, -0.5], (3,)),
    "four-of-five": ([1.1, -0.2, 1.2, 1.3, 1.4, -0.1], (4,)),
    "eight-on-one-side": ([-0.1, *[0.2, 0.5, 0.3, 0.6, 0.2, 0.4, 0.7, 0.1]], (8,)),
    "trend": ([0.0, -0.9, -0.5, -0.1, 0.3, 0.6, 0.9, 0.1], (6,)),
    "alternating": ([0.5, -0.5] * 7, (13,)),
    "hugging": ([0.5, -0.5, -0.4] * 5, (14,)),
    "avoiding": ([1.2, -1.3, -1.1, 1.5, -1.2, 1.1, 1.3, -1.4], (7,)),
}


def found_by(scores) -> dict[str, tuple[int, ...]]:
    return {signal.rule: signal.points for signal in signals(scores, 0.0, 1.0)}


@pytest.mark.parametrize("rule", [rule.id for rule in RULES])
def test_each_rule_finds_its_pattern_at_the_point_that_completes_it(rule):
    scores, points = PATTERNS[rule]
    assert found_by(scores)[rule] == points


@pytest.mark.parametrize("rule", [rule.id for rule in RULES])
def test_each_rule_holds_upside_down_too(rule):
    scores, points = PATTERNS[rule]
    assert found_by([-score for score in scores])[rule] == points


@pytest.mark.parametrize("rule", [rule.id for rule in RULES])
def test_one_point_less_is_no_pattern(rule):
    scores, points = PATTERNS[rule]
    shorter = scores[: points[0]]
    assert rule not in found_by(shorter) if shorter else True


def test_two_of_three_need_the_same_side():
    assert "two-of-three" not in found_by([0, 2.1, -2.2, 0.1])


@given(st.floats(0.01, 100), st.floats(-50, 50))
def test_signals_do_not_depend_on_the_unit(sigma, centre):
    scores = np.array(PATTERNS["four-of-five"][0])
    assert signals(centre + sigma * scores, centre, sigma)[0].rule == "four-of-five"


def test_without_spread_there_are_no_signals():
    assert signals([1.0, 1.0, 1.0], 1.0, 0.0) == ()


@pytest.mark.parametrize(
    ("rule", "rate"),
    [("beyond", 0.0027), ("eight-on-one-side", 0.0078), ("two-of-three", 0.0030)],
)
def test_rules_cry_wolf_as_rarely_as_probability_says(rule, rate):
    """Chance per point: 0.27 %, 2 * 0.5^8, and about 2 * 2 * 0.0228^2 for two of three."""
    scores = np.random.default_rng(20260403).normal(size=200_000)
    assert len(found_by(scores)[rule]) / scores.size == pytest.approx(rate, rel=0.35)


def test_charts_carry_their_signals():
    values = [*np.random.default_rng(6).normal(10, 0.1, 30), 14.0]
    charts = individuals(values)
    assert charts.location.signals[0].rule == "beyond"
    assert 30 in charts.location.signals[0].points
    assert charts.spread.signals[0].points == (29,)
