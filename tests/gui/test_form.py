"""A form tells each key that is struck, what an empty blank means, and marks what is wrong."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QLocale, Qt

from benchapp.gui.form import Blank, Form, align
from tests.gui.hand import choose, write

BLANKS = (
    Blank(key="L", label="L", tip="inductance", unit="H", empty="1.5 mH"),
    Blank(key="C", label="a longer label", tip="capacitance", unit="F"),
    Blank(key="how", label="how", tip="which way", choices=(("", "none"), ("a", "one way"))),
    Blank(key="curve", label="curve", tip="points", wide=True),
)


@pytest.fixture
def form(qtbot):
    made = Form(BLANKS)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def test_every_key_is_told_and_then_that_the_blank_was_left(qtbot, form):
    told, left = [], []
    form.edited.connect(lambda key, words: told.append((key, words)))
    form.finished.connect(left.append)
    write(qtbot, form.fields["L"], "2m")
    assert told[-2:] == [("L", "2"), ("L", "2m")]
    assert left == ["L"]


def test_a_choice_is_told_by_its_value(qtbot, form):
    told = []
    form.edited.connect(lambda key, words: told.append((key, words)))
    choose(qtbot, form.choices["how"], "a")
    form.choices["how"].activated.emit(form.choices["how"].currentIndex())
    assert told[-1] == ("how", "a")


def test_filling_the_form_tells_nothing(form):
    told = []
    form.edited.connect(lambda *_: told.append(1))
    form.show_texts({"L": "1 mH", "how": "a"})
    assert form.fields["L"].text() == "1 mH"
    assert form.choices["how"].currentData() == "a"
    assert told == []


def test_the_cursor_stays_in_a_blank_that_says_so_already(qtbot, form):
    form.show_texts({"L": "1.62 mH"})
    form.fields["L"].setCursorPosition(3)
    form.show_texts({"L": "1.62 mH", "C": "1 nF"})
    assert form.fields["L"].cursorPosition() == 3
    qtbot.keyClick(form.fields["L"], Qt.Key.Key_End)
    assert form.fields["L"].cursorPosition() == 7


def test_an_empty_blank_says_what_holds_for_it(form):
    form.say_empty("L", "= 2 mH")
    assert form.fields["L"].placeholderText() == "= 2 mH"
    form.say_empty("L", "")
    assert form.fields["L"].placeholderText() == "1.5 mH"


def test_an_empty_blank_speaks_with_the_decimal_mark_of_the_locale(qtbot):
    QLocale.setDefault(QLocale(QLocale.Language.German, QLocale.Country.Germany))
    form = Form(BLANKS)
    qtbot.addWidget(form)
    assert form.fields["L"].placeholderText() == "1,5 mH"


def test_only_the_wrong_blank_is_marked(form):
    form.mark_wrong("C")
    assert form.fields["C"].property("wrong")
    form.mark_wrong("L")
    assert form.fields["L"].property("wrong")
    assert not form.fields["C"].property("wrong")
    form.mark_wrong("")
    assert not form.fields["L"].property("wrong")


def test_every_blank_has_a_name_and_a_tip(form):
    for blank in BLANKS:
        widget = form.fields.get(blank.key) or form.choices[blank.key]
        assert widget.accessibleName() == blank.label
        assert widget.toolTip() == blank.tip == form.labels[blank.key].toolTip()


def test_a_wide_blank_has_a_row_to_itself(form):
    assert form.fields["curve"].y() > form.choices["how"].y()
    assert form.fields["curve"].width() > 1.5 * form.fields["L"].width()


def test_labels_of_forms_below_each_other_align(qtbot, form):
    other = Form((Blank(key="x", label="a much longer label than those", tip="x"),))
    qtbot.addWidget(other)
    with pytest.raises(IndexError):
        _ = form.label_widths()[2]
    align((form, other))
    widest = other.label_widths()[0]
    other.show()
    form.resize(600, 200)
    other.resize(600, 60)
    qtbot.waitExposed(other)
    assert form.fields["L"].x() == other.fields["x"].x() >= widest
