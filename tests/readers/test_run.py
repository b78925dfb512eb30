"""A plain table laid out at once is the same as one laid out row by row."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError
from benchapp.readers.dialect import Dialect, detect
from benchapp.readers.document import Document
from benchapp.readers.encoding import Text, lines_of
from benchapp.readers.layout import Layout, lay_out
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks
from benchapp.readers.reading import Answers
from benchapp.readers.run import lay_out_run
from benchapp.readers.source import Source
from tests.readers.corpus import cases
from tests.readers.mutation import mutated
from tests.readers.styles import damaged_file, sweep_file

COMMA = Dialect(",", Marks("."))
HEAD = ["# Part: 7", "# Temperature: 23 degC", "Frequency (Hz),R (ohm),X (ohm)"]
ROWS = ["1000,1.5,2.5", "2000,1.6,5.0", "3000,1.7,7.5", "4000,1.8,10.0"]


def document(text: str) -> Document:
    return Document(
        source=Source(path="a.csv", name="a.csv", size=len(text), head=b""),
        text=Text(content=text, encoding="utf-8"),
        lines=lines_of(text),
        answers=Answers(),
    )


def at_once(*lines: str, end: str = "\n") -> Layout | None:
    return lay_out_run(document("\n".join(lines) + end), COMMA, Notes(answers=Answers()))


def assert_same(one: Layout, other: Layout) -> None:
    assert (one.dialect, list(one.facts.items())) == (other.dialect, list(other.facts.items()))
    assert len(one.tables) == len(other.tables)
    for a, b in zip(one.tables, other.tables, strict=True):
        for field in dataclasses.fields(a):
            mine, its = getattr(a, field.name), getattr(b, field.name)
            if isinstance(mine, np.ndarray):
                assert mine.dtype == its.dtype, field.name
                np.testing.assert_array_equal(mine, its)
            else:
                assert mine == its, field.name


def compared(text: str) -> bool:
    """Lay a text out both ways, where both are possible; tell whether they were."""
    held = document(text)
    try:
        dialect = detect(held.lines, Notes(answers=Answers()), "a.csv")
    except ReadError:
        return False
    quick, notes = Notes(answers=Answers()), Notes(answers=Answers())
    found = lay_out_run(held, dialect, quick)
    if found is None:
        return False
    assert_same(found, lay_out(held, notes, dialect))
    assert not notes.set_aside
    assert {made.subject for made in notes.assumptions} <= {"number"}
    # where all rows are of one length their cells are not compared
    assert set(quick.assumptions) in (set(notes.assumptions), set())
    return True


def test_a_heading_over_plain_rows_is_laid_out_at_once():
    found = at_once(*HEAD, *ROWS)
    assert found is not None
    (table,) = found.tables
    assert table.headings == ("Frequency (Hz)", "R (ohm)", "X (ohm)")
    assert table.values.tolist() == [[float(cell) for cell in row.split(",")] for row in ROWS]
    assert table.lines.tolist() == [4, 5, 6, 7]
    assert found.facts == {"part": "7", "temperature": "23 degC"}


@pytest.mark.parametrize(
    ("lines", "end"),
    [
        ([*HEAD, *ROWS[:2], "3000,1.7", ROWS[3]], "\n"),
        ([*HEAD, *ROWS[:2], "3000,OL,7.5", ROWS[3]], "\n"),
        ([*HEAD, *ROWS[:2], "", *ROWS[2:]], "\n"),
        ([*HEAD, *ROWS, "# end"], "\n"),
        ([*HEAD, *ROWS], ""),
        ([*HEAD, *ROWS[:2], "3000,1.7,9.9e37", ROWS[3]], "\n"),
        ([*HEAD, *ROWS[:2], "3000,1.7e,7.5", ROWS[3]], "\n"),
        ([*HEAD, "1000,1.5,2.5e+00", "2000,1.6,5.0e+00", "3000,1.7,7.5e+0"], "\n"),
        ([*HEAD, *ROWS, *HEAD, *ROWS], "\n"),
        (["1,2,3", "Frequency (Hz),R (ohm),X (ohm)", *ROWS], "\n"),
        (["1,2,3,4,5", "1,2,3,4,5", "1,2,3,4,5", *HEAD, *ROWS], "\n"),
        (["Points,4,", *ROWS], "\n"),
        ([*HEAD, *ROWS[:2]], "\n"),
        (["f", "1000", "2000", "3000"], "\n"),
        (HEAD, "\n"),
    ],
    ids=[
        *("cell lost", "overload", "gap", "remark", "open end", "sentinel", "no number"),
        *("short exponent", "two tables", "row like the table", "wider rows", "row of a fact"),
        *("two rows", "one column", "no row"),
    ],
)
def test_anything_else_is_left_to_be_looked_at_row_by_row(lines, end):
    assert at_once(*lines, end=end) is None


def test_both_ways_agree_on_the_corpus():
    texts = [case.data.decode("latin-1") for case in cases()]
    assert sum(map(compared, texts)) > 20


@given(seed=st.integers(0, 2**32 - 1))
def test_both_ways_agree_on_files_of_any_style_and_their_damage(seed):
    rng = np.random.default_rng(seed)
    for case in (sweep_file(rng), damaged_file(rng)):
        compared(case.data.decode("latin-1"))
        compared(mutated(case.data, rng).decode("latin-1"))


@given(
    rows=st.lists(st.tuples(*[st.floats(-1e30, 1e30)] * 3), min_size=3, max_size=30),
    mark=st.sampled_from(",;\t"),
    above=st.lists(st.sampled_from([*HEAD, "x,1", "Level,1 V", "[Sweep 1]", "7", "1,2,3"])),
)
def test_both_ways_agree_below_any_heading(rows, mark, above):
    body = [mark.join(map(repr, row)) for row in rows]
    compared("\n".join([*above, *body, ""]))
