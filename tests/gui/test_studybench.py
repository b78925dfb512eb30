"""One measurement of a study after the other, as the person who measures sees it."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.studybench import StudyBench
from benchapp.lot import StudyPlan
from tests.gui.hand import press, write
from tests.gui.stage import activate

PLAN = StudyPlan(parts=("1", "2"), persons=("A", "B"), trials=2, quantity="L", unit="H")


@pytest.fixture
def study(window):
    return window.lots.studies.study


@pytest.fixture
def bench(qtbot, window, study, tmp_path):
    made = StudyBench(study, window.instrument)
    qtbot.addWidget(made)
    activate(qtbot, made)
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    return made


def test_it_names_person_label_and_place_in_the_order(bench, study):
    act = study.sheet.next
    assert (bench.person.text(), bench.label.text()) == (act.person, act.blind)
    assert bench.progress.text() == "L: measurement 1 of 8, trial 1"
    assert (bench.bar.value(), bench.bar.maximum()) == (0, 8)
    assert bench.kept.text() == "kept in study.csv"
    assert bench.kept.toolTip() == study.path


def test_a_value_is_taken_by_enter_or_by_the_button(qtbot, bench, study):
    write(qtbot, bench.value, "1.62 mH")
    assert study.sheet.taken == 1
    assert bench.value.placeholderText() == "value, in mH"
    qtbot.keyClicks(bench.value, "1.63")
    press(qtbot, bench.taker)
    assert [one.value for one in study.sheet.readings[:2]] == pytest.approx([1.62e-3, 1.63e-3])
    assert bench.value.text() == ""


def test_a_change_of_person_is_told_when_it_comes(qtbot, bench, study):
    seen = []
    for _ in range(7):
        before = study.sheet.next.person
        study.take(1.62e-3)
        changed = study.sheet.next.person != before
        assert bench.turn.isVisible() is changed
        seen.append(changed)
    assert any(seen)
    assert not all(seen)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", "Type the value with its unit, then press Enter."),
        ("1.62", "must have its unit"),
        ("wide", "wide"),
        ("3 ohm", "ohm"),
    ],
)
def test_what_is_no_value_is_told_and_not_taken(qtbot, bench, study, words, said):
    write(qtbot, bench.value, words)
    assert study.sheet.taken == 0
    assert said in bench.trouble.text()
    assert bench.value.text() == words
    qtbot.keyClicks(bench.value, "1")
    assert not bench.trouble.isVisible()


def test_a_slip_is_asked_about_once_and_taken_when_it_is_confirmed(qtbot, bench, study):
    write(qtbot, bench.value, "1.62 mH")
    write(qtbot, bench.value, "1.63 H")
    assert study.sheet.taken == 1
    assert "look at the unit and the decimal mark" in bench.trouble.text()
    qtbot.keyClick(bench.value, Qt.Key.Key_Return)
    assert study.sheet.taken == 2
    assert study.sheet.readings[1].value == 1.63


def test_a_slip_that_is_changed_is_looked_at_anew(qtbot, bench, study):
    write(qtbot, bench.value, "1.62 mH")
    write(qtbot, bench.value, "1.63 H")
    write(qtbot, bench.value, "1.64 H")
    assert study.sheet.taken == 1
    write(qtbot, bench.value, "1.64 mH")
    assert study.sheet.taken == 2


def test_space_in_an_empty_field_is_for_the_window_and_else_part_of_the_value(qtbot, bench):
    bench.value.setFocus()
    qtbot.keyClick(bench.value, Qt.Key.Key_Space)
    assert bench.value.text() == ""
    qtbot.keyClicks(bench.value, "1.62")
    qtbot.keyClick(bench.value, Qt.Key.Key_Space)
    assert bench.value.text() == "1.62 "


def test_without_an_instrument_captures_and_typing_remain(qtbot, bench):
    assert not bench.sweep.isEnabled()
    assert bench.capture.isEnabled()
    assert "Type the value, or drop a capture here." in bench.how.text()
    with qtbot.waitSignal(bench.wants_capture):
        press(qtbot, bench.capture)


def test_with_an_instrument_measuring_comes_first(qtbot, window, bench):
    window.instrument.choose(address="TCPIP::127.0.0.1::5025::SOCKET")
    assert bench.sweep.property("role") == "main"
    assert "Space takes a sweep" in bench.how.text()
    with qtbot.waitSignal(bench.wants_sweep):
        press(qtbot, bench.sweep)
    window.instrument.choose(address="")


def test_a_bias_brings_its_caution(window, bench):
    assert not bench.caution.isVisible()
    window.instrument.output = "unknown"
    window.instrument.changed.emit()
    assert bench.caution.isVisible()
    window.instrument.output = "off"


def test_a_study_that_names_no_quantity_is_typed(bench, study, tmp_path):
    bare = StudyPlan(parts=("1", "2"), persons=("A",), trials=2)
    study.begin(bare, str(tmp_path / "bare.csv"), 7)
    assert bench.progress.text() == "measurement 1 of 4, trial 1"
    assert not bench.capture.isEnabled()
    assert "does not name the quantity" in bench.how.text()
    assert bench.value.placeholderText() == "value"


def test_while_a_capture_is_measured_nothing_else_is_taken(bench, study):
    study.is_waiting = True
    study.changed.emit()
    for widget in (bench.value, bench.taker, bench.capture, bench.undo):
        assert not widget.isEnabled()
    assert bench.how.text() == "The capture is being measured…"


def test_the_last_value_is_taken_back_and_the_study_put_away(qtbot, bench, study):
    assert not bench.undo.isEnabled()
    write(qtbot, bench.value, "1.62 mH")
    press(qtbot, bench.undo)
    assert study.sheet.taken == 0
    press(qtbot, bench.away)
    assert study.sheet is None
