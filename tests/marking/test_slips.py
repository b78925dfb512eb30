"""Slips of the pen and of the eye: the form that was meant must be proposed.

The table holds what a person types who takes one character for another, adds one, or cannot read
one; common practice, made up for this test.
"""

from __future__ import annotations

import pytest

from benchapp.errors import QuantityError
from benchapp.marking import read_marking

SLIPS = [
    ("1O4", "104"),
    ("1O4K", "104K"),
    ("I04K", "104K"),
    ("l04K", "104K"),
    ("lO4K", "104K"),
    ("47OJ", "470J"),
    ("22O", "220"),
    ("1OO", "100"),
    ("1OOn", "100n"),
    ("1OOnF", "100nF"),
    ("O.1", "0.1"),
    ("O.22", "0.22"),
    ("0.O1", "0.01"),
    ("O.1µF", "0.1µF"),
    ("1O3K", "103K"),
    ("2J1O3K", "2J103K"),
    ("1H1O4J", "1H104J"),
    ("4n7O", "4n70"),
    ("1OOR", "100R"),
    ("47OR", "470R"),
    ("1OK", "10K"),
    ("1O0nJ", "100nJ"),
    ("1OOO", "1000"),
    ("1µO", "1µ0"),
    ("0.0.1", "0.01"),
    ("0..1", "0.1"),
]


@pytest.mark.parametrize(("slip", "meant"), SLIPS, ids=[slip for slip, _ in SLIPS])
def test_a_slip_is_refused_and_the_form_that_was_meant_is_proposed(slip, meant):
    with pytest.raises(QuantityError, match="marking: must be a known code") as caught:
        read_marking(slip)
    proposed = caught.value.hint.removeprefix("Nearest valid form: ").rstrip(".").split(" or ")
    assert meant in proposed


@pytest.mark.parametrize(("slip", "meant"), SLIPS, ids=[slip for slip, _ in SLIPS])
def test_every_proposed_form_can_be_read(slip, meant):
    with pytest.raises(QuantityError) as caught:
        read_marking(slip)
    proposed = caught.value.hint.removeprefix("Nearest valid form: ").rstrip(".").split(" or ")
    assert len(proposed) <= 3
    for form in proposed:
        assert read_marking(form).readings


def test_only_the_word_in_question_is_mended():
    with pytest.raises(QuantityError) as caught:
        read_marking("MKP 1O4K 630V")
    assert "MKP 104K 630V" in caught.value.hint


def test_the_proposed_form_is_one_of_the_kind_that_was_asked_for():
    with pytest.raises(QuantityError) as caught:
        read_marking("4R7O", "inductor")
    (form,) = caught.value.hint.removeprefix("Nearest valid form: ").rstrip(".").split(" or ")
    assert any(entry.kind == "inductor" for entry in read_marking(form).readings)


def test_a_long_code_is_shortened_in_the_sentence():
    with pytest.raises(QuantityError) as caught:
        read_marking("QQ" * 30)
    assert "..." in caught.value.message
    assert len(caught.value.message) < 100
