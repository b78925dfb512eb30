"""Quantities as a bench types them: both readings refused, digits never invented."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import QuantityError
from benchapp.units import (
    UNITS,
    Estimate,
    Quantity,
    canonical_unit,
    format_estimate,
    format_quantity,
    parse_number,
    parse_quantity,
    parse_tolerance,
    unit_symbol,
)

PREFIXED = [name for name, unit in UNITS.items() if unit.lowest or unit.highest]
PREFIXES = {-15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}
SPELLINGS = [(spelling, name) for name, unit in UNITS.items() for spelling in unit.spellings]


@pytest.mark.parametrize(
    ("text", "unit", "value", "found"),
    [
        ("5.6n", None, 5.6e-9, ""),
        ("5n6", None, 5.6e-9, ""),
        ("2u2", None, 2.2e-6, ""),
        ("2u2", "F", 2.2e-6, "F"),
        ("2u2F", None, 2.2e-6, "F"),
        ("2µ2", "H", 2.2e-6, "H"),
        ("4R7", None, 4.7, "ohm"),
        ("4R7 Ohm", None, 4.7, "ohm"),
        ("R47", "ohm", 0.47, "ohm"),
        ("-0R5", "ohm", -0.5, "ohm"),
        ("3V3", None, 3.3, "V"),
        ("4k7", "ohm", 4700.0, "ohm"),
        ("1M5", "ohm", 1.5e6, "ohm"),
        ("1m5", None, 1.5e-3, ""),
        ("5,6 µH", None, 5.6e-6, "H"),
        ("5,6 \u03bcH", None, 5.6e-6, "H"),
        ("5.6 uH", None, 5.6e-6, "H"),
        ("2,2 uH", None, 2.2e-6, "H"),
        ("10k", "ohm", 1e4, "ohm"),
        ("10K", "ohm", 1e4, "ohm"),
        ("10k", None, 1e4, ""),
        ("1,62 mH", None, 1.62e-3, "H"),
        ("0,868 nF", "F", 868e-12, "F"),
        ("0,868nF", "F", 868e-12, "F"),
        ("868 pF", None, 868e-12, "F"),
        ("868 PF", None, 868e-12, "F"),
        ("134.2KHZ", None, 134.2e3, "Hz"),
        ("47 \u03a9", None, 47.0, "ohm"),
        ("47 \u2126", None, 47.0, "ohm"),
        ("47 Ohm", None, 47.0, "ohm"),
        ("47 ohms", None, 47.0, "ohm"),
        ("47 OHM", None, 47.0, "ohm"),
        ("3 mOhm", None, 3e-3, "ohm"),
        ("3 MOhm", None, 3e6, "ohm"),
        ("10 MegOhm", None, 1e7, "ohm"),
        ("23 degC", None, 23.0, "degC"),
        ("23 °C", "degC", 23.0, "degC"),
        ("23 ° C", "degC", 23.0, "degC"),
        ("23 deg C", None, 23.0, "degC"),
        ("23 C", "degC", 23.0, "degC"),
        ("1\u00a0234,5\u2009Hz", None, 1234.5, "Hz"),
        ("134\u202f200 Hz", None, 134200.0, "Hz"),
        ("1'234.5 Hz", None, 1234.5, "Hz"),
        ("1.0E+05", None, 1e5, ""),
        ("1.0D+05", "Hz", 1e5, "Hz"),
        ("\u22123 mV", "V", -3e-3, "V"),
        ("1 V rms", "V", 1.0, "V"),
        ("100 mVrms", "V", 0.1, "V"),
        ("2m", "H", 2e-3, "H"),
        ("2m", "m", 2.0, "m"),
        ("5 cm", "m", 0.05, "m"),
        ("300 K", "K", 300.0, "K"),
        ("60", "1", 60.0, "1"),
        ("5 %", "1", 0.05, "1"),
        ("100 ppm", None, 1e-4, "1"),
        ("45°", "deg", 45.0, "deg"),
        ("1.62", "H", 1.62, "H"),
        ("1.5 mS", None, 1.5e-3, "S"),
        ("1.5 ms", None, 1.5e-3, "s"),
        ("+.5 V", None, 0.5, "V"),
    ],
)
def test_bench_notation_is_understood(text, unit, value, found):
    quantity = parse_quantity(text, unit)
    assert (quantity.value, quantity.unit) == (value, found)
    assert quantity.low is None
    assert quantity.lower is None


@pytest.mark.parametrize(
    ("text", "low", "high", "relative"),
    [
        ("1.62mH ±3 %", -0.03, 0.03, True),
        ("1.62mH±3%", -0.03, 0.03, True),
        ("1.62 mH +/- 3 %", -0.03, 0.03, True),
        ("1.62 mH +-3%", -0.03, 0.03, True),
        ("1.62 mH 3 %", -0.03, 0.03, True),
        ("1,62 mH -2 % +5 %", -0.02, 0.05, True),
        ("1.62 mH +5 % \u22122 %", -0.02, 0.05, True),
        ("1.62 mH +5/-2 %", -0.02, 0.05, True),
        ("1.62 mH -20+80%", -0.2, 0.8, True),
        ("1.62 mH -0 % +5 %", -0.0, 0.05, True),
        ("1.62 mH ±50 ppm", -5e-5, 5e-5, True),
        ("1.62 mH ±0.05 mH", -5e-5, 5e-5, False),
        ("1.62 mH ±50 uH", -5e-5, 5e-5, False),
        ("1.620 ± 0.05 mH", -5e-5, 5e-5, False),
        ("1m62H ±3 %", -0.03, 0.03, True),
    ],
)
def test_tolerances_are_read_in_every_usual_form(text, low, high, relative):
    assert parse_quantity(text) == Quantity(
        value=1.62e-3, unit="H", low=low, high=high, relative=relative
    )


def test_bounds_follow_from_relative_and_absolute_tolerances():
    assert parse_quantity("100 pF -2 % +5 %").lower == pytest.approx(98e-12, rel=1e-15)
    assert parse_quantity("100 pF -2 % +5 %").upper == pytest.approx(105e-12, rel=1e-15)
    assert parse_quantity("23 ±2 °C").upper == 25.0
    assert parse_quantity("60 ±5", "1").lower == 55.0
    below_zero = parse_quantity("-100 ohm ±1 %")
    assert (below_zero.lower, below_zero.upper) == (-101.0, -99.0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("±3 %", (-0.03, 0.03, True)),
        ("3%", (-0.03, 0.03, True)),
        ("+/-3%", (-0.03, 0.03, True)),
        ("-2 % +5 %", (-0.02, 0.05, True)),
        ("±0,5 %", (-0.005, 0.005, True)),
    ],
)
def test_a_tolerance_alone_needs_no_unit_when_relative(text, expected):
    assert parse_tolerance(text) == expected


def test_an_absolute_tolerance_is_read_with_the_unit_of_its_value():
    assert parse_tolerance("±0.5 pF", "F") == (-0.5e-12, 0.5e-12, False)
    assert parse_tolerance("±5", "1") == (-5.0, 5.0, False)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2,2", 2.2),
        ("2.2", 2.2),
        ("1.234", 1.234),
        ("1.234,56", 1234.56),
        ("1,234.56", 1234.56),
        ("1 234,567", 1234.567),
        ("1,234,567", 1234567.0),
        ("1.234.567", 1234567.0),
        ("1.234.567,8", 1234567.8),
        ("0,234", 0.234),
        ("1234,567", 1234.567),
        ("1,2345", 1.2345),
        ("1,234e3", 1234.0),
        ("1e-3", 1e-3),
        ("1D-3", 1e-3),
        ("5.", 5.0),
        ("007", 7.0),
    ],
)
def test_numbers_are_read_with_either_decimal_mark(text, value):
    assert parse_number(text) == value


@pytest.mark.parametrize("text", ["1,234", "12,345", "-123,456"])
def test_three_digits_after_a_comma_are_refused_with_both_readings(text):
    digits = text.lstrip("-")
    both = rf"which is {digits.replace(',', '.')} or {digits.replace(',', '')}"
    with pytest.raises(QuantityError, match=both):
        parse_number(text)
    with pytest.raises(QuantityError, match=both):
        parse_quantity(f"{text} mH", "H")


def test_a_known_decimal_mark_settles_the_two_readings():
    assert parse_number("1,234", mark=",") == 1.234
    assert parse_number("1,234", mark=".") == 1234.0
    assert parse_quantity("1,620 mH ±0,125 mH", mark=",").upper == pytest.approx(1.745e-3)
    assert parse_tolerance("±1,125 %", mark=",")[1] == 0.01125


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("", None, "must be a number with a unit"),
        ("abc", "H", r"must be a number with a unit \(got 'abc'\)\. Type for example 1\.62 mH"),
        ("OL", "ohm", "Type for example 22 ohm"),
        ("nan", None, "must be a number with a unit"),
        ("1.62 H", "F", r"must be in F \(got '1\.62 H'\)\. Type for example 868 pF"),
        ("1.62 H", "1", "must be in a plain number"),
        ("10 xH", None, r"unit: must be H, F, ohm.*\(got 'xH'\)"),
        ("1.5 kH", None, "unit: must be"),
        ("4R7k", None, "unit: must be"),
        ("1.62 MH", "H", r"got 'MH'\)\. Type mH \(millihenry\) or µH"),
        ("1 MF", "F", r"Type µF \(microfarad\) or mF"),
        ("134 mhz", "Hz", r"Type MHz \(megahertz\) or mHz"),
        ("2m", None, "a prefix or the metre"),
        ("10K", None, "a prefix or the kelvin"),
        ("2 Vpp", "V", "must be an rms value.*divide peak-to-peak by 2.83"),
        ("100 mV pk", "V", "must be an rms value"),
        ("1e999", None, "must be finite"),
        ("12.34.56", None, "one decimal mark and groups of three"),
        ("1,23,456", None, "one decimal mark and groups of three"),
        ("1.234,567,8", None, "one decimal mark and groups of three"),
        ("1.62mH ±3", None, "tolerance: must be in % or in the unit of the value"),
        ("1.62mH ±3 pF", None, "must be in H"),
        ("1.62mH +5 %", None, "one ± value, or one down and one up"),
        ("1.62mH +5 % +8 %", None, "one ± value, or one down and one up"),
        ("1.62mH -2 % +0.05 mH", None, "one ± value, or one down and one up"),
        ("1.62mH at 10 kHz", None, "one ± value, or one down and one up"),
        ("1.62mH ±130 %", None, "must not go below -100 %"),
    ],
)
def test_refusals_say_what_to_type(text, unit, message):
    with pytest.raises(QuantityError, match=message) as caught:
        parse_quantity(text, unit)
    assert caught.value.hint


def test_a_long_text_is_quoted_short():
    with pytest.raises(QuantityError) as caught:
        parse_quantity("x" * 500)
    assert len(str(caught.value)) < 150


@pytest.mark.parametrize("text", ["", "ten", "1 2", "5 mH", "--3"])
def test_parse_number_refuses_what_is_no_number(text):
    with pytest.raises(QuantityError, match="must be digits with one decimal mark"):
        parse_number(text)


def test_a_bare_tolerance_in_a_unit_is_refused():
    with pytest.raises(QuantityError, match="must be in % or in the unit of the value"):
        parse_tolerance("±0.5 pF")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("µH", (1e-6, "H")),
        ("uH", (1e-6, "H")),
        ("\u03bcH", (1e-6, "H")),
        ("kΩ", (1e3, "ohm")),
        ("k\u2126", (1e3, "ohm")),
        ("Ohm", (1.0, "ohm")),
        ("MHz", (1e6, "Hz")),
        ("MHZ", (1e6, "Hz")),
        ("GHz", (1e9, "Hz")),
        ("Hz", (1.0, "Hz")),
        ("m", (1.0, "m")),
        ("K", (1.0, "K")),
        ("S", (1.0, "S")),
        ("s", (1.0, "s")),
        ("%", (0.01, "1")),
        ("1", (1.0, "1")),
        ("°", (1.0, "deg")),
        ("rad", (180 / math.pi, "deg")),
        ("rad/s", (0.5 / math.pi, "Hz")),
        ("dB", (1.0, "dB")),
        ("mohm/sqrt(Hz)", (1e-3, "ohm/sqrt(Hz)")),
    ],
)
def test_header_units_split_into_factor_and_unit(text, expected):
    assert canonical_unit(text) == expected


@pytest.mark.parametrize("text", ["", "k", "dBm", "lb", "Freq"])
def test_unknown_header_units_are_refused(text):
    with pytest.raises(QuantityError, match="unit: must be"):
        canonical_unit(text)


@pytest.mark.parametrize(("spelling", "name"), SPELLINGS)
def test_every_spelling_in_the_table_is_understood(spelling, name):
    assert canonical_unit(spelling) == (1.0, name)
    if name != "1":
        assert parse_quantity(f"7 {spelling}", name) == Quantity(value=7.0, unit=name)


@pytest.mark.parametrize("name", UNITS)
def test_every_symbol_reads_back_as_its_unit(name):
    symbol = unit_symbol(name)
    assert symbol == "" or canonical_unit(symbol) == (1.0, name)


@pytest.mark.parametrize("name", PREFIXED)
def test_prefixes_within_a_units_range_are_read_and_others_refused(name):
    unit = UNITS[name]
    for exponent, prefix in PREFIXES.items():
        text = f"3 {prefix}{unit.symbol}"
        if unit.lowest <= exponent <= unit.highest:
            assert parse_quantity(text, name).value == float(f"3e{exponent}")
        else:
            with pytest.raises(QuantityError):
                parse_quantity(text, name)


def test_symbols_are_the_printed_signs_and_unknown_units_are_refused():
    assert [unit_symbol(name) for name in ("ohm", "degC", "H", "1", "deg")] == [
        "Ω",
        "°C",
        "H",
        "",
        "°",
    ]
    with pytest.raises(QuantityError, match="unit: must be"):
        unit_symbol("furlong")


@pytest.mark.parametrize(
    ("value", "unit", "u", "text"),
    [
        (1.6653e-3, "H", 2.1e-6, "1.6653 mH"),
        (1.6653e-3, "H", None, "1.665 mH"),
        (1.6653e-3, "H", 0.0, "1.665 mH"),
        (868e-12, "F", 1.4e-12, "868.0 pF"),
        (134.2e3, "Hz", 12.0, "134.200 kHz"),
        (0.99996, "ohm", None, "1.000 Ω"),
        (999.96, "ohm", None, "1.000 kΩ"),
        (999.96, "ohm", 0.0996, "999.96 Ω"),
        (999.996, "ohm", 0.0996, "1.00000 kΩ"),
        (150e3, "ohm", 230e3, "150 kΩ"),
        (1.2e-3, "H", 5e-3, "1.2 mH"),
        (0.0, "H", None, "0.000 H"),
        (-0.0, "degC", 0.5, "0.00 °C"),
        (-0.0001, "V", 0.05, "0 mV"),
        (2e6, "H", None, "2000000 H"),
        (101.345, "1", 0.42, "101.34"),
        (2.1e-4, "1", None, "0.0002100"),
        (-45.0, "deg", 0.5, "-45.00°"),
        (23.04, "degC", 0.31, "23.04 °C"),
        (0.05, "ohm/sqrt(Hz)", None, "50.00 mΩ/√Hz"),
        (1.5, "", None, "1.500"),
    ],
)
def test_values_are_written_with_prefix_and_no_digit_too_many(value, unit, u, text):
    assert format_quantity(value, unit, u) == text


def test_the_decimal_mark_on_screen_can_be_a_comma():
    assert format_quantity(1.6653e-3, "H", 2.1e-6, mark=",") == "1,6653 mH"
    estimate = Estimate(name="L", value=1.6653e-3, u=2.1e-6, unit="H")
    assert format_estimate(estimate, mark=",") == "1,6653 ± 0,0021 mH"


@pytest.mark.parametrize(
    ("value", "u", "unit", "coverage", "text"),
    [
        (1.6653e-3, 2.1e-6, "H", 1, "1.6653 ± 0.0021 mH"),
        (1.6653e-3, 1.05e-6, "H", 2, "1.6653 ± 0.0021 mH"),
        (101.34, 0.42, "1", 1, "101.34 ± 0.42"),
        (999.9996, 0.0095, "Hz", 1, "999.9996 ± 0.0095 Hz"),
        (999.99996, 0.0995, "Hz", 1, "1.00000 ± 0.00010 kHz"),
        (0.0, 3e-9, "H", 1, "0.0 ± 3.0 nH"),
        (45.0, 0.5, "deg", 1, "45.00 ± 0.50°"),
        (22.0, None, "ohm", 2, "22.00 Ω"),
    ],
)
def test_estimates_are_written_with_their_expanded_uncertainty(value, u, unit, coverage, text):
    assert format_estimate(Estimate(name="x", value=value, u=u, unit=unit), coverage) == text


def test_what_is_not_finite_is_never_written_or_kept():
    with pytest.raises(QuantityError, match="quantity to write: must be finite"):
        format_quantity(math.nan, "H")
    with pytest.raises(QuantityError, match="quantity to write: must be finite"):
        format_quantity(1.0, "H", math.inf)
    with pytest.raises(QuantityError, match="Q: value must be finite"):
        Estimate(name="Q", value=math.nan, u=None, unit="1")
    with pytest.raises(QuantityError, match="Q: uncertainty must be zero or more"):
        Estimate(name="Q", value=1.0, u=-1.0, unit="1")


@given(
    value=st.floats(1e-16, 1e13) | st.floats(-1e13, -1e-16),
    unit=st.sampled_from(PREFIXED),
    digits=st.integers(1, 9),
    mark=st.sampled_from(".,"),
)
def test_reading_back_what_was_written_gives_the_printed_digits(value, unit, digits, mark):
    text = format_quantity(value, unit, digits=digits, mark=mark)
    back = parse_quantity(text, unit, mark=mark)
    assert back.unit == unit
    assert back.value == pytest.approx(value, rel=0.5000001 * 10.0 ** (1 - digits))
    assert format_quantity(back.value, unit, digits=digits, mark=mark) == text


@given(
    digits=st.integers(1, 999_999),
    places=st.integers(0, 5),
    unit=st.sampled_from(PREFIXED),
    exponent=st.sampled_from(sorted(PREFIXES)),
    mark=st.sampled_from(".,"),
)
def test_every_unit_prefix_and_decimal_mark_is_read_exactly(digits, places, unit, exponent, mark):
    if not UNITS[unit].lowest <= exponent <= UNITS[unit].highest:
        return
    number = Decimal(digits).scaleb(-places)
    text = f"{number:f} {PREFIXES[exponent]}{UNITS[unit].symbol}".replace(".", mark)
    assert parse_quantity(text, unit, mark=mark).value == float(number.scaleb(exponent))
    try:
        guess = parse_quantity(text, unit).value
    except QuantityError as error:
        assert (places, mark) == (3, ",")  # the only text with two readings
        assert f"which is {number:f} or {digits}" in error.message  # noqa: PT017
    else:
        assert guess == float(number.scaleb(exponent))


@given(
    value=st.floats(1e-12, 1e6),
    share=st.floats(1e-6, 2.0),
    unit=st.sampled_from(PREFIXED),
    mark=st.sampled_from(".,"),
)
def test_an_estimate_reads_back_as_value_and_tolerance(value, share, unit, mark):
    estimate = Estimate(name="x", value=value, u=share * value, unit=unit)
    back = parse_quantity(format_estimate(estimate, mark=mark), unit, mark=mark)
    assert back.value == pytest.approx(value, abs=0.051 * share * value)
    assert back.high == pytest.approx(share * value, rel=0.051)
    assert back.relative is False


@given(value=st.floats(1e-9, 1e9), share=st.floats(1e-7, 10.0))
def test_the_printed_uncertainty_has_two_significant_digits(value, share):
    text = format_estimate(Estimate(name="x", value=value, u=share * value, unit="ohm"))
    uncertainty = Decimal(text.split("±")[1].split()[0])
    decimals = -uncertainty.as_tuple().exponent
    digits = f"{uncertainty:f}".replace(".", "").lstrip("0")
    assert len(digits.rstrip("0")) <= 2
    assert len(digits) == 2 or not decimals
    value_text = text.split("±")[0].strip()
    assert -Decimal(value_text).as_tuple().exponent == decimals


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_with_a_hint(text):
    try:
        quantity = parse_quantity(text)
    except QuantityError as error:
        assert error.hint  # noqa: PT017 - both endings are right
    else:
        assert math.isfinite(quantity.value)


BLANKS = " \u00a0\u2002\u2007\u2009\u202f\t"
MICROS = ["µ", "\u03bc", "u", "U"]
MINUSES = ["-", "\u2212", "\u2013"]


@pytest.mark.parametrize("blank", BLANKS, ids=lambda blank: f"U+{ord(blank):04X}")
def test_every_kind_of_blank_parts_number_and_unit(blank):
    assert parse_quantity(
        f"{blank}1.62{blank}{blank}mH{blank}±{blank}3{blank}%{blank}"
    ) == Quantity(value=1.62e-3, unit="H", low=-0.03, high=0.03)
    assert parse_number(f"134{blank}200") == 134200.0


@pytest.mark.parametrize("micro", MICROS)
@pytest.mark.parametrize("unit", ["H", "F", "s", "V", "A", "m"])
def test_every_spelling_of_micro_is_one_millionth(micro, unit):
    assert parse_quantity(f"5.6 {micro}{unit}", unit).value == 5.6e-6


@pytest.mark.parametrize("minus", MINUSES)
def test_every_kind_of_minus_is_a_sign(minus):
    assert parse_number(f"{minus}2.5e{minus}3") == -2.5e-3
    assert parse_tolerance(f"{minus}2 % +5 %") == (-0.02, 0.05, True)


@pytest.mark.parametrize("sign", ["±", "+/-", "+ / -", "+-", "+/\u2212", "\u2213"])
def test_plus_minus_in_the_spellings_of_keyboards(sign):
    if sign == "\u2213":
        with pytest.raises(QuantityError):
            parse_tolerance(f"{sign}3 %")
    else:
        assert parse_tolerance(f"{sign}3 %") == (-0.03, 0.03, True)


@pytest.mark.parametrize("name", ["L", "C"])
def test_the_marking_of_a_prefix_as_decimal_point_equals_the_plain_form(name):
    unit = {"L": "H", "C": "F"}[name]
    for prefix in "pnµm":
        for whole, part in ((0, 47), (4, 7), (12, 5), (100, 0)):
            marked = parse_quantity(f"{whole}{prefix}{part}", unit)
            plain = parse_quantity(f"{whole}.{part} {prefix}{unit}")
            assert marked == plain


@given(
    low=st.integers(0, 100),
    high=st.integers(0, 9999),
    places=st.integers(0, 3),
    order=st.booleans(),
)
def test_tolerances_read_back_as_typed(low, high, places, order):
    down, up = (Decimal(number).scaleb(-places) for number in (low, high))
    parts = [f"-{down:f} %", f"+{up:f} %"]
    if order:
        parts.reverse()
    if places == 3:
        assert parse_tolerance(" ".join(parts), mark=".")[2] is True
    found = parse_tolerance(" ".join(parts))
    assert found[0] == pytest.approx(-float(down) / 100, rel=1e-15)
    assert found[1] == pytest.approx(float(up) / 100, rel=1e-15)


@given(value=st.floats(1e-12, 1e12), share=st.floats(0, 0.99))
def test_bounds_of_a_relative_tolerance_enclose_the_value(value, share):
    quantity = Quantity(value=value, unit="H", low=-share, high=share)
    assert quantity.lower <= value <= quantity.upper
    assert quantity.upper - value == pytest.approx(value - quantity.lower, abs=1e-12 * value)


@given(value=st.floats(1e-9, 1e9), u=st.floats(1e-12, 1e9))
def test_a_value_is_never_printed_finer_than_its_uncertainty(value, u):
    text = format_quantity(value, "1", u)
    decimals = -Decimal(text).as_tuple().exponent
    assert decimals <= max(0, 1 - math.floor(math.log10(u)))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("3 mOhm", "3 MOhm"),
        ("3 mS", "3 MS"),
        ("3 mHz", "3 MHz"),
        ("3 mV", "3 MV"),
        ("3 ms", "3 mS"),
    ],
)
def test_capital_letters_matter_where_they_must(one, other):
    assert parse_quantity(one) != parse_quantity(other)


def test_a_tolerance_of_a_temperature_in_kelvin_is_in_degrees():
    found = parse_quantity("23 degC ±3 K", "degC")
    assert (found.lower, found.upper) == (20.0, 26.0)
    assert parse_tolerance("±5 K", "degC") == (-5.0, 5.0, False)
    assert parse_tolerance("±2 K", "K") == (-2.0, 2.0, False)
