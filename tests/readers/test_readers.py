"""The door itself: read, understand, the table of readers."""

from __future__ import annotations

import pickle

import pytest

from benchapp.capture import Sweep
from benchapp.errors import ReadError
from benchapp.readers import READERS, Answers, Reading, read, understand
from tests.readers.writing import written

TEXT = "Frequency (Hz),R (ohm),X (ohm)\n1000,1,10\n2000,1,20\n3000,1,30\n"


def test_read_gives_the_captures_of_understand(tmp_path):
    path = written(tmp_path, "a.csv", TEXT)
    assert [c.digest for c in read(path)] == [c.digest for c in understand(path).captures]


def test_a_path_may_be_text(tmp_path):
    (sweep,) = read(str(written(tmp_path, "a.csv", TEXT)))
    assert isinstance(sweep, Sweep)


def test_readers_have_names_of_their_own_and_titles():
    assert len({reader.name for reader in READERS}) == len(READERS)
    assert all(reader.title for reader in READERS)


@pytest.mark.parametrize(
    ("name", "text", "reader"),
    [
        ("a.csv", TEXT, "table"),
        ("a.txt", TEXT, "table"),
        ("a.s1p", "# MHz S RI R 50\n1 0.1 0\n", "touchstone"),
        ("A.S1P", "1 0.1 0\n", "touchstone"),
        (
            "a.ts",
            "[Version] 2.0\n# MHz Z RI\n[Number of Ports] 1\n[Network Data]\n1 2 3\n",
            "touchstone",
        ),
        ("a.txt", "! exported\n# Hz S RI R 50\n1000 0.1 0\n", "touchstone"),
        ("a.csv", "# Hz means hertz\n" + TEXT, "table"),
    ],
)
def test_each_file_gets_the_reader_that_is_surest(tmp_path, name, text, reader):
    reading = understand(written(tmp_path, name, text))
    assert reading.reader == reader
    assert reading.captures[0].origin.reader == reader


def test_a_reading_can_be_shown_side_by_side(tmp_path):
    reading = understand(written(tmp_path, "a.csv", TEXT))
    assert reading.sample[:2] == ("Frequency (Hz),R (ohm),X (ohm)", "1000,1,10")
    assert [column.meaning for column in reading.columns] == ["f", "R", "X"]
    assert reading.layout == ("comma, decimal point", "Frequency (Hz)|", "R (ohm)|", "X (ohm)|")


def test_a_reading_crosses_a_process_boundary(tmp_path):
    reading = understand(written(tmp_path, "a.csv", TEXT))
    twin = pickle.loads(pickle.dumps(reading))
    assert isinstance(twin, Reading)
    assert twin.captures[0].digest == reading.captures[0].digest


def test_a_refusal_with_its_questions_crosses_a_process_boundary(tmp_path):
    with pytest.raises(ReadError) as refusal:
        read(written(tmp_path, "a.csv", "1,2,3\n2,3,4\n3,4,5\n"))
    twin = pickle.loads(pickle.dumps(refusal.value))
    assert twin.facts["questions"] == refusal.value.facts["questions"]


def test_answers_change_the_reading_and_not_the_file(tmp_path):
    path = written(tmp_path, "a.csv", "frequency,R,X\n1,2,3\n2,3,4\n")
    (sweep,) = understand(path, Answers(columns="f/kHz, R/kohm, X/ohm")).captures
    assert sweep.frequency.tolist() == [1000, 2000]
    assert sweep.impedance.tolist() == [2000 + 3j, 3000 + 4j]
    assert path.read_text() == "frequency,R,X\n1,2,3\n2,3,4\n"


def test_an_answered_encoding_is_used(tmp_path):
    path = written(tmp_path, "a.csv", b"f (Hz),Ls (\xe6H),Q\n1000,1600,50\n2000,1600,60\n")
    (sweep,) = understand(path, Answers(encoding="cp437")).captures
    assert sweep.impedance[0].imag == pytest.approx(2 * 3.141592653589793 * 1000 * 1.6e-3)
