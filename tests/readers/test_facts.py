"""What stands around a table, by what it is about."""

from __future__ import annotations

import pytest

from benchapp.capture import Conditions
from benchapp.readers.facts import Facts


def facts(decimal=".", name="a.csv", **found) -> Facts:
    named = {key.replace("__", " "): value for key, value in found.items()}
    return Facts.of(named, decimal, name)


@pytest.mark.parametrize(
    ("found", "subject", "unit", "value"),
    [
        ({"start frequency": "10 kHz"}, "start", "Hz", 1e4),
        ({"start (khz)": "10"}, "start", "Hz", 1e4),
        ({"startfrequenz": "10000"}, "start", "Hz", 1e4),
        ({"sample interval": "2.0E-07 s"}, "interval", "s", 2e-7),
        ({"sample interval (us)": "0.2"}, "interval", "s", 2e-7),
        ({"volts per count": "20 mV"}, "y step", "V", 0.02),
        ({"z0": "75"}, "reference", "ohm", 75.0),
        ({"points": "401"}, "points", "", 401.0),
        ({"temperatur": "23 °C"}, "temperature", "degC", 23.0),
    ],
)
def test_a_value_is_found_by_its_name_in_si_units(found, subject, unit, value):
    assert Facts.of(found, ".", "").number(subject, unit) == pytest.approx(value)


def test_a_value_of_another_unit_is_not_taken():
    assert facts(start="10 V").number("start", "Hz") is None
    assert Facts.of({"start (v)": "10"}, ".", "").number("start", "Hz") is None


def test_what_is_no_number_or_absent_is_none():
    assert facts(start="soon").number("start", "Hz") is None
    assert facts().number("start", "Hz") is None


def test_numbers_follow_the_decimal_mark_of_the_file():
    assert facts(decimal=",", start="1,5 kHz").number("start", "Hz") == 1500.0
    assert facts(decimal=",", start="1.5 kHz").number("start", "Hz") == 1500.0


def test_whether_a_unit_is_stated_is_known():
    assert facts(start="10 kHz").states_unit("start")
    assert Facts.of({"start (khz)": "10"}, ".", "").states_unit("start")
    assert not facts(start="10").states_unit("start")
    assert not facts().states_unit("start")


def test_the_first_of_two_values_counts():
    found = Facts.of({"start": "1 kHz", "start frequency": "2 kHz"}, ".", "")
    assert found.number("start", "Hz") == 1000.0


@pytest.mark.parametrize(
    ("found", "circuit"),
    [
        ({"circuit mode": "Series"}, "series"),
        ({"ersatzschaltbild": "parallel"}, "parallel"),
        ({"function": "Cp-D"}, "parallel"),
        ({"function": "Ls-Q"}, "series"),
        ({"function": "series or parallel"}, None),
        ({"model": "serial meter 3"}, None),
        ({}, None),
    ],
)
def test_the_stated_circuit_is_known(found, circuit):
    assert Facts.of(found, ".", "").circuit == circuit


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        ("2026-03-04 10:15:00", "2026-03-04T10:15:00"),
        ("2026-03-04T10:15", "2026-03-04T10:15"),
        ("2026-03-04", "2026-03-04"),
        ("04.03.2026", None),
        ("03/04/26", None),
    ],
)
def test_only_an_unambiguous_date_is_taken(text, taken):
    assert facts(date=text).taken == taken


def test_conditions_need_their_units():
    found = Facts.of(
        {"level": "1 V", "bias": "2 A", "temperature": "23", "fixture": "clip", "osc": "5"},
        ".",
        "",
    )
    assert found.conditions() == Conditions(
        level_volt=1.0, bias_ampere=2.0, temperature_celsius=23.0, fixture="clip"
    )
    assert facts(level="1").conditions() == Conditions()
    assert facts(level="10 mA", bias="3 V").conditions() == Conditions(
        level_ampere=0.01, bias_volt=3.0
    )
