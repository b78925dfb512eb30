"""Mutual inductance of coaxial winding sections, against independent integrals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, special

from benchapp.coil.section import MU_0, Section, mean_mutual, mutual_of_circles
from benchapp.errors import QuantityError
from tests.coil.truth import table


def neumann(a: float, b: float, d: float) -> float:
    """Neumann's integral over both circles, one angle done by symmetry."""

    def integrand(angle: float) -> float:
        return math.cos(angle) / math.sqrt(a * a + b * b + d * d - 2 * a * b * math.cos(angle))

    value, _ = integrate.quad(integrand, 0, math.pi, epsabs=0, epsrel=1e-11, limit=400)
    return MU_0 * a * b * value


def fourier_bessel(section: Section) -> float:
    """Self-inductance per turn squared of a winding section, by its Fourier-Bessel integral.

    Source: C. V. Dodd and W. E. Deeds, J. Applied Physics 39 (1968) 2829 (from memory).
    """
    inner, outer, length = section.inner, section.outer, section.length
    depth = outer - inner
    nodes, weights = np.polynomial.legendre.leggauss(24)
    panels = int(4000 / depth * outer / math.pi) + 1

    def moment(x):
        return (
            math.pi
            * x
            / 2
            * (special.j1(x) * special.struve(0, x) - special.j0(x) * special.struve(1, x))
        )

    total = 0.0
    for start in range(0, panels, 500):
        edges = math.pi / outer * np.arange(start, min(start + 500, panels) + 1)
        k = (edges[:-1, None] + np.diff(edges)[:, None] * (nodes + 1) / 2).ravel()
        weight = (np.diff(edges)[:, None] * weights / 2).ravel()
        radial = (moment(k * outer) - moment(k * inner)) / k**2
        axial = (length * k + np.expm1(-length * k)) / k**2
        total += float(np.sum(weight * axial * radial**2))
    last = panels * math.pi / outer
    mean_square = (outer + inner) / math.pi
    total += length * mean_square / (3 * last**3) - mean_square / (4 * last**4)
    return 2 * math.pi * MU_0 / (length * depth) ** 2 * total


@pytest.mark.parametrize("row", table("coaxial_loops.csv"), ids=lambda row: row["M_nH"])
def test_circles_give_the_tabulated_mutual_inductance_to_15_digits(row):
    sizes = [float(row[name]) / 100 for name in ("radius1_cm", "radius2_cm", "distance_cm")]
    expected = float(row["M_nH"]) * 1e-9
    assert float(mutual_of_circles(*sizes)) == pytest.approx(expected, rel=5e-15)


@pytest.mark.parametrize("row", table("grover_f.csv"), ids=lambda row: row["k_prime_squared"])
def test_circles_give_grovers_factor_to_11_digits(row):
    """k'^2 = ((A - a)^2 + d^2)/((A + a)^2 + d^2) with A = a = 1 cm: d^2 = 4 k'^2/(1 - k'^2)."""
    square = float(row["k_prime_squared"])
    distance = math.sqrt(4 * square / (1 - square))
    mutual = float(mutual_of_circles(0.01, 0.01, 0.01 * distance))
    assert 1e6 * mutual == pytest.approx(float(row["f"]), rel=1e-11)


@pytest.mark.parametrize(
    ("a", "b", "d"), [(0.25, 0.20, 0.10), (0.05, 0.05, 0.01), (0.3, 0.02, 0.5), (0.1, 0.099, 0.0)]
)
def test_circles_agree_with_neumanns_integral(a, b, d):
    assert float(mutual_of_circles(a, b, d)) == pytest.approx(neumann(a, b, d), rel=1e-9)


def test_circles_agree_with_neumanns_double_integral_over_both_wires():
    a, b, d = 0.25, 0.20, 0.10

    def integrand(phi, theta):
        apart = math.sqrt(a * a + b * b + d * d - 2 * a * b * math.cos(phi - theta))
        return a * b * math.cos(phi - theta) / apart

    value, _ = integrate.dblquad(integrand, 0, 2 * math.pi, 0, 2 * math.pi, epsrel=1e-9)
    assert float(mutual_of_circles(a, b, d)) == pytest.approx(1e-7 * value, rel=1e-8)


def test_nearly_touching_circles_keep_their_digits():
    a, gap = 0.035, 0.035e-10
    # The series for k near 1, NIST Digital Library of Mathematical Functions, 19.12
    expected = MU_0 * a * (math.log(8 * a / gap) - 2)
    assert float(mutual_of_circles(a, a, gap)) == pytest.approx(expected, rel=1e-12)
    assert float(mutual_of_circles(a, a - gap, 0.0)) == pytest.approx(expected, rel=1e-6)


def test_far_apart_circles_are_dipoles_and_lose_no_digits():
    a, b, d = 0.01, 0.02, 50.0
    dipoles = MU_0 * math.pi * a * a * b * b / (2 * d**3)
    assert float(mutual_of_circles(a, b, d)) == pytest.approx(dipoles, rel=1e-6)
    first = float(mutual_of_circles(a, b, 1e4 * d))
    assert first == pytest.approx(dipoles * 1e-12, rel=1e-9)


