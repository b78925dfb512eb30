"""A file beside what is read of it: every answer shows what it changes before it is used."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.errors import ReadError
from benchapp.gui.besidepage import BesidePage
from benchapp.jobs import sample_folder
from benchapp.readers import Column, SetAside, understand
from tests.gui.factories import PORT, reading, response, sweep, transient

ASKING = reading(
    questions=(PORT,),
    source="/far/away/through.s2p",
    sample=tuple(f"line {number}" for number in range(12)),
    set_aside=(SetAside(line=3, why="half a row"),),
)


@pytest.fixture
def page(qtbot, session):
    made = BesidePage(session)
    qtbot.addWidget(made)
    made.resize(1100, 700)
    made.show()
    session.asked.emit(ASKING)
    return made


def cells(page, column):
    return [page.values.item(row, column).text() for row in range(page.values.rowCount())]


def headings(page):
    table = page.values
    return [table.horizontalHeaderItem(at).text() for at in range(table.columnCount())]


def choose(qtbot, field, words):
    """Choose with the keyboard, as a person does."""
    field.setFocus()
    for _ in range(field.count()):
        if field.currentText() == words:
            break
        qtbot.keyClick(field, Qt.Key.Key_Down)
    assert field.currentText() == words


def test_the_file_is_named_and_its_rows_are_numbered(page):
    assert page.title.text() == "through.s2p does not say everything"
    rows = page.rows.toPlainText().splitlines()
    assert rows[0] == "   1   line 0"
    assert rows[2] == "   3 × line 2"
    assert len(rows) == 12


def test_nothing_can_be_used_before_what_is_needed_is_answered(page):
    assert not page.use.isEnabled()
    assert page.values.rowCount() == 0
    assert page.state.text().startswith("Nothing can be read")


def test_an_answer_is_tried_at_once_and_used_only_on_request(qtbot, page, direct):
    choose(qtbot, page.fields["port"], "series-through")
    qtbot.waitUntil(lambda: any(task.subject == "look" for task in direct.tasks))
    task = direct.take("look")
    assert (task.job.answers.port, task.job.remember) == ("series-through", False)
    task.done(reading(sweep(), source=ASKING.source))
    assert page.use.isEnabled()
    assert page.values.rowCount() == 60
    assert "port" in page.fields
    qtbot.mouseClick(page.use, Qt.MouseButton.LeftButton)
    job = direct.take(f"read {ASKING.source}").job
    assert (job.answers.port, job.remember) == ("series-through", True)


def test_a_refused_answer_is_told_in_its_place(qtbot, page, direct):
    choose(qtbot, page.fields["port"], "shunt-through")
    qtbot.waitUntil(lambda: any(task.subject == "look" for task in direct.tasks))
    direct.take("look").failed(ReadError("row 4: must be a number.", hint="Look there."))
    assert page.state.text() == "row 4: must be a number. Look there."
    assert page.state.property("role") == "stop"
    assert not page.use.isEnabled()
    direct_again = reading(sweep(), source=ASKING.source)
    page._show(direct_again)
    assert page.state.property("role") == ""


def test_a_new_question_is_added_to_those_that_are_there(qtbot, page, direct):
    choose(qtbot, page.fields["port"], "reflection")
    qtbot.waitUntil(lambda: any(task.subject == "look" for task in direct.tasks))
    more = understand_refusal()
    direct.take("look").failed(more)
    assert list(page.fields) == ["port", "columns"]
    assert page.fields["port"].currentText() == "reflection"


def understand_refusal():
    from benchapp.readers import Question

    question = Question(name="columns", text="What do the columns hold?", required=True)
    found = reading(questions=(question,), source=ASKING.source)
    return ReadError("must state everything.", reading=found)


def test_what_was_read_wrongly_can_be_corrected(qtbot, page, direct):
    page.correction.setFocus()
    qtbot.keyClick(page.correction, Qt.Key.Key_Down)
    qtbot.mouseClick(page.corrector, Qt.MouseButton.LeftButton)
    assert "decimal" in page.fields
    qtbot.keyClicks(page.fields["decimal"], "comma")
    qtbot.waitUntil(lambda: any(task.subject == "look" for task in direct.tasks))
    assert direct.take("look").job.answers.decimal == "comma"


def test_an_answer_that_cannot_be_one_is_told(qtbot, page, direct):
    page.correction.setCurrentIndex(page.correction.findData("probe"))
    qtbot.mouseClick(page.corrector, Qt.MouseButton.LeftButton)
    qtbot.keyClicks(page.fields["probe"], "ten")
    qtbot.waitUntil(lambda: "must be a number above zero" in page.state.text())
    assert not page.use.isEnabled()


def test_a_sweep_is_shown_as_the_quantities_that_its_file_holds(page):
    columns = (
        Column(position=0, heading="f/kHz", meaning="f", unit="Hz"),
        Column(position=1, heading="Ls/uH", meaning="Ls", unit="H"),
    )
    page.ask(reading(sweep(), columns=columns))
    assert headings(page) == ["frequency, kHz", "Ls, mH", "Q"]
    page.ask(reading(sweep()))
    assert headings(page)[1:] == ["R, kΩ", "X, kΩ"]


def test_values_stand_as_the_file_has_them(page):
    found = understand(sample_folder() / "ga12_tank_german.csv")
    page.ask(found)
    assert headings(page)[0] == "frequency, kHz"
    assert headings(page)[1].startswith("|Z|, k")
    first = next(line for line in found.sample if line[:1].isdigit())
    frequency, magnitude, _phase = first.split(";")
    assert float(cells(page, 0)[0]) == float(frequency.replace(",", "."))
    assert float(cells(page, 1)[0]) == pytest.approx(float(magnitude.replace(",", ".")), rel=1e-5)


def test_ratios_and_records_are_shown_too(page):
    page.ask(reading(response()))
    assert headings(page) == ["frequency, kHz", "|ratio|", "phase, °"]
    page.ask(reading(transient(), transient()))
    assert headings(page) == ["time, µs", "voltage, V"]
    assert page.state.text().startswith("2 sweeps or records")


def test_before_anything_is_asked_nothing_happens(qtbot, session, direct):
    page = BesidePage(session)
    qtbot.addWidget(page)
    qtbot.mouseClick(page.use, Qt.MouseButton.LeftButton)
    page._try()
    assert direct.tasks == []
