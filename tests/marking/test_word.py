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
