"""Every layout of the corpus is read rightly, and none wrongly in silence."""

from __future__ import annotations

import pytest

from benchapp.capture import Transient
from benchapp.readers import understand
from tests.readers.corpus import FORMS, VARIANTS, cases
from tests.readers.judging import read_as_proposed, verdict
from tests.readers.writing import written

CASES = cases()


def test_the_corpus_holds_every_layout_in_every_form():
    assert sorted(VARIANTS) == list(range(1, 77))
    assert len(CASES) == 76 * len(FORMS)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.variant}-{case.form}")
def test_a_layout_is_read_rightly(tmp_path, case):
    found, why = verdict(case, written(tmp_path, case.name, case.data))
    assert found in {"right", "asked"}, why


@pytest.mark.parametrize("case", CASES[::7], ids=lambda case: f"{case.variant}-{case.form}")
def test_reading_again_gives_bit_identical_captures(tmp_path, case):
    if not case.truth:
        return
    path = written(tmp_path, case.name, case.data)
    first, answers = read_as_proposed(path)
    second = understand(path, answers)
    assert [c.digest for c in first.captures] == [c.digest for c in second.captures]
    assert path.read_bytes() == case.data


DAMAGED = [case for case in CASES if case.form == "damaged" and case.truth]


@pytest.mark.parametrize("case", DAMAGED, ids=lambda case: str(case.variant))
def test_every_capture_names_its_source_and_no_row_is_lost_without_a_word(tmp_path, case):
    reading, _ = read_as_proposed(written(tmp_path, case.name, case.data))
    assert {capture.origin.source for capture in reading.captures} == {case.name}
    assert {capture.origin.sha256 for capture in reading.captures} == {reading.sha256}
    labels = [(capture.origin.label, capture.origin.part) for capture in reading.captures]
    assert len(set(labels)) == len(labels)
    points = [
        capture.time.size if isinstance(capture, Transient) else capture.frequency.size
        for capture in reading.captures
    ]
    assert sum(points) > 0
    lines = case.data.count(b"\n") + 1
    assert all(1 <= row.line <= max(lines, 500) for row in reading.set_aside)
