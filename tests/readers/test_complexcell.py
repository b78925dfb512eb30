"""Complex values in one cell become two columns."""

from __future__ import annotations

import pytest

from benchapp.readers import understand
from benchapp.readers.complexcell import with_parts_apart
from benchapp.readers.dialect import Dialect
from benchapp.readers.number import Marks
from tests.readers.writing import written

COMMA = Dialect(",", Marks())


@pytest.mark.parametrize(
    ("cell", "parts"),
    [
        ("12.3+j45.6", "12.3,+45.6"),
        ("12.3-45.6j", "12.3,-45.6"),
        ("(12.3 + 45.6i)", "12.3,+45.6"),
        ("-1.5e-3-j*2E4", "-1.5e-3,-2E4"),
        ("47.2∠75.1°", "47.2,75.1"),
        ("47.2 ∠ -1.2", "47.2,-1.2"),
    ],
)
def test_every_usual_form_is_parted(cell, parts):
    found = with_parts_apart(["f,Z (Ohm)"] + [f"100,{cell}"] * 5, COMMA)
    assert found[1:] == [f"100,{parts}"] * 5


def test_the_heading_follows():
    found = with_parts_apart(["f (Hz),Z (Ohm),Q"] + ["1,2+3j,4"] * 4, COMMA)
    assert found[0] == "f (Hz),re Z (Ohm),im Z (Ohm),Q"


def test_decimal_commas_are_known():
    found = with_parts_apart(["1;2,5+3,5j"] * 4, Dialect(";", Marks(",")))
    assert found == ["1;2,5;+3,5"] * 4


@pytest.mark.parametrize("rows", [["1,2,3"] * 9, ["1,2+3j"] * 2, ["", "i,j"] * 5])
def test_other_tables_are_left_alone(rows):
    assert with_parts_apart(rows, COMMA) is None


def test_a_damaged_cell_costs_its_row_only(tmp_path):
    rows = [f"{1000 * k},1{k}.5+j{k}0" for k in range(1, 9)]
    rows[3] = "4000,14.5+j"
    reading = understand(
        written(tmp_path, "a.csv", "Frequency (Hz),Z (Ohm)\n" + "\n".join(rows) + "\n")
    )
    (sweep,) = reading.captures
    assert sweep.frequency.size == 7
    assert sweep.impedance[0] == 11.5 + 10j
    assert [row.line for row in reading.set_aside] == [5]
