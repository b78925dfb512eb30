"""Preferred series against tests/truth/e_series.json, and the pairs against brute force."""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import QuantityError, UsageError
from benchapp.marking import SERIES, best_pairs, nearest, series_of
from benchapp.marking.preferred import TOLERANCE_OF

TRUTH = json.loads(
    (Path(__file__).parent.parent / "truth" / "e_series.json").read_text(encoding="utf-8")
)
wanted_values = st.floats(1e-13, 1e7, allow_nan=False)
any_series = st.sampled_from(tuple(SERIES))


@pytest.mark.parametrize(("name", "published"), TRUTH["series"].items())
def test_series_is_the_published_one(name, published):
    assert list(SERIES[name]) == published


def test_the_exceptions_against_rounded_powers_are_the_published_ones():
    for name, published in TRUTH["exceptions_vs_rounded_power"].items():
        steps, values = len(SERIES[name]), SERIES[name]
        scale = 10 if values[0] == 10 else 100
        found = [
            [step, round(scale * 10 ** (step / steps)), value]
            for step, value in enumerate(values)
            if round(scale * 10 ** (step / steps)) != value
        ]
        assert found == published


def test_coarse_series_are_every_second_value_of_the_finer():
    assert SERIES["E24"][::2] == SERIES["E12"]
    assert SERIES["E12"][::2] == SERIES["E6"]
    assert SERIES["E6"][::2] == SERIES["E3"]
    assert SERIES["E192"][::2] == SERIES["E96"]
    assert SERIES["E96"][::2] == SERIES["E48"]


def test_only_eleven_values_of_e24_are_in_e192():
    shared = [value for value in SERIES["E24"] if 10 * value in SERIES["E192"]]
    assert shared == [10, 11, 12, 13, 15, 16, 18, 20, 24, 47, 75]


def test_tolerances_are_those_the_series_are_made_for():
    published = TRUTH["nominal_tolerance_percent"]
    for name in ("E6", "E12", "E24", "E48", "E96", "E192"):
        assert TOLERANCE_OF[name] == pytest.approx(published[name] / 100)


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (4.7e-12, "E3"),
        (1e-7, "E3"),
        (6.8e3, "E6"),
        (5.6e-9, "E12"),
        (1.6e-9, "E24"),
        (4.87, "E48"),
        (49.9, "E96"),
        (920e-12, "E192"),
        (919e-12, None),
        (1.2345, None),
        (0.0, None),
    ],
)
def test_series_of_names_the_coarsest_series(value, name):
    assert series_of(value) == name


@settings(deadline=None)
@given(wanted_values, any_series)
def test_nearest_is_nearer_than_every_other_value(wanted, series):
    found = nearest(wanted, series)
    power = math.floor(math.log10(wanted))
    scale = 1 if SERIES[series][0] == 100 else 0
    everything = [
        float(f"{value}e{decade - 1 - scale}")
        for decade in (power - 1, power, power + 1)
        for value in SERIES[series]
    ]
    best = min(abs(value - wanted) for value in everything)
    assert abs(found.value - wanted) == pytest.approx(best, rel=1e-9, abs=1e-12 * wanted)
    assert found.error == pytest.approx(found.value / wanted - 1)


@settings(deadline=None)
@given(st.integers(-12, 6), any_series, st.data())
def test_a_preferred_value_is_its_own_nearest(power, series, data):
    value = float(f"{data.draw(st.sampled_from(SERIES[series]))}e{power}")
    found = nearest(value, series)
    assert found.value == value
    assert found.error == 0


def _every_pair(wanted, series):
    power = math.floor(math.log10(wanted))
    scale = 1 if SERIES[series][0] == 10 else 2
    parts = [
        float(f"{value}e{decade - scale}")
        for decade in range(power - 3, power + 4)
        for value in SERIES[series]
    ]
    for first, second in itertools.combinations_with_replacement(parts, 2):
        yield first + second
        yield first * second / (first + second)


@pytest.mark.parametrize("series", ["E6", "E12", "E24"])
@pytest.mark.parametrize("kind", ["capacitor", "inductor", "resistor"])
@pytest.mark.parametrize("wanted", [868e-12, 1.406e-9, 134.2, 2.66, 1.0])
def test_best_pair_is_the_best_of_all_pairs(wanted, series, kind):
    best = min(abs(value / wanted - 1) for value in _every_pair(wanted, series))
    assert abs(best_pairs(wanted, series, kind)[0].error) == pytest.approx(best, abs=1e-12)


@settings(deadline=None)
@given(wanted_values, st.sampled_from(["E12", "E24", "E96"]))
def test_pairs_come_best_first_and_give_what_they_say(wanted, series):
    pairs = best_pairs(wanted, series, "capacitor")
    errors = [round(abs(pair.error), 9) for pair in pairs]
    assert errors == sorted(errors)
    for pair in pairs:
        total = pair.larger + pair.smaller
        parallel = pair.connection == "parallel"
        value = total if parallel else pair.larger * pair.smaller / total
        assert pair.value == pytest.approx(value)
        assert pair.error == pytest.approx(value / wanted - 1, abs=1e-12)
        assert pair.larger >= pair.smaller


def _shares(kind, pair):
    """Give the shares by plain circuit analysis with a unit source of 1 rad/s."""
    impedance = {
        "capacitor": lambda value: 1 / (1j * value),
        "inductor": lambda value: 1j * value,
        "resistor": complex,
    }[kind]
    large, small = impedance(pair.larger), impedance(pair.smaller)
    if pair.connection == "series":
        return (abs(large / (large + small)), abs(small / (large + small)), 1, 1)
    return (1, 1, abs(small / (large + small)), abs(large / (large + small)))


