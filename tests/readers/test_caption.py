"""What stands above a block of numbers."""

from __future__ import annotations

import pytest

from benchapp.readers.caption import divides, heading_of
from benchapp.readers.dialect import Dialect
from benchapp.readers.number import Marks

COMMA = Dialect(",", Marks())
HEAD = "Frequency (Hz),R (ohm),X (ohm)"


def test_what_parts_rows():
    assert divides(["Sweep 3"], 3, COMMA)
    assert divides([HEAD], 3, COMMA)
    assert divides(["one", "two", "three"], 3, COMMA)
    assert not divides(["link lost"], 2, COMMA)


def heading(*above, width=3):
    return heading_of(len(above) + 1, width, [*above, "1000,1,2"], COMMA)


def test_names_and_units_stand_in_two_rows():
    found = heading("Date,2024-01-02", "", "f,R,X", "kHz,ohm,ohm")
    assert found.names == ("f", "R", "X")
    assert found.units == ("kHz", "ohm", "ohm")
    assert found.lines == (4, 3)


def test_a_number_in_the_units_row_is_a_fact():
    found = heading("Point,R (ohm),Start", "-,ohm,100")
    assert found.facts == {"start": "100"}


def test_constants_stand_beside_names_and_units():
    found = heading("f,R,X,Z0", "Hz,ohm,ohm,50")
    assert found.names == ("f", "R", "X")
    assert found.facts == {"z0": "50"}


def test_a_title_between_heading_and_rows_names_the_block():
    found = heading(HEAD, "--- Sweep 2 ---")
    assert found.title == "Sweep 2"
    assert found.names[0] == "Frequency (Hz)"


@pytest.mark.parametrize("line", ["1,2,3", "", "-----"])
def test_no_words_give_no_names(line):
    assert heading(line).names == ("", "", "")
