"""Code tables against the published codes collected in tests/truth/marking_codes.json."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchapp.marking.code import (
    ASYMMETRIC,
    CHIP_MANTISSA,
    CHIP_MULTIPLIER,
    INDUCTOR_PERCENT,
    PICOFARAD,
    SYMMETRIC_PERCENT,
    UNSETTLED,
    ceramic,
    film,
    volts,
)
from benchapp.marking.preferred import SERIES

TRUTH = json.loads(
    (Path(__file__).parent.parent / "truth" / "marking_codes.json").read_text(encoding="utf-8")
)


def test_symmetric_tolerance_letters_are_those_of_iec_60062():
    published = TRUTH["tolerance"]["symmetric_percent"]
    assert {letter: float(percent) for letter, percent in SYMMETRIC_PERCENT.items()} == published


def test_asymmetric_tolerance_letters_are_those_of_iec_60062():
    published = TRUTH["tolerance"]["asymmetric_percent_low_high"]
    assert {letter: [low * 100, high * 100] for letter, (low, high) in ASYMMETRIC.items()} == {
        letter: pytest.approx(pair) for letter, pair in published.items()
    }


def test_picofarad_letters_are_those_below_ten_picofarad():
    published = TRUTH["tolerance"]["fixed_pF_below_10pF"]
    assert {letter: float(width) for letter, width in PICOFARAD.items()} == published


def test_every_letter_on_which_makers_contradict_each_other_is_unsettled():
    assert set(UNSETTLED) == set(TRUTH["tolerance"]["conflicts"])


@pytest.mark.parametrize(("code", "published"), TRUTH["voltage_codes"]["code"].items())
def test_voltage_code_is_the_published_one(code, published):
    assert volts(code) == (pytest.approx(published), True)


@pytest.mark.parametrize(("code", "by_rule"), [("2B", 125.0), ("1J", 63.0), ("2F", 315.0)])
def test_voltage_code_outside_the_tables_follows_the_rule_and_says_so(code, by_rule):
    assert volts(code) == (pytest.approx(by_rule), False)


@pytest.mark.parametrize("code", ["5A", "2X", "2O", "AA"])
def test_other_pairs_are_no_voltage_code(code):
    assert volts(code) is None


CLASS_1 = TRUTH["eia_rs198"]["class1"]
CLASS_2 = TRUTH["eia_rs198"]["class2"]


@pytest.mark.parametrize("first", CLASS_1["significant_ppm"])
@pytest.mark.parametrize("middle", CLASS_1["multiplier"])
@pytest.mark.parametrize("last", CLASS_1["tolerance_ppm"])
def test_class_1_ceramic_is_centre_and_band_of_rs198(first, middle, last):
    centre = CLASS_1["significant_ppm"][first] * CLASS_1["multiplier"][middle]
    band = CLASS_1["tolerance_ppm"][last]
    found = ceramic(first + middle + last)
    assert found is not None
    assert found.drift == pytest.approx(((centre - band) * 1e-6, (centre + band) * 1e-6))
    assert found.class_2 is False


@pytest.mark.parametrize("first", CLASS_2["low_C"])
@pytest.mark.parametrize("middle", CLASS_2["high_C"])
@pytest.mark.parametrize("last", CLASS_2["change_percent"])
def test_class_2_ceramic_is_range_and_change_of_rs198(first, middle, last):
    found = ceramic(first + middle + last)
    assert found is not None
    assert found.range_celsius == (CLASS_2["low_C"][first], CLASS_2["high_C"][middle])
    assert found.change == pytest.approx([x / 100 for x in CLASS_2["change_percent"][last]])
    assert found.class_2 is True


@pytest.mark.parametrize(
    ("code", "centre", "band"),
    [
        ("C0G", 0, 30),
        ("M7G", 100, 30),
        ("U2J", -750, 120),
        ("P3K", -1500, 250),
        ("S2H", -330, 60),
        ("R3L", -2200, 500),
    ],
)
def test_published_examples_of_class_1(code, centre, band):
    """EIA RS-198 as at element14 thread 12565, sharps.lv, 3bmdesign.com (three agree)."""
    found = ceramic(code)
    assert found is not None
    assert found.drift == pytest.approx(((centre - band) * 1e-6, (centre + band) * 1e-6))


def test_the_wrong_published_class_2_letters_are_not_copied():
    """One seen page prints Z = -10 °C and 7 = 120 °C; two others and a maker's table disagree."""
    z5u, x7r = ceramic("Z5U"), ceramic("X7R")
    assert z5u is not None
    assert x7r is not None
    assert z5u.range_celsius == (10, 85)
    assert x7r.range_celsius == (-55, 125)


@pytest.mark.parametrize(
    ("old", "code"),
    [("NP0", "C0G"), ("NPO", "C0G"), ("COG", "C0G"), ("N750", "U2J"), ("P100", "M7G")],
)
def test_older_name_is_the_same_dielectric(old, code):
    assert ceramic(old) == ceramic(code)


@pytest.mark.parametrize("code", ["X3R", "Q7R", "X7", "X7RR", "N123"])
def test_other_words_are_no_ceramic(code):
    assert ceramic(code) is None


def test_class_2_warns_against_a_tank():
    found = ceramic("X7R")
    assert found is not None
    assert "not for a tank" in found.meaning


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("MKT", "polyester"),
        ("KT", "polyester"),
        ("MKP", "polypropylene"),
        ("KP", "polypropylene"),
        ("MKC", "polycarbonate"),
        ("KS", "polystyrene"),
        ("CBB", "polypropylene"),
    ],
)
def test_film_letters_name_the_film(word, name):
    """MKT to KS: trade page eestudenthelp (2009); CBB: GB/T 2470 from memory."""
    found = film(word)
    assert found is not None
    assert found.name == name
    assert ("metallised" in found.meaning) == word.startswith("M")


def test_unknown_letters_are_no_film():
    assert film("MKX") is None


def test_chip_capacitor_letters_are_e24():
    """EIA-198: the upper-case letters without I and O are the 24 values of E24."""
    upper = [values[0] for letter, values in CHIP_MANTISSA.items() if letter.isupper()]
    assert [round(10 * float(value)) for value in upper] == list(SERIES["E24"])


def test_chip_resistor_multipliers_are_those_of_eia_96():
    """developer.wildernesslabs.co: Z 0.001, Y/R 0.01, X/S 0.1, A 1, B/H 10, C, D, E, F."""
    assert dict(CHIP_MULTIPLIER) == {
        "Z": -3,
        "Y": -2,
        "R": -2,
        "X": -1,
        "S": -1,
        "A": 0,
        "B": 1,
        "H": 1,
        "C": 2,
        "D": 3,
        "E": 4,
        "F": 5,
    }


def test_inductor_letters_are_the_published_ones():
    """basictables.com inductor codes."""
    assert {letter: int(percent) for letter, percent in INDUCTOR_PERCENT.items()} == {
        "F": 1,
        "G": 2,
        "H": 3,
        "J": 5,
        "K": 10,
        "L": 15,
        "M": 20,
        "V": 25,
        "N": 30,
    }
