"""Small texts: values can be copied by mouse and key, long lines are cut with a hint."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchapp.gui.labels import (
    Choice,
    Elided,
    Notice,
    Value,
    copy_text,
    heading,
    muted,
    set_role,
    set_wrong,
    term,
    text,
)
from tests.gui.stage import activate


def clipboard() -> str:
    return QGuiApplication.clipboard().text()


@pytest.fixture
def value(qtbot):
    holder = QWidget()
    layout = QVBoxLayout(holder)
    before = QLineEdit()
    made = Value("1.6653 ± 0.0021 mH", tip="what it means")
    layout.addWidget(before)
    layout.addWidget(made)
    qtbot.addWidget(holder)
    activate(qtbot, holder)
    before.setFocus()
    made.holder, made.before = holder, before
    return made


def test_a_value_reached_by_tab_is_copied_whole_with_its_unit(qtbot, value):
    qtbot.keyClick(value.before, Qt.Key.Key_Tab)
    assert value.hasFocus()
    assert value.selectedText() == "1.6653 ± 0.0021 mH"
    qtbot.keyClick(value, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert clipboard() == "1.6653 ± 0.0021 mH"


def test_a_part_of_a_value_that_is_selected_is_copied_alone(value):
    value.setSelection(0, 6)
    value.copy()
    assert clipboard() == "1.6653"


def test_a_value_that_is_clicked_on_is_copied_whole_too(qtbot, value):
    qtbot.mouseClick(value, Qt.MouseButton.LeftButton)
    value.actions()[0].trigger()
    assert clipboard() == "1.6653 ± 0.0021 mH"
    assert value.actions()[0].text() == "Copy value with unit"


def test_a_copied_minus_is_one_that_programs_read():
    copy_text("−0.12 %")
    assert clipboard() == "-0.12 %"


def test_text_is_never_taken_for_markup(qtbot):
    for label in (text("<b>a</b>"), heading("<b>a</b>"), muted("<b>a</b>"), Value("<b>a</b>")):
        qtbot.addWidget(label)
        assert label.textFormat() == Qt.TextFormat.PlainText


def test_a_term_tells_its_meaning(qtbot):
    label = term("DCR")
    qtbot.addWidget(label)
    assert label.text() == "DCR"
    assert "direct current" in label.toolTip()


def test_a_long_line_is_cut_and_tells_all_of_it_on_hover(qtbot):
    line = Elided()
    qtbot.addWidget(line)
    words = "a very long line of words that will not fit into the place it is given"
    line.setText(words)
    line.resize(120, 20)
    line.show()
    assert line.toolTip() == words
    assert line.text() == line.accessibleName() == words
    assert line.minimumSizeHint().width() < 120 < line.sizeHint().width()
    line.resize(2000, 20)
    assert line.toolTip() == ""


def test_a_role_changes_the_look_and_is_kept(qtbot):
    label = text("stop", "muted")
    qtbot.addWidget(label)
    label.show()
    before = label.grab().toImage()
    set_role(label, "stop")
    assert label.property("role") == "stop"
    assert label.grab().toImage() != before


def test_a_wrong_field_is_marked_until_it_is_right(qtbot):
    field = QLineEdit("abc")
    qtbot.addWidget(field)
    field.show()
    plain = field.grab().toImage()
    set_wrong(field, wrong=True)
    assert field.grab().toImage() != plain
    set_wrong(field, wrong=False)
    assert field.grab().toImage() == plain


def test_a_caution_is_read_out_as_it_is_written(qtbot):
    notice = Notice("Do not touch it.")
    qtbot.addWidget(notice)
    assert notice.accessibleName() == "Do not touch it."


def test_a_choice_has_a_name_and_shows_its_arrow(qtbot):
    box = Choice("Which circuit")
    qtbot.addWidget(box)
    box.addItem("tank")
    box.resize(160, 28)
    assert box.accessibleName() == "Which circuit"
    image = box.grab().toImage()
    background = image.pixel(100, 14)
    assert any(image.pixel(x, y) != background for x in range(140, 152) for y in range(8, 20))
