"""Figures of a sample, its normality, outliers, and hints of sorting and mixing."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchapp.errors import CaptureError
from benchapp.lot.sample import (
    _tail_of_anderson,
    describe,
    hints,
    histogram,
    normality,
    outliers,
    values_of,
)

# B. Rosner, Technometrics 25 (1983) 165, by way of the NIST/SEMATECH e-Handbook, 1.3.5.17.3. From
# memory: mean and spread of these values give the published statistics, which supports them.
ROSNER = [
    *(-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56),
    *(1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10),
    *(2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92),
    *(2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01),
]
samples = st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=60)


@given(samples)
def test_figures_are_those_of_numpy(values):
    figures = describe(values)
    assert figures.n == len(values)
    assert figures.mean == pytest.approx(np.mean(values), abs=1e-9)
    assert figures.sd == pytest.approx(np.std(values, ddof=1), abs=1e-9)
    assert figures.minimum <= figures.median <= figures.maximum
    assert figures.range == max(values) - min(values)


def test_one_value_has_no_standard_deviation():
    figures = describe([1.62e-3])
    assert figures.sd is None
    assert (figures.mean, figures.range) == (1.62e-3, 0.0)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ([], "must be one row of at least 1"),
        ([[1.0, 2.0]], r"must be one row of at least 1 \(got shape \(1, 2\)\)"),
        ([1.0, math.nan], "every one must be finite"),
        ([1.0, math.inf], "every one must be finite"),
    ],
)
def test_values_that_are_no_sample_are_refused(values, message):
    with pytest.raises(CaptureError, match=message):
        describe(values)


def test_values_are_copied():
    given_values = np.array([1.0, 2.0])
    values_of(given_values)[0] = 9.0
    assert given_values[0] == 1.0


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=300))
def test_every_value_falls_into_one_bin(values):
    edges, counts = histogram(values)
    assert counts.sum() == len(values)
    assert edges.size == counts.size + 1
    assert edges[0] <= min(values) <= max(values) <= edges[-1]
    assert counts.size <= 60


def test_equal_values_make_one_bin():
    edges, counts = histogram([2.0] * 7)
    assert counts.tolist() == [7]
    assert edges[0] < 2.0 < edges[1]


@pytest.mark.parametrize("n", [10, 30, 100])
def test_normal_samples_are_doubted_one_time_in_twenty(n):
    rng = np.random.default_rng(20260201 + n)
    doubted = [normality(rng.normal(5, 2, n)).doubtful for _ in range(1500)]
    assert 0.03 < np.mean(doubted) < 0.065


def test_statistic_is_that_of_scipy():
    values = np.random.default_rng(20260202).normal(size=40)
    n = values.size
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its keywords are about to change, its statistic is not
        other = stats.anderson(values, "norm")
    raised = other.statistic * (1 + 0.75 / n + 2.25 / n**2)
    assert normality(values).statistic == pytest.approx(raised, rel=1e-10)


@pytest.mark.parametrize(
    ("critical", "level"), [(0.631, 0.10), (0.752, 0.05), (0.873, 0.025), (1.035, 0.01)]
)
def test_p_value_is_the_level_at_the_published_critical_values(critical, level):
    """Upper tail points of the raised statistic, D'Agostino and Stephens (from memory)."""
    assert _tail_of_anderson(critical) == pytest.approx(level, rel=0.03)


def test_p_value_falls_without_a_jump():
    tails = [_tail_of_anderson(a) for a in np.linspace(0.05, 12, 2000)]
    assert np.all(np.diff(tails) <= 2e-3)
    assert tails[0] > 0.99
    assert tails[-1] < 1e-10


@pytest.mark.parametrize("shape", ["uniform", "exponential", "two"])
def test_samples_that_are_not_normal_are_doubted(shape):
    rng = np.random.default_rng(20260203)
    values = {
        "uniform": rng.uniform(size=300),
        "exponential": rng.exponential(size=80),
        "two": np.concatenate([rng.normal(0, 1, 60), rng.normal(5, 1, 60)]),
    }[shape]
    assert normality(values).doubtful


