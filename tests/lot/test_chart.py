"""Control charts and run rules."""

from __future__ import annotations

import math
from itertools import pairwise

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


def slow_signals(scores: list[float]) -> dict[str, list[int]]:
    """The eight rules again, each by its words, point by point."""
    found: dict[str, list[int]] = {rule.id: [] for rule in RULES}
    for i in range(len(scores)):
        past = scores[: i + 1]
        for sign in (1, -1):
            signed = [sign * score for score in past]
            now = signed[-1]
            if now > 3:
                found["beyond"].append(i)
            if now > 2 and sum(score > 2 for score in signed[-3:]) >= 2:
                found["two-of-three"].append(i)
            if now > 1 and sum(score > 1 for score in signed[-5:]) >= 4:
                found["four-of-five"].append(i)
            if len(signed) >= 8 and all(score > 0 for score in signed[-8:]):
                found["eight-on-one-side"].append(i)
            last = signed[-6:]
            if len(last) == 6 and all(a < b for a, b in pairwise(last)):
                found["trend"].append(i)
        last = past[-14:]
        steps = [b - a for a, b in pairwise(last)]
        turns = [a * b < 0 for a, b in pairwise(steps)]
        if len(last) == 14 and all(turns):
            found["alternating"].append(i)
        if len(past) >= 15 and all(abs(score) < 1 for score in past[-15:]):
            found["hugging"].append(i)
        if len(past) >= 8 and all(abs(score) > 1 for score in past[-8:]):
            found["avoiding"].append(i)
    return {rule: points for rule, points in found.items() if points}


@given(st.lists(st.sampled_from([-3.2, -2.2, -1.2, -0.5, 0.0, 0.4, 1.3, 2.3, 3.3]), max_size=40))
def test_rules_agree_with_their_words_read_point_by_point(scores):
    if not scores:
        return
    expected = {rule: tuple(points) for rule, points in slow_signals(scores).items()}
    assert found_by(scores) == expected


@pytest.mark.parametrize("kind", ["quiet", "drift", "jumps"])
def test_rules_agree_with_their_words_on_long_runs(kind):
    rng = np.random.default_rng(20260404)
    scores = rng.normal(size=400)
    if kind == "drift":
        scores = scores + np.linspace(0, 3, 400)
    elif kind == "jumps":
        scores = 0.3 * scores + 1.5 * np.where(np.arange(400) % 2, 1, -1)
    expected = {rule: tuple(points) for rule, points in slow_signals(scores.tolist()).items()}
    assert found_by(scores) == expected


def test_rules_are_a_table_with_words():
    assert len({rule.id for rule in RULES}) == len(RULES) == 8
    assert all(rule.text for rule in RULES)


@given(st.floats(1e-6, 1e6), st.floats(-1e3, 1e3))
def test_charts_scale_with_the_unit(scale, shift):
    values = np.random.default_rng(8).normal(size=25)
    there, back = individuals(values), individuals(scale * values + shift)
    assert back.sigma == pytest.approx(scale * there.sigma, rel=1e-5)
    width = back.location.upper - back.location.lower
    assert width == pytest.approx(6 * back.sigma, rel=1e-6)


def test_limits_of_the_mean_narrow_with_the_subgroup():
    rng = np.random.default_rng(9)
    widths = []
    for size in (2, 4, 9):
        charts = subgroups(rng.normal(0, 1, (200, size)))
        widths.append((charts.location.upper - charts.location.centre) * math.sqrt(size))
    assert widths == pytest.approx([3.0, 3.0, 3.0], rel=0.1)


def test_a_steady_process_stays_inside_its_limits():
    rng = np.random.default_rng(10)
    outside = 0
    for _ in range(200):
        charts = individuals(rng.normal(0, 1, 50))
        outside += sum(signal.rule == "beyond" for signal in charts.location.signals)
    assert outside / 200 == pytest.approx(0.14, abs=0.09)
