"""Gauge study: plan, analysis of variance, average and range, bias, linearity."""

from __future__ import annotations

import json
import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchapp.errors import CaptureError
from benchapp.lot.chart import D2, D3
from benchapp.lot.gauge import (
    _K1,
    _K2,
    _K3,
    analysis_of_variance,
    average_and_range,
    bias,
    linearity,
    plan,
)
from tests.coil.truth import TRUTH
from tests.coil.truth import values as sections

AIAG = sections("gauge_aiag.toml")
VALUES = np.array(AIAG["values"]).reshape(10, 3, 3)
NIST = json.loads((TRUTH / "nist_anova.json").read_text(encoding="utf-8"))


def sigmas(study) -> dict[str, float]:
    return {
        "EV": study.repeatability.sigma,
        "AV": study.reproducibility.sigma,
        "GRR": study.gauge.sigma,
        "PV": study.parts.sigma,
        "TV": study.total.sigma,
    }


def test_analysis_of_variance_of_the_published_study_to_12_digits():
    study = analysis_of_variance(VALUES)
    known = AIAG["pooled"]
    for name, sigma in sigmas(study).items():
        assert sigma == pytest.approx(known[name], rel=1e-12)
    assert study.distinct == pytest.approx(known["ndc"], rel=1e-12)
    contributions = [
        share.percent_contribution
        for share in (study.repeatability, study.reproducibility, study.gauge, study.parts)
    ]
    assert contributions == pytest.approx(known["contribution"], rel=1e-12)


def test_analysis_of_variance_of_the_published_study_as_printed():
    study, known = analysis_of_variance(VALUES), AIAG["published"]
    for name, digits in (("EV", 6), ("AV", 6), ("PV", 6), ("TV", 3)):
        assert round(sigmas(study)[name], digits) == known[name]
    assert study.gauge.sigma == pytest.approx(known["GRR"], abs=2e-6)
    assert study.gauge.percent_study == pytest.approx(known["percent"], abs=0.05)
    assert study.distinct == pytest.approx(known["ndc"], abs=5e-4)
    assert study.ndc == 4


def test_table_of_the_published_study():
    study, known = analysis_of_variance(VALUES), AIAG["sums_of_squares"]
    rows = {row.name: row for row in study.table}
    for name in ("parts", "persons", "interaction", "trials"):
        assert rows[name].sum_of_squares == pytest.approx(known[name], rel=1e-12)
    assert [rows[name].dof for name in rows] == [9, 2, 18, 60]
    assert rows["interaction"].f == pytest.approx(known["interaction_f"], rel=1e-11)
    assert rows["interaction"].p == pytest.approx(known["interaction_p"], rel=1e-11)
    assert rows["parts"].f == pytest.approx(known["parts_f"], rel=1e-11)
    assert rows["persons"].f == pytest.approx(known["persons_f"], rel=1e-11)
    pooled = {row.name: row for row in study.pooled}
    mean = pooled["repeatability"].mean_square
    assert mean == pytest.approx(known["pooled_mean_square"], rel=1e-12)
    assert pooled["parts"].f == pytest.approx(rows["parts"].mean_square / mean, rel=1e-12)


def test_interaction_kept_in_the_published_study():
    study, known = analysis_of_variance(VALUES, interaction="keep"), AIAG["kept"]
    assert study.repeatability.sigma == pytest.approx(known["EV"], rel=1e-12)
    assert study.repeatability.sigma == pytest.approx(AIAG["published"]["EV_kept"], abs=5e-7)
    assert study.reproducibility.sigma == pytest.approx(known["AV"], rel=1e-12)
    assert study.interaction.sigma == known["INT"]
    assert study.parts.sigma == pytest.approx(known["PV"], rel=1e-12)
    assert study.pooled == ()


def test_average_and_range_of_the_published_study():
    study, known = average_and_range(VALUES), AIAG["average_and_range"]
    found = sigmas(study)
    for name, sigma in found.items():
        assert sigma == pytest.approx(known[name], rel=1e-12)
    assert list(found.values()) == pytest.approx(known["published"], abs=3e-4)
    percents = [
        share.percent_study
        for share in (study.repeatability, study.reproducibility, study.gauge, study.parts)
    ]
    assert percents == pytest.approx(known["percent"], rel=1e-12)
    assert (study.distinct, study.ndc) == (pytest.approx(known["ndc"], rel=1e-12), 5)


