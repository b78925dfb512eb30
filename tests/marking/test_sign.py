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
