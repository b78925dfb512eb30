"""What was understood of a file is shown, and what it does not say can be answered."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QLabel, QLineEdit

from benchapp.gui.understood import Understood
from benchapp.readers import Assumption, Column, Question, SetAside
from tests.gui.factories import PORT, reading, sweep

REFERENCE = Question(name="reference", text="What is the port impedance in ohm?", proposed="50")


@pytest.fixture
def understood(qtbot):
    made = Understood()
    qtbot.addWidget(made)
    made.show()
    return made


def words(widget) -> str:
    return "\n".join(label.text() for label in widget.findChildren(QLabel))


def test_a_capture_from_no_file_has_nothing_to_show(understood):
    understood.show_reading(None)
    assert understood.isHidden()


def test_it_is_folded_until_it_is_wanted(qtbot, understood):
    understood.show_reading(reading(sweep(5)))
    assert not understood._body.isVisible()
    understood.fold.setFocus()
    qtbot.keyClick(understood.fold, Qt.Key.Key_Space)
    assert understood._body.isVisible()
    qtbot.mouseClick(understood.fold, Qt.MouseButton.LeftButton)
    assert not understood._body.isVisible()


def test_every_assumption_stands_with_its_reason(understood):
    understood.show_reading(reading(sweep(5)))
    said = words(understood)
    assert "phase unit: degrees\nvalues reach 89.6" in said
    assert "decimal mark: point\nno comma stands between digits" in said


def test_an_unsure_assumption_is_counted_in_the_title(understood):
    understood.show_reading(reading(sweep(5)))
    assert understood.fold.text() == "What was understood (1 assumption to look at)"
    sure = Assumption(subject="unit", value="Hz", reason="it says so", confidence=0.99)
    understood.show_reading(reading(sweep(5), assumptions=(sure,)))
    assert understood.fold.text() == "What was understood of the file"


def test_every_column_is_told_with_what_it_was_taken_for(understood):
    columns = (
        Column(position=0, heading="Frequenz (kHz)", meaning="f", unit="Hz"),
        Column(position=1, heading="|Z| (kOhm)", meaning="|Z|", unit="ohm"),
        Column(position=2, heading="", meaning="Q"),
        Column(position=3, heading="Bin", meaning=""),
    )
    understood.show_reading(
        reading(sweep(5), columns=columns, layout=("semicolon, decimal comma", "Frequenz|Hz"))
    )
    assert (
        "semicolon, decimal comma\n"
        "Frequenz (kHz): read as f in Hz\n"
        "|Z| (kOhm): read as |Z| in Ω\n"
        "column 3: read as Q\n"
        "Bin: not used"
    ) in words(understood)


def test_rows_that_were_not_used_are_listed_with_line_and_reason(understood):
    rows = tuple(SetAside(line=line, why="overload") for line in range(5, 25))
    understood.show_reading(reading(sweep(5), set_aside=rows))
    said = words(understood)
    assert "line 5: overload\nline 6: overload" in said
    assert said.count("overload") == 12
    assert "and 8 more" in said


def test_the_digest_of_the_file_is_shown_short_and_told_whole(understood):
    understood.show_reading(reading(sweep(5)))
    assert "SHA-256 abababababab…" in words(understood)
    tips = [label.toolTip() for label in understood.findChildren(QLabel)]
    assert "ab" * 32 in tips


def test_questions_unfold_it_where_nothing_can_be_read_without_answers(understood):
    understood.show_reading(reading(questions=(PORT, REFERENCE)))
    assert understood.fold.text() == "The file does not say everything: please answer"
    assert understood._body.isVisible()
    assert isinstance(understood.fields["port"], QComboBox)
    assert understood.fields["port"].currentText() == ""
    assert isinstance(understood.fields["reference"], QLineEdit)
    assert understood.fields["reference"].text() == "50"


def test_answers_are_given_by_name_and_empty_ones_left_out(qtbot, understood):
    understood.show_reading(reading(questions=(PORT, REFERENCE)))
    given = []
    understood.answered.connect(given.append)
    qtbot.mouseClick(understood.button, Qt.MouseButton.LeftButton)
    field = understood.fields["port"]
    field.setFocus()
    qtbot.keyClick(field, Qt.Key.Key_Down)
    qtbot.keyClick(field, Qt.Key.Key_Down)
    qtbot.mouseClick(understood.button, Qt.MouseButton.LeftButton)
    assert given == [{"reference": "50"}, {"port": "series-through", "reference": "50"}]


def test_a_proposal_that_was_used_is_chosen_beforehand(understood):
    proposed = Question(name="model", text="Series?", proposed="series", choices=("series", "x"))
    understood.show_reading(reading(sweep(5), questions=(proposed,)))
    assert understood.fields["model"].currentText() == "series"
    assert understood.fold.text() == "What was understood (1 thing the file does not say)"


def test_fields_are_named_by_their_question(understood):
    understood.show_reading(reading(questions=(PORT, REFERENCE)))
    assert understood.fields["port"].accessibleName() == PORT.text
    assert understood.fields["reference"].accessibleName() == REFERENCE.text
