"""Odd but real files: read rightly, or asked about where nobody could know."""

from __future__ import annotations

import pytest

from benchapp.errors import ReadError
from benchapp.readers import understand
from tests.readers import odd_records
from tests.readers.foreign_judge import ASKED, PARTLY, RIGHT, WARNED, judge
from tests.readers.odd_tables import ODD
from tests.readers.writing import written

assert odd_records.odd is not None  # its files are among ODD
IN_PIECES = {"pages_with_form_feeds"}
"""Each page of a print is a sweep of its own: nothing is wrong or lost."""


def test_there_are_ninety_odd_files():
    assert len(ODD) >= 89


@pytest.mark.parametrize("name", sorted(ODD))
def test_an_odd_file_is_read_rightly_or_asked_about(tmp_path, name):
    case = ODD[name]
    path = written(tmp_path, case.name, case.data)
    found = judge(case, path)
    honest = {
        RIGHT,
        ASKED,
        *({WARNED} if case.open_end else ()),
        *([PARTLY] * (name in IN_PIECES)),
    }
    assert found.verdict in honest, found.why


def test_two_units_of_one_frequency_are_asked_about(tmp_path):
    case = ODD["kilohertz_above_hertz"]
    with pytest.raises(ReadError, match="In which unit is the frequency") as refusal:
        understand(written(tmp_path, case.name, case.data))
    (question,) = refusal.value.facts["questions"]
    assert "'Frequency (kHz)' says one, the cell below it (Hz) another" in question.text