@given(st.floats(0.01, 1), st.floats(0.01, 1), st.floats(0.001, 2), st.floats(0.1, 10))
def test_circles_are_reciprocal_and_scale_with_size(a, b, d, factor):
    mutual = float(mutual_of_circles(a, b, d))
    assert float(mutual_of_circles(b, a, d)) == pytest.approx(mutual, rel=1e-12)
    scaled = float(mutual_of_circles(factor * a, factor * b, factor * d))
    assert scaled == pytest.approx(factor * mutual, rel=1e-12)


@pytest.mark.parametrize(
    ("inner", "outer", "length"),
    [
        (0.01, 0.03, 0.02),
        (0.02, 0.021, 0.02),
        (0.001, 0.03, 0.01),
        (0.02, 0.03, 0.2),
        (0.0, 0.03, 0.03),
        (0.02, 0.03, 0.001),
    ],
)
def test_winding_sections_agree_with_the_fourier_bessel_integral(inner, outer, length):
    section = Section(inner=inner, outer=outer, length=length)
    assert mean_mutual(section, section) == pytest.approx(fourier_bessel(section), rel=1e-9)


def test_flat_disc_agrees_with_the_integral_over_two_radii():
    inner, outer = 0.02, 0.05

    def maxwell(first: float, second: float) -> float:
        """Circles in one plane, by scipy's elliptic integrals."""
        k = 2 * math.sqrt(first * second) / (first + second)
        complement = ((first - second) / (first + second)) ** 2
        both = (2 / k - k) * special.ellipkm1(complement) - 2 / k * special.ellipe(min(k * k, 1.0))
        return MU_0 * math.sqrt(first * second) * both

    def over_smaller(first: float) -> float:
        def integrand(second: float) -> float:
            return maxwell(first, second)

        return integrate.quad(integrand, inner, first, epsabs=0, epsrel=1e-10, limit=200)[0]

    half, _ = integrate.quad(over_smaller, inner, outer, epsabs=0, epsrel=1e-9)
    disc = Section(inner=inner, outer=outer)
    assert mean_mutual(disc, disc) == pytest.approx(2 * half / (outer - inner) ** 2, rel=5e-8)


def test_two_coaxial_sheets_agree_with_a_double_integral():
    one = Section(inner=0.03, outer=0.03, length=0.04)
    two = Section(inner=0.02, outer=0.02, length=0.01)
    value, _ = integrate.dblquad(
        lambda z, y: float(mutual_of_circles(0.03, 0.02, z - y)),
        *(0.01, 0.02),
        *(-0.02, 0.02),
        epsrel=1e-9,
    )
    expected = value / (0.04 * 0.01)
    assert mean_mutual(one, two, 0.015) == pytest.approx(expected, rel=1e-9)


sizes = st.floats(0.005, 0.05)


@settings(max_examples=60)
@given(sizes, sizes, st.floats(0.0005, 0.1), st.floats(0.1, 0.9))
def test_a_section_cut_in_two_keeps_its_inductance(inner, depth, length, cut):
    """The mean over a whole is the mean over its parts: the parts touch, and nothing is lost."""
    whole = Section(inner=inner, outer=inner + depth, length=length)
    edge = inner + cut * depth
    left = Section(inner=inner, outer=edge, length=length)
    right = Section(inner=edge, outer=inner + depth, length=length)
    parts = (
        cut**2 * mean_mutual(left, left)
        + (1 - cut) ** 2 * mean_mutual(right, right)
        + 2 * cut * (1 - cut) * mean_mutual(left, right)
    )
    assert parts == pytest.approx(mean_mutual(whole, whole), rel=2e-7)


@settings(max_examples=60)
@given(sizes, sizes, st.floats(0.0005, 0.1), st.floats(0.1, 0.9))
def test_a_section_cut_across_the_axis_keeps_its_inductance(inner, depth, length, cut):
    whole = Section(inner=inner, outer=inner + depth, length=length)
    below = Section(inner=inner, outer=inner + depth, length=cut * length)
    above = Section(inner=inner, outer=inner + depth, length=(1 - cut) * length)
    parts = (
        cut**2 * mean_mutual(below, below)
        + (1 - cut) ** 2 * mean_mutual(above, above)
        + 2 * cut * (1 - cut) * mean_mutual(below, above, length / 2)
    )
    assert parts == pytest.approx(mean_mutual(whole, whole), rel=2e-7)


@settings(max_examples=40)
@given(sizes, st.floats(0, 0.02), st.floats(0, 0.02), st.floats(0.05, 0.2))
def test_separate_sections_are_reciprocal(inner, depth, length, distance):
    one = Section(inner=inner, outer=inner + depth, length=length)
    two = Section(inner=0.03, outer=0.035, length=0.01)
    there, back = mean_mutual(one, two, distance), mean_mutual(two, one, -distance)
    assert there == pytest.approx(back, rel=1e-9)


def test_small_sections_link_like_filaments():
    one = Section(inner=0.0499, outer=0.0501, length=0.0002)
    two = Section(inner=0.0299, outer=0.0301, length=0.0002)
    expected = float(mutual_of_circles(0.05, 0.03, 0.02))
    assert mean_mutual(one, two, 0.02) == pytest.approx(expected, rel=1e-5)


def test_two_filaments_on_one_place_are_refused():
    ring = Section(inner=0.05, outer=0.05)
    with pytest.raises(QuantityError, match="two filaments must not lie on the same place"):
        mean_mutual(ring, ring)
