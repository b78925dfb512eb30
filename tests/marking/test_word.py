"""Cutting words into pieces."""

from __future__ import annotations

import pytest

from benchapp.marking.word import cuts


def _roles(word):
    return {"".join(piece.role for piece in pieces) for pieces in cuts(word)}


@pytest.mark.parametrize(
    ("word", "roles"),
    [
        ("104K", {"VT", "V"}),
        ("2A104J", {"RVT"}),
        ("104J2A", {"VTR"}),
        ("6n8J100", {"VTR"}),
        ("K100", {"V", "TR", "TV"}),
        ("A475", {"RV"}),
        ("MKP", {"D"}),
        ("250V~", {"R"}),
        ("X1Y2", {"X"}),
        ("40/110/56", {"N"}),
        ("0.25W", {"N", "VT"}),
        ("+80-20%", {"T"}),
    ],
)
def test_word_is_cut_in_every_order_seen_on_parts(word, roles):
    assert _roles(word) == roles


@pytest.mark.parametrize("word", ["foo", "1O4K", "104KKK", "Y104", "0.0.1", "1234567", "x" * 30])
def test_other_words_have_no_cut(word):
    assert cuts(word) == ()


@pytest.mark.parametrize("word", ["104K", "4n7J100", "2A104J", "22n250", "0.1K"])
def test_the_pieces_of_a_cut_make_up_the_word(word):
    for pieces in cuts(word):
        assert "".join(piece.text for piece in pieces) == word


def test_digits_that_stand_together_are_not_torn_apart():
    texts = {piece.text for pieces in cuts("2A104J") for piece in pieces}
    assert "104" in texts
    assert not texts & {"1", "10", "04", "4"}


@pytest.mark.parametrize(
    ("word", "roles"),
    [
        ("104", {"V"}),
        ("250", {"V", "R"}),
        ("251", {"V"}),
        ("0.1", {"V"}),
        ("0.1J", {"VT"}),
        ("0.1J100", {"VTR"}),
        (".1J63", {"VTR"}),
        ("4n7", {"V"}),
        ("100nF", {"V", "VT"}),
        ("22n250", {"V", "VR"}),
        ("2J", {"R", "VT"}),
        ("X7R", {"D"}),
        ("X2", {"X", "V"}),
        ("275V~X2", {"RX"}),
        ("MKP0.1", {"DV"}),
        ("J104", {"RV", "TV"}),
        ("Z104", {"TV"}),
        ("K", {"T"}),
        ("±5%", {"T"}),
        ("-20+80%", {"T"}),
        ("±0.5pF", {"T"}),
        ("63-", {"R"}),
        ("1kV", {"R"}),
        ("AC250V", {"R"}),
        ("000", {"V"}),
        ("68X", {"V"}),
        ("5W", {"N", "VT"}),
    ],
)
def test_the_roles_of_the_pieces_of_a_word(word, roles):
    assert _roles(word) == roles
