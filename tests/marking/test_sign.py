"""What stands beside the value: tolerances, voltages, dielectric, class."""

from __future__ import annotations

import pytest

from benchapp.marking.piece import ToleranceText
from benchapp.marking.value import Rating
from benchapp.marking.word import cuts


def _contents(word, kind):
    return [
        pieces[0].content
        for pieces in cuts(word)
        if len(pieces) == 1 and isinstance(pieces[0].content, kind)
    ]


@pytest.mark.parametrize(
    ("word", "volt", "kind"),
    [
        ("250V", 250, "dc"),
        ("250VDC", 250, "dc"),
        ("250V-", 250, "dc"),
        ("250V=", 250, "dc"),
        ("63-", 63, "dc"),
        ("DC63V", 63, "dc"),
        ("250VAC", 250, "ac"),
        ("250V~", 250, "ac"),
        ("~250V", 250, "ac"),
        ("250~", 250, "ac"),
        ("AC250V", 250, "ac"),
        ("250AC", 250, "ac"),
        ("1kV", 1000, "dc"),
        ("1.6KV", 1600, "dc"),
        ("6.3V", 6.3, "dc"),
        ("16WV", 16, "dc"),
        ("2J", 630, "dc"),
        ("1H", 50, "dc"),
        ("2e", 250, "dc"),
    ],
)
def test_voltage_is_read_with_its_kind(word, volt, kind):
    found = _contents(word, Rating)
    assert [(rating.volt, rating.kind) for rating in found] == [(pytest.approx(volt), kind)]


def test_bare_number_is_a_voltage_only_where_it_is_a_usual_one():
    assert [rating.volt for rating in _contents("250", Rating)] == [250]
    assert _contents("251", Rating) == []


@pytest.mark.parametrize(
    ("word", "low", "high", "relative"),
    [
        ("10%", -0.1, 0.1, True),
        ("±2.5%", -0.025, 0.025, True),
        ("+80-20%", -0.2, 0.8, True),
        ("-10+50%", -0.1, 0.5, True),
        ("±0.5pF", -0.5e-12, 0.5e-12, False),
    ],
)
def test_printed_tolerance_is_read(word, low, high, relative):
    (found,) = _contents(word, ToleranceText)
    assert (found.low, found.high) == pytest.approx((low, high))
    assert found.relative is relative


@pytest.mark.parametrize("letter", ["O", "X", "U", "n", "p"])
def test_other_letters_are_no_tolerance(letter):
    assert all("T" not in "".join(p.role for p in pieces) for pieces in cuts(f"104{letter}"))


@pytest.mark.parametrize("word", ["X1", "X2", "Y1", "Y2", "X1Y2", "y2"])
def test_safety_class_is_read(word):
    assert any(pieces[0].role == "X" for pieces in cuts(word))


def test_film_may_carry_a_type_number():
    (pieces,) = cuts("MKP10")
    assert pieces[0].content.name == "polypropylene"
    assert "maker's type" in pieces[0].why


def test_power_is_noted_for_a_resistor():
    notes = [pieces[0] for pieces in cuts("5W") if pieces[0].role == "N"]
    assert [(note.kind, note.why) for note in notes] == [("resistor", "5W: power rating")]


@pytest.mark.parametrize(
    ("code", "volt"),
    [
        ("0E", 2.5),
        ("0G", 4),
        ("0J", 6.3),
        ("0K", 8),
        ("1A", 10),
        ("1B", 12.5),
        ("1C", 16),
        ("1D", 20),
        ("1E", 25),
        ("1V", 35),
        ("1G", 40),
        ("1H", 50),
        ("1J", 63),
        ("1N", 75),
        ("1K", 80),
        ("2A", 100),
        ("2B", 125),
        ("2C", 160),
        ("2D", 200),
        ("2E", 250),
        ("2F", 315),
        ("2V", 350),
        ("2G", 400),
        ("2W", 450),
        ("2H", 500),
        ("2J", 630),
        ("2K", 800),
        ("3A", 1000),
        ("3B", 1250),
        ("3C", 1600),
        ("3D", 2000),
        ("3F", 3150),
    ],
)
def test_voltage_code_is_a_power_of_ten_and_a_mantissa(code, volt):
    """The rule of the makers' tables, worked out by hand: digit 2 is hundreds of volts."""
    found = [rating.volt for rating in _contents(code, Rating) if rating.text == code]
    assert any(each == pytest.approx(volt) for each in found)


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("MKT", "polyester"),
        ("mkt", "polyester"),
        ("KT", "polyester"),
        ("CL21", "polyester"),
        ("MKP", "polypropylene"),
        ("MKP4", "polypropylene"),
        ("MKP10", "polypropylene"),
        ("KP", "polypropylene"),
        ("CBB22", "polypropylene"),
        ("MPP", "polypropylene"),
        ("PP", "polypropylene"),
        ("MKC", "polycarbonate"),
        ("KS", "polystyrene"),
        ("MKI", "polyphenylene sulphide"),
        ("PPS", "polyphenylene sulphide"),
        ("MKN", "polyethylene naphthalate"),
        ("PEN", "polyethylene naphthalate"),
        ("X7R", "X7R"),
        ("x5r", "X5R"),
        ("Y5V", "Y5V"),
        ("C0G", "C0G"),
        ("COG", "C0G"),
        ("NP0", "C0G"),
        ("npo", "C0G"),
        ("N750", "U2J"),
        ("N1500", "P3K"),
        ("P100", "M7G"),
    ],
)
def test_dielectric_words(word, name):
    found = [pieces[0].content.name for pieces in cuts(word) if [p.role for p in pieces] == ["D"]]
    assert found == [name]


@pytest.mark.parametrize("word", ["MKX", "KX", "X3R", "N123", "MKT12345", "X7Q"])
def test_other_words_are_no_dielectric(word):
    assert all("D" not in "".join(p.role for p in pieces) for pieces in cuts(word))


@pytest.mark.parametrize(
    ("word", "text"),
    [
        ("X1", "X1"),
        ("X2", "X2"),
        ("X3", "X3"),
        ("Y1", "Y1"),
        ("Y2", "Y2"),
        ("Y4", "Y4"),
        ("X1Y2", "X1Y2"),
        ("Y2X1", "Y2X1"),
        ("x2", "X2"),
    ],
)
def test_safety_classes(word, text):
    found = [pieces[0].content for pieces in cuts(word) if [p.role for p in pieces] == ["X"]]
    assert found == [text]


@pytest.mark.parametrize("word", ["X4", "Y5", "Z2"])
def test_there_are_no_other_classes(word):
    assert all("X" not in "".join(p.role for p in pieces) for pieces in cuts(word))
