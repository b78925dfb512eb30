"""Reading whole markings: 336 known ones, 109 ambiguous ones, and nonsense."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import QuantityError, UsageError
from benchapp.marking import Reading, read_marking
from benchapp.marking.reading import words_of

TRUTH = Path(__file__).parent.parent / "truth"
KINDS = {"c": "capacitor", "r": "resistor", "i": "inductor"}


def _rows(name):
    text = (TRUTH / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


KNOWN = _rows("marking_known.csv")
AMBIGUOUS = _rows("marking_ambiguous.csv")


def _number(text):
    return float(text) if text else None


def _close(found, wanted):
    if found is None or wanted is None:
        return found is wanted
    return math.isclose(found, wanted, rel_tol=1e-9)


def _is_known(reading: Reading, row) -> bool:
    rating = reading.rating
    return (
        reading.kind == row["kind"]
        and reading.unit == row["unit"]
        and _close(reading.value, _number(row["value"]))
        and _close(reading.tolerance_low, _number(row["tolerance_low"]))
        and _close(reading.tolerance_high, _number(row["tolerance_high"]))
        and _close(reading.absolute_tolerance, _number(row["absolute_tolerance"]))
        and _close(rating and rating.volt, _number(row["rating_volt"]))
        and (rating.kind if rating else "") == row["rating_kind"]
        and (reading.dielectric.name if reading.dielectric else "") == row["dielectric"]
    )


def test_there_are_300_known_and_100_ambiguous_markings():
    assert len({row["code"] for row in KNOWN}) >= 300
    assert len({row["code"] for row in AMBIGUOUS}) >= 100


@pytest.mark.parametrize("row", KNOWN, ids=[f"{row['code']}-{row['asked']}" for row in KNOWN])
def test_known_marking_is_the_first_reading(row):
    readings = read_marking(row["code"], row["asked"] or None).readings
    assert _is_known(readings[0], row), readings[0]


def _matches(reading: Reading, text: str) -> bool:
    value, percent, volt, absolute = [*text[1:].split(":"), "", "", ""][:4]
    rating = f"{reading.rating.volt:g}{reading.rating.kind}" if reading.rating else ""
    return (
        reading.kind == KINDS[text[0]]
        and _close(reading.value, _number(value))
        and _close(reading.tolerance_high, float(percent) / 100 if percent else None)
        and rating == volt
        and _close(reading.absolute_tolerance, _number(absolute))
    )


@pytest.mark.parametrize(
    "row", AMBIGUOUS, ids=[f"{row['code']}-{row['asked']}" for row in AMBIGUOUS]
)
def test_ambiguous_marking_lists_every_reading(row):
    readings = read_marking(row["code"], row["asked"] or None).readings
    wanted = row["readings"].split()
    assert len(wanted) >= 2
    missing = [text for text in wanted if not any(_matches(entry, text) for entry in readings)]
    assert missing == []


@pytest.mark.parametrize("row", AMBIGUOUS, ids=[row["code"] for row in AMBIGUOUS])
def test_no_ambiguous_marking_is_decided_silently(row):
    readings = read_marking(row["code"], row["asked"] or None).readings
    assert len(readings) >= 2
    assert readings[0].likelihood < 0.99


@pytest.mark.parametrize("row", [*KNOWN, *AMBIGUOUS], ids=lambda row: row["code"])
def test_likelihoods_fall_and_add_up_to_one_and_each_reading_says_why(row):
    readings = read_marking(row["code"]).readings
    shares = [entry.likelihood for entry in readings]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(1)
    assert all(entry.why for entry in readings)
    bare = {
        (
            e.kind,
            e.value,
            e.tolerance_low,
            e.tolerance_high,
            e.absolute_tolerance,
            e.ratings,
            e.dielectric,
            e.safety_class,
        )
        for e in readings
    }
    assert len(bare) == len(readings)


@pytest.mark.parametrize("code", ["103K 2J", "0.1µF 250V", "0.1 250VDC", "2A104J", "100n 63-"])
def test_a_dc_rating_is_never_an_ac_rating(code):
    for reading in read_marking(code).readings:
        assert {rating.kind for rating in reading.ratings} == {"dc"}
        assert "no AC rating follows from it" in reading.why


@pytest.mark.parametrize("code", ["0.1µF 275V~", "0.1 250VAC", "X2 0.1µF 275V", "~250V 4n7"])
def test_an_ac_rating_is_said_to_hold_at_mains_frequency(code):
    for reading in read_marking(code).readings:
        assert {rating.kind for rating in reading.ratings} == {"ac"}
        assert "at mains frequency" in reading.why


def test_a_dc_rating_beside_a_safety_class_stays_dc():
    reading = read_marking("X2 0.1µF 630VDC").readings[0]
    assert [(rating.volt, rating.kind) for rating in reading.ratings] == [(630, "dc")]


def test_both_ratings_of_a_part_are_kept_in_their_order():
    reading = read_marking("47nK 630VDC 250VAC").readings[0]
    assert [(rating.volt, rating.kind) for rating in reading.ratings] == [(630, "dc"), (250, "ac")]
    assert reading.rating is reading.ratings[0]


def test_two_safety_classes_are_kept():
    reading = read_marking("X1 440~ Y2 300~ 4n7M").readings[0]
    assert reading.safety_class == "X1/Y2"
    assert [rating.volt for rating in reading.ratings] == [440, 300]


@pytest.mark.parametrize("letter", "AEIPVWY")
def test_an_unsettled_letter_gives_no_tolerance_on_a_capacitor(letter):
    reading = read_marking(f"104{letter}", "capacitor").readings[0]
    assert reading.value == pytest.approx(100e-9)
    assert reading.tolerance_high is None
    assert reading.tolerance_low is None
    assert f"{letter}: tolerance not known" in reading.why


def test_the_wrong_published_564_is_not_copied():
    """signalpro.biz prints 580000 pF for 564; two digits and four zeros are 560000 pF."""
    assert read_marking("564", "capacitor").readings[0].value == pytest.approx(560e-9)


@pytest.mark.parametrize(
    ("code", "near"),
    [
        ("1O4K", "104K"),
        ("l04K", "104K"),
        ("4R7O", "4R70"),
        ("O.1", "0.1"),
        ("1OOn", "100n"),
        ("0.0.1", "0.01"),
    ],
)
def test_nonsense_is_refused_with_the_nearest_valid_form(code, near):
    with pytest.raises(QuantityError, match=r"marking: must be a known code \(got") as caught:
        read_marking(code)
    assert near in caught.value.hint
    assert read_marking(near).readings


@pytest.mark.parametrize("code", ["foo", "?!", "µ", "Ω", "99Q9Q9", "K", "X", "1e-6e", "-"])
def test_nonsense_without_a_near_form_is_refused_with_the_usual_forms(code):
    with pytest.raises(QuantityError, match="marking: must be a known code") as caught:
        read_marking(code)
    assert "form" in caught.value.hint


@pytest.mark.parametrize("code", ["", "   ", "//", "1" * 81])
def test_an_empty_or_endless_marking_is_refused(code):
    with pytest.raises(QuantityError, match="marking: must be a word of 1 to 80 characters"):
        read_marking(code)


@pytest.mark.parametrize("code", ["104 223", "4n7 4K7", "104J K", "X7R 4M7"])
def test_contradicting_words_are_refused(code):
    with pytest.raises(QuantityError, match="must hold one value, at most one tolerance"):
        read_marking(code)


def test_an_unknown_kind_is_refused():
    with pytest.raises(UsageError, match=r"kind of part: must be one of .* \(got 'coil'\)"):
        read_marking("104", "coil")


def test_a_marking_of_another_kind_is_refused_and_says_which():
    with pytest.raises(
        QuantityError, match=r"marking: must be one of a resistor \(got '100nF', which only a"
    ) as caught:
        read_marking("100nF", "resistor")
    assert "Read it as a capacitor" in caught.value.hint


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        ("brown black purple turquoise", "every word must name a colour (got 'turquoise'"),
        ("brown gold red gold", "colour bands: must be three to six"),
        ("brown black", "colour bands: must be three to six"),
    ],
)
def test_colours_that_make_no_code_are_refused(code, sentence):
    with pytest.raises(QuantityError, match="colour bands") as caught:
        read_marking(code)
    assert sentence in caught.value.message


@pytest.mark.parametrize("code", ["104K 1O4", "104K 99Q9Q9", "MKP 1O4K 630V", "0.1 0.0.1 250V"])
def test_a_word_with_figures_that_is_not_understood_may_be_the_value(code):
    with pytest.raises(QuantityError, match="marking: must be a known code"):
        read_marking(code)


def test_date_and_lot_codes_are_named_as_what_to_leave_out():
    with pytest.raises(QuantityError) as caught:
        read_marking("104K 99Q9Q9Q9")
    assert caught.value.hint.startswith("Leave out date and lot codes.")


def test_volts_are_not_taken_for_a_tolerance_letter():
    assert [entry.value for entry in read_marking("630V", "capacitor").readings] == [None]


def test_words_not_understood_are_set_aside_and_named():
    marking = read_marking("foo 104K")
    assert marking.not_understood == ("foo",)
    assert marking.readings[0].value == pytest.approx(100e-9)


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("0,1 µF", ("0,1µF",)),
        ("10 V ~", ("10V~",)),
        ("250 V AC", ("250VAC",)),
        ("22nF -20/+80 %", ("22nF", "-20+80%")),
        ("100n +/- 5 %", ("100n", "±5%")),
        ("104/250V", ("104", "250V")),
        ("0.1 40/110/56", ("0.1", "40/110/56")),
        ("104 K", ("104K",)),
        ("\u03bcF \u2126", ("µF", "Ω")),
        ("2u2 10uH", ("2µ2", "10µH")),
    ],
)
def test_words_are_joined_and_split_as_a_reader_would(code, words):
    assert words_of(code) == words


def test_words_that_could_be_anything_are_refused():
    with pytest.raises(QuantityError, match="marking: must be that of one part"):
        read_marking("100 100 100 100 100 100 100")


@settings(deadline=None)
@given(st.text(max_size=90))
def test_any_text_gives_readings_or_one_plain_sentence(text):
    try:
        readings = read_marking(text).readings
    except QuantityError as error:
        refusal = error
    else:
        assert sum(entry.likelihood for entry in readings) == pytest.approx(1)
        return
    assert refusal.hint
    assert "marking" in refusal.message or "colour bands" in refusal.message


@settings(deadline=None)
@given(st.text(alphabet="0123456789RKMJnpµuF.,V~ACDX2/%±+- ", min_size=1, max_size=24))
def test_texts_of_marking_characters_never_break_the_reader(text):
    try:
        readings = read_marking(text).readings
    except QuantityError:
        return
    for reading in readings:
        assert reading.value is None or 0 <= reading.value < math.inf


@settings(deadline=None)
@given(st.integers(10, 99), st.integers(0, 7), st.sampled_from("FGJKM"))
def test_three_digit_code_is_two_digits_and_a_power_of_ten(mantissa, power, letter):
    marking = read_marking(f"{mantissa}{power}{letter}", "capacitor")
    wanted = float(f"{mantissa}e{power - 12}")
    assert any(_close(entry.value, wanted) for entry in marking.readings)


@settings(deadline=None)
@given(st.sampled_from("pnµ"), st.integers(1, 99), st.integers(0, 9))
def test_letter_stands_for_the_point(letter, whole, tenths):
    wanted = float(f"{whole}.{tenths}") * {"p": 1e-12, "n": 1e-9, "µ": 1e-6}[letter]
    first = read_marking(f"{whole}{letter}{tenths}", "capacitor").readings[0]
    assert _close(first.value, wanted)


PUBLISHED = json.loads((TRUTH / "marking_codes.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("code", "value"), PUBLISHED["three_digit_pF"]["cases"].items())
def test_published_three_digit_codes(code, value):
    assert _close(read_marking(code, "capacitor").readings[0].value, value)


@pytest.mark.parametrize(("code", "value"), PUBLISHED["rkm"]["cases"].items())
def test_published_letter_codes_of_resistors(code, value):
    assert _close(read_marking(code, "resistor").readings[0].value, value)
    assert _close(read_marking(code).readings[0].value, value)


@pytest.mark.parametrize(("code", "value"), PUBLISHED["rkm"]["capacitance"].items())
def test_letter_codes_of_capacitors(code, value):
    assert _close(read_marking(code, "capacitor").readings[0].value, value)


@pytest.mark.parametrize(("code", "volt"), PUBLISHED["voltage_codes"]["code"].items())
def test_published_voltage_codes_alone_and_beside_a_value(code, volt):
    for text in (code, f"104K {code}", f"{code}104K"):
        rating = read_marking(text).readings[0].rating
        assert rating is not None
        assert (rating.volt, rating.kind) == (pytest.approx(volt), "dc")


@pytest.mark.parametrize(
    ("letter", "pair"), PUBLISHED["tolerance"]["asymmetric_percent_low_high"].items()
)
def test_published_asymmetric_letters(letter, pair):
    first = read_marking(f"223{letter}", "capacitor").readings[0]
    assert [100 * first.tolerance_low, 100 * first.tolerance_high] == pytest.approx(pair)


@pytest.mark.parametrize("letter", "BCDFGHJKMN")
def test_published_symmetric_letters(letter):
    percent = PUBLISHED["tolerance"]["symmetric_percent"][letter]
    first = read_marking(f"223{letter}", "capacitor").readings[0]
    assert first.tolerance_high == pytest.approx(percent / 100)
    assert first.tolerance_low == pytest.approx(-percent / 100)
