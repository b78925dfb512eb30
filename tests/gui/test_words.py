"""Numbers and words as the window writes them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QCoreApplication, QLocale, QTranslator

from benchapp.gui import words
from benchapp.gui import words as plain_words
from benchapp.nominal import Limit, LimitVerdict, Outcome
from benchapp.nominal.file import LIMIT_UNITS
from benchapp.units import parse_quantity
from tests.gui.factories import L_LIMIT, Q_LIMIT, estimate, judged_limit


@pytest.fixture
def german():
    QLocale.setDefault(QLocale(QLocale.Language.German))


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (1.62e-3, "H", "1.62 mH"),
        (134.2e3, "Hz", "134.2 kHz"),
        (22.0, "ohm", "22 Ω"),
        (100.0, "1", "100"),
        (60.0, "1", "60"),
        (-90.0, "deg", "−90°"),
        (23.0, "degC", "23 °C"),
        (0.5, "1", "0.5"),
    ],
)
def test_a_chosen_value_is_written_with_all_its_digits_and_no_more(value, unit, text):
    assert words.exact(value, unit) == text


@given(value=st.floats(1e-12, 1e9), unit=st.sampled_from(["H", "F", "ohm", "Hz", "1"]))
def test_a_chosen_value_reads_back_as_itself(value, unit):
    value = float(f"{value:.7g}")
    assert parse_quantity(words.exact(value, unit), unit).value == pytest.approx(value, rel=1e-6)


def test_a_measured_value_stands_with_its_expanded_uncertainty():
    measured = estimate("L", 1.6653e-3, 1.05e-6, "H")
    assert words.with_expanded(measured) == "1.6653 ± 0.0021 mH"
    assert words.with_expanded(measured, coverage=1) == "1.6653 ± 0.0010 mH"
    assert words.with_expanded(measured, expanded=4.2e-6) == "1.6653 ± 0.0042 mH"


def test_a_value_without_uncertainty_stands_alone():
    assert words.with_expanded(estimate("Q", 78.43, None, "1")) == "78.43"


@pytest.mark.usefixtures("german")
def test_the_decimal_mark_is_that_of_the_desktop():
    assert words.decimal_mark() == ","
    assert words.exact(134.2e3, "Hz") == "134,2 kHz"
    assert words.with_expanded(estimate("Q", 78.43, 0.105, "1")) == "78,43 ± 0,21"
    assert words.percent(2.8) == "+2,8 %"
    assert words.range_words(Q_LIMIT) == "60 to 110"
    assert words.number("1.5 and 2.25, not v2.") == "1,5 and 2,25, not v2."


@pytest.mark.parametrize(
    ("value", "text"),
    [(2.83, "+2.8 %"), (-0.117, "−0.12 %"), (31.4, "+31 %"), (-12.6, "−13 %"), (0.0, "+0.00 %")],
)
def test_a_percentage_has_two_digits_and_a_sign(value, text):
    assert words.percent(value) == text


@pytest.mark.parametrize(
    ("limit", "text"),
    [
        (L_LIMIT, "1.62 mH ±3 %"),
        (Q_LIMIT, "60 to 110"),
        (Limit(quantity="ESR", unit="ohm", upper=22.0), "at most 22 Ω"),
        (Limit(quantity="Q", unit="1", lower=60.0), "at least 60"),
        (Limit(quantity="f0", unit="Hz", lower=132.2e3, upper=136.2e3), "132.2 to 136.2 kHz"),
        (Limit(quantity="R", unit="ohm", lower=900.0, upper=1.1e3), "900 Ω to 1.1 kΩ"),
        (
            Limit(quantity="C", unit="F", lower=980e-12, upper=1050e-12, nominal=1e-9),
            "1 nF −2 % +5 %",
        ),
    ],
)
def test_what_a_limit_allows_is_written_as_the_trade_does(limit, text):
    assert words.range_words(limit) == text


def test_how_far_a_value_is_from_its_nominal_is_a_percentage():
    assert words.deviation_words(judged_limit(value=1.6653e-3)) == "+2.8 %"


def test_without_a_nominal_the_distance_to_the_limit_is_given():
    entry = judged_limit(limit=Q_LIMIT, value=78.5, expanded=0.4, margin=31.0)
    assert words.deviation_words(entry) == "31 % inside"
    entry = judged_limit(limit=Q_LIMIT, value=30.6, expanded=0.4, margin=-49.0)
    assert words.deviation_words(entry) == "49 % outside"


@pytest.mark.parametrize(
    ("margin", "text"),
    [
        (0.012, "0.01 % inside"),
        (0.0041, "41 ppm inside"),
        (-0.00085, "8.5 ppm outside"),
        (0.0, "0.00 % inside"),
    ],
)
def test_a_small_distance_is_told_in_ppm(margin, text):
    assert words.margin_words(judged_limit(margin=margin)) == text


def test_a_limit_that_was_not_judged_has_no_distance():
    assert words.margin_words(judged_limit(margin=None)) == ""


def test_a_value_that_was_not_determined_is_said_so():
    entry = LimitVerdict(limit=L_LIMIT, outcome=Outcome.NOT_JUDGED)
    assert words.deviation_words(entry) == "not determined"


def test_every_outcome_has_its_own_words_and_they_are_those_of_the_core():
    spoken = {outcome: words.outcome_words(outcome) for outcome in Outcome}
    assert len(set(spoken.values())) == len(Outcome)
    assert all(text == outcome.words for outcome, text in spoken.items())


@pytest.mark.parametrize("name", LIMIT_UNITS)
def test_every_quantity_that_can_be_limited_is_explained(name):
    assert words.definition(name).endswith(".")
    assert words.symbol(name)


def test_what_has_no_definition_has_an_empty_one():
    assert words.definition("nothing") == ""


@pytest.mark.parametrize(("count", "text"), [(0, "0 points"), (1, "1 point"), (7, "7 points")])
def test_counted_things_agree_with_their_number(count, text):
    assert words.plural(count, "1 point", "%n points") == text


def test_every_word_goes_through_the_translation_call(qapp):
    class Quoting(QTranslator):
        def translate(self, _context, source, _note=None, _n=-1):
            return f"«{source}»"

        def isEmpty(self):  # noqa: N802 - Qt's name
            return False

    loud = Quoting()
    QCoreApplication.installTranslator(loud)
    try:
        assert words.outcome_words(Outcome.CONDITIONAL_PASS) == "«conditional pass»"
        assert words.definition("DCR") == f"«{words._DEFINITIONS['DCR']}»"
        assert words.range_words(Q_LIMIT) == "«60 to 110»"
    finally:
        QCoreApplication.removeTranslator(loud)


def test_what_was_typed_is_kept_with_a_point_whatever_the_desktop_writes(german):
    assert words.plain("1,62 mH") == "1.62 mH"
    assert words.plain("-2,5 % +5 %") == "-2.5 % +5 %"
    assert words.plain("a, b") == "a, b"


def test_on_a_desktop_with_points_what_was_typed_is_kept_as_it_is():
    assert words.plain("1,62 mH") == "1,62 mH"


@pytest.mark.parametrize(
    ("sentence", "together"),
    [
        ("Chance: 7.8 %.", ["7.8\u00a0%."]),
        (
            "Sweep 128.92 kHz to 139.17 kHz in steps of 170 Hz.",
            ["128.92\u00a0kHz", "170\u00a0Hz."],
        ),
        ("L is 0.91 times as wide as ± U", ["±\u00a0U"]),
        ("17.5 Ω and 868 pF, 23 °C", ["17.5\u00a0Ω", "868\u00a0pF,", "23\u00a0°C"]),
        ("4 of 101 points, 2 sweeps", ["4", "101", "2"]),
    ],
)
def test_a_number_is_never_parted_from_its_unit(sentence, together):
    bound = words.bound(sentence)
    assert set(together) <= set(bound.split(" "))
    assert bound.replace("\u00a0", " ") == sentence


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("the short reading is old", "The short reading is old"),
        ("re-check of the fixture", "Re-check of the fixture"),
        ("f0 differs from the stated value", "f0 differs from the stated value"),
        ("L: eight points on one side", "L: eight points on one side"),
        ("", ""),
    ],
)
def test_a_sentence_begins_with_a_capital_unless_with_a_symbol(words, told):
    assert plain_words.sentence(words) == told
