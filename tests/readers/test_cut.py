"""Numbers that lost their end are no numbers; others that are only written shorter stay."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers import understand
from benchapp.readers.block import row_of
from benchapp.readers.cut import (
    columns_of,
    doubt_short_numbers,
    looks_cut,
    mark_cut_cells,
    may_be_cut,
    shape_of,
)
from benchapp.readers.dialect import Dialect
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks
from benchapp.readers.reading import Answers
from tests.readers.writing import written

COMMA = Dialect(delimiter=",", marks=Marks())
FIXED = [f"{1e4 * k:.4E},{3.14159 * k:.4E},{-k / 7:.4f}" for k in range(1, 31)]


def marked(lines):
    rows = [row_of(number, line, COMMA) for number, line in enumerate(lines, start=1)]
    mark_cut_cells(rows, ".", Notes(answers=Answers()))
    return [(row.line, row.kinds) for row in rows if row.kinds != "NNN"]


def may_hold_cut_cells(lines, dialect):
    mark = dialect.marks.decimal
    return any(may_be_cut(texts, mark) for texts in columns_of(lines, dialect.delimiter))


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


FREE = [f"{1000 + 100 * k},{(3.14159 + k) ** 3:.6g},{np.sin(k / 9):.6g}" for k in range(1, 41)]


def doubted(lines, column):
    notes = Notes(answers=Answers())
    texts = [line.split(",")[column] for line in lines]
    doubt_short_numbers(texts, [float(text) for text in texts], range(1, len(texts) + 1), notes)
    return [made.value for made in notes.assumptions]


@pytest.mark.parametrize("column", [0, 1, 2])
def test_free_digits_raise_no_doubt(column):
    assert doubted(FREE, column) == []


@pytest.mark.parametrize(("column", "cut"), [(1, "13"), (1, "240"), (2, "0.8")])
def test_a_number_off_its_course_with_few_digits_is_doubted(column, cut):
    cells = FREE[10].split(",")
    cells[column] = cut
    lines = [*FREE[:10], ",".join(cells), *FREE[11:]]
    assert doubted(lines, column) == ["line 11 kept as written"]


def test_a_round_number_on_the_course_is_not_doubted():
    lines = [f"{k},{2.51234 + 0.122514545 * k:.6g}" for k in range(1, 41)]
    lines[10] = "11,3.86"
    assert doubted(lines, 1) == []


def test_a_number_that_ends_in_the_mark_was_cut():
    assert marked([*FREE[:10], "2100,2372.,0.939", *FREE[11:]]) == [(11, "NTN")]


def test_a_number_without_the_prefix_of_all_others_was_cut():
    lines = [f"{k}k,{k}.5u" for k in range(1, 20)]
    lines[7] = "8k,8.5"
    rows = [row_of(number, line, COMMA) for number, line in enumerate(lines, start=1)]
    mark_cut_cells(rows, ".", Notes(answers=Answers()))
    assert [(row.line, row.kinds) for row in rows if row.kinds != "NN"] == [(8, "NT")]


def test_where_no_number_ends_in_a_zero_a_shorter_one_is_doubted_and_kept():
    lines = [f"{k},{k / 7:.5f}1" for k in range(1, 31)]
    lines[10] = "11,1.57"
    rows = [row_of(number, line, COMMA) for number, line in enumerate(lines, start=1)]
    notes = Notes(answers=Answers())
    mark_cut_cells(rows, ".", notes)
    assert {row.kinds for row in rows} == {"NN"}
    assert [made.value for made in notes.assumptions] == ["line 11 kept as written"]


def test_a_small_number_written_with_a_power_of_ten_is_not_cut():
    lines = [f"{k},0.000{k + 10}0" for k in range(1, 31)]
    lines[10] = "11,9.8e-05"
    rows = [row_of(number, line, COMMA) for number, line in enumerate(lines, start=1)]
    mark_cut_cells(rows, ".", Notes(answers=Answers()))
    assert {row.kinds for row in rows} == {"NN"}


def test_a_whole_number_as_long_as_the_decimals_of_the_others_is_cut():
    lines = [f"{k},{k + 100}.{k + 110}" for k in range(1, 31)]
    lines[10] = "11,786"
    rows = [row_of(number, line, COMMA) for number, line in enumerate(lines, start=1)]
    mark_cut_cells(rows, ".", Notes(answers=Answers()))
    assert [(row.line, row.kinds) for row in rows if row.kinds != "NN"] == [(11, "NT")]
