"""Writing a marking and reading it back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import QuantityError
from benchapp.marking import SERIES, UNIT_OF, Rating, Reading, read_marking, write_marking


def _reading(kind, value, share=None, **more):
    low = None if share is None else -share
    return Reading(
        kind=kind, unit=UNIT_OF[kind], value=value, tolerance_low=low, tolerance_high=share, **more
    )


def _texts(reading):
    return {written.text for written in write_marking(reading)}


@pytest.mark.parametrize(
    ("reading", "texts"),
    [
        (_reading("capacitor", 100e-9, 0.1), {"104K", "100nK", "µ1K"}),
        (_reading("capacitor", 4.7e-9, 0.05), {"472J", "4n7J"}),
        (_reading("capacitor", 4.7e-12), {"4R7", "4p7"}),
        (_reading("resistor", 4700, 0.05), {"472J", "4K7J", "yellow violet red gold"}),
        (_reading("resistor", 0.47), {"R47"}),
        (_reading("inductor", 4.7e-6, 0.2), {"4R7M"}),
        (_reading("inductor", 27e-9), {"27N"}),
    ],
)
def test_usual_forms_are_written(reading, texts):
    assert texts <= _texts(reading)


def test_chip_and_colour_forms_of_a_one_percent_resistor():
    texts = _texts(_reading("resistor", 49.9, 0.01))
    assert {"68X", "49R9F", "yellow white white gold brown"} <= texts


@pytest.mark.parametrize(
    ("rating", "word"),
    [
        (Rating(volt=630, kind="dc", text=""), " 2J"),
        (Rating(volt=160, kind="dc", text=""), " 160VDC"),
        (Rating(volt=250, kind="ac", text=""), " 250V~"),
    ],
)
def test_rating_is_written_as_code_only_where_a_published_one_exists(rating, word):
    texts = _texts(_reading("capacitor", 10e-9, 0.1, ratings=(rating,)))
    assert f"103K{word}" in texts


def test_picofarad_tolerance_is_written_as_letter_below_ten_and_printed_above():
    small = _reading("capacitor", 4.7e-12, absolute_tolerance=0.25e-12)
    ten = _reading("capacitor", 10e-12, absolute_tolerance=0.5e-12)
    odd = _reading("capacitor", 4.7e-12, absolute_tolerance=0.3e-12)
    assert "4R7C" in _texts(small)
    assert "100 ±0.5pF" in _texts(ten)
    assert "4R7 ±0.3pF" in _texts(odd)


def test_letters_with_two_meanings_are_not_written():
    assert "104 ±0.05%" in _texts(_reading("capacitor", 100e-9, 0.0005))
    assert "4R7 ±1%" in _texts(_reading("capacitor", 4.7e-12, 0.01))


def test_asymmetric_tolerance_is_written_as_letter_or_printed():
    both = {"kind": "capacitor", "unit": "F", "value": 1e-8}
    assert "103Z" in _texts(Reading(**both, tolerance_low=-0.2, tolerance_high=0.8))
    assert "103 -2+5%" in _texts(Reading(**both, tolerance_low=-0.02, tolerance_high=0.05))


@pytest.mark.parametrize("value", [None, 0.0, math.inf])
def test_a_missing_or_impossible_value_is_refused(value):
    with pytest.raises(QuantityError, match="value to mark: must be above zero and finite"):
        write_marking(_reading("capacitor", value))


def test_more_than_three_digits_are_refused():
    with pytest.raises(QuantityError, match="value to mark: must have at most three significant"):
        write_marking(_reading("capacitor", 1.234e-9))


def test_an_absolute_tolerance_is_for_capacitors():
    with pytest.raises(QuantityError, match="tolerance to mark: must be a percentage"):
        write_marking(_reading("resistor", 10.0, absolute_tolerance=0.5))


kinds = st.sampled_from(["capacitor", "resistor", "inductor"])
shares = st.sampled_from([None, 0.01, 0.02, 0.05, 0.1, 0.2])
exponents = {"capacitor": (-13, -6), "resistor": (-1, 7), "inductor": (-9, -3)}


@settings(deadline=None)
@given(kinds, st.sampled_from(SERIES["E24"]), shares, st.data())
def test_what_is_written_reads_back_as_the_same_value_and_tolerance(kind, mantissa, share, data):
    power = data.draw(st.integers(*exponents[kind]))
    reading = _reading(kind, float(f"{mantissa}e{power}"), share)
    written = write_marking(reading)
    assert written
    for entry in written:
        back = read_marking(entry.text, kind).readings
        tolerance = 0.01 if "EIA-96" in entry.style else share
        assert any(
            math.isclose(found.value or 0, reading.value or 1, rel_tol=1e-9)
            and found.tolerance_high == tolerance
            for found in back
        ), (entry, back)


@settings(deadline=None)
@given(st.sampled_from(SERIES["E96"]), st.integers(-3, 3))
def test_three_digit_resistors_read_back(hundreds, power):
    reading = _reading("resistor", float(f"{hundreds}e{power}"), 0.01)
    for entry in write_marking(reading):
        back = read_marking(entry.text, "resistor").readings
        assert any(math.isclose(found.value or 0, reading.value or 1) for found in back), entry
