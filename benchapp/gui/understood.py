"""What was understood of a file, what was assumed, and what only a person can answer."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFormLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.columnspage import button_row
from benchapp.gui.labels import Choice, heading, muted, text
from benchapp.gui.words import plural, symbol, tr, unit_words
from benchapp.readers import Question, Reading
from benchapp.units import UNITS

__all__ = ["Understood", "columns_words", "question_field", "typed"]

_SURE = 0.7
_MOST_ROWS = 12


class Understood(QWidget):
    """A part of the page that folds; it opens by itself where something must be answered.

    Signals
    -------
    answered(given)
        What the person answered, by the names of the questions.
    beside()
        The person wants to see this beside the rows of the file.

    Parameters
    ----------
    asks : bool
        Whether it holds the questions and the columns too, or only the evidence.
    """

    answered = Signal(object)
    beside = Signal()

    def __init__(self, parent: QWidget | None = None, *, asks: bool = True) -> None:
        super().__init__(parent)
        self._asks = asks
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self.fold = QToolButton()
        self.fold.setProperty("role", "plain")
        self.fold.setCheckable(True)
        self.fold.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.fold.toggled.connect(self._show_body)
        self._layout.addWidget(self.fold)
        self._body: QWidget | None = None
        self.fields: dict[str, Choice | QLineEdit] = {}
        self.button: QPushButton | None = None
        self.hide()

    def show_reading(self, reading: Reading | None) -> None:
        """Show what was understood; None for a capture that came from no file."""
        self.setVisible(reading is not None)
        if self._body is not None:
            self._layout.removeWidget(self._body)
            self._body.hide()
            self._body.deleteLater()
            self._body = None
        self.fields, self.button = {}, None
        if reading is None:
            return
        self._body = self._build(reading)
        self._layout.addWidget(self._body)
        doubtful = [one for one in reading.assumptions if one.confidence < _SURE]
        title = _title(reading, len(doubtful)) if self._asks else tr("What was assumed, and why")
        self.fold.setText(title)
        must = not reading.captures or not self._asks
        self.fold.setChecked(must)
        self._show_body(must)

    def _show_body(self, shown: bool) -> None:
        arrow = Qt.ArrowType.DownArrow if shown else Qt.ArrowType.RightArrow
        self.fold.setArrowType(arrow)
        if self._body is not None:
            self._body.setVisible(shown)

    def _build(self, reading: Reading) -> QWidget:
        body = QWidget(self)
        column = QVBoxLayout(body)
        column.setContentsMargins(8, 0, 0, 6)
        column.setSpacing(5)
        if self._asks:
            if reading.questions:
                column.addWidget(self._questions(reading.questions))
            if reading.columns:
                column.addWidget(text("\n".join(columns_words(reading))))
            if reading.sample:
                button = QPushButton(tr("See it beside the rows of the file"))
                button.clicked.connect(self.beside)
                column.addLayout(button_row(button))
        for one in reading.assumptions:
            line = text(f"{one.subject}: {one.value}", "doubt" if one.confidence < _SURE else "")
            column.addWidget(line)
            column.addWidget(muted(one.reason))
        if reading.set_aside:
            column.addWidget(heading(tr("Rows of the file that were not used")))
            column.addWidget(_rows(reading))
        if reading.sha256:
            source = muted(
                tr("Read as {reader}, SHA-256 {digest}").format(
                    reader=reading.reader, digest=f"{reading.sha256[:12]}…"
                )
            )
            source.setToolTip(reading.sha256)
            column.addWidget(source)
        return body

    def _questions(self, questions: tuple[Question, ...]) -> QWidget:
        box = QWidget()
        form = QFormLayout(box)
        form.setContentsMargins(0, 0, 0, 6)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        for question in questions:
            field = question_field(question)
            self.fields[question.name] = field
            form.addRow(text(question.text), field)
        self.button = QPushButton(tr("Read the file with these answers"))
        self.button.clicked.connect(self._answer)
        form.addRow(self.button)
        return box

    def _answer(self) -> None:
        self.answered.emit(typed(self.fields))


def typed(fields: Mapping[str, Choice | QLineEdit]) -> dict[str, object]:
    """Give what stands in the fields of questions, by their names; empty ones are left out."""
    given = {
        name: field.currentText() if isinstance(field, Choice) else field.text().strip()
        for name, field in fields.items()
    }
    return {name: value for name, value in given.items() if value}


def _title(reading: Reading, doubtful: int) -> str:
    if not reading.captures:
        return tr("The file does not say everything: please answer")
    if reading.questions:
        return plural(
            len(reading.questions),
            tr("What was understood (1 thing the file does not say)"),
            tr("What was understood (%n things the file does not say)"),
        )
    if doubtful:
        return plural(
            doubtful,
            tr("What was understood (1 assumption to look at)"),
            tr("What was understood (%n assumptions to look at)"),
        )
    return tr("What was understood of the file")


def question_field(question: Question) -> Choice | QLineEdit:
    """Give a field for the answer, with what is proposed."""
    if not question.choices:
        line = QLineEdit(question.proposed or "")
        line.setAccessibleName(question.text)
        return line
    box = Choice(question.text)
    if question.proposed is None:
        box.addItem("")
    box.addItems(question.choices)
    if question.proposed is not None:
        box.setCurrentText(question.proposed)
    return box


def columns_words(reading: Reading) -> list[str]:
    """Say how the table is laid out and what each column was taken for."""
    lines = list(reading.layout[:1])
    for column in reading.columns:
        heading_words = column.heading or tr("column {n}").format(n=column.position + 1)
        if not column.meaning:
            words = tr("{heading}: not used")
        elif column.unit and column.unit != "rad":  # an angle is shown in degrees
            words = tr("{heading}: read as {meaning} in {unit}")
        else:
            words = tr("{heading}: read as {meaning}")
        unit = unit_words(column.unit) if column.unit in UNITS else column.unit
        lines.append(
            words.format(heading=heading_words, meaning=symbol(column.meaning), unit=unit)
        )
    return lines


def _rows(reading: Reading) -> QLabel:
    lines = [
        tr("line {line}: {why}").format(line=row.line, why=row.why)
        for row in reading.set_aside[:_MOST_ROWS]
    ]
    more = len(reading.set_aside) - _MOST_ROWS
    if more > 0:
        lines.append(plural(more, tr("and 1 more"), tr("and %n more")))
    return muted("\n".join(lines))
