"""A capture belongs to the study only while its page is shown and a measurement is to be made."""

from __future__ import annotations

import pytest

from benchapp.jobs import sample_folder
from benchapp.lot import StudyPlan
from tests.gui.lotstage import LOT, begin_lot, measure

PLAN = StudyPlan(parts=("1", "2"), persons=("A",), trials=2, quantity="L", unit="H")


@pytest.fixture
def studies(window):
    return window.lots.studies


def opened(qtbot, window):
    before = len(window.session.parts)
    window.session.open([str(sample_folder() / "ga12_lot" / "0201.csv")])
    qtbot.waitUntil(lambda: len(window.session.parts) > before, timeout=20_000)
    return window.session.parts[-1]


def test_without_a_study_no_capture_is_taken(qtbot, window, studies):
    part = opened(qtbot, window)
    assert not studies.takes(part)
    window.go("study")
    assert not studies.takes(part)


def test_a_capture_that_comes_while_another_page_is_shown_is_not_for_the_study(
    qtbot, window, studies, tmp_path
):
    window.go("study")
    studies.study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    assert studies.is_measuring
    window.go("capture")
    assert not studies.is_measuring
    opened(qtbot, window)
    qtbot.wait(50)
    assert studies.study.sheet.taken == 0


def test_a_lot_on_the_bench_does_not_count_what_the_study_takes(qtbot, window, studies, tmp_path):
    begin_lot(qtbot, window)
    measure(qtbot, window, LOT[0])
    window.go("study")
    studies.study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    window.session.open([LOT[1]])
    qtbot.waitUntil(lambda: studies.study.sheet.taken == 1, timeout=20_000)
    assert [one.serial for one in window.desk.state.parts] == ["0201"]
    window.go("lot")
    measure(qtbot, window, LOT[2])
    assert studies.study.sheet.taken == 1


def test_undo_is_that_of_the_page_that_is_shown(qtbot, window, studies, tmp_path):
    begin_lot(qtbot, window)
    measure(qtbot, window, LOT[0])
    window.go("study")
    studies.study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    studies.study.take(1.62e-3)
    window.undo()
    assert studies.study.sheet.taken == 0
    assert len(window.desk.state.parts) == 1