@pytest.mark.parametrize("kind", ["capacitor", "inductor", "resistor"])
def test_voltage_and_current_divide_as_circuit_analysis_says(kind):
    for pair in best_pairs(868e-12, "E12", kind, count=10):
        found = (
            pair.larger_voltage,
            pair.smaller_voltage,
            pair.larger_current,
            pair.smaller_current,
        )
        assert found == pytest.approx(_shares(kind, pair))


def test_capacitors_in_series_are_cautioned_about_dc():
    pairs = best_pairs(868e-12, "E12", "capacitor", count=10)
    series = next(pair for pair in pairs if pair.connection == "series")
    parallel = next(pair for pair in pairs if pair.connection == "parallel")
    assert "DC voltage divides by leakage" in series.caution
    assert "discharge both" in series.caution
    assert parallel.caution == ""
    assert "coupling" in best_pairs(1e-3, "E12", "inductor")[0].caution


@pytest.mark.parametrize("bad", [0.0, -1.0, math.inf, math.nan])
def test_a_wanted_value_that_is_not_positive_is_refused(bad):
    with pytest.raises(QuantityError, match="wanted value: must be above zero"):
        nearest(bad, "E12")
    with pytest.raises(QuantityError, match="wanted value: must be above zero"):
        best_pairs(bad, "E12", "capacitor")


def test_unknown_series_and_kind_are_refused():
    with pytest.raises(UsageError, match=r"preferred series: must be one of E3, .* \(got 'E13'\)"):
        nearest(1.0, "E13")
    with pytest.raises(UsageError, match=r"kind of part: must be one of .* \(got 'diode'\)"):
        best_pairs(1.0, "E12", "diode")


def test_series_name_may_be_written_small():
    assert nearest(1.04e-9, "e12").value == 1e-9


@pytest.mark.parametrize(
    ("wanted", "series", "value", "percent"),
    [
        (868e-12, "E3", 1000e-12, 15.207),
        (868e-12, "E6", 1000e-12, 15.207),
        (868e-12, "E12", 820e-12, -5.53),
        (868e-12, "E24", 910e-12, 4.84),
        (868e-12, "E48", 866e-12, -0.230),
        (868e-12, "E96", 866e-12, -0.230),
        (868e-12, "E192", 866e-12, -0.230),
        (1.40648541e-9, "E12", 1.5e-9, 6.65),
        (1.40648541e-9, "E24", 1.5e-9, 6.65),
        (1.40648541e-9, "E96", 1.40e-9, -0.461),
        (528.753914e-12, "E12", 560e-12, 5.91),
        (528.753914e-12, "E24", 510e-12, -3.55),
        (528.753914e-12, "E96", 523e-12, -1.09),
        (9.9, "E12", 10.0, 1.01),
        (9.5, "E24", 9.1, -4.21),
        (95.0, "E6", 100.0, 5.26),
        (1000.0, "E12", 1000.0, 0.0),
        (919.0, "E192", 920.0, 0.109),
        (26.0, "E24", 27.0, 3.85),
        (25.0, "E24", 24.0, -4.0),
    ],
)
def test_nearest_by_hand(wanted, series, value, percent):
    found = nearest(wanted, series)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert 100 * found.error == pytest.approx(percent, abs=0.006)
    assert found.series == series


@pytest.mark.parametrize(
    ("wanted", "kind", "connection", "larger", "smaller"),
    [
        (130e-9, "capacitor", "parallel", 120e-9, 10e-9),
        (78e-9, "capacitor", "parallel", 68e-9, 10e-9),
        (50e-9, "capacitor", "series", 100e-9, 100e-9),
        (110.0, "resistor", "series", 100.0, 10.0),
        (50.0, "resistor", "parallel", 100.0, 100.0),
        (55e-6, "inductor", "series", 33e-6, 22e-6),
    ],
)
def test_pairs_that_hit_exactly_are_found(wanted, kind, connection, larger, smaller):
    pairs = best_pairs(wanted, "E12", kind, count=20)
    exact = [pair for pair in pairs if abs(pair.error) < 1e-9]
    assert (connection, pytest.approx(larger), pytest.approx(smaller)) in [
        (pair.connection, pair.larger, pair.smaller) for pair in exact
    ]


def test_of_equal_errors_the_more_equal_parts_come_first():
    exact = [pair for pair in best_pairs(100e-9, "E12", "capacitor", count=20) if pair.error == 0]
    ratios = [pair.larger / pair.smaller for pair in exact]
    assert ratios == sorted(ratios)


@pytest.mark.parametrize("count", [1, 3, 10])
def test_as_many_pairs_as_wanted(count):
    assert len(best_pairs(868e-12, "E12", "capacitor", count=count)) == count


@pytest.mark.parametrize("span", [0, 1, 2])
def test_parts_keep_within_the_span_of_decades(span):
    for pair in best_pairs(868e-12, "E12", "capacitor", count=20, span=span):
        if pair.connection == "parallel":
            assert pair.larger / pair.smaller < 10 ** (span + 2)


@settings(deadline=None)
@given(wanted_values)
def test_a_finer_series_never_comes_less_near(wanted):
    for coarse, fine in (("E3", "E6"), ("E6", "E12"), ("E12", "E24"), ("E48", "E96")):
        assert abs(nearest(wanted, fine).error) <= abs(nearest(wanted, coarse).error) + 1e-12


@settings(deadline=None)
@given(wanted_values, st.integers(-6, 6))
def test_a_decade_more_is_a_decade_more(wanted, power):
    scaled = wanted * 10.0**power
    if 1e-15 < scaled < 1e12:
        one, other = nearest(wanted, "E24").error, nearest(scaled, "E24").error
        assert abs(other) == pytest.approx(abs(one), abs=1e-9)  # halfway, either will do
