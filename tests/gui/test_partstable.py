"""Tables of parts: sorted by value, chosen rows kept, written only where they are looked at."""

from __future__ import annotations

from PySide6.QtCore import Qt

from benchapp.gui.partstable import Line, PartsTable
from benchapp.nominal import Outcome
from benchapp.units import Estimate


def line(serial, value=None, outcome=Outcome.PASS):
    estimates = {}
    if value is not None:
        estimates["L"] = Estimate(name="L", value=value, u=1e-6, unit="H")
    return Line(key=serial, outcome=outcome, cells=(serial,), estimates=estimates)


def table(qtbot, *lines):
    made = PartsTable("parts", ("serial",))
    qtbot.addWidget(made)
    made.show_lines(lines, ["L"])
    return made


def keys(made):
    return [one.key for one in made.rows.lines]


def test_serials_are_sorted_as_a_person_counts(qtbot):
    made = table(qtbot, line("10"), line("9"), line("A"))
    made.sortByColumn(1, Qt.SortOrder.AscendingOrder)
    assert keys(made) == ["9", "10", "A"]


def test_values_are_sorted_as_numbers_and_missing_ones_stay_at_the_end(qtbot):
    made = table(qtbot, line("a", 2e-3), line("b"), line("c", 9e-4))
    made.sortByColumn(2, Qt.SortOrder.AscendingOrder)
    assert keys(made) == ["c", "a", "b"]
    made.sortByColumn(2, Qt.SortOrder.DescendingOrder)
    assert keys(made) == ["a", "c", "b"]


def test_outcomes_are_sorted_best_first(qtbot):
    made = table(qtbot, line("a", outcome=Outcome.FAIL), line("b"))
    made.sortByColumn(0, Qt.SortOrder.AscendingOrder)
    assert keys(made) == ["b", "a"]


def test_the_order_and_the_choice_hold_when_a_part_comes(qtbot):
    made = table(qtbot, line("a", 2e-3), line("b", 1e-3))
    made.sortByColumn(2, Qt.SortOrder.AscendingOrder)
    made.choose(["a"])
    made.show_lines([line("a", 2e-3), line("b", 1e-3), line("c", 1.5e-3)], ["L"])
    assert keys(made) == ["b", "c", "a"]
    assert made.chosen_keys() == ("a",)


def test_a_choice_by_the_program_is_not_told_one_by_the_person_is(qtbot):
    made = table(qtbot, line("a", 2e-3), line("b", 1e-3))
    told = []
    made.chosen.connect(told.append)
    made.choose(["a"])
    assert told == []
    made.selectRow(1)
    assert told == ["b"]


def test_numbers_carry_their_unit_and_stand_at_the_right(qtbot):
    made = table(qtbot, line("a", 1.62e-3))
    cell = made.rows.index(0, 2)
    assert made.rows.data(cell) == "1.6200 mH"
    aligned = Qt.AlignmentFlag(made.rows.data(cell, Qt.ItemDataRole.TextAlignmentRole))
    assert aligned & Qt.AlignmentFlag.AlignRight


def test_ten_thousand_rows_are_no_wider_work_than_those_in_view(qtbot):
    lines = [line(f"{at:05d}", 1e-3 + at * 1e-9) for at in range(10_000)]
    made = table(qtbot, *lines)
    made.resize(600, 400)
    made.show()
    written = []
    real = made.rows._cell
    made.rows._cell = lambda one, column: written.append(one.key) or real(one, column)
    made.scrollToBottom()
    made.grab()
    assert 0 < len(set(written)) < 100
    assert "09999" in written
