"""Propagation against the GUM's worked example, against closed formulas and against draws."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import QuantityError
from benchapp.uncertainty import (
    correlation,
    effective_dof,
    expanded,
    from_readings,
    gradient,
    propagate,
    student_coverage,
)
from benchapp.units import Estimate

H2 = tomllib.loads(
    (Path(__file__).parents[1] / "truth" / "gum_h2.toml").read_text(encoding="utf-8")
)
PAIRS = {"R_X": (0, 1), "R_Z": (0, 2), "X_Z": (1, 2)}


def _impedance(values):
    volt, ampere, phi = values
    return volt / ampere * np.array([math.cos(phi), math.sin(phi), 1.0])


def _impedance_jacobian(values):
    volt, ampere, phi = values
    size = volt / ampere
    cos, sin = math.cos(phi), math.sin(phi)
    return [
        [cos / ampere, -size * cos / ampere, -size * sin],
        [sin / ampere, -size * sin / ampere, size * cos],
        [1 / ampere, -size / ampere, 0.0],
    ]


def _readings():
    table = H2["readings"]
    return np.column_stack([table["V_volt"], table["I_ampere"], table["phi_rad"]])


def test_means_of_gum_h2_have_the_published_uncertainties_and_correlations():
    means, covariance = from_readings(_readings())
    published = H2["published"]
    assert means == pytest.approx(published["mean"], rel=1e-5)
    assert np.sqrt(covariance.diagonal()) == pytest.approx(published["u_mean"], rel=0.008)
    r = correlation(covariance)
    assert r[0, 1] == pytest.approx(published["r_mean"]["V_I"], abs=0.005)
    assert r[0, 2] == pytest.approx(published["r_mean"]["V_phi"], abs=0.005)
    assert r[1, 2] == pytest.approx(published["r_mean"]["I_phi"], abs=0.005)


@pytest.mark.parametrize("jacobian", [None, _impedance_jacobian], ids=["differences", "analytic"])
def test_gum_h2_is_reproduced_with_its_correlations(jacobian):
    results, covariance = propagate(_impedance, *from_readings(_readings()), jacobian=jacobian)
    u, r = np.sqrt(covariance.diagonal()), correlation(covariance)
    published, computed = H2["published"], H2["computed"]
    assert results == pytest.approx(list(published["value"].values()), abs=0.0006)
    assert u == pytest.approx(list(published["u"].values()), abs=0.001)
    assert results == pytest.approx(list(computed["value"].values()), rel=1e-13)
    assert u == pytest.approx(list(computed["u"].values()), rel=1e-10)
    for pair, place in PAIRS.items():
        assert r[place] == pytest.approx(published["r"][pair], abs=0.001)
        assert r[place] == pytest.approx(computed["r"][pair], rel=1e-9)


def test_ignoring_the_correlations_of_gum_h2_gives_the_known_wrong_values():
    means, covariance = from_readings(_readings())
    _, wrong = propagate(_impedance, means, np.diag(covariance.diagonal()))
    u = np.sqrt(wrong.diagonal())
    assert u == pytest.approx(list(H2["ignored"]["u"].values()), rel=1e-9)
    for pair, place in PAIRS.items():
        assert correlation(wrong)[place] == pytest.approx(H2["ignored"]["r"][pair], rel=1e-8)
    assert u[0] > 2.7 * H2["published"]["u"]["R"]


@pytest.mark.parametrize(
    ("function", "slope", "x"),
    [
        (np.exp, np.exp, 1.7),
        (np.sin, np.cos, -0.4),
        (lambda x: x**-0.5, lambda x: -0.5 * x**-1.5, 868e-12),
        (lambda x: x**3, lambda x: 3 * x**2, 134.2e3),
        (np.log, lambda x: 1 / x, 1.62e-3),
    ],
)
def test_differences_agree_with_closed_derivatives_to_eleven_digits(function, slope, x):
    assert gradient(function, [x])[0, 0] == pytest.approx(float(slope(x)), rel=2e-11)


def test_a_value_of_zero_is_differentiated_over_its_uncertainty():
    assert gradient(np.sin, [0.0], [1e-9])[0, 0] == pytest.approx(1.0, rel=1e-10)
    assert gradient(lambda x: 5 * x, [0.0])[0, 0] == pytest.approx(5.0, rel=1e-12)


@given(
    st.lists(st.floats(-3, 3), min_size=9, max_size=9),
    st.lists(st.floats(-2, 2), min_size=6, max_size=6),
)
def test_a_linear_function_propagates_exactly(root, weights):
    half, matrix = np.reshape(root, (3, 3)), np.reshape(weights, (2, 3))
    covariance = half @ half.T
    results, spread = propagate(lambda x: matrix @ x, [1.0, -2.0, 0.5], covariance)
    assert results == pytest.approx(matrix @ [1.0, -2.0, 0.5])
    assert spread == pytest.approx(matrix @ covariance @ matrix.T, rel=1e-9, abs=1e-9)


def test_fully_correlated_inputs_cancel_in_a_ratio():
    u = 0.01
    covariance = u**2 * np.array([[1.0, 2.0], [2.0, 4.0]])
    _, spread = propagate(lambda x: x[1] / x[0], [1.0, 2.0], covariance)
    assert spread[0, 0] == pytest.approx(0.0, abs=1e-15)


def test_propagated_spread_agrees_with_drawn_resonances():
    values = np.array([1.62e-3, 868e-12])
    covariance = np.outer(values, values) * np.array([[4e-6, -1e-6], [-1e-6, 1e-6]])

    def f0(x):
        return 1 / (2 * np.pi * np.sqrt(x[0] * x[1]))

    (result,), spread = propagate(f0, values, covariance)
    draws = np.random.default_rng(7).multivariate_normal(values, covariance, size=200_000)
    assert result == pytest.approx(134.22e3, rel=1e-3)
    assert math.sqrt(spread[0, 0]) == pytest.approx(np.std(f0(draws.T)), rel=0.01)


def test_what_does_not_fit_or_is_not_finite_is_refused():
    with pytest.raises(QuantityError, match=r"must have 2 rows and columns \(got shape \(1, 1\)"):
        propagate(np.sum, [1.0, 2.0], [[1.0]])
    with pytest.raises(QuantityError, match="propagated value: must be finite"):
        propagate(lambda x: math.inf * x, [1.0], [[1.0]])
    with pytest.raises(QuantityError, match="at least two repetitions"):
        from_readings([[1.0, 2.0]])
    with pytest.raises(QuantityError, match="coverage: needs a level between 0 and 1"):
        student_coverage(5, 1.0)
    with pytest.raises(QuantityError, match="degrees of freedom above 0"):
        student_coverage(0)


def test_a_fixed_element_is_correlated_with_nothing():
    r = correlation([[4.0, 0.0], [0.0, 0.0]])
    assert r.tolist() == [[1.0, 0.0], [0.0, 1.0]]


def test_expanded_uncertainty_is_k_times_u_and_unknown_stays_unknown():
    known = Estimate(name="L", value=1.62e-3, u=1.5e-6, unit="H")
    assert expanded(known, 2) == 3e-6
    assert expanded(Estimate(name="L", value=1.62e-3, u=None, unit="H"), 2) is None


# JCGM 100:2008, Table G.2: t_p(v) as printed there, quoted from memory.
@pytest.mark.parametrize(
    ("dof", "level", "k"),
    [
        (1, 0.9545, 13.97),
        (2, 0.9545, 4.53),
        (4, 0.9545, 2.87),
        (10, 0.9545, 2.28),
        (50, 0.9545, 2.05),
        (math.inf, 0.9545, 2.000),
        (10, 0.9973, 3.96),
        (10, 0.95, 2.23),
        (math.inf, 0.95, 1.960),
    ],
)
def test_coverage_factors_are_those_of_gum_table_g2(dof, level, k):
    assert student_coverage(dof, level) == pytest.approx(k, abs=0.0051)


def test_effective_dof_reproduces_the_end_gauge_of_gum_h1():
    # JCGM 100:2008, H.1.6: contributions in nm with their degrees of freedom give v_eff = 16
    # (quoted from memory).
    contributions, dof = [25.0, 9.7, 2.9, 16.6], [18.0, 25.6, 50.0, 2.0]
    assert math.floor(effective_dof(contributions, dof)) == 16


def test_effective_dof_of_known_contributions_is_infinite():
    assert effective_dof([1.0, 2.0], [math.inf, math.inf]) == math.inf
    assert effective_dof([3.0], [7.0]) == pytest.approx(7.0)


@given(st.lists(st.tuples(st.floats(1e-3, 1e3), st.floats(1, 500)), min_size=1, max_size=6))
def test_effective_dof_lie_between_the_fewest_and_the_sum(terms):
    contributions, dof = zip(*terms, strict=True)
    found = effective_dof(contributions, dof)
    assert min(dof) * (1 - 1e-12) <= found <= sum(dof) * (1 + 1e-12)


@given(st.lists(st.floats(-5, 5), min_size=16, max_size=16))
def test_correlations_stay_between_minus_one_and_one(root):
    half = np.reshape(root, (4, 4))
    r = correlation(half @ half.T)
    assert np.all(np.abs(r) <= 1)
    assert np.all(r.diagonal() == 1)
    assert r == pytest.approx(r.T)


@given(st.lists(st.floats(-3, 3), min_size=5, max_size=5), st.floats(0.1, 10))
def test_differences_are_exact_for_polynomials_up_to_the_fourth_power(weights, x):
    polynomial = np.polynomial.Polynomial(weights)
    slope = polynomial.deriv()(x)
    size = np.abs(weights).sum() * max(x, 1.0) ** 4
    assert gradient(polynomial, [x])[0, 0] == pytest.approx(slope, rel=1e-9, abs=1e-11 * size)


def test_several_results_keep_their_correlation():
    # Sum and difference of two values with one u are not correlated; each with itself is.
    _, spread = propagate(lambda x: [x[0] + x[1], x[0] - x[1]], [3.0, 1.0], np.diag([0.04, 0.04]))
    assert correlation(spread)[0, 1] == pytest.approx(0.0, abs=1e-9)
    assert spread.diagonal() == pytest.approx([0.08, 0.08])


def test_the_interval_with_students_factor_covers_the_truth():
    generator = np.random.default_rng(2)
    k = student_coverage(4, 0.95)
    hits = 0
    for _ in range(4000):
        means, covariance = from_readings(generator.normal(10.0, 2.0, (5, 1)))
        hits += abs(means[0] - 10.0) <= k * math.sqrt(covariance[0, 0])
    assert hits / 4000 == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / 4000))


def test_more_repetitions_shrink_the_uncertainty_of_a_mean_by_the_root():
    generator = np.random.default_rng(3)
    few = from_readings(generator.normal(0, 1, (500, 1)))[1][0, 0]
    many = from_readings(generator.normal(0, 1, (8000, 1)))[1][0, 0]
    assert math.sqrt(few / many) == pytest.approx(4.0, rel=0.1)


@given(
    st.lists(st.floats(-3, 3), min_size=9, max_size=9),
    st.lists(st.floats(0.1, 5), min_size=3, max_size=3),
)
def test_correlations_do_not_depend_on_units(root, factors):
    half = np.reshape(root, (3, 3))
    covariance = half @ half.T + np.eye(3)
    change = np.diag(factors)
    assert correlation(change @ covariance @ change) == pytest.approx(correlation(covariance))


@given(st.lists(st.floats(0.5, 2), min_size=3, max_size=3), st.floats(1e-3, 1e-1))
def test_a_product_of_powers_adds_relative_uncertainties(values, relative):
    # JCGM 100:2008, 5.1.6 equation (12), for independent inputs.
    u = relative * np.array(values)
    (result,), spread = propagate(
        lambda x: x[0] ** 2 / (x[1] * np.sqrt(x[2])), values, np.diag(u**2)
    )
    expected = relative * math.hypot(2, 1, 0.5)
    assert math.sqrt(spread[0, 0]) / result == pytest.approx(expected, rel=1e-8)


def test_going_there_and_back_changes_no_covariance():
    values, covariance = [2.0, 0.5], np.array([[0.04, -0.01], [-0.01, 0.02]])
    logs, there = propagate(np.log, values, covariance)
    back, again = propagate(np.exp, logs, there)
    assert back == pytest.approx(values)
    assert again == pytest.approx(covariance, rel=1e-9)


@given(st.integers(2, 12), st.floats(-5, 5), st.floats(0.1, 9))
def test_readings_that_are_moved_and_stretched_move_and_stretch_their_mean(count, shift, factor):
    readings = np.random.default_rng(count).standard_normal((count, 2))
    means, covariance = from_readings(readings)
    moved, wide = from_readings(shift + factor * readings)
    assert moved == pytest.approx(shift + factor * means)
    assert wide == pytest.approx(factor**2 * covariance)
    mixed, same = from_readings(readings[::-1])
    assert mixed == pytest.approx(means)
    assert same == pytest.approx(covariance)


@given(st.floats(1, 500), st.floats(0.5, 0.999))
def test_fewer_degrees_of_freedom_and_more_confidence_need_more_coverage(dof, level):
    k = student_coverage(dof, level)
    assert k >= student_coverage(math.inf, level) - 1e-12
    assert k >= student_coverage(2 * dof, level) - 1e-12
    assert student_coverage(dof, min(level + 5e-4, 0.9999)) > k


def test_equal_contributions_pool_their_degrees_of_freedom():
    assert effective_dof([2.0, 2.0, 2.0], [5.0, 5.0, 5.0]) == pytest.approx(15.0)
    assert effective_dof([1.0, 1e-9], [5.0, 2.0]) == pytest.approx(5.0)
