"""Numbers that lost their end are no numbers; others that are only written shorter stay."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers import understand
from benchapp.readers.block import row_of
from benchapp.readers.cut import looks_cut, mark_cut_cells, may_hold_cut_cells, shape_of
from benchapp.readers.dialect import Dialect
from benchapp.readers.number import Marks
from tests.readers.writing import written

COMMA = Dialect(delimiter=",", marks=Marks())
FIXED = [f"{1e4 * k:.4E},{3.14159 * k:.4E},{-k / 7:.4f}" for k in range(1, 31)]


def marked(lines):
    rows = [row_of(number, line, COMMA) for number, line in enumerate(lines, start=1)]
    mark_cut_cells(rows, ".")
    return [(row.line, row.kinds) for row in rows if row.kinds != "NNN"]


def changed(at, cells):
    return [*FIXED[:at], cells, *FIXED[at + 1 :]]


def test_rows_written_all_alike_hold_no_cut_number():
    assert marked(FIXED) == []
    assert not may_hold_cut_cells(FIXED, COMMA)


@pytest.mark.parametrize(
    ("cells", "kinds"),
    [
        ("1.1000E+05,3.45,-1.5714", "NTN"),
        ("1.1000E+0,3.4557E+01,-1.5714", "TNN"),
        ("1.1000E+05,3.4557E+01,-1.5", "NNT"),
        ("1.1000E+05,3.4557E+01,-1", "NNT"),
    ],
)
def test_a_number_that_lost_its_end_is_text(cells, kinds):
    assert marked(changed(10, cells)) == [(11, kinds)]
    assert may_hold_cut_cells(changed(10, cells), COMMA)


@pytest.mark.parametrize(
    "cells",
    [
        "1.1000E+05,0,-1.5714",
        "1.1000E+05,3e+01,-1.5714",
        "1.1000E+05,3.4557E+01,-1.571",
    ],
)
def test_a_zero_another_way_to_write_and_one_digit_less_are_no_cut(cells):
    assert marked(changed(10, cells)) == []


def test_minus_999_among_numbers_with_exponents_stands_for_no_value():
    assert marked(changed(10, "1.1000E+05,-999,-1.5714")) == [(11, "NSN")]


def test_a_column_written_with_as_many_digits_as_needed_proves_nothing():
    lines = [f"{1e4 * k:g},{np.sqrt(k):.{1 + k % 5}f},1.0" for k in range(1, 31)]
    assert marked(lines) == []


def test_few_rows_prove_nothing():
    assert marked(changed(3, "1.1000E+05,3.45,-1.5714")[:8]) == []
    assert not may_hold_cut_cells(changed(3, "1.1,3.45,-1.5")[:8], COMMA)


@given(st.integers(2, 27), st.integers(0, 2), st.integers(3, 5))
def test_a_cut_is_seen_wherever_it_is(at, column, length):
    cells = FIXED[at].split(",")
    cells[column] = cells[column][:length] if column < 2 else cells[column][:-3]
    lines = changed(at, ",".join(cells))
    assert [line for line, _ in marked(lines)] == [at + 1]
    assert may_hold_cut_cells(lines, COMMA)


def test_the_shape_of_a_number_is_its_decimals_and_the_digits_of_its_exponent():
    assert shape_of("1.2345E+05") == (4, 2)
    assert shape_of("1,25") == (2, 0)


def test_a_last_number_is_cut_where_it_is_unlike_all_others():
    assert looks_cut("1.2", ["1.25", "1.35", "1.45"])
    assert not looks_cut("1.25", ["1.25", "1.35", "1.45"])
    assert not looks_cut("1.2", ["1.25"])


def test_a_row_with_a_cut_number_is_set_aside_with_its_line(tmp_path):
    text = "f (Hz),R (ohm),X (ohm)\n" + "\n".join(changed(10, "1.1000E+05,3.45,-1.5714")) + "\n"
    reading = understand(written(tmp_path, "a.csv", text))
    assert reading.captures[0].frequency.size == len(FIXED) - 1
    (row,) = reading.set_aside
    assert (row.line, row.why) == (12, "no number for R (ohm) (3.45 (cut short))")


def test_a_cut_number_in_a_long_record_is_set_aside(tmp_path):
    lines = [f"{k * 1e-7:.7E},{np.cos(k / 9):.7E}" for k in range(20_000)]
    lines[15_000] = lines[15_000][:-6]
    reading = understand(
        written(tmp_path, "a.csv", "Time (s),CH1 (V)\n" + "\n".join(lines) + "\n")
    )
    assert reading.captures[0].time.size == len(lines) - 1
    assert [row.line for row in reading.set_aside] == [15_002]
