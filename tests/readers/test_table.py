"""Tables of any kind: which interpretation fits, what is left out, what is proposed."""

from __future__ import annotations

import pytest

from benchapp.capture import Response, Sweep, Transient
from benchapp.errors import ReadError
from benchapp.readers import Answers, understand
from tests.readers.writing import written

SWEEP = "Frequency (Hz),R (ohm),X (ohm)\n1000,1,10\n2000,1,20\n3000,1,30\n"
RECORD = "Time (s),CH1 (V)\n0,1\n1,2\n2,3\n"
RATIO = "Freq (Hz),S21 (dB),S21 (deg)\n1000,-3,10\n2000,-6,20\n3000,-9,30\n"


def read_text(folder, text, name="a.csv", **answers):
    return understand(written(folder, name, text), Answers(**answers))


@pytest.mark.parametrize(
    ("text", "kind"), [(SWEEP, Sweep), (RECORD, Transient), (RATIO, Response)]
)
def test_the_columns_decide_what_a_table_is(tmp_path, text, kind):
    (capture,) = read_text(tmp_path, text).captures
    assert isinstance(capture, kind)


def test_tables_of_different_kind_stand_in_one_file(tmp_path):
    first, second = read_text(tmp_path, SWEEP + "\n" + RECORD).captures
    assert isinstance(first, Sweep)
    assert isinstance(second, Transient)
    assert (first.origin.label, second.origin.label) == ("table 1", "table 2")


def test_a_table_that_cannot_be_understood_is_left_out_and_said(tmp_path):
    text = SWEEP + "\nFrequency (Hz),Ls (H)\n1000,1e-3\n2000,1e-3\n3000,1e-3\n"
    reading = read_text(tmp_path, text)
    assert len(reading.captures) == 1
    (made,) = [entry for entry in reading.assumptions if entry.subject == "tables"]
    assert made.confidence <= 0.5


def test_an_unknown_table_beside_an_understood_one_is_left_out_and_said(tmp_path):
    reading = read_text(tmp_path, SWEEP + "\nalpha,beta\n3,4\n5,6\n7,9\n")
    assert len(reading.captures) == 1
    assert reading.questions == ()
    (made,) = [entry for entry in reading.assumptions if entry.subject == "tables"]
    assert "What do the 2 columns hold" in made.reason


def test_the_whole_is_refused_where_no_table_is_understood(tmp_path):
    with pytest.raises(ReadError, match="must have two quantities that fix an impedance"):
        read_text(tmp_path, "Frequency (Hz),Ls (H)\n1000,1e-3\n2000,1e-3\n")


@pytest.mark.parametrize(
    ("rows", "proposed"),
    [
        ("1000,1,2\n2000,1,3\n3000,1,4\n", "f/Hz, R/ohm, X/ohm"),
        ("1000,1\n2000,1\n3000,1\n", "f/Hz, |Z|/ohm"),
        ("-1e-6,1\n0,1\n1e-6,1\n", "t/s, CH1/V"),
        ("1e-6,1,2\n2e-6,1,2\n-3e-6,1,2\n", None),
        ("0,1,2\n1e-6,1,2\n2e-6,1,2\n", "t/s, CH1/V, CH2/V"),
        ("1,1,2,3,4,5,6\n2,1,2,3,4,5,6\n3,1,2,3,4,5,6\n", None),
    ],
)
def test_bare_columns_are_asked_for_with_a_guess_where_there_is_one(tmp_path, rows, proposed):
    with pytest.raises(ReadError, match="They have no headings") as refusal:
        read_text(tmp_path, rows)
    assert refusal.value.facts["questions"][0].proposed == proposed


def test_a_known_column_among_unknown_ones_is_asked_for(tmp_path):
    with pytest.raises(ReadError, match="Not all of their headings are known"):
        read_text(tmp_path, "Freq (Hz),alpha,beta\n1000,1,2\n2000,1,3\n3000,1,4\n")


def test_one_long_line_is_rolled_into_rows(tmp_path):
    cells = ",".join(f"{1000 * n},{n}.5,{n}.25" for n in range(1, 11))
    reading = read_text(tmp_path, cells + "\n", columns="f/Hz, R/ohm, X/ohm")
    assert reading.captures[0].frequency.size == 10
    assert reading.captures[0].impedance[1] == 2.5 + 2.25j


def test_a_mark_in_one_long_line_costs_its_row(tmp_path):
    cells = ",".join(f"{1000 * n},{n}.5,{n}.25" for n in range(1, 11)).replace("3.5", "9.9E37")
    reading = read_text(tmp_path, cells + "\n", columns="f/Hz, R/ohm, X/ohm")
    assert reading.captures[0].frequency.tolist() == [1000 * n for n in range(1, 11) if n != 3]


def test_columns_named_a_and_b_need_the_function(tmp_path):
    rows = "Freq(Hz),A,B\n1000,1e-3,50\n2000,1e-3,60\n3000,1e-3,70\n"
    assert len(read_text(tmp_path, "Function: Ls-Q\n" + rows).captures) == 1
    with pytest.raises(ReadError, match="A and B do not say what they hold"):
        read_text(tmp_path, rows)


def test_rows_without_any_frequency_are_refused(tmp_path):
    with pytest.raises(
        ReadError, match=r"must state the frequency of each row \(got point, Ls, Q"
    ):
        read_text(tmp_path, "No.,Ls (H),Q\n1,1e-3,50\n2,1e-3,60\n3,1e-3,70\n")


def test_answered_columns_serve_the_tables_that_they_fit(tmp_path):
    text = "a,b,c\n1000,1,2\n2000,1,3\n3000,1,4\n\nSweep 2\n1,2\n2,3\n3,4\n"
    reading = read_text(tmp_path, text, columns="f/Hz, R/ohm, X/ohm")
    assert len(reading.captures) == 1
    assert "one left out" in [made.value for made in reading.assumptions]


def test_unknown_columns_beside_known_ones_are_said(tmp_path):
    text = "Frequency (Hz),R (ohm),X (ohm),Mystery\n1000,1,10,5\n2000,1,20,6\n3000,1,30,7\n"
    reading = read_text(tmp_path, text)
    assert [made.value for made in reading.assumptions] == ["Mystery left out"]
    assert [column.meaning for column in reading.columns] == ["f", "R", "X", ""]
