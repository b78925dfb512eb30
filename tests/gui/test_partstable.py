"""Tables of parts: sorted by value, chosen rows kept, written only where they are looked at."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QLocale, QPoint, Qt

from benchapp.gui.partstable import Line, PartsTable
from benchapp.nominal import Outcome
from benchapp.units import Estimate
from tests.gui.stage import activate


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


def test_the_chosen_parts_stay_chosen_when_the_table_is_sorted(qtbot):
    made = table(qtbot, line("a", 3e-3), line("b", 1e-3), line("c", 2e-3))
    made.selectRow(0)
    told = []
    made.chosen.connect(told.append)
    made.sortByColumn(2, Qt.SortOrder.AscendingOrder)
    assert keys(made) == ["b", "c", "a"]
    assert made.chosen_keys() == ("a",)
    assert made.currentIndex().row() == 2
    made.sortByColumn(2, Qt.SortOrder.DescendingOrder)
    assert made.chosen_keys() == ("a",)
    assert told == []


@pytest.mark.parametrize("order", [Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder])
@pytest.mark.parametrize("column", [0, 1, 2])
def test_equal_rows_keep_their_order(qtbot, column, order):
    lines = [
        Line(
            key=str(at), outcome=Outcome.PASS, cells=("same",), estimates=line("x", 1e-3).estimates
        )
        for at in range(50)
    ]
    made = table(qtbot, *lines)
    made.sortByColumn(column, order)
    assert keys(made) == [str(at) for at in range(50)]


@pytest.mark.parametrize("column", [0, 1, 2])
def test_ten_thousand_rows_are_sorted_with_every_row_whole(qtbot, column):
    random = np.random.default_rng(5)
    outcomes = list(Outcome)
    lines = [
        line(str(serial), float(value), outcomes[int(kind)])
        for serial, value, kind in zip(
            random.permutation(10_000),
            random.normal(1.6e-3, 1e-5, 10_000),
            random.integers(0, 5, 10_000),
            strict=True,
        )
    ]
    made = table(qtbot, *lines)
    made.choose([lines[77].key])
    made.sortByColumn(column, Qt.SortOrder.AscendingOrder)
    rank = (
        lambda one: outcomes.index(one.outcome),
        lambda one: int(one.key),
        lambda one: one.estimates["L"].value,
    )[column]
    assert list(made.rows.lines) == sorted(lines, key=rank)
    assert made.chosen_keys() == (lines[77].key,)
    assert made.rows.row_of(lines[77].key) == made.currentIndex().row()


def test_the_heads_name_outcome_words_and_quantities(qtbot):
    made = table(qtbot, line("a"))
    across, down = Qt.Orientation.Horizontal, Qt.Orientation.Vertical
    assert [made.rows.headerData(at, across) for at in range(3)] == ["outcome", "serial", "L"]
    assert made.rows.headerData(0, down) is None
    assert made.rows.headerData(0, across, Qt.ItemDataRole.ToolTipRole) is None


def test_the_table_is_flat(qtbot):
    made = table(qtbot, line("a"), line("b"))
    inside = made.rows.index(0, 0)
    assert (made.rows.rowCount(inside), made.rows.columnCount(inside)) == (0, 0)
    assert (made.rows.rowCount(), made.rows.columnCount()) == (2, 3)


@pytest.mark.parametrize("outcome", list(Outcome))
def test_an_outcome_is_told_by_word_and_shape(qtbot, outcome):
    made = table(qtbot, line("a", outcome=outcome))
    first, second = made.rows.index(0, 0), made.rows.index(0, 1)
    assert made.rows.data(first) == outcome.value.replace("-", " ")
    assert not made.rows.data(first, Qt.ItemDataRole.DecorationRole).isNull()
    assert made.rows.data(second, Qt.ItemDataRole.DecorationRole) is None
    assert made.rows.data(second, Qt.ItemDataRole.TextAlignmentRole) is None


def test_a_value_that_is_missing_is_an_empty_cell_and_no_zero(qtbot):
    made = table(qtbot, line("a"))
    assert made.rows.data(made.rows.index(0, 2)) == ""


def test_values_are_written_with_the_decimal_mark_of_the_desktop(qtbot):
    QLocale.setDefault(QLocale(QLocale.Language.German, QLocale.Country.Germany))
    made = table(qtbot, line("a", 1.62e-3))
    assert made.rows.data(made.rows.index(0, 2)) == "1,6200 mH"


def test_a_row_is_found_by_its_key(qtbot):
    made = table(qtbot, line("a"), line("b"))
    assert made.rows.row_of("b") == 1
    assert made.rows.row_of("c") is None


def test_a_click_on_a_head_sorts_and_a_second_turns_it_round(qtbot):
    made = table(qtbot, line("a", 2e-3), line("b", 1e-3))
    made.resize(600, 300)
    activate(qtbot, made)
    head = made.horizontalHeader()
    place = QPoint(head.sectionViewportPosition(2) + 10, head.height() // 2)
    qtbot.mouseClick(head.viewport(), Qt.MouseButton.LeftButton, pos=place)
    first = keys(made)
    qtbot.mouseClick(head.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert {tuple(first), tuple(keys(made))} == {("a", "b"), ("b", "a")}


def test_arrow_keys_walk_along_the_rows_and_tell_each(qtbot):
    made = table(qtbot, *(line(name) for name in "abcd"))
    activate(qtbot, made)
    made.setFocus()
    told = []
    made.chosen.connect(told.append)
    made.selectRow(0)
    for _ in range(2):
        qtbot.keyClick(made, Qt.Key.Key_Down)
    assert told == ["a", "b", "c"]
    assert made.chosen_keys() == ("c",)


def test_a_choice_of_none_is_told(qtbot):
    made = table(qtbot, line("a"), line("b"))
    made.selectRow(1)
    told = []
    made.chosen.connect(told.append)
    made.clearSelection()
    assert told == [""]
    assert made.chosen_keys() == ()


def test_several_rows_are_chosen_and_the_first_comes_into_view(qtbot):
    made = table(qtbot, *(line(f"{at:03d}") for at in range(300)))
    made.resize(300, 200)
    made.show()
    made.choose(["250", "200", "none of them"])
    assert made.chosen_keys() == ("200", "250")
    assert made.viewport().rect().contains(made.visualRect(made.rows.index(200, 1)).center())
    made.choose([])
    assert made.chosen_keys() == ()


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Enter])
def test_return_opens_the_row_that_has_the_focus(qtbot, key):
    made = table(qtbot, line("a"), line("b"))
    made.selectRow(1)
    with qtbot.waitSignal(made.opened) as seen:
        qtbot.keyClick(made, key)
    assert seen.args == ["b"]


def test_return_without_a_row_opens_nothing(qtbot):
    made = table(qtbot)
    told = []
    made.opened.connect(told.append)
    qtbot.keyClick(made, Qt.Key.Key_Return)
    assert told == []


def test_a_double_click_opens_the_row(qtbot):
    made = table(qtbot, line("a"), line("b"))
    made.resize(400, 300)
    activate(qtbot, made)
    place = made.visualRect(made.rows.index(1, 1)).center()
    with qtbot.waitSignal(made.opened) as seen:
        qtbot.mouseClick(made.viewport(), Qt.MouseButton.LeftButton, pos=place)
        qtbot.mouseDClick(made.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert seen.args == ["b"]


def test_chosen_rows_are_copied_as_a_table_and_all_where_none_is(qtbot, qapp):
    made = table(qtbot, line("a", 1.62e-3), line("b", outcome=Outcome.FAIL))
    made.copy()
    whole = "outcome\tserial\tL\npass\ta\t1.6200 mH\nfail\tb\t"
    assert qapp.clipboard().text() == whole
    made.selectRow(1)
    qtbot.keyClick(made, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert qapp.clipboard().text() == "outcome\tserial\tL\nfail\tb\t"


def test_tab_leaves_the_table(qtbot):
    made = table(qtbot, line("a"), line("b"))
    assert not made.tabKeyNavigation()
    assert made.accessibleName() == "parts"


def test_other_quantities_make_other_columns(qtbot):
    made = table(qtbot, line("a", 1.62e-3))
    made.show_lines([line("a", 1.62e-3)], ["Q", "L"])
    cells = [made.rows.data(made.rows.index(0, at)) for at in range(made.rows.columnCount())]
    assert cells == ["pass", "a", "", "1.6200 mH"]


def test_a_long_word_does_not_take_all_the_width(qtbot):
    made = table(qtbot, line("x" * 500))
    assert made.columnWidth(1) == 320


def test_a_table_sorted_by_a_quantity_takes_rows_without_it(qtbot):
    made = table(qtbot, line("a", 2e-3), line("b", 1e-3))
    made.sortByColumn(2, Qt.SortOrder.AscendingOrder)
    made.show_lines([line("c"), line("d", 1.5e-3)], ["L"])
    assert keys(made) == ["d", "c"]


def test_a_column_that_is_gone_sorts_no_more(qtbot):
    made = table(qtbot, line("a", 2e-3), line("b", 1e-3))
    made.sortByColumn(2, Qt.SortOrder.AscendingOrder)
    assert made.rows.is_sorted
    made.show_lines([line("d"), line("c")], [])
    assert keys(made) == ["d", "c"]
    assert made.horizontalHeader().sortIndicatorSection() == -1
    made.show_lines([line("d", 2e-3), line("c", 1e-3)], ["L"])
    assert keys(made) == ["d", "c"]


def test_quantities_stand_behind_the_first_words_and_are_copied_so(qtbot, qapp):
    made = PartsTable("parts", ("serial", "place", "time"), first=1)
    qtbot.addWidget(made)
    row = Line(
        key="a",
        outcome=Outcome.PASS,
        cells=("a", "7", "10:20"),
        estimates=line("a", 1.62e-3).estimates,
    )
    made.show_lines([row], ["L"])
    heads = [made.rows.headerData(at, Qt.Orientation.Horizontal) for at in made.columns]
    assert heads == ["outcome", "serial", "L", "place", "time"]
    made.show_lines([row], ["Q", "L"])
    made.copy()
    assert qapp.clipboard().text().splitlines() == [
        "outcome\tserial\tQ\tL\tplace\ttime",
        "pass\ta\t\t1.6200 mH\t7\t10:20",
    ]


def test_the_quantities_of_a_lot_are_seen_without_scrolling(qtbot):
    """Five quantities beside outcome and serial, in the width the table has at 1280 pixels."""
    made = PartsTable("parts", ("serial", "place", "measured", "time", "decided by"), first=1)
    qtbot.addWidget(made)
    made.resize(685, 380)
    names = ["L", "Q at 134.2 kHz", "ESR at 134.2 kHz", "f0"]
    values = dict(zip(names, (1.62e-3, 78.0, 17.5, 134.2e3), strict=True))
    units = dict(zip(names, ("H", "1", "ohm", "Hz"), strict=True))
    estimates = {
        name: Estimate(name=name, value=values[name], u=values[name] * 1e-4, unit=units[name])
        for name in names
    }
    cells = ("0201", "103", "once", "10:20", "ESR at 134.2 kHz")
    made.show_lines(
        [Line(key="0201", outcome=Outcome.PASS, cells=cells, estimates=estimates)], names
    )
    activate(qtbot, made)
    for column in range(6, 10):
        right = made.columnViewportPosition(column) + made.columnWidth(column)
        assert right <= made.viewport().width()
