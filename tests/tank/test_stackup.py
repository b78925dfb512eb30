"""Worst case against brute force, root sum of squares, shares, what to tighten."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import QuantityError, UsageError
from benchapp.tank import (
    Band,
    Contributor,
    StackUp,
    TankDesign,
    Temperature,
    solve,
    stack,
    stack_of,
)
from benchapp.units import parse_quantity

F0 = 134.2e3


def part(name, low, high, target="L", **more):
    return Contributor(name=name, target=target, low=low, high=high, **more)


def test_ten_and_five_percent_as_practice_has_them():
    """L ±10 %, C ±5 %: -6.95 % / +8.15 % at worst, ±5.6 % root sum of squares."""
    result = stack(
        StackUp(
            frequency=F0, contributors=(part("L", -0.1, 0.1), part("C", -0.05, 0.05, target="C"))
        )
    )
    assert result.worst_low / F0 - 1 == pytest.approx(-0.0695, abs=5e-5)
    assert result.worst_high / F0 - 1 == pytest.approx(0.0815, abs=5e-5)
    assert result.rss_high / F0 - 1 == pytest.approx(math.hypot(0.05, 0.025))
    assert result.rss_low / F0 - 1 == pytest.approx(-math.hypot(0.05, 0.025))
    assert result.tighten == "L"
    assert [share.variance_share for share in result.shares] == pytest.approx([0.8, 0.2])


spans = st.tuples(st.floats(-0.3, 0.1), st.floats(0.0, 0.3)).map(
    lambda ends: (min(ends), max(ends))
)
ppm = st.tuples(st.floats(-3e-3, 3e-3), st.floats(-3e-3, 3e-3)).map(
    lambda ends: (min(ends), max(ends))
)


@settings(max_examples=60, deadline=None)
@given(st.lists(spans, min_size=1, max_size=4), ppm, ppm, st.floats(-60, 20), st.floats(30, 120))
def test_worst_case_is_exact_against_brute_force(ranges, coil, capacitor, cold, hot):
    """Corners of every contributor and coefficient, over 2001 temperatures."""
    temperature = Temperature(
        inductance=coil, capacitance=capacitor, low_celsius=cold, high_celsius=hot
    )
    design = StackUp(
        frequency=F0,
        contributors=tuple(part(f"part {i}", *ends) for i, ends in enumerate(ranges)),
        temperature=temperature,
    )
    result = stack(design)
    rises = np.linspace(cold - 23, hot - 23, 2001)
    lowest, highest = math.inf, 0.0
    for corner in itertools.product(*ranges, coil, capacitor):
        *deviations, first, second = corner
        product = math.prod(1 + x for x in deviations) * (1 + first * rises) * (1 + second * rises)
        lowest, highest = (
            min(lowest, float((F0 / np.sqrt(product)).min())),
            max(highest, float((F0 / np.sqrt(product)).max())),
        )
    assert result.worst_low == pytest.approx(lowest, rel=1e-6)
    assert result.worst_high == pytest.approx(highest, rel=1e-6)
    assert result.worst_low <= lowest * (1 + 1e-12)
    assert result.worst_high >= highest * (1 - 1e-12)


def test_opposite_coefficients_have_their_extreme_inside_the_range():
    """(1 + a T)(1 - a T) = 1 - (a T)^2 is greatest at the reference, not at an end."""
    design = StackUp(
        frequency=F0,
        contributors=(),
        temperature=Temperature(
            inductance=(1e-3, 1e-3),
            capacitance=(-1e-3, -1e-3),
            low_celsius=-27,
            high_celsius=123,
        ),
    )
    result = stack(design)
    assert result.worst_low == pytest.approx(F0, rel=1e-12)
    assert result.worst_high == pytest.approx(F0 / math.sqrt(1 - 0.1**2), rel=1e-12)
    assert result.tighten is None


def test_polypropylene_over_sixty_kelvin():
    """-250 ppm/K over 60 K is -1.5 % in C, +0.76 % in f0."""
    design = StackUp(
        frequency=F0,
        contributors=(),
        temperature=Temperature(capacitance=(-250e-6, -250e-6), low_celsius=23, high_celsius=83),
    )
    assert stack(design).worst_high / F0 - 1 == pytest.approx(1 / math.sqrt(0.985) - 1)


@pytest.mark.parametrize(
    ("r", "width"), [(1.0, 0.06), (-1.0, 0.02), (0.0, math.hypot(0.04, 0.02))]
)
def test_correlation_adds_or_cancels(r, width):
    result = stack(
        StackUp(
            frequency=F0,
            contributors=(part("L", -0.08, 0.08), part("C", -0.04, 0.04, target="C")),
            correlations=(("L", "C", r),),
        )
    )
    assert result.rss_high / F0 - 1 == pytest.approx(width)
    assert result.worst_high == pytest.approx(F0 / math.sqrt(0.92 * 0.96))


def test_each_share_says_what_its_contributor_does_alone():
    result = stack(
        StackUp(frequency=F0, contributors=(part("L", -0.02, 0.05), part("ageing", 0.0, 0.01)))
    )
    first = result.shares[0]
    assert first.name == "L"
    assert first.sensitivity == -0.5
    assert first.low == pytest.approx(1 / math.sqrt(1.05) - 1)
    assert first.high == pytest.approx(1 / math.sqrt(0.98) - 1)
    assert result.shares[1].high == pytest.approx(0.0)
    assert sum(share.variance_share for share in result.shares) == pytest.approx(1)


def test_tightening_to_the_stated_fraction_just_fits_the_band():
    parts = (part("L", -0.1, 0.1), part("C", -0.02, 0.02, target="C"))
    band = Band(low=F0 * 0.97, high=F0 * 1.03)
    result = stack(StackUp(frequency=F0, contributors=parts, band=band))
    assert result.tighten == "L"
    assert result.tighten_to is not None
    width = 0.1 * result.tighten_to
    again = stack(StackUp(frequency=F0, contributors=(part("L", -width, width), parts[1])))
    assert again.rss_low >= band.low
    assert again.rss_low == pytest.approx(band.low, rel=1e-9)


@pytest.mark.parametrize("half_width", [0.2, 0.005])
def test_no_fraction_is_given_where_it_fits_already_or_one_part_is_not_enough(half_width):
    parts = (part("L", -0.1, 0.1), part("C", -0.05, 0.05, target="C"))
    band = Band(low=F0 * (1 - half_width), high=F0 * (1 + half_width))
    assert stack(StackUp(frequency=F0, contributors=parts, band=band)).tighten_to is None


def test_a_stack_up_is_made_from_the_tolerances_of_a_design():
    sums = solve(
        TankDesign(
            inductance=parse_quantity("1.62mH±3%", "H"),
            capacitance=parse_quantity("868pF -2% +5%", "F"),
        )
    )
    found = stack_of(sums, distribution="uniform", correlation=0.4, more=(part("metal", 0, 0.01),))
    assert [entry.name for entry in found.contributors] == ["L", "C", "metal"]
    assert (found.contributors[1].low, found.contributors[1].high) == pytest.approx((-0.02, 0.05))
    assert found.contributors[0].distribution == "uniform"
    assert found.correlations == (("L", "C", 0.4),)
    result = stack(stack_of(sums))
    assert result.worst_low == pytest.approx(sums.frequency.low)
    assert result.worst_high == pytest.approx(sums.frequency.high)
    assert result.rss_low == pytest.approx(sums.frequency.rss_low)


def test_what_was_worked_out_from_a_wanted_resonance_has_no_tolerance_of_its_own():
    sums = solve(
        TankDesign(
            inductance=parse_quantity("1.62mH±3%", "H"),
            frequency=parse_quantity("134.2kHz±1%", "Hz"),
        )
    )
    assert [entry.name for entry in stack_of(sums).contributors] == ["L"]


@pytest.mark.parametrize(
    ("values", "error", "sentence"),
    [
        ({"low": 0.1, "high": -0.1}, QuantityError, "must run from low to high"),
        ({"low": -1.0, "high": 0.1}, QuantityError, "stay above -100 %"),
        ({"low": -0.1, "high": 0.1, "distribution": "odd"}, UsageError, "distribution must be"),
        ({"low": -0.1, "high": 0.1, "coverage": 0.0}, QuantityError, "in standard deviations"),
    ],
)
def test_impossible_contributors_are_refused(values, error, sentence):
    with pytest.raises(error, match=sentence):
        part("L", **values)


def test_impossible_temperatures_are_refused():
    with pytest.raises(QuantityError, match="temperature: must run from low to high"):
        Temperature(low_celsius=60, high_celsius=0)
    with pytest.raises(QuantityError, match="must leave L and C above zero over the range"):
        Temperature(inductance=(-0.1, -0.1), low_celsius=0, high_celsius=60)


def test_contributors_need_different_names_and_correlations_need_contributors():
    with pytest.raises(UsageError, match="contributors: must have different names"):
        StackUp(frequency=F0, contributors=(part("L", 0, 0.1), part("L", 0, 0.1)))
    for entry in (("L", "C", 0.5), ("L", "L", 0.5), ("L", "M", 2.0)):
        with pytest.raises(UsageError, match="correlation: must be between two contributors"):
            StackUp(
                frequency=F0,
                contributors=(part("L", 0, 0.1), part("M", 0, 0.1)),
                correlations=(entry,),
            )


@pytest.mark.parametrize(
    ("coil", "capacitor", "low", "high"),
    [
        (0.01, 0.01, 1 / 1.01 - 1, 1 / 0.99 - 1),
        (0.05, 0.05, 1 / 1.05 - 1, 1 / 0.95 - 1),
        (0.10, 0.05, 1 / math.sqrt(1.155) - 1, 1 / math.sqrt(0.855) - 1),
        (0.20, 0.20, 1 / 1.2 - 1, 1 / 0.8 - 1),
        (0.00, 0.10, 1 / math.sqrt(1.1) - 1, 1 / math.sqrt(0.9) - 1),
    ],
)
def test_worst_case_by_hand(coil, capacitor, low, high):
    result = stack(
        StackUp(
            frequency=F0,
            contributors=(
                part("L", -coil, coil),
                part("C", -capacitor, capacitor, target="C"),
            ),
        )
    )
    assert result.worst_low / F0 - 1 == pytest.approx(low)
    assert result.worst_high / F0 - 1 == pytest.approx(high)


def test_asymmetric_tolerances_have_asymmetric_squares():
    result = stack(
        StackUp(
            frequency=F0,
            contributors=(part("L", -0.02, 0.05), part("C", -0.2, 0.8, target="C")),
        )
    )
    assert result.rss_low / F0 - 1 == pytest.approx(-math.hypot(0.025, 0.4))
    assert result.rss_high / F0 - 1 == pytest.approx(math.hypot(0.01, 0.1))


def test_temperature_adds_to_the_squares_as_one_contributor():
    result = stack(
        StackUp(
            frequency=F0,
            contributors=(part("L", -0.04, 0.04),),
            temperature=Temperature(
                inductance=(1e-4, 1e-4),
                capacitance=(2e-4, 2e-4),
                low_celsius=-77,
                high_celsius=123,
            ),
        )
    )
    product_high, product_low = 1.01 * 1.02, 0.99 * 0.98
    assert result.rss_low / F0 - 1 == pytest.approx(-math.hypot(0.02, (product_high - 1) / 2))
    assert result.rss_high / F0 - 1 == pytest.approx(math.hypot(0.02, (1 - product_low) / 2))
    assert [share.name for share in result.shares] == ["L", "temperature"]


@pytest.mark.parametrize("largest", ["L", "C", "ageing"])
def test_the_largest_contributor_is_the_one_to_tighten(largest):
    widths = {"L": 0.01, "C": 0.01, "ageing": 0.01} | {largest: 0.05}
    result = stack(
        StackUp(
            frequency=F0,
            contributors=tuple(part(name, -width, width) for name, width in widths.items()),
        )
    )
    assert result.tighten == largest
    assert result.shares[0].name == largest
    assert result.shares[0].variance_share == pytest.approx(25 / 27)


def test_temperature_is_never_what_to_tighten():
    result = stack(
        StackUp(
            frequency=F0,
            contributors=(part("L", -0.001, 0.001),),
            temperature=Temperature(capacitance=(-5e-3, -5e-3), low_celsius=-20, high_celsius=60),
        )
    )
    assert result.shares[0].name == "temperature"
    assert result.tighten == "L"


def test_nothing_that_varies_leaves_the_resonance_where_it_is():
    result = stack(StackUp(frequency=F0, contributors=()))
    assert (result.worst_low, result.worst_high) == (F0, F0)
    assert (result.rss_low, result.rss_high) == (F0, F0)
    assert result.shares == ()
    assert result.tighten is None