@pytest.mark.parametrize(
    ("name", "digits"), [("AtmWtAg", 9), ("SiRstv", 12), ("SmLs01", 14), ("SmLs04", 9)]
)
def test_certified_one_way_analyses_of_variance(name, digits):
    """One person, a part for each treatment; SmLs04 has six constant leading digits."""
    known = NIST[name]
    study = analysis_of_variance(np.array(known["groups"])[:, None, :])
    parts, trials = study.table
    assert parts.f == pytest.approx(known["f"], rel=10.0 ** (1 - digits))
    assert trials.sum_of_squares == pytest.approx(known["within"], rel=10.0 ** (1 - digits))
    assert study.repeatability.sigma == pytest.approx(known["sd"], rel=10.0 ** (1 - digits))
    assert study.reproducibility is None


def test_twelve_constant_leading_digits_cost_digits_but_not_the_answer():
    """SmLs07: the values themselves are stored to 2e-4 of their spread."""
    known = NIST["SmLs07"]
    study = analysis_of_variance(np.array(known["groups"])[:, None, :])
    assert study.table[0].f == pytest.approx(known["f"], rel=5e-3)


def certain(part: float, person: float, repeat: float, both: float = 0.0) -> np.ndarray:
    rng = np.random.default_rng(20260501)
    return (
        rng.normal(0, part, (40, 1, 1))
        + rng.normal(0, person, (1, 30, 1))
        + rng.normal(0, both, (40, 30, 1))
        + rng.normal(0, repeat, (40, 30, 6))
    )


def test_components_of_a_large_simulated_study_are_found():
    study = analysis_of_variance(certain(1.0, 0.3, 0.2, 0.15), tolerance=10.0)
    assert study.repeatability.sigma == pytest.approx(0.2, rel=0.03)
    assert study.interaction.sigma == pytest.approx(0.15, rel=0.1)
    assert study.reproducibility.sigma == pytest.approx(0.3, rel=0.3)
    assert study.parts.sigma == pytest.approx(1.0, rel=0.3)
    assert study.gauge.percent_tolerance == pytest.approx(60 * study.gauge.sigma)


def test_a_real_interaction_is_kept_and_none_is_pooled():
    assert analysis_of_variance(certain(1.0, 0.1, 0.1, 0.5)).interaction is not None
    assert analysis_of_variance(VALUES).interaction is None
    assert analysis_of_variance(VALUES, interaction="pool").interaction is None


@given(st.floats(0.001, 1000), st.floats(-1e3, 1e3))
def test_percentages_do_not_depend_on_the_unit(scale, shift):
    there, back = analysis_of_variance(VALUES), analysis_of_variance(scale * VALUES + shift)
    assert back.gauge.percent_study == pytest.approx(there.gauge.percent_study, rel=1e-6)
    assert back.gauge.sigma == pytest.approx(scale * there.gauge.sigma, rel=1e-6)


def test_shares_of_the_variance_add_up():
    study = analysis_of_variance(VALUES)
    total = study.gauge.percent_contribution + study.parts.percent_contribution
    assert total == pytest.approx(100)
    assert study.total.percent_study == 100
    assert study.repeatability.percent_tolerance is None


@pytest.mark.parametrize(
    ("tolerance", "words"),
    [(8.0, "conditionally suitable"), (100.0, "suitable"), (3.0, "not suitable")],
)
def test_the_usual_words_go_by_the_tolerance(tolerance, words):
    assert analysis_of_variance(VALUES, tolerance=tolerance).judgement == words


def test_without_a_tolerance_the_words_go_by_the_study():
    assert analysis_of_variance(VALUES).judgement == "conditionally suitable"


@pytest.mark.parametrize("method", [analysis_of_variance, average_and_range])
def test_a_study_without_any_variation_is_refused(method):
    with pytest.raises(CaptureError, match="gauge study: the values must vary"):
        method(np.full((5, 2, 2), 1.62e-3))


