"""Results as rows: values with units to copy, unknown ones named, dangerous ones marked."""

from __future__ import annotations

from PySide6.QtGui import QGuiApplication

from benchapp.gui.answerrows import Answer, AnswerRows, written
from benchapp.gui.marks import Mark

ROWS = (
    Answer(name="L", value="1.620 mH", remark="worked out", tip="inductance"),
    Answer(name="coil", value="575 V", danger=True),
    Answer(name="Q", value="", remark="state the loss"),
)


def shown(qtbot, answers=ROWS):
    rows = AnswerRows()
    qtbot.addWidget(rows)
    rows.show_answers(answers)
    rows.show()
    qtbot.waitExposed(rows)
    return rows


def test_results_are_written_as_lines_with_tabs():
    lines = written("Tank", ROWS).split("\n")
    assert lines == [
        "Tank",
        "L\t1.620 mH\tworked out",
        "coil\t575 V",
        "Q\tnot known\tstate the loss",
    ]


def test_a_value_is_copied_with_its_unit(qtbot):
    rows = shown(qtbot)
    rows.value("L").copy()
    assert QGuiApplication.clipboard().text() == "1.620 mH"
    assert rows.value("L").toolTip() == "inductance"


def test_only_the_dangerous_row_bears_a_mark(qtbot):
    rows = shown(qtbot)
    marks = [mark for mark in rows.findChildren(Mark) if mark.isVisible()]
    assert len(marks) == 1
    beside = rows.value("coil")
    qtbot.waitUntil(
        lambda: abs(marks[0].geometry().center().y() - beside.geometry().center().y()) < 4
    )
    assert marks[0].accessibleName() == "above the touch limit"


def test_an_unknown_value_is_said_to_be_unknown(qtbot):
    rows = shown(qtbot)
    assert rows.value("Q").text() == "–"
    assert rows.value("Q").accessibleName() == "Q: not known state the loss"


def test_rows_of_the_same_names_are_kept_so_that_the_focus_stays(qtbot):
    rows = shown(qtbot)
    kept = rows.value("L")
    rows.show_answers((Answer(name="L", value="2 mH"), *ROWS[1:]))
    assert rows.value("L") is kept
    assert kept.text() == "2 mH"
    rows.show_answers(ROWS[1:])
    assert len(rows.values) == 2


def test_two_rows_may_have_one_name(qtbot):
    rows = shown(qtbot, (Answer(name="L", value="1 mH"), Answer(name="L", value="2 mH")))
    assert [value.text() for value in rows.values] == ["1 mH", "2 mH"]


def test_without_results_the_rows_take_no_room(qtbot):
    rows = shown(qtbot)
    rows.show_answers(())
    assert not rows.isVisible()
