"""Long plain tables: the same captures as line by line, in pieces, with progress and a stop."""

from __future__ import annotations

import hashlib
import resource
import time

import numpy as np
import pytest

from benchapp.errors import CancelledError, FileAccessError, ReadError
from benchapp.readers import Answers, long, understand
from tests.readers.writing import written

N = 40_000
T = np.arange(N) * 1e-8
V = np.cos(2 * np.pi * 134.2e3 * T) * np.exp(-T / 1e-4)
HEAD = "Model,scope\nTime (s),CH1 (V)\n"


@pytest.fixture(scope="module")
def lines() -> list[str]:
    return [f"{t:.8E},{v:.6E}" for t, v in zip(T, V, strict=True)]


def rounded(values, digits):
    return np.array([float(f"{value:.{digits}E}") for value in values])


def test_a_long_record_is_read_exactly_with_the_digest_of_its_bytes(tmp_path, lines):
    path = written(tmp_path, "a.csv", HEAD + "\n".join(lines) + "\n")
    reading = understand(path)
    (record,) = reading.captures
    assert record.time.tolist() == rounded(T, 8).tolist()
    assert record.voltage.tolist() == rounded(V, 6).tolist()
    assert record.origin.sha256 == reading.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert reading.set_aside == ()
    assert reading.sample[:2] == ("Model,scope", "Time (s),CH1 (V)")


@pytest.mark.parametrize("at_once", [0, 1 << 26])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", " "])
def test_pieces_and_one_go_give_the_same(tmp_path, lines, monkeypatch, at_once, delimiter):
    monkeypatch.setattr(long, "_AT_ONCE", at_once)
    head = "Time(s),CH1(V)\n".replace(",", delimiter)
    text = head + "\n".join(lines).replace(",", delimiter) + "\n"
    (record,) = understand(written(tmp_path, "a.csv", text)).captures
    assert record.voltage.tolist() == rounded(V, 6).tolist()


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_decimal_commas_are_read_in_pieces(tmp_path, lines, end):
    text = end.join(["Time (s);CH1 (V)", *lines]).replace(",", ";").replace(".", ",") + end
    (record,) = understand(written(tmp_path, "a.csv", text)).captures
    assert record.voltage.tolist() == rounded(V, 6).tolist()


def test_damage_in_the_middle_costs_only_its_rows(tmp_path, lines):
    damaged = list(lines)
    damaged[20_000] = damaged[20_000].split(",")[0] + ",----"
    damaged[20_001] = "2.0"
    damaged[20_002] = "link lost"
    damaged[20_003] = "3.0,4.0,5.0"
    reading = understand(written(tmp_path, "a.csv", HEAD + "\n".join(damaged) + "\n"))
    (record,) = reading.captures
    assert record.time.size == N - 4
    assert {row.line: row.why for row in reading.set_aside} == {
        20_003: "no number for CH1 (V) (----)",
        20_004: "1 cells where the table has 2",
        20_005: "text among the rows (link lost)",
        20_006: "3 cells where the table has 2",
    }


@pytest.mark.parametrize(("cut", "whole"), [(-1, True), (-5, False), (-14, False)])
def test_a_last_row_that_looks_cut_is_set_aside(tmp_path, lines, cut, whole):
    reading = understand(written(tmp_path, "a.csv", (HEAD + "\n".join(lines) + "\n")[:cut]))
    assert reading.captures[0].time.size == (N if whole else N - 1)
    assert [row.line for row in reading.set_aside] == ([] if whole else [N + 2])


def test_a_trailing_delimiter_and_text_columns_do_not_slow_it_down(tmp_path, lines):
    text = "Time (s),CH1 (V),Flag,\n" + "\n".join(f"{line},ok," for line in lines) + "\n"
    (record,) = understand(written(tmp_path, "a.csv", text)).captures
    assert record.voltage.tolist() == rounded(V, 6).tolist()


def test_a_repeated_heading_is_left_to_the_careful_way(tmp_path, lines):
    text = HEAD + "\n".join([*lines[:20_000], "Time (s),CH1 (V)", *lines[:20_000]]) + "\n"
    first, second = understand(written(tmp_path, "a.csv", text)).captures
    assert first.time.size == second.time.size == 20_000


def test_a_long_lot_log_keeps_its_serials(tmp_path):
    rows = "\n".join(f"SN-{n:06d},1.6{n % 10}000000,80.000000" for n in range(9000))
    path = written(tmp_path, "lot.csv", "Frequency: 100 kHz\nSerial,Ls (mH),Q\n" + rows + "\n")
    assert path.stat().st_size > 1 << 18
    captures = understand(path).captures
    assert (len(captures), captures[-1].origin.part) == (9000, "SN-008999")


def test_a_long_sweep_goes_the_same_way(tmp_path):
    f = np.linspace(1e5, 2e5, 20_000)
    text = "f (Hz),R (ohm),X (ohm)\n" + "\n".join(f"{x:.6f},12.5,{x / 100:.6f}" for x in f) + "\n"
    (sweep,) = understand(written(tmp_path, "a.csv", text)).captures
    assert sweep.frequency.size == 20_000


def test_a_question_comes_before_the_long_reading(tmp_path, lines):
    path = written(tmp_path, "a.csv", "Time,CH1\n" + "\n".join(lines) + "\n")
    told = []
    with pytest.raises(ReadError, match="No unit is stated for Time"):
        understand(path, progress=lambda *what: told.append(what))
    assert told == []
    assert understand(path, Answers(time_unit="s")).captures[0].time.size == N


def test_progress_is_told_and_a_stop_is_heeded(tmp_path, lines):
    path = written(tmp_path, "a.csv", HEAD + "\n".join(lines) + "\n")
    told = []
    understand(path, progress=lambda what, fraction: told.append(fraction))
    assert told == sorted(told)
    assert len(told) > 5
    assert told[-1] == 1.0
    with pytest.raises(CancelledError, match="stopped before it was done"):
        understand(path, cancelled=lambda: len(told) > 0)


def test_a_file_that_changes_while_it_is_read_is_read_again_in_pieces(
    tmp_path, lines, monkeypatch
):
    path = written(tmp_path, "a.csv", HEAD + "\n".join(lines) + "\n")
    plain = long._numbers

    def touched(source, body, skipped):
        if isinstance(source, str):
            path.touch()
        return plain(source, body, skipped)

    monkeypatch.setattr(long, "_numbers", touched)
    assert understand(path).captures[0].time.size == N


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b"\0" * 1024, "binary data"),
        (b"0" * 1024, "must be at most 16 MiB unless it is one plain table"),
        (b"0\n" * 512, "What does the column hold"),
        (b"hello world, this is text\n" * 40, "unless it is one plain table"),
        (b"1,2,3\n" * 170, "What do the 3 columns hold"),
    ],
)
def test_two_hundred_megabytes_of_nothing_are_refused_at_once(tmp_path, line, words):
    path = tmp_path / "huge.csv"
    block = line * (1 << 10)
    with path.open("wb") as stream:
        for _ in range((200 << 20) // len(block)):
            stream.write(block)
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises((ReadError, FileAccessError), match=words):
        understand(path)
    assert time.perf_counter() - start < 2.0
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000
    path.unlink()


def test_many_lines_that_are_no_plain_table_are_refused(tmp_path):
    path = written(tmp_path, "a.csv", "a,b;c\n" * 110_000)
    with pytest.raises(FileAccessError, match="must have at most 100000 lines"):
        understand(path)