@pytest.mark.parametrize("shape", [(10, 9), (1, 3, 3), (10, 3, 1), (10, 0, 3)])
def test_tables_that_are_no_crossed_study_are_refused(shape):
    with pytest.raises(CaptureError, match="must be a table of parts by persons by trials"):
        analysis_of_variance(np.zeros(shape))


def test_a_gap_in_the_study_is_refused():
    broken = VALUES.copy()
    broken[3, 1, 2] = math.nan
    with pytest.raises(CaptureError, match="every one must be finite"):
        analysis_of_variance(broken)


def test_average_and_range_has_its_bounds():
    with pytest.raises(CaptureError, match="average and range: must have 2 to 10 parts"):
        average_and_range(np.random.default_rng(1).normal(size=(12, 3, 3)))


def test_a_perfect_gauge_has_no_number_of_categories():
    values = np.arange(5.0)[:, None, None] + np.zeros((5, 2, 2))
    study = analysis_of_variance(values)
    assert study.gauge.sigma == 0
    assert study.ndc is None


@pytest.mark.parametrize(
    ("constants", "groups"), [(_K1, math.inf), (_K2, 1), (_K3, 1)], ids=["K1", "K2", "K3"]
)
def test_constants_of_average_and_range_are_those_of_the_range(constants, groups):
    """1/d2*, d2*^2 = d2^2 + d3^2/g for g ranges: A. J. Duncan (from memory)."""
    for size, constant in constants.items():
        d2_star = math.sqrt(D2[size] ** 2 + D3[size] ** 2 / groups)
        assert constant == pytest.approx(1 / d2_star, abs=5e-4)


def test_plan_measures_every_part_by_every_person_in_every_trial():
    acts = plan(10, 3, 3, np.random.default_rng(7))
    assert [act.order for act in acts] == list(range(90))
    assert set(Counter((act.part, act.person, act.trial) for act in acts).values()) == {1}


def test_plan_goes_trial_by_trial_and_person_by_person():
    acts = plan(10, 3, 3, np.random.default_rng(7))
    for block in range(9):
        inside = acts[10 * block : 10 * block + 10]
        assert len({(act.person, act.trial) for act in inside}) == 1
        assert inside[0].trial == block // 3
        assert sorted(act.part for act in inside) == list(range(10))


def test_blind_labels_hide_the_part_and_change_from_block_to_block():
    acts = plan(10, 3, 3, np.random.default_rng(7))
    labels = {}
    for act in acts:
        labels.setdefault((act.trial, act.person), {})[act.part] = act.blind
    assert all(len(set(block.values())) == 10 for block in labels.values())
    of_first = {block[0].split("-")[1] for block in labels.values()}
    assert len(of_first) > 3


def test_the_same_generator_gives_the_same_plan_and_another_another():
    assert plan(10, 3, 3, np.random.default_rng(1)) == plan(10, 3, 3, np.random.default_rng(1))
    assert plan(10, 3, 3, np.random.default_rng(1)) != plan(10, 3, 3, np.random.default_rng(2))


@pytest.mark.parametrize("sizes", [(1, 3, 3), (10, 0, 3), (10, 3, 1)])
def test_plans_that_are_too_small_are_refused(sizes):
    with pytest.raises(CaptureError, match="gauge study: must have two parts, two trials and one"):
        plan(*sizes, np.random.default_rng(1))


def test_bias_by_hand():
    """Mean 1.02, sd 0.01, n 3: u = 0.00577, t(2) at 95 % = 4.3027."""
    found = bias([1.01, 1.02, 1.03], 1.0)
    assert (found.value, found.u) == pytest.approx((0.02, 0.01 / math.sqrt(3)))
    assert found.high - found.value == pytest.approx(4.30265 * found.u, rel=1e-5)
    assert not found.significant
    assert bias([1.019, 1.02, 1.021, 1.02, 1.02], 1.0).significant


