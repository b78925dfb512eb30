"""Where the numbers of a file stand, and what stands around them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError
from benchapp.readers import understand
from benchapp.readers.beside import with_columns
from benchapp.readers.cut import looks_cut
from benchapp.readers.dialect import Dialect, plain_rows
from benchapp.readers.document import Document
from benchapp.readers.encoding import Text, lines_of
from benchapp.readers.facts import facts_of
from benchapp.readers.layout import lay_out, misfit
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks
from benchapp.readers.reading import Answers
from benchapp.readers.source import Source
from tests.readers.writing import written

HEAD = "Frequency (Hz),R (ohm),X (ohm)"
ROWS = ["1000,1.5,2.5", "2000,1.6,5.0", "3000,1.7,7.5", "4000,1.8,10.0"]


def document(text: str) -> Document:
    source = Source(path="a.csv", name="a.csv", size=len(text), head=b"")
    return Document(
        source=source,
        text=Text(content=text, encoding="utf-8"),
        lines=lines_of(text),
        answers=Answers(),
    )


def laid_out(*lines: str, end="\n"):
    notes = Notes(answers=Answers())
    return lay_out(document("\n".join(lines) + end), notes), notes


def test_a_heading_and_its_rows():
    layout, notes = laid_out(HEAD, *ROWS)
    (table,) = layout.tables
    assert table.headings == ("Frequency (Hz)", "R (ohm)", "X (ohm)")
    assert table.values.tolist() == [
        [1000, 1.5, 2.5],
        [2000, 1.6, 5],
        [3000, 1.7, 7.5],
        [4000, 1.8, 10],
    ]
    assert table.lines.tolist() == [2, 3, 4, 5]
    assert notes.set_aside == {}


def test_bare_rows_have_empty_headings():
    (table,) = laid_out(*ROWS)[0].tables
    assert table.headings == ("", "", "")


def test_a_units_row_stands_below_the_heading():
    (table,) = laid_out("Freq,R,X", "Hz,Ohm,Ohm", *ROWS)[0].tables
    assert table.headings == ("Freq", "R", "X")
    assert table.units == ("Hz", "Ohm", "Ohm")


def test_a_units_row_that_holds_start_and_step_gives_them_as_facts():
    layout, _ = laid_out("X,CH1,Start,Increment", "Sequence,Volt,-1e-5,2e-7", "0,1.5,,", "1,1.6,,")
    assert layout.facts == {"start": "-1e-5", "increment": "2e-7"}
    assert layout.tables[0].headings == ("X", "CH1")


def test_a_heading_may_stand_in_a_comment_and_with_other_delimiters():
    (table,) = laid_out("! setup", "! Freq(Hz), R(ohm), X(ohm)", "1000 1 2", "2000 3 4")[0].tables
    assert table.headings == ("Freq(Hz)", "R(ohm)", "X(ohm)")


def test_units_after_commas_of_a_comma_file_join_their_names():
    (table,) = laid_out("f,Hz,Ls,H,Q,1", "1000,1e-3,50", "2000,1e-3,60")[0].tables
    assert table.headings == ("f (Hz)", "Ls (H)", "Q (1)")


def test_facts_come_from_every_usual_way_to_write_them():
    layout, _ = laid_out(
        "Operator: J. Doe",
        "Level = 1 V",
        "Points,401",
        "# Fixture: clip",
        '"Title","a b"',
        HEAD,
        *ROWS,
    )
    assert layout.facts == {
        "operator": "J. Doe",
        "level": "1 V",
        "points": "401",
        "fixture": "clip",
        "title": "a b",
    }


def test_ten_numbers_before_a_waveform_have_a_name():
    assert facts_of(["0,2,400,1,2.0E-07,-1.0E-05,0,2.0E-02,0.0,128"], " ") == {
        "preamble": "0,2,400,1,2.0E-07,-1.0E-05,0,2.0E-02,0.0,128"
    }


def test_values_beside_the_table_are_facts_and_no_columns():
    layout, _ = laid_out(
        ",,Time (s),CH1 (V)", "Model,M-1,0,1", "Interval,2e-7,1,2", ",,2,3", ",,3,4", ",,4,5"
    )
    (table,) = layout.tables
    assert table.headings == ("Time (s)", "CH1 (V)")
    assert table.places == (2, 3)
    assert (layout.facts["model"], layout.facts["interval"]) == ("M-1", "2e-07")


def test_an_empty_last_column_is_left_out():
    (table,) = laid_out(HEAD + ",", *(row + "," for row in ROWS))[0].tables
    assert table.values.shape == (4, 3)


def test_marks_of_no_value_are_kept_with_their_place():
    layout, _ = laid_out(HEAD, ROWS[0], "2000,OL,5.0", "3000,1.7,9.9E37", ROWS[3])
    assert layout.tables[0].marks == {(1, 1): "OL", (2, 2): "9.9E37"}
    assert np.isnan(layout.tables[0].values[1, 1])


def test_cells_that_carry_a_unit_give_the_column_its_unit():
    (table,) = laid_out("f,R,X", "1 kHz,5,6", "2 kHz,6,7", "3,7,8")[0].tables
    assert table.units == ("Hz", "", "")
    assert table.values[:2, 0].tolist() == [1000, 2000]
    assert table.marks == {(2, 0): "3"}


def test_rows_of_another_width_are_set_aside_but_keep_their_turn():
    layout, notes = laid_out(HEAD, ROWS[0], "2000,1.6", ROWS[2], "4000,1,2,3", ROWS[3])
    assert notes.set_aside == {
        3: "2 cells where the table has 3",
        5: "4 cells where the table has 3",
    }
    assert layout.tables[0].order.tolist() == [0, 2, 4]


def test_text_among_the_rows_is_set_aside_and_takes_no_turn():
    layout, notes = laid_out(HEAD, ROWS[0], "*** retry ***", "link lost", *ROWS[1:])
    assert notes.set_aside == {4: "text among the rows (link lost)"}
    assert layout.tables[0].order.tolist() == [0, 1, 2, 3]


def test_text_after_the_rows_is_a_footer():
    layout, notes = laid_out(HEAD, *ROWS, "Mean,1.6,6.2", "", "End")
    assert layout.tables[0].lines.tolist() == [2, 3, 4, 5]
    assert notes.set_aside == {6: "text after the rows (Mean)"}


def test_a_last_row_without_all_its_cells_was_cut():
    _, notes = laid_out(HEAD, *ROWS, "5000,1.9", end="")
    assert notes.set_aside == {6: "the last row is cut short: 2 cells where the table has 3"}


@pytest.mark.parametrize(
    "last", ["5.00000E+03,1.23456E+00,7.8", "5.00000E+03,1.23456E+00,7.89012E+0"]
)
def test_a_last_number_with_fewer_digits_was_cut(last):
    rows = [f"{n}.00000E+03,1.23456E+00,7.89012E+00" for n in range(1, 5)]
    layout, notes = laid_out(HEAD, *rows, last, end="")
    assert layout.tables[0].lines.size == 4
    assert "cut short: it ends in" in notes.set_aside[6]


def test_a_closed_last_row_is_judged_by_its_exponent_alone():
    rows = [f"{n}.00000E+03,1.23456E+00,7.89012E+00" for n in range(1, 20)]
    _, notes = laid_out(HEAD, *rows, "9.90000E+04,1.23456E+00,7.89012E+0")
    assert "cut short: it ends in '7.89012E+0'" in notes.set_aside[21]
    _, quiet = laid_out(HEAD, *rows, "9.9E+04,1.2,7.5E+00")
    assert quiet.set_aside == {}
    _, plain = laid_out(HEAD, *(f"{n}.5,1.5,9.{n}55" for n in range(1, 9)), "9.5,1.5,10.1")
    assert plain.set_aside == {}


def test_a_last_row_of_free_digits_without_an_end_is_doubted():
    _, notes = laid_out(HEAD, *ROWS, "5000,1.9,12.5", end="")
    assert notes.set_aside == {}
    _, doubted = laid_out(HEAD, "1,1,2.25", *ROWS[1:], "5000,1.9,12.5", end="")
    assert [made.subject for made in doubted.assumptions] == ["last row"]


@pytest.mark.parametrize(
    ("last", "others", "expected"),
    [
        ("7.8", ["1.25", "3.50"], True),
        ("7.85", ["1.25", "3.50"], False),
        ("1E+0", ["1E+02", "2E+03"], True),
        ("7", ["1.25"], False),
        ("5", ["10", "20"], True),
    ],
)
def test_a_cut_number_is_told_from_a_whole_one(last, others, expected):
    assert looks_cut(last, others) is expected


def test_a_repeated_heading_parts_tables():
    layout, _ = laid_out(HEAD, *ROWS, HEAD, *ROWS)
    assert [table.lines.tolist() for table in layout.tables] == [[2, 3, 4, 5], [7, 8, 9, 10]]


@pytest.mark.parametrize("title", ["Sweep 2", "[Trace B]", "--- Segment 3 ---", "# Messung 2"])
def test_a_title_parts_tables_and_names_the_next(title):
    layout, _ = laid_out(HEAD, *ROWS, title, *ROWS)
    assert len(layout.tables) == 2
    assert layout.tables[1].headings == layout.tables[0].headings
    assert layout.tables[1].title == title.strip("[]-# ")


def test_tables_of_different_width_stand_side_by_side_in_the_layout():
    layout, _ = laid_out(HEAD, *ROWS, "Time (s),CH1 (V)", "0,1", "1,2", "2,3")
    assert [table.width for table in layout.tables] == [3, 2]


def test_comments_and_blank_lines_part_nothing():
    layout, notes = laid_out(HEAD, ROWS[0], "", "# note", ROWS[1], "", *ROWS[2:])
    assert len(layout.tables) == 1
    assert notes.set_aside == {}


def test_a_ruled_line_below_the_heading_is_no_row():
    (table,) = laid_out(
        "f   R   X", "----------  ----------  ----------", "1 2 3", "2 3 4", "3 4 5"
    )[0].tables
    assert table.values.tolist() == [[1, 2, 3], [2, 3, 4], [3, 4, 5]]


def test_two_decimal_marks_are_refused_with_a_line():
    with pytest.raises(
        ReadError, match=r"line 3: numbers must have one decimal mark .* \(got '1,6'"
    ):
        laid_out(
            "f;R;X",
            "1000.5;1.5;2.5",
            "2000.5;1,6;5,25",
            "3000.5;1.7;7.5",
            "4000,5;1,8;9,5",
            "5.5;1.9;1.5",
        )


def test_one_wrong_mark_spoils_its_row_only():
    layout, _ = laid_out(
        "f;R;X", "1000.5;1.5;2.5", "2000.5;1,6;5.25", "3000.5;1.7;7.5", "4.5;1.5;2.5"
    )
    assert layout.tables[0].marks == {(1, 1): "1,6"}


@pytest.mark.parametrize("text", ["hello world", "a,b,c\nd,e,f", "   \n\n", "# only\n# comments"])
def test_no_rows_of_numbers_are_refused(text):
    with pytest.raises(ReadError, match=r"must hold rows of numbers \(got none\)"):
        laid_out(text)


def test_one_long_line_does_not_outweigh_the_table():
    layout, _ = laid_out(",".join("1" * 500), HEAD, *ROWS)
    assert layout.tables[-1].width == 3


def test_columns_can_be_chosen():
    (table,) = laid_out(HEAD, ROWS[0], "2000,OL,5.0", *ROWS[2:])[0].tables
    chosen = with_columns(table, [0, 2])
    assert chosen.headings == ("Frequency (Hz)", "X (ohm)")
    assert (chosen.places, chosen.marks) == ((0, 2), {})


def test_why_a_row_does_not_fit():
    assert misfit(2, 3, last=False) == "2 cells where the table has 3"
    assert misfit(4, 3, last=True) == "4 cells where the table has 3"


@given(st.lists(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3), min_size=3, max_size=30))
def test_any_table_of_numbers_comes_back_as_written(rows):
    lines = [",".join(f"{value:.6E}" for value in row) for row in rows]
    (table,) = laid_out(HEAD, *lines)[0].tables
    expected = [[float(f"{value:.6E}") for value in row] for row in rows]
    assert table.values.tolist() == expected


def test_a_table_of_plain_numbers_is_read_at_once_whole():
    found = plain_rows([HEAD, *ROWS], Dialect(",", Marks(".")))
    assert found[0] is None
    assert [values for _, values in found[1:]] == [
        [float(cell) for cell in line.split(",")] for line in ROWS
    ]


def test_one_strange_cell_costs_no_other_row():
    found = plain_rows([*ROWS, "5000,1.9,--"], Dialect(",", Marks(".")))
    assert [cells is None for cells in found] == [False] * len(ROWS) + [True]
    assert found[0] == (["1000", "1.5", "2.5"], [1000.0, 1.5, 2.5])


def test_every_row_of_numbers_that_is_not_used_is_named(tmp_path):
    rows = [f"{k}.000E+05,1.5E+00,2.5E+00" for k in range(1, 10)]
    rows[4] = "5.000E+051.5E+00,2.5E+00"
    reading = understand(written(tmp_path, "a.csv", "f (Hz),R (ohm),X (ohm)\n" + "\n".join(rows)))
    assert [(row.line, row.why) for row in reading.set_aside] == [
        (6, "2 cells where the table has 3")
    ]


def test_a_heading_above_the_title_of_a_sweep_counts(tmp_path):
    rows = "1e5,1,2\n2e5,1,3\n3e5,1,4\n"
    text = f"f (Hz),R (ohm),X (ohm)\n--- Run 1 ---\n{rows}--- Run 2 ---\n{rows}"
    captures = understand(written(tmp_path, "a.csv", text)).captures
    assert [capture.origin.label for capture in captures] == ["Run 1", "Run 2"]
    assert [capture.impedance[1] for capture in captures] == [1 + 3j, 1 + 3j]


def test_a_complex_type_in_the_heading_is_two_columns(tmp_path):
    text = "% freq(real) S11(complex)\n" + "".join(f"{k}e5 0.{k} -0.{k}\n" for k in range(1, 9))
    (response,) = understand(
        written(tmp_path, "a.txt", text), Answers(frequency_unit="Hz")
    ).captures
    assert response.ratio[2] == 0.3 - 0.3j


def test_a_last_line_without_numbers_that_nothing_closes_is_set_aside_and_said(tmp_path):
    rows = "".join(f"GA12-{n:04d},1.6{n}e-3,7{n}\n" for n in range(1, 7))
    path = tmp_path / "log.csv"
    path.write_text(f"Serial,L (H),Q\n{rows}GA12-00", encoding="ascii")
    found = understand(path, Answers(frequency="134.2 kHz"))
    assert len(found.captures) == 6
    (aside,) = found.set_aside
    assert (aside.line, "GA12-00" in aside.why) == (8, True)
