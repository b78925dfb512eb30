"""Colour bands against IEC 60062:2016 as charted at resistorcolorcodes.org and kodekata.net."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.marking.colour import COLOURS, band_readings, colour_of_tolerance, is_colour


def _read(text):
    return band_readings(text.split())


def _first(text):
    return max(_read(text), key=lambda reading: reading.likelihood)


@pytest.mark.parametrize(
    ("bands", "value", "percent"),
    [
        ("brown black red gold", 1e3, 5),
        ("yellow violet red gold", 4.7e3, 5),
        ("red red orange gold", 22e3, 5),
        ("brown black black gold brown", 10, 1),
    ],
)
def test_published_worked_examples(bands, value, percent):
    """resistorcolorcodes.org/chart, worked examples."""
    found = _first(bands)
    assert found.value == pytest.approx(value)
    assert found.tolerance_high == pytest.approx(percent / 100)


@pytest.mark.parametrize(
    ("band", "percent"),
    [
        ("brown", 1),
        ("red", 2),
        ("orange", 0.05),
        ("yellow", 0.02),
        ("green", 0.5),
        ("blue", 0.25),
        ("violet", 0.1),
        ("grey", 0.01),
        ("gold", 5),
        ("silver", 10),
    ],
)
def test_tolerance_bands_of_the_2016_edition(band, percent):
    found = [r for r in band_readings(["brown", "black", "red", band]) if r.kind == "resistor"]
    assert any(reading.tolerance_high == pytest.approx(percent / 100) for reading in found)


@pytest.mark.parametrize(("band", "older"), [("orange", 3), ("yellow", 4), ("grey", 0.05)])
def test_older_meaning_of_a_tolerance_band_is_listed_too(band, older):
    found = [r for r in band_readings(["brown", "black", "red", band]) if r.kind == "resistor"]
    note = [r for r in found if "before the 2016 edition" in r.why]
    assert [reading.tolerance_high for reading in note] == [pytest.approx(older / 100)]


@pytest.mark.parametrize(
    ("band", "ppm"),
    [
        ("black", 250),
        ("brown", 100),
        ("red", 50),
        ("orange", 15),
        ("yellow", 25),
        ("green", 20),
        ("blue", 10),
        ("violet", 5),
        ("grey", 1),
    ],
)
def test_sixth_band_is_the_temperature_coefficient(band, ppm):
    readings = band_readings(["yellow", "violet", "black", "orange", "brown", band])
    assert any(f"{ppm} ppm/K" in reading.why for reading in readings)


def test_three_bands_have_twenty_percent():
    assert _first("red violet red").tolerance_high == 0.2


def test_both_ends_are_read_where_both_make_a_code():
    readings = _read("brown black black red brown")
    assert [reading.value for reading in readings] == pytest.approx([1e4, 120])
    assert "from the other end" in readings[1].why


def test_symmetric_bands_are_read_once():
    assert len([r for r in _read("brown red red brown") if r.unit == "ohm"]) == 1


def test_three_and_four_bands_are_also_listed_for_an_inductor_in_microhenry():
    readings = {reading.kind: reading for reading in _read("brown black red gold")}
    assert readings["inductor"].value == pytest.approx(1e-3)
    assert readings["inductor"].likelihood < readings["resistor"].likelihood


@pytest.mark.parametrize(
    "bands",
    [
        "brown black",
        "brown black red gold brown red blue",
        "gold black red brown silver",
        "black brown red gold",
        "brown black black red brown gold",
    ],
)
def test_impossible_bands_have_no_reading(bands):
    assert _read(bands) == ()


@settings(deadline=None)
@given(st.integers(10, 99), st.integers(-3, 9))
def test_digits_and_multiplier_make_the_value(mantissa, power):
    multiplier = {-1: "gold", -2: "silver", -3: "pink"}.get(power, COLOURS[power])
    bands = [COLOURS[int(digit)] for digit in str(mantissa)]
    forward = band_readings([*bands, multiplier, "gold"])[0]
    assert forward.value == pytest.approx(mantissa * 10.0**power)


def test_two_letter_names_and_spellings_are_known():
    assert is_colour("Gray")
    assert is_colour("BN")
    assert not is_colour("turquoise")
    assert _read("bn bk rd gd") == _read("brown black red gold")


def test_bands_with_two_meanings_are_not_used_for_writing():
    assert colour_of_tolerance(0.05) == "gold"
    assert colour_of_tolerance(0.0005) is None
    assert colour_of_tolerance(0.07) is None