def test_an_uncertain_reference_hides_a_bias():
    values = [1.019, 1.02, 1.021, 1.02, 1.02]
    sure, unsure = bias(values, 1.0), bias(values, 1.0, u_reference=0.05)
    assert sure.p < 0.001 < 0.05 < unsure.p
    assert not unsure.significant


def test_bias_is_named_one_time_in_twenty_without_one():
    rng = np.random.default_rng(20260503)
    named = [bias(rng.normal(5, 1, 12), 5.0).significant for _ in range(3000)]
    assert np.mean(named) == pytest.approx(0.05, abs=0.013)


def test_readings_all_alike_are_biased_or_not_but_never_uncertain():
    exact, off = bias([5.0, 5.0, 5.0], 5.0), bias([5.1, 5.1], 5.0)
    assert (exact.p, exact.significant) == (1.0, False)
    assert (off.p, off.significant) == (0.0, True)


def test_one_reading_has_no_bias():
    with pytest.raises(CaptureError, match="must be one row of at least 2"):
        bias([5.0], 5.0)


def test_linearity_has_the_certified_coefficients():
    """Bias is value less reference: its slope is that of the value less one."""
    known = NIST["Norris"]
    found = linearity(known["x"], known["y"])
    assert found.slope + 1 == pytest.approx(known["b1"], rel=1e-14)
    assert found.intercept == pytest.approx(known["b0"], rel=1e-10)
    assert found.slope_u == pytest.approx(known["b1_sd"], rel=1e-10)
    assert found.intercept_u == pytest.approx(known["b0_sd"], rel=1e-10)
    assert found.sd == pytest.approx(known["sd"], rel=1e-11)


def test_linearity_and_bias_of_the_published_study_as_printed():
    known = sections("linearity_aiag.toml")
    printed, readings = known["published"], np.array(known["readings"])
    found = linearity(np.repeat(known["references"], 12), readings.ravel())
    for name, digits in (("slope", 6), ("intercept", 6), ("sd", 5), ("r_squared", 3)):
        assert round(getattr(found, name), digits) == printed[name]
    assert round(found.slope / found.slope_u, 3) == printed["t_slope"]
    assert round(found.intercept / found.intercept_u, 3) == printed["t_intercept"]
    each = [bias(row, one) for row, one in zip(readings, known["references"], strict=True)]
    assert [round(one.value, 6) for one in each] == printed["bias"]
    assert round(float(np.mean([one.value for one in each])), 6) == printed["average_bias"]
    assert [one.significant for one in each] == [True, False, False, True, True]


def test_a_gauge_without_bias_has_no_slope():
    reference = np.repeat([1.0, 2.0, 3.0], 4)
    found = linearity(reference, reference)
    assert (found.slope, found.intercept) == (0, 0)
    assert (found.slope_p, found.intercept_p, found.r_squared) == (1.0, 1.0, 1.0)


def test_a_scale_error_is_a_slope():
    reference = np.repeat([1.0, 2.0, 3.0], 4)
    noise = np.tile([-1e-3, 1e-3, -1e-3, 1e-3], 3)
    found = linearity(reference, 1.05 * reference + noise)
    assert found.slope == pytest.approx(0.05, rel=1e-9)
    assert found.slope_p < 1e-9
    assert found.intercept_p > 0.5


@pytest.mark.parametrize(
    ("references", "values"),
    [([1.0, 1.0, 1.0], [1.0, 1.1, 0.9]), ([1.0, 2.0, 3.0], [1.0, 2.0, 3.0, 4.0])],
)
def test_linearity_of_one_reference_or_unequal_rows_is_refused(references, values):
    with pytest.raises(CaptureError, match="linearity: must have as many values as references"):
        linearity(references, values)


@st.composite
def one_way(draw) -> np.ndarray:
    parts, trials = draw(st.integers(2, 6)), draw(st.integers(2, 6))
    seed = draw(st.integers(0, 10**6))
    rng = np.random.default_rng(seed)
    return rng.normal(0, draw(st.floats(0.1, 5)), (parts, 1, 1)) + rng.normal(
        0, 1, (parts, 1, trials)
    )


