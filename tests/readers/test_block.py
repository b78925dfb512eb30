"""Rows of numbers, and which of them belong together."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.readers.block import Block, Row, blocks_of, is_like, majority_of, merged, row_of
from benchapp.readers.dialect import Dialect, is_comment, plain_rows
from benchapp.readers.number import Marks

COMMA = Dialect(",", Marks())
CELLS = st.one_of(
    st.floats(allow_nan=False, width=32).map(repr),
    st.integers(-999, 999).map(str),
    st.sampled_from(["1,5", "1.5", " 2", "3 ", "1e5", "1 000", "1_0", '"1"', "٣", "1;2"]),
    st.sampled_from(["", "-", "+", "E", "inf", "1e37", "-9e36", "9.9E37", "- 5"]),
)
OTHERS = ("", "  ", "# x", "; 1;2", "%1,2", "Frequency (Hz),R (ohm)", "1,2,", ",,", "-")


@pytest.mark.parametrize(
    ("delimiter", "decimal"),
    [(",", "."), (";", ","), (";", "."), ("\t", "."), ("\t", ","), (" ", "."), ("|", ".")],
)
@settings(max_examples=40)
@given(data=st.data())
def test_rows_read_at_once_are_those_read_line_by_line(delimiter, decimal, data):
    row = st.lists(CELLS, min_size=1, max_size=4).map(delimiter.join)
    lines = data.draw(st.lists(st.one_of(row, st.sampled_from(OTHERS)), max_size=8))
    dialect = Dialect(delimiter, Marks(decimal))
    for number, (line, found) in enumerate(
        zip(lines, plain_rows(lines, dialect), strict=True), start=1
    ):
        if found is None:
            continue
        cells, values = found
        assert line.strip()
        assert not is_comment(line)
        assert row_of(number, line, dialect) == Row(number, cells, "N" * len(cells), values, [])


def test_a_row_keeps_what_is_no_number():
    row = row_of(7, "1000,OL,3 kOhm,", COMMA)
    assert row is not None
    assert row.kinds == "NSUB"
    assert row.numbers == 2
    assert row.values[2] == 3000
    assert row.units == ["", "", "ohm", ""]


@pytest.mark.parametrize("line", ["a,b,c", "------------,---", "Date,2024-01-02", ""])
def test_text_is_no_row(line):
    assert row_of(1, line, COMMA) is None


def test_a_known_heading_parts_blocks_and_a_remark_does_not():
    lines = ["1,2,3", "link lost", "2,3,4", "f (Hz),R (ohm),X (ohm)", "1,2,3"]
    first, second = blocks_of(lines, COMMA)
    assert [row.line for row in first.rows] == [1, 3]
    assert first.loose == [2]
    assert second.divided


def test_a_short_row_does_not_part_a_table():
    (block,) = merged(blocks_of(["1,2,3", "2,3", "3,4,5", "4,5,6"], COMMA))
    assert [row.line for row in block.rows] == [1, 3, 4]
    assert [row.line for row in block.odd] == [2]


def test_the_usual_kind_of_a_column_is_that_of_most_rows():
    rows = [Row(at, ["1", "OL"], kinds, [1.0, 1.0], []) for at, kinds in enumerate(("NN", "NS"))]
    assert majority_of(Block(rows=rows, divided=True)) == "NN"


def test_a_preamble_is_no_table():
    table, preamble = (
        Block(rows=[Row(1, texts, kinds, [0.0] * len(texts), [])], divided=True)
        for texts, kinds in ((["1", "2", "3"], "NNN"), (["Points", "3"], "TN"))
    )
    assert not is_like(preamble, table)
    assert is_like(table, table)
