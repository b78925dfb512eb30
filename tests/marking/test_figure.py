"""Values as they are written, one way of writing at a time."""

from __future__ import annotations

import pytest

from benchapp.marking.word import cuts


def _values(word):
    """Give (kind, value, style) of every cut that is one value and nothing else."""
    return {
        (pieces[0].content.kind, pieces[0].content.value, pieces[0].content.style)
        for pieces in cuts(word)
        if len(pieces) == 1 and pieces[0].role == "V"
    }


def test_three_digits_are_code_and_plain_value_for_every_kind():
    assert _values("470") == {
        ("capacitor", 47e-12, "code"),
        ("resistor", 47.0, "code"),
        ("inductor", 47e-6, "code"),
        ("capacitor", 470e-12, "plain"),
        ("resistor", 470.0, "plain"),
        ("inductor", 470e-6, "plain"),
        ("capacitor", 470e-6, "plain µF"),
    }


def test_four_digits_are_three_and_a_power_of_ten():
    assert ("resistor", 49900.0, "code") in _values("4992")


@pytest.mark.parametrize(("word", "value"), [("479", 4.7e-12), ("478", 0.47e-12)])
def test_last_digit_eight_or_nine_divides_on_a_capacitor(word, value):
    assert ("capacitor", value, "code") in _values(word)
    assert ("resistor", float(f"47e{word[2]}"), "code") in _values(word)


def test_digits_that_begin_with_zero_are_a_fraction_of_a_microfarad():
    assert _values("047") == {("capacitor", 0.047e-6, "plain µF")}
    assert ("capacitor", 1e-12, "code") in _values("010")


@pytest.mark.parametrize("word", ["0", "00", "000", "0000", "0R", "R00", "0R0"])
def test_zeros_are_a_link(word):
    assert _values(word) == {("resistor", 0.0, "link")}


@pytest.mark.parametrize("word", ["0.0", "0n0", "0pF", "0µ"])
def test_zero_is_no_value_of_a_capacitor(word):
    assert not {kind for kind, _, _ in _values(word)} & {"capacitor", "inductor"}


def test_r_without_digits_behind_it_is_a_resistor_only():
    assert _values("470R") == {("resistor", 470.0, "letter")}


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470),
        ("4K7", 4.7e3),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("470K", 470e3),
        ("4M7", 4.7e6),
    ],
)
def test_resistance_examples_of_iec_60062(word, value):
    """en.wikipedia.org/wiki/RKM_code, examples of resistance values."""
    assert ("resistor", value, "letter") in _values(word)


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("p47", 0.47e-12),
        ("4p7", 4.7e-12),
        ("n47", 0.47e-9),
        ("4n7", 4.7e-9),
        ("47n", 47e-9),
        ("µ47", 0.47e-6),
        ("4µ7", 4.7e-6),
        ("470µ", 470e-6),
        ("4m7", 4.7e-3),
    ],
)
def test_capacitance_examples_of_iec_60062(word, value):
    """IEC 60062 clause 4, from memory."""
    assert ("capacitor", value, "letter") in _values(word)


@pytest.mark.parametrize(
    ("word", "kind", "value"),
    [
        ("100nF", "capacitor", 1e-7),
        ("0.1µF", "capacitor", 1e-7),
        ("10MFD", "capacitor", 1e-5),
        ("10mmF", "capacitor", 1e-11),
        ("1.62mH", "inductor", 1.62e-3),
        ("4.7kΩ", "resistor", 4700.0),
        ("22ohm", "resistor", 22.0),
        ("5mΩ", "resistor", 5e-3),
        ("2F", "capacitor", 2.0),
    ],
)
def test_written_out_units_are_read(word, kind, value):
    assert (kind, value, "unit") in _values(word)


def test_chip_codes_are_read_only_as_whole_words():
    assert ("resistor", 49.9, "chip") in _values("68X")
    assert ("capacitor", 4.7e-9, "chip") in _values("S3")
    assert not any(
        piece.role == "V" and piece.content.style == "chip"
        for pieces in cuts("4R7")
        for piece in pieces
    )


@pytest.mark.parametrize("word", ["00A", "97A"])
def test_chip_resistor_index_is_1_to_96(word):
    assert not any(style == "chip" for _, _, style in _values(word))


@pytest.mark.parametrize(
    ("word", "kind", "value"),
    [
        ("101", "capacitor", 100e-12),
        ("104", "capacitor", 100e-9),
        ("223", "capacitor", 22e-9),
        ("105", "capacitor", 1e-6),
        ("107", "capacitor", 100e-6),
        ("1002", "capacitor", 10e-9),
        ("2201", "capacitor", 2.2e-9),
        ("101", "resistor", 100.0),
        ("104", "resistor", 100e3),
        ("105", "resistor", 1e6),
        ("1002", "resistor", 10e3),
        ("4993", "resistor", 499e3),
        ("101", "inductor", 100e-6),
        ("102", "inductor", 1e-3),
        ("100", "inductor", 10e-6),
        ("1501", "inductor", 1.5e-3),
    ],
)
def test_digit_codes_are_a_mantissa_and_a_power_of_ten(word, kind, value):
    found = [v for k, v, style in _values(word) if k == kind and style == "code"]
    assert found == [pytest.approx(value)]


@pytest.mark.parametrize(
    ("word", "kind", "value"),
    [
        ("4R7", "capacitor", 4.7e-12),
        ("R47", "capacitor", 0.47e-12),
        ("1R0", "inductor", 1e-6),
        ("R10", "inductor", 0.1e-6),
        ("4N7", "inductor", 4.7e-9),
        ("27N", "inductor", 27e-9),
        ("4N7", "capacitor", 4.7e-9),
        ("4P7", "capacitor", 4.7e-12),
        ("4U7", "capacitor", 4.7e-6),
        ("4µ7", "inductor", 4.7e-6),
        ("4m7", "inductor", 4.7e-3),
        ("4m7", "resistor", 4.7e-3),
        ("4m7", "resistor", 4.7e6),
        ("5L0", "resistor", 5e-3),
        ("R005", "resistor", 5e-3),
        ("1G0", "resistor", 1e9),
        ("1T0", "resistor", 1e12),
        ("4k7", "resistor", 4.7e3),
        ("4K7", "capacitor", 4.7e-9),
    ],
)
def test_what_a_letter_means_depends_on_the_kind_of_part(word, kind, value):
    found = [v for k, v, style in _values(word) if k == kind and style == "letter"]
    assert any(v == pytest.approx(value) for v in found)


@pytest.mark.parametrize(
    ("index", "value"),
    [(1, 100), (12, 130), (24, 174), (48, 309), (66, 475), (68, 499), (96, 976)],
)
def test_eia_96_counts_into_the_series(index, value):
    """developer.wildernesslabs.co, table of the 96 values."""
    assert ("resistor", float(value), "chip") in _values(f"{index:02d}A")


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("A0", 1e-12),
        ("A9", 0.1e-12),
        ("J5", 220e-9),
        ("T6", 5.1e-6),
        ("Z1", 91e-12),
        ("a3", 2.5e-9),
        ("n2", 700e-12),
    ],
)
def test_eia_198_is_a_mantissa_letter_and_a_power_of_ten(word, value):
    """gfaelectronics.com and an edaboard thread, where both agree."""
    found = [v for _, v, style in _values(word) if style == "chip"]
    assert found == [pytest.approx(value)]