@given(one_way())
def test_one_person_is_a_one_way_analysis_as_in_scipy(values):
    expected = stats.f_oneway(*values[:, 0, :])
    parts = analysis_of_variance(values).table[0]
    assert parts.f == pytest.approx(expected.statistic, rel=1e-9)
    assert parts.p == pytest.approx(expected.pvalue, rel=1e-7, abs=1e-300)


@given(st.integers(0, 10**6))
def test_the_sums_of_squares_add_up_to_the_whole(seed):
    values = np.random.default_rng(seed).normal(5, 2, (6, 3, 2))
    rows = analysis_of_variance(values).table
    total = float(np.sum((values - values.mean()) ** 2))
    assert sum(row.sum_of_squares for row in rows) == pytest.approx(total, rel=1e-12)
    assert sum(row.dof for row in rows) == values.size - 1


@given(st.permutations(range(10)), st.permutations(range(3)), st.permutations(range(3)))
def test_names_of_parts_persons_and_trials_do_not_matter(parts, persons, trials):
    mixed = VALUES[np.ix_(parts, persons, trials)]
    for method in (analysis_of_variance, average_and_range):
        there, back = method(VALUES), method(mixed)
        assert back.gauge.sigma == pytest.approx(there.gauge.sigma, rel=1e-10)
        assert back.parts.sigma == pytest.approx(there.parts.sigma, rel=1e-10)


def test_a_constant_offset_of_one_person_goes_into_reproducibility_only():
    moved = VALUES.copy()
    moved[:, 1, :] += 0.5
    before, after = analysis_of_variance(VALUES), analysis_of_variance(moved)
    assert after.repeatability.sigma == pytest.approx(before.repeatability.sigma, rel=1e-10)
    assert after.parts.sigma == pytest.approx(before.parts.sigma, rel=1e-10)
    assert after.reproducibility.sigma > before.reproducibility.sigma


def test_repeatability_is_found_without_bias_but_for_the_choice_of_pooling():
    """Pooling where the interaction came out small makes EV some 3 % too small on average."""
    rng = np.random.default_rng(20260504)
    chosen, pooled, ranges = [], [], []
    for _ in range(400):
        values = (
            rng.normal(0, 1, (10, 1, 1))
            + rng.normal(0, 0.2, (1, 3, 1))
            + rng.normal(0, 0.3, (10, 3, 3))
        )
        chosen.append(analysis_of_variance(values).repeatability.sigma)
        pooled.append(analysis_of_variance(values, interaction="pool").repeatability.sigma)
        ranges.append(average_and_range(values).repeatability.sigma)
    assert np.mean(pooled) == pytest.approx(0.3, rel=0.01)
    assert np.mean(ranges) == pytest.approx(0.3, rel=0.01)
    assert 0.95 * 0.3 < np.mean(chosen) < np.mean(pooled)
    assert np.std(pooled) < np.std(ranges)


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=30).filter(lambda x: np.ptp(x) > 1e-3))
def test_bias_of_a_sure_reference_is_students_test(values):
    found = bias(values, 1.0)
    expected = stats.ttest_1samp(values, 1.0)
    assert found.p == pytest.approx(expected.pvalue, rel=1e-6, abs=1e-12)
    ends = expected.confidence_interval(0.95)
    assert (found.low + 1, found.high + 1) == pytest.approx((ends.low, ends.high), abs=1e-6)


@given(st.integers(0, 10**6))
def test_linearity_is_the_regression_of_scipy(seed):
    rng = np.random.default_rng(seed)
    reference = np.repeat(rng.uniform(1, 9, 4), 3)
    values = 0.2 + 1.01 * reference + rng.normal(0, 0.05, 12)
    found, expected = linearity(reference, values), stats.linregress(reference, values - reference)
    assert found.slope == pytest.approx(expected.slope, rel=1e-7)
    assert found.slope_u == pytest.approx(expected.stderr, rel=1e-7)
    assert found.slope_p == pytest.approx(expected.pvalue, rel=1e-5, abs=1e-12)
    assert found.intercept_u == pytest.approx(expected.intercept_stderr, rel=1e-7)
    assert found.r_squared == pytest.approx(expected.rvalue**2, rel=1e-6)
