"""Putting pieces together: tolerances that depend on the value, and contradictions."""

from __future__ import annotations

import pytest

from benchapp.marking.assembly import assembled
from benchapp.marking.reading import read_marking
from benchapp.marking.word import cuts


@pytest.mark.parametrize(
    ("code", "absolute"),
    [("9R1B", 0.1e-12), ("9R1C", 0.25e-12), ("9R1D", 0.5e-12), ("9R1F", 1e-12), ("9R1G", 2e-12)],
)
def test_letters_are_picofarads_below_ten_picofarad(code, absolute):
    (reading,) = read_marking(code, "capacitor").readings
    assert reading.absolute_tolerance == pytest.approx(absolute)
    assert reading.tolerance_high is None


@pytest.mark.parametrize(
    ("code", "percent"), [("110B", 0.1), ("110C", 0.25), ("110D", 0.5), ("110F", 1), ("110G", 2)]
)
def test_the_same_letters_are_percent_above_ten_picofarad(code, percent):
    for reading in read_marking(code, "capacitor").readings:
        if reading.value < 1e-9:
            assert reading.tolerance_high == pytest.approx(percent / 100)
            assert reading.absolute_tolerance is None


def test_at_ten_picofarad_both_meanings_are_listed_the_standard_first():
    plain = [r for r in read_marking("10D", "capacitor").readings if r.value == 1e-11]
    assert plain[0].tolerance_high == pytest.approx(0.005)
    assert plain[1].absolute_tolerance == pytest.approx(0.5e-12)


def test_inductor_letters_are_nanohenries_for_small_values_and_percent_else():
    assert read_marking("4N7D", "inductor").readings[0].absolute_tolerance == pytest.approx(5e-10)
    assert read_marking("4R7L", "inductor").readings[0].tolerance_high == pytest.approx(0.15)


def test_a_letter_that_an_inductor_does_not_carry_gives_no_inductor():
    kinds = {reading.kind for reading in read_marking("4R7Z").readings}
    assert kinds == {"capacitor"}


def test_a_letter_that_a_resistor_does_not_carry_gives_no_resistor():
    assert "resistor" not in {reading.kind for reading in read_marking("104Z").readings}


def test_a_value_outside_every_series_is_said_to_be_so():
    reading = read_marking("103nF").readings[0]
    assert reading.series is None
    assert "no preferred series" in reading.why


def test_preferred_values_rank_above_others():
    readings = read_marking("22n250").readings
    assert readings[0].value == pytest.approx(22e-9)
    odd = next(entry for entry in readings if entry.series is None)
    assert odd.value == pytest.approx(22.25e-9)


def test_a_fine_series_is_likely_where_the_tolerance_is_fine():
    fine = read_marking("4991F", "resistor").readings[0]
    assert fine.value == 4990
    assert fine.series == "E96"
    assert fine.likelihood > 0.9


def test_microfarads_are_likely_where_volts_stand_beside_bare_digits():
    assert read_marking("47 16V", "capacitor").readings[0].value == pytest.approx(47e-6)
    assert read_marking("47", "capacitor").readings[0].value == pytest.approx(47e-12)


def test_pieces_of_different_kinds_make_nothing():
    capacitor = next(p for p in cuts("4n7") if p[0].kind == "capacitor")
    resistor = next(p for p in cuts("4K7") if p[0].kind == "resistor")
    assert list(assembled([*capacitor, *resistor])) == []


def test_a_link_has_no_tolerance():
    assert read_marking("0R").readings[0].tolerance_high is None
    assert list(assembled([*cuts("000")[0], *cuts("J")[0]])) == []


def test_a_lone_number_is_no_voltage():
    assert all(entry.value is not None for entry in read_marking("250", "capacitor").readings)
