"""Rows of limits: what is typed is told as nested mappings, and kept until it makes sense."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QToolButton

from benchapp.gui.limitrows import FIELDS, LimitRows
from benchapp.nominal.file import LIMIT_UNITS
from benchapp.nominal.writing import form_from
from tests.gui.factories import ESR_LIMIT, L_LIMIT, Q_LIMIT, nominal
from tests.gui.stage import activate

DESIGN = nominal(limits=(L_LIMIT, Q_LIMIT, ESR_LIMIT))
LIMITS = form_from(DESIGN)["limits"]


@pytest.fixture
def rows(qtbot):
    made = LimitRows()
    qtbot.addWidget(made)
    made.show_limits(LIMITS, DESIGN)
    made.resize(760, 240)
    activate(qtbot, made)
    made.told = []
    made.edited.connect(lambda limits, field: made.told.append((limits, field)))
    return made


def type_in(qtbot, field, words):
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClicks(field, words)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def test_there_is_a_field_for_everything_a_limit_can_say(rows):
    names = {name for name, _, _ in rows.fields}
    assert names == {"L", "Q", "ESR"}
    assert {key for _, _, key in rows.fields} == set(FIELDS)


def test_every_row_shows_the_band_it_allows(rows):
    assert rows.gauges["L", 0].toolTip() == "L: 1.62 mH ±3 %"
    assert rows.gauges["Q", 0].toolTip() == "Q: 60 to 110"
    assert rows.gauges["ESR", 0].toolTip() == "ESR: at most 22 Ω"
    assert all(gauge.scale.value is None for gauge in rows.gauges.values())


def test_a_typed_text_is_told_with_its_field(qtbot, rows):
    field = rows.fields["L", 0, "tolerance"]
    type_in(qtbot, field, "±5 %")
    ((limits, told),) = rows.told
    assert limits["L"] == {"nominal": "1.62 mH", "tolerance": "±5 %"}
    assert told is field
    assert LIMITS["L"]["tolerance"] == "±3 %"


def test_an_emptied_field_is_left_out(qtbot, rows):
    type_in(qtbot, rows.fields["Q", 0, "at"], "")
    assert rows.told[0][0]["Q"] == {"lower": "60", "upper": "110"}


def test_blanks_around_a_text_do_not_count(qtbot, rows):
    type_in(qtbot, rows.fields["Q", 0, "lower"], "  60 ")
    assert rows.told == []


def test_what_was_typed_stays_while_the_next_field_is_filled(qtbot, rows):
    """A new limit makes no sense before its second field: the first must not be lost."""
    rows._append(rows.adder.findData("C"))
    rows.show_limits(rows.told[-1][0], DESIGN)
    type_in(qtbot, rows.fields["C", 0, "nominal"], "868 pF")
    type_in(qtbot, rows.fields["C", 0, "tolerance"], "±2 %")
    assert rows.told[-1][0]["C"] == {"nominal": "868 pF", "tolerance": "±2 %"}


def test_a_row_that_is_no_limit_yet_has_no_band(rows):
    rows._append(rows.adder.findData("C"))
    rows.show_limits(rows.told[-1][0], DESIGN)
    assert not rows.gauges["C", 0].isVisible()
    assert rows.gauges["L", 0].isVisible()


def test_every_quantity_can_be_added_and_is_explained(rows):
    offered = [rows.adder.itemData(at) for at in range(1, rows.adder.count())]
    assert offered == list(LIMIT_UNITS)
    tips = [
        rows.adder.itemData(at, Qt.ItemDataRole.ToolTipRole) for at in range(1, rows.adder.count())
    ]
    assert all(tips)


def test_a_second_limit_of_a_quantity_makes_a_list(rows):
    rows._append(rows.adder.findData("Q"))
    assert rows.told[-1][0]["Q"] == [LIMITS["Q"], {}]


def test_removing_the_second_of_two_leaves_the_first_alone(rows):
    two = {**LIMITS, "Q": [LIMITS["Q"], {"lower": "40"}]}
    rows.show_limits(two, DESIGN)
    rows._remove("Q", 1)
    assert rows.told[-1][0]["Q"] == LIMITS["Q"]
    rows._remove("Q", 0)
    assert rows.told[-1][0]["Q"] == {"lower": "40"}


def test_a_limit_is_removed_by_its_button(qtbot, rows):
    button = next(
        one
        for one in rows.findChildren(QToolButton)
        if one.accessibleName() == "Remove the limit of ESR"
    )
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert list(rows.told[-1][0]) == ["L", "Q"]


def test_new_rows_take_the_place_of_the_old_ones(qtbot, rows):
    rows.show_limits({"Q": LIMITS["Q"]}, DESIGN)
    qtbot.wait(5)
    assert set(rows.gauges) == {("Q", 0)}
    assert len(rows.findChildren(QToolButton)) == 1


def test_fields_show_the_beginning_of_what_is_in_them(rows):
    assert all(field.cursorPosition() == 0 for field in rows.fields.values())