@given(st.floats(0.1, 100), st.floats(-100, 100))
def test_normality_does_not_depend_on_the_unit(scale, shift):
    values = np.random.default_rng(7).normal(size=25)
    there, back = normality(values), normality(scale * values + shift)
    assert back.statistic == pytest.approx(there.statistic, rel=1e-6)


@pytest.mark.parametrize("values", [[1.0] * 7, [3.0] * 20])
def test_too_few_or_equal_values_have_no_test(values):
    assert normality(values) is None


def test_outliers_of_rosners_example():
    found = outliers(ROSNER)
    assert [entry.value for entry in found] == [6.01, 5.42, 5.34]
    assert [entry.index for entry in found] == [53, 52, 51]
    deviations = [entry.deviations for entry in found]
    assert deviations == pytest.approx([3.119, 2.943, 3.179], abs=6e-4)
    bounds = [entry.bound for entry in found]
    assert bounds == pytest.approx([3.159, 3.151, 3.144], abs=6e-4)


def test_clean_samples_lose_a_value_one_time_in_twenty():
    rng = np.random.default_rng(20260204)
    named = [bool(outliers(rng.normal(size=40))) for _ in range(1000)]
    assert 0.03 < np.mean(named) < 0.075


@given(st.floats(8, 100), st.integers(0, 29))
def test_one_far_value_is_always_named(far, place):
    values = np.random.default_rng(11).normal(size=30)
    values[place] = far
    assert place in [entry.index for entry in outliers(values)]


@pytest.mark.parametrize("values", [[1.0, 2.0, 900.0], [5.0] * 30])
def test_few_or_equal_values_have_no_outliers(values):
    assert outliers(values) == ()


def draw(shape: str, n: int, rng: np.random.Generator) -> np.ndarray:
    if shape == "sorted":
        wide = rng.normal(size=20 * n)
        return wide[np.abs(wide) < 1.5][:n]
    if shape == "two":
        return np.concatenate([rng.normal(0, 1, n // 2), rng.normal(5, 1, n - n // 2)])
    return rng.normal(size=n)


def ids(values, **limits) -> list[str]:
    return [hint.id for hint in hints(values, **limits)]


def test_a_lot_sorted_at_its_limits_is_suspected():
    rng = np.random.default_rng(20260205)
    found = [ids(draw("sorted", 200, rng), lower=-1.5, upper=1.5) for _ in range(50)]
    assert all("sorted-lot" in hint for hint in found)
    text = hints(draw("sorted", 200, rng), lower=-1.5, upper=1.5)[0]
    assert "% outside" in text.text
    assert text.advice


def test_a_lot_with_parts_outside_was_not_sorted():
    values = draw("sorted", 200, np.random.default_rng(20260206))
    assert ids([*values, 1.6], lower=-1.5, upper=1.5) == []


def test_two_populations_are_told_with_their_means():
    hint = hints(draw("two", 120, np.random.default_rng(20260207)))[0]
    assert hint.id == "mixture"
    assert "50 % about" in hint.text


def test_normal_lots_raise_no_hint():
    rng = np.random.default_rng(20260208)
    raised = [ids(draw("normal", 60, rng), lower=-3.5, upper=3.5) for _ in range(200)]
    assert sum(bool(hint) for hint in raised) <= 2


def test_one_sided_limits_are_enough_to_suspect_sorting():
    rng = np.random.default_rng(20260209)
    wide = rng.normal(size=2000)
    values = wide[wide < 0.8][:300]
    assert ids(values, upper=0.8) == ["sorted-lot"]


@pytest.mark.parametrize("values", [[1.0, 2.0, 1.0, 2.0], [4.0] * 60])
def test_small_or_equal_samples_raise_no_hint(values):
    assert hints(values, lower=0.0, upper=3.0) == ()


def test_a_single_far_value_is_no_second_population():
    values = np.random.default_rng(20260210).normal(size=60)
    assert "mixture" not in ids([*values, 40.0])
