"""Readings in words, as they stand on screen, on paper and at the command line."""

from __future__ import annotations

import pytest

from benchapp.marking import (
    Dielectric,
    Rating,
    Reading,
    best_pairs,
    cautions,
    describe,
    describe_pair,
    read_marking,
)
from benchapp.marking.wording import plain


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (100e-9, "F", "100 nF"),
        (4.7e-9, "F", "4.7 nF"),
        (0.47e-12, "F", "470 fF"),
        (1e-6, "F", "1 µF"),
        (22.25e-9, "F", "22.25 nF"),
        (10e3, "ohm", "10 kΩ"),
        (49.9, "ohm", "49.9 Ω"),
        (0.005, "ohm", "5 mΩ"),
        (0.0, "ohm", "0 Ω"),
        (4.7e6, "ohm", "4.7 MΩ"),
        (1.62e-3, "H", "1.62 mH"),
        (2.7e-9, "H", "2.7 nH"),
        (100.0, "H", "100 H"),
    ],
)
def test_a_nominal_value_has_no_trailing_zeros(value, unit, text):
    assert plain(value, unit) == text


@pytest.mark.parametrize(
    ("code", "kind", "text"),
    [
        ("104K", "capacitor", "capacitor 100 nF ±10 %"),
        ("104Z", "capacitor", "capacitor 100 nF -20/+80 %"),
        ("103Q", "capacitor", "capacitor 10 nF -10/+30 %"),
        ("4R7C", "capacitor", "capacitor 4.7 pF ±250 fF"),
        ("9R1G", "capacitor", "capacitor 9.1 pF ±2 pF"),
        ("104", "capacitor", "capacitor 100 nF"),
        ("103K 2J", "capacitor", "capacitor 10 nF ±10 %, 630 V DC"),
        ("0.1µF 250V~", "capacitor", "capacitor 100 nF, 250 V AC"),
        ("MKP 22n 630V-", "capacitor", "capacitor 22 nF, 630 V DC, polypropylene"),
        ("X2 0.1µF 275V", "capacitor", "capacitor 100 nF, 275 V AC, class X2"),
        ("104K X7R 50V", "capacitor", "capacitor 100 nF ±10 %, 50 V DC, X7R"),
        ("47nK 630VDC 250VAC", "capacitor", "capacitor 47 nF ±10 %, 630 V DC, 250 V AC"),
        ("X7R", "capacitor", "capacitor, X7R"),
        ("2J", "capacitor", "capacitor, 630 V DC"),
        ("4K7J", "resistor", "resistor 4.7 kΩ ±5 %"),
        ("4K7P", "resistor", "resistor 4.7 kΩ ±0.02 %"),
        ("0R", "resistor", "resistor 0 Ω"),
        ("4R7M", "inductor", "inductor 4.7 µH ±20 %"),
        ("4N7S", "inductor", "inductor 4.7 nH ±300 pH"),
    ],
)
def test_a_reading_in_one_line(code, kind, text):
    assert describe(read_marking(code, kind).readings[0]) == text


def _reading(**values):
    return Reading(kind="capacitor", unit="F", **values)


DC = Rating(volt=630, kind="dc", text="2J")
AC = Rating(volt=275, kind="ac", text="275V~")


def test_nothing_to_bear_in_mind_about_one_plain_value():
    assert cautions((_reading(value=1e-9),)) == ()


def test_several_values_are_cautioned_once():
    readings = tuple(_reading(value=value) for value in (1e-9, 1e-10, 1e-11))
    assert cautions(readings) == (
        "More than one value is possible: measure the part before you rely on one.",
    )


def test_one_value_with_several_tolerances_is_no_other_value():
    readings = (_reading(value=1e-11), _reading(value=1e-11, absolute_tolerance=0.5e-12))
    assert cautions(readings) == ()


def test_the_same_number_on_another_kind_of_part_is_another_value():
    other = Reading(kind="inductor", unit="H", value=1e-9)
    assert len(cautions((_reading(value=1e-9), other))) == 1


@pytest.mark.parametrize(
    ("ratings", "words"),
    [
        ((DC,), ("A DC rating is no AC rating",)),
        ((AC,), ("An AC rating holds at mains frequency",)),
        ((DC, AC), ("A DC rating is no AC rating", "An AC rating holds at mains frequency")),
        ((DC, DC), ("A DC rating is no AC rating",)),
    ],
)
def test_each_kind_of_rating_has_its_own_caution(ratings, words):
    found = cautions((_reading(value=1e-9, ratings=ratings),))
    assert len(found) == len(words)
    for sentence, start in zip(found, words, strict=True):
        assert sentence.startswith(start)
        assert "ask the maker" in sentence.lower()


def test_a_class_2_ceramic_is_cautioned_and_a_class_1_is_not():
    second = Dielectric(name="X7R", meaning="", class_2=True)
    first = Dielectric(name="C0G", meaning="")
    assert "not for a tank" in cautions((_reading(value=1e-9, dielectric=second),))[0]
    assert cautions((_reading(value=1e-9, dielectric=first),)) == ()


def test_a_pair_in_one_line():
    pairs = best_pairs(868e-12, "E12", "capacitor")
    assert describe_pair(pairs[0], "F") == "820 pF and 47 pF in parallel: 867 pF (-0.115 %)"
    assert describe_pair(pairs[1], "F") == "6.8 nF and 1 nF in series: 871.79 pF (+0.437 %)"
