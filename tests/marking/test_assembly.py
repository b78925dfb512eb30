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


@pytest.mark.parametrize(
    ("letter", "percent"),
    [
        ("B", 0.1),
        ("C", 0.25),
        ("D", 0.5),
        ("E", 0.005),
        ("F", 1),
        ("G", 2),
        ("H", 3),
        ("J", 5),
        ("K", 10),
        ("L", 0.01),
        ("M", 20),
        ("N", 30),
        ("P", 0.02),
        ("W", 0.05),
    ],
)
def test_tolerance_letters_of_resistors(letter, percent):
    """IEC 60062 clause 5; E L P W from memory. 4K7 has no second meaning beside the letter."""
    first = read_marking(f"4K7{letter}", "resistor").readings[0]
    assert first.tolerance_high == pytest.approx(percent / 100)
    assert first.tolerance_low == pytest.approx(-percent / 100)


@pytest.mark.parametrize(
    ("letter", "percent"),
    [
        ("F", 1),
        ("G", 2),
        ("H", 3),
        ("J", 5),
        ("K", 10),
        ("L", 15),
        ("M", 20),
        ("V", 25),
        ("N", 30),
    ],
)
def test_tolerance_letters_of_inductors(letter, percent):
    """basictables.com inductor codes."""
    first = read_marking(f"102{letter}", "inductor").readings[0]
    assert first.tolerance_high == pytest.approx(percent / 100)


@pytest.mark.parametrize(
    ("letter", "nanohenry"), [("B", 0.1), ("C", 0.25), ("S", 0.3), ("D", 0.5)]
)
def test_nanohenry_letters_of_small_inductors(letter, nanohenry):
    """basictables.com (B, C, D) and ctccoils.com (S, D)."""
    first = read_marking(f"2N7{letter}", "inductor").readings[0]
    assert first.absolute_tolerance == pytest.approx(nanohenry * 1e-9)


@pytest.mark.parametrize(
    ("letter", "low", "high"),
    [
        ("Q", -0.1, 0.3),
        ("T", -0.1, 0.5),
        ("S", -0.2, 0.5),
        ("Z", -0.2, 0.8),
    ],
)
def test_asymmetric_letters_hold_below_ten_picofarad_too(letter, low, high):
    first = read_marking(f"4p7{letter}", "capacitor").readings[0]
    assert (first.tolerance_low, first.tolerance_high) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("code", "text"),
    [
        ("104K", "K: ±10 %"),
        ("104Z", "Z: -20/+80 %"),
        ("4R7C", "C: ±0.25 pF (below 10 pF)"),
        ("100D", "D: ±0.5 %"),
        ("104P", "P: tolerance not known"),
        ("103K 2J", "2J: 630 V DC, no AC rating follows from it (voltage code 2J)"),
        ("104 2B", "by the rule, in no makers' table seen"),
        ("104 250V", "(a plain V is read as DC)"),
        ("104K 100", "(a usual rated voltage without its V (common practice))"),
        ("0.1µF 275V~", "275V~: 275 V AC at mains frequency"),
        ("X2 0.1µF 275V", "(class X2 is rated for AC)"),
        ("A475", "letter A in front, as on chip electrolytics (common practice)"),
        ("104", "10 x 10^4 pF (3-digit code)"),
        ("479", "47 x 10^-1 pF (3-digit code)"),
        ("0.1", "a bare number below one in µF (common practice)"),
        ("047", ".047 µF, the point in front worn off or not printed (common practice)"),
        ("4n7", "n is nF (IEC 60062)"),
        ("104", "a value of E3"),
        ("103nF", "a value of no preferred series"),
        ("104 40/110/56", "climatic category (IEC 60068-1"),
        ("MKP10 10n", "the number behind the letters is a maker's type"),
        ("N750 102J", "N750: class 1 ceramic, -750 ±120 ppm/K (EIA RS-198)"),
        ("X7R 104K", "class 2 ceramic, ±15 % from -55 to 125 °C"),
        ("C0G 101J", "class 1 ceramic, 0 ±30 ppm/K"),
    ],
)
def test_the_reason_is_said(code, text):
    assert text in read_marking(code, "capacitor").readings[0].why


def test_old_microfarad_letters_are_explained():
    why = read_marking("100MF 25V").readings[0].why
    assert "old markings write MF or mF for µF" in why
