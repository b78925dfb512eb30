"""Logs of single readings: one part for each row."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.errors import ReadError
from benchapp.readers import Answers, understand
from tests.readers.writing import written

W = 2 * np.pi * 1e5
LOG = "Serial,Ls (mH),Q,Result\nA-1,1.60,80,PASS\nA-2,1.65,82,PASS\nA-3,1.40,60,FAIL\n"


def test_each_row_is_a_part_at_the_stated_frequency(tmp_path):
    reading = understand(written(tmp_path, "lot.csv", "Frequency: 100 kHz\n" + LOG))
    assert [capture.origin.part for capture in reading.captures] == ["A-1", "A-2", "A-3"]
    x = W * 1.65e-3
    assert reading.captures[1].frequency.tolist() == [1e5]
    assert reading.captures[1].impedance[0] == pytest.approx(x / 82 + 1j * x)
    assert reading.captures[1].conditions.equivalent_circuit == "series"


def test_the_frequency_may_stand_in_each_row_or_in_the_name(tmp_path):
    text = "Serial,Freq (kHz),Ls (mH),Q\n1,100,1.6,80\n2,100,1.65,82\n"
    assert len(understand(written(tmp_path, "a.csv", text)).captures) == 2
    assert len(understand(written(tmp_path, "lot_100kHz.csv", LOG)).captures) == 3


def test_a_frequency_that_stands_nowhere_must_be_answered(tmp_path):
    path = written(tmp_path, "lot.csv", LOG)
    with pytest.raises(ReadError, match="At which frequency were the parts measured"):
        understand(path)
    reading = understand(path, Answers(frequency="100 kHz"))
    assert reading.captures[0].frequency.tolist() == [1e5]


def test_an_answer_that_is_no_frequency_is_refused(tmp_path):
    path = written(tmp_path, "lot.csv", LOG)
    with pytest.raises(
        ReadError, match=r"the answer frequency must be one frequency \(got 'soon'\)"
    ):
        understand(path, Answers(frequency="soon"))


def test_parts_without_their_loss_are_refused(tmp_path):
    text = "Frequency: 100 kHz\nSerial,Ls (mH),Temp (°C)\nA-1,1.60,23\nA-2,1.65,23\n"
    with pytest.raises(ReadError, match="must give the loss of each part beside L or C"):
        understand(written(tmp_path, "lot.csv", text))


def test_a_row_without_a_value_is_set_aside(tmp_path):
    text = "Frequency: 100 kHz\n" + LOG.replace("1.65", "OL")
    reading = understand(written(tmp_path, "lot.csv", text))
    assert [capture.origin.part for capture in reading.captures] == ["A-1", "A-3"]
    assert [row.line for row in reading.set_aside] == [4]


def test_a_numbered_list_with_verdicts_is_a_lot_too(tmp_path):
    text = "Frequency: 100 kHz\nNo.,Ls (mH),Q,Verdict\n1,1.60,80,OK\n2,1.65,82,OK\n"
    reading = understand(written(tmp_path, "lot.csv", text))
    assert [capture.origin.part for capture in reading.captures] == ["1", "2"]


def test_numbered_points_of_a_sweep_are_no_lot(tmp_path):
    text = "No.,Freq (kHz),Ls (mH),Q\n1,100,1.60,80\n2,110,1.65,82\n3,120,1.7,83\n"
    (sweep,) = understand(written(tmp_path, "a.csv", text)).captures
    assert sweep.frequency.size == 3


def test_a_temperature_that_changes_loses_no_part(tmp_path):
    text = "Serial,Freq (kHz),Ls (mH),Q,Temp (°C)\n"
    text += "".join(f"{n},100,1.6,80,{23 + n % 2}\n" for n in range(1, 9))
    assert len(understand(written(tmp_path, "a.csv", text)).captures) == 8


def test_units_that_are_not_stated_must_be_answered(tmp_path):
    text = "Frequency: 100 kHz\nSerial,Ls,Q\nA,1600,80\nB,1650,82\n"
    with pytest.raises(ReadError, match="No unit is stated for Ls"):
        understand(written(tmp_path, "a.csv", text))
