"""A complete study on its page: verdict, every method, tables that can be copied."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from benchapp.gui.studyresults import FigureTable, StudyResults
from tests.gui.hand import choose
from tests.gui.stage import activate
from tests.gui.studies import AIAG, analysed


@pytest.fixture
def results(qtbot):
    made = StudyResults()
    qtbot.addWidget(made)
    made.resize(1240, 640)
    made.show_found(analysed())
    activate(qtbot, made)
    return made


def cell(table, row, column):
    return table.item(row, column).text()


def test_the_verdict_stands_first_with_its_shape(results):
    assert results.judgement.text() == "The gauge is conditionally suitable"
    assert results.mark.accessibleName() == "The gauge is conditionally suitable"
    assert "18.7\u00a0% of the tolerance" in results.verdict.text()


@pytest.mark.parametrize(
    ("method", "known", "rows"),
    [
        ("variance", AIAG["pooled"]["EV"], 5),
        ("kept", AIAG["kept"]["EV"], 6),
        ("pooled", AIAG["pooled"]["EV"], 5),
        ("ranges", AIAG["average_and_range"]["EV"], 5),
    ],
)
def test_every_method_is_a_choice_away(qtbot, results, method, known, rows):
    choose(qtbot, results.method, method)
    results.method.activated.emit(results.method.currentIndex())
    assert results.shares.rowCount() == rows
    assert float(cell(results.shares, 0, 1)) == pytest.approx(10 * known, abs=0.0051)


def test_what_a_row_means_is_told_on_hover(results):
    assert "placed anew each time" in results.shares.item(0, 0).toolTip()


def test_bias_is_there_only_where_true_values_are_known(results):
    assert not results.biases.isVisible()
    results.show_found(analysed(references=tuple(1.6e-3 + at * 1e-6 for at in range(10))))
    assert results.biases.isVisible()
    assert results.biases.rowCount() == 10


def test_a_study_of_one_person_has_no_other_method(results):
    results.show_found(analysed(persons="A"))
    assert results.method.count() == 1
    assert results.sources.rowCount() == 2


def test_another_tolerance_changes_mark_and_words(results):
    results.show_found(analysed(tolerance=1e-3))
    assert results.judgement.text() == "The gauge is suitable"
    bare = analysed(tolerance=None)
    results.show_found(replace(bare))
    assert "no tolerance is stated" in results.verdict.text()
    assert cell(results.shares, 0, 3) == ""


def test_the_whole_table_or_what_is_chosen_is_copied(qtbot, results):
    table = results.shares
    table.setFocus()
    table.clearSelection()
    copy = (Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClick(table, *copy)
    lines = QGuiApplication.clipboard().text().replace("\ndeviation", " deviation")
    assert "GRR, the gauge\t3.02\t27.9\t18.7" in lines
    table.setCurrentCell(2, 1)
    qtbot.keyClick(table, *copy)
    assert QGuiApplication.clipboard().text() == "3.02"
    table.selectAll()
    qtbot.keyClick(table, *copy)
    assert len(QGuiApplication.clipboard().text().splitlines()) == table.rowCount()


def test_a_table_is_as_high_as_its_rows_and_cuts_no_head(qtbot):
    table = FigureTable("figures")
    qtbot.addWidget(table)
    table.show()
    table.show_rows(("what", "a long\nhead"), [("one", "1"), ("two", "2"), ("three", "3")])
    table.resize(table.minimumSizeHint().expandedTo(table.minimumSize()))
    header = table.horizontalHeader()
    assert all(header.sectionSize(at) >= header.sectionSizeHint(at) for at in range(2))
    assert table.viewport().height() >= 3 * table.verticalHeader().defaultSectionSize()
