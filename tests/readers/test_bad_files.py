"""Files that are no capture: one plain sentence, what to do, quickly."""

from __future__ import annotations

import io
import os
import time
import zipfile

import pytest

from benchapp.errors import BenchError, FileAccessError, ReadError
from benchapp.readers import read, understand
from tests.readers.writing import written

HEAD = "Frequency (Hz),R (ohm),X (ohm)\n"
ROWS = "".join(f"{1000 * n},{n}.5,{10 * n}.25\n" for n in range(1, 30))


def archive() -> bytes:
    inner, outer = io.BytesIO(), io.BytesIO()
    with zipfile.ZipFile(inner, "w") as packed:
        packed.writestr("a.csv", HEAD + ROWS)
    with zipfile.ZipFile(outer, "w") as packed:
        packed.writestr("inner.zip", inner.getvalue())
    return outer.getvalue()


REFUSED: dict[str, tuple[str, bytes | str, str]] = {
    "empty": ("a.csv", "", "an empty file"),
    "blank lines": ("a.csv", "\n\n   \n", r"rows of numbers \(got none\)"),
    "binary": ("a.csv", bytes(range(256)) * 40, "binary data"),
    "picture": ("a.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\1", "a picture"),
    "nested archive": ("a.csv", archive(), "a compressed archive"),
    "zeros": ("a.csv", bytes(100_000), "binary data"),
    "no unit": ("a.csv", "frequency,R,X\n" + ROWS, "No unit is stated for frequency, R, X"),
    "no unit of frequency": ("a.csv", "Frequency,R (ohm),X (ohm)\n" + ROWS, "has none"),
    "no headings": ("a.csv", ROWS, "They have no headings"),
    "unknown headings": ("a.csv", "foo,bar,baz\n" + ROWS, "Their headings do not say"),
    "only a heading": ("a.csv", HEAD, r"rows of numbers \(got none\)"),
    "two decimal marks": (
        "a.csv",
        "f (Hz);R (ohm);X (ohm)\n" + "1000.5;1.5;2.5\n2000,5;1,25;3,5\n" * 9,
        "must have one decimal mark",
    ),
    "nothing but NaN": (
        "a.csv",
        HEAD + "NaN,NaN,NaN\n" * 9,
        "must hold at least one usable point",
    ),
    "nothing but overload": ("a.csv", HEAD + "1000,OL,OL\n" * 9, "at least one usable point"),
    "zero frequency": ("a.csv", HEAD + "0,1,2\n0,1,2\n", "at least one usable point"),
    "negative frequency": (
        "a.csv",
        HEAD + "-1,1,2\n-2,1,2\n-3,1,3\n",
        "at least one usable point",
    ),
    "contradicting repeats": ("a.csv", HEAD + "1000,1,2\n1000,5,9\n", "at least one usable point"),
    "text in place of numbers": ("a.csv", HEAD + "one,two,three\nfour,five,six\n", "got none"),
    "prose": ("a.csv", "Dear colleague,\nthe coil is broken.\nRegards\n", "got none"),
    "page": ("a.csv", "<!DOCTYPE html><html><body>Log in</body></html>", "got none"),
    "one column only": ("a.csv", "Frequency (Hz)\n1000\n2000\n3000\n", "must have two quantities"),
    "one quantity only": ("a.csv", "f (Hz),Ls (H)\n1000,1e-3\n2000,1e-3\n", "two quantities"),
    "columns vary": ("a.csv", "f (Hz),R (ohm)\n1,2,3\n4\n5,6\n7,8,9,10\n", "must"),
    "lone quotes": ("a.csv", '"f (Hz),"R (ohm),X\n"1000,"5,"6\n', "must"),
    "touchstone without data": ("a.s1p", "# MHz S RI R 50\n! no data\n", "got no whole row of 3"),
    "touchstone of many ports": ("a.s12p", "# MHz S RI R 50\n1 0 0\n", r"1 to 8 ports \(got 12\)"),
    "touchstone with a wrong option": ("a.s1p", "# MHz S QQ R 50\n1 0 0\n", "got 'qq'"),
    "touchstone of text": ("a.s1p", "# MHz S RI R 50\na b c\n", "got no whole row"),
    "record without interval": ("a.csv", "Voltage (V)\n1\n2\n3\n", "How long is the time"),
    "counts without time": ("a.csv", "Counts\n1\n2\n3\n", "How long is the time"),
    "amplitude in watt": ("a.csv", "Time (s),Math1 (W)\n0,1\n1,2\n", "voltage or a current"),
    "lot without frequency": (
        "a.csv",
        "Serial,Ls (mH),Q\n1,1.6,80\n2,1.7,80\n",
        "At which frequency",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_is_no_capture_is_refused_with_what_to_do(tmp_path, name):
    file, content, words = REFUSED[name]
    path = written(tmp_path, file, content)
    start = time.perf_counter()
    with pytest.raises(BenchError, match=words) as refusal:
        read(path)
    assert time.perf_counter() - start < 2.0
    error = refusal.value
    assert isinstance(error, ReadError | FileAccessError)
    assert error.message.startswith(str(path))
    assert error.message.endswith(".")
    assert error.hint
    assert "\n" not in str(error)


def test_there_are_thirty_of_them():
    assert len(REFUSED) >= 30


def test_wide_text_cut_in_the_middle_keeps_what_is_whole(tmp_path):
    data = (HEAD + ROWS).encode("utf-16")
    reading = understand(written(tmp_path, "a.csv", data[: len(data) * 2 // 3 + 1]))
    assert 10 < reading.captures[0].frequency.size < 29
    assert [row.why for row in reading.set_aside] == [] or "cut short" in reading.set_aside[-1].why


def test_a_cut_last_row_is_said_and_the_rest_kept(tmp_path):
    reading = understand(written(tmp_path, "a.csv", HEAD + ROWS + "30000,30.5"))
    assert reading.captures[0].frequency.size == 29
    assert "cut short" in reading.set_aside[0].why


def test_one_point_is_a_sweep_of_one_point(tmp_path):
    (sweep,) = read(written(tmp_path, "a.csv", HEAD + "1000,1,2\n"))
    assert sweep.frequency.tolist() == [1000.0]


def test_single_bad_rows_do_not_spoil_the_others(tmp_path):
    text = HEAD + "0,1,2\n1000,NaN,2\n2000,1,2\n-5,1,2\n3000,x,2\n4000,1,2\n4000,1,2\n5000,1,3\n"
    reading = understand(written(tmp_path, "a.csv", text))
    assert reading.captures[0].frequency.tolist() == [2000, 4000, 5000]
    assert {row.line: row.why for row in reading.set_aside} == {
        2: "the frequency is not above zero (0)",
        3: "no number for R (ohm) (NaN)",
        5: "the frequency is not above zero (-5)",
        6: "no number for R (ohm) (x)",
        8: "the row repeats the one before it",
    }


def test_a_refusal_lists_what_must_be_answered(tmp_path):
    with pytest.raises(ReadError, match="must state everything that is needed") as refusal:
        read(written(tmp_path, "a.csv", "frequency,R,X\n" + ROWS))
    (asked,) = refusal.value.facts["questions"]
    assert asked.proposed == "f/Hz, R/ohm, X/ohm"
    assert refusal.value.hint == "Answer it, for example columns='f/Hz, R/ohm, X/ohm'"
    assert refusal.value.facts["reading"].captures == ()


def test_a_refusal_of_empty_captures_lists_the_rows(tmp_path):
    with pytest.raises(ReadError, match="at least one usable point") as refusal:
        read(written(tmp_path, "a.csv", HEAD + "0,1,2\n"))
    assert [row.line for row in refusal.value.facts["set_aside"]] == [2]


@pytest.mark.parametrize("kind", ["folder", "missing", "pipe", "loop", "device"])
def test_what_is_no_file_is_refused(tmp_path, kind):
    path = {
        "folder": lambda: tmp_path,
        "missing": lambda: tmp_path / "none.csv",
        "pipe": lambda: os.mkfifo(tmp_path / "p") or tmp_path / "p",
        "loop": lambda: (tmp_path / "l").symlink_to(tmp_path / "l") or tmp_path / "l",
        "device": lambda: "/dev/null",
    }[kind]()
    with pytest.raises(FileAccessError) as refusal:
        read(path)
    assert refusal.value.hint
