"""A file beside what is read of it: its rows, the columns and values, the questions, live."""

from __future__ import annotations

import math
from collections.abc import Set
from pathlib import Path

import numpy as np
from PySide6.QtCore import QT_TR_NOOP, Qt, QTimer
from PySide6.QtGui import QFontDatabase
from PySide6.QtWidgets import (
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchapp.capture import Capture, Sweep, Transient
from benchapp.errors import BenchError
from benchapp.gui.axis import prefixed
from benchapp.gui.labels import Choice, heading, muted, set_role, text
from benchapp.gui.session import Session
from benchapp.gui.understood import Understood, columns_words, question_field, typed
from benchapp.gui.views import VIEWS, FloatArray, abscissa, ordinate, views_for
from benchapp.gui.words import number, plural, symbol, tr
from benchapp.readers import Question, Reading
from benchapp.units import unit_symbol

__all__ = ["BesidePage"]

_POINTS = 60
_PATIENCE_MS = 250
_TELLING = {
    "magnitude-phase": {"|Z|", "theta"},
    "inductance-quality": {"Ls", "Lp", "L"},
    "capacitance-dissipation": {"Cp", "Cs", "C"},
}
_CORRECTIONS = {
    "columns": QT_TR_NOOP("What each column holds"),
    "decimal": QT_TR_NOOP("Decimal mark"),
    "delimiter": QT_TR_NOOP("What stands between columns"),
    "encoding": QT_TR_NOOP("Code page"),
    "frequency": QT_TR_NOOP("How the frequency is written"),
    "frequency_unit": QT_TR_NOOP("Unit of the frequency"),
    "time_unit": QT_TR_NOOP("Unit of the time"),
    "interval": QT_TR_NOOP("Time from sample to sample"),
    "phase_unit": QT_TR_NOOP("Unit of the phase"),
    "level_unit": QT_TR_NOOP("Decibel or linear"),
    "model": QT_TR_NOOP("Series or parallel equivalent"),
    "sign": QT_TR_NOOP("Sign of the reactance"),
    "port": QT_TR_NOOP("How the part was connected"),
    "parameter": QT_TR_NOOP("Which S-parameter"),
    "reference": QT_TR_NOOP("Reference impedance in Ω"),
    "channel": QT_TR_NOOP("Which channel"),
    "probe": QT_TR_NOOP("Probe factor"),
    "scale": QT_TR_NOOP("Volts per count"),
}


class BesidePage(QWidget):
    """What a file says and what is made of it; every answer shows at once what it changes.

    Nothing is used before the person says so, and the file is never changed.
    """

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._session = session
        self._reading: Reading | None = None
        self._questions: dict[str, Question] = {}
        self.fields: dict[str, Choice | QLineEdit] = {}
        self._patience = QTimer(self, singleShot=True, interval=_PATIENCE_MS)
        self._patience.timeout.connect(self._try)
        self.title = text("", "title")
        self.state = text("")
        row = QHBoxLayout()
        row.setSpacing(14)
        row.addWidget(self._left(), 1)
        row.addWidget(self._right(), 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addWidget(
            text(tr("The file stays as it is; the answers are kept for files laid out alike."))
        )
        column.addLayout(row, 1)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        session.asked.connect(self.ask)

    def _left(self) -> QWidget:
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(heading(tr("The file as written")))
        self.rows = QPlainTextEdit()
        self.rows.setReadOnly(True)
        self.rows.setTabChangesFocus(True)
        self.rows.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.rows.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.rows.setAccessibleName(tr("First lines of the file as written"))
        column.addWidget(self.rows, 3)
        self._ask_box = QWidget()
        self._form = QFormLayout(self._ask_box)
        self._form.setContentsMargins(0, 0, 6, 0)
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self._asked = heading(tr("What the file does not say"))
        self._asking = _scrolled(self._ask_box)
        column.addWidget(self._asked)
        column.addWidget(self._asking, 2)
        self.correction = Choice(tr("Correct something that was read wrongly"))
        for name, words in _CORRECTIONS.items():
            self.correction.addItem(tr(words), name)
        self.corrector = QPushButton(tr("Correct this"))
        self.corrector.setToolTip(tr("Answer something that was read wrongly, or not at all"))
        self.corrector.clicked.connect(self._correct)
        self.use = QPushButton(tr("Use the file as read here"))
        self.use.setProperty("role", "main")
        self.use.clicked.connect(self._use)
        buttons = QHBoxLayout()
        for widget in (self.use, self.correction, self.corrector):
            buttons.addWidget(widget)
        buttons.addStretch(1)
        column.addLayout(buttons)
        return side

    def _right(self) -> QWidget:
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(heading(tr("What is read of it")))
        column.addWidget(self.state)
        self.columns = muted("")
        column.addWidget(self.columns)
        self.values = QTableWidget()
        self.values.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.values.setTabKeyNavigation(False)
        self.values.setAccessibleName(tr("First points as read"))
        self.values.verticalHeader().hide()
        self.values.verticalHeader().setDefaultSectionSize(24)
        column.addWidget(self.values, 3)
        self.understood = Understood(asks=False)
        sheet = QWidget()
        top = QVBoxLayout(sheet)
        top.setContentsMargins(0, 0, 0, 0)
        top.addWidget(self.understood)
        top.addStretch(1)
        column.addWidget(_scrolled(sheet), 2)
        return side

    def ask(self, reading: Reading) -> None:
        """Show this file, with the questions that it leaves open."""
        self._reading = reading
        self._questions = {}
        name = Path(reading.source).name
        words = tr("{name} does not say everything") if reading.questions else tr("{name}")
        self.title.setText(words.format(name=name))
        self._clear_form()
        self._show_rows(reading)
        self._show(reading)
        if not reading.captures and all(question.proposed for question in reading.questions):
            self._patience.start()  # what is proposed shows what it would give

    def _clear_form(self) -> None:
        while self._form.rowCount():
            self._form.removeRow(0)
        self.fields = {}

    def _show_rows(self, reading: Reading) -> None:
        aside = {row.line for row in reading.set_aside}
        lines = [
            f"{at:>4} {'×' if at in aside else ' '} {line}"
            for at, line in enumerate(reading.sample, start=1)
        ]
        self.rows.setPlainText("\n".join(lines))
        self.rows.setToolTip(tr("× marks a row that is not used"))

    def _show(self, reading: Reading) -> None:
        """Show what is read with the answers of now; fields that are there stay as they are."""
        for question in reading.questions:
            if question.name not in self.fields:
                self._add_field(question)
        self._show_asking()
        self.columns.setText("\n".join(columns_words(reading)))
        self.understood.show_reading(reading)
        meanings = {column.meaning for column in reading.columns}
        self._show_values(reading.captures[0] if reading.captures else None, meanings)
        self.use.setEnabled(bool(reading.captures))
        set_role(self.state, "")
        self.state.setText(_captures_words(reading))

    def _show_asking(self) -> None:
        for widget in (self._asked, self._asking):
            widget.setVisible(bool(self.fields))

    def _add_field(self, question: Question) -> None:
        field = question_field(question)
        self._questions[question.name] = question
        self.fields[question.name] = field
        if isinstance(field, Choice):
            field.activated.connect(self._patience.start)
        else:
            field.textEdited.connect(self._patience.start)
        self._form.addRow(text(question.text), field)

    def _correct(self) -> None:
        name = self.correction.currentData()
        if name not in self.fields:
            self._add_field(Question(name=name, text=tr(_CORRECTIONS[name])))
        self._show_asking()
        self.fields[name].setFocus()

    def _given(self) -> dict[str, object]:
        return typed(self.fields)

    def _try(self) -> None:
        if self._reading is not None:
            self._session.look(self._reading.source, self._given(), self._show, self._refuse)

    def _refuse(self, error: BenchError) -> None:
        """Say why the file cannot be read with these answers; new questions are added."""
        found = error.facts.get("reading")
        if isinstance(found, Reading):
            self._show(found)
        self._show_values(None)
        self.use.setEnabled(False)
        set_role(self.state, "stop")
        self.state.setText(f"{error.message} {error.hint}".strip())

    def _use(self) -> None:
        if self._reading is not None:
            self._session.answer(self._reading.source, self._given())

    def _show_values(self, capture: Capture | None, meanings: Set[str] = frozenset()) -> None:
        table = self.values
        table.clear()
        if capture is None:
            table.setRowCount(0)
            table.setColumnCount(0)
            return
        columns = _columns_of(capture, meanings)
        table.setColumnCount(len(columns))
        table.setRowCount(len(columns[0][1]))
        table.setHorizontalHeaderLabels([name for name, _ in columns])
        for at, (_, cells) in enumerate(columns):
            for row, words in enumerate(cells):
                item = QTableWidgetItem(words)
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                table.setItem(row, at, item)
        table.resizeColumnsToContents()


def _scrolled(sheet: QWidget) -> QScrollArea:
    sheet.setObjectName("sheet")
    area = QScrollArea()
    area.setWidget(sheet)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    return area


def _columns_of(capture: Capture, meanings: Set[str]) -> list[tuple[str, list[str]]]:
    """Give headings and first values, one prefix down each column.

    A sweep is shown as the quantities that the file holds, so that both can be compared by eye.
    """
    x, y = abscissa(capture)[:_POINTS], ordinate(capture)[:_POINTS]
    view = views_for(capture)[0]
    if isinstance(capture, Sweep):
        keys = [key for key, names in _TELLING.items() if names & meanings]
        view = VIEWS[keys[0] if keys else "resistance-reactance"]
    over_time = isinstance(capture, Transient)
    found = [_column(tr("time") if over_time else tr("frequency"), "s" if over_time else "Hz", x)]
    return found + [
        _column(symbol(trace.name), trace.unit, trace.of(x, y))
        for trace in (view.upper, view.lower)
        if trace is not None
    ]


def _column(name: str, unit: str, values: FloatArray) -> tuple[str, list[str]]:
    known = values[np.isfinite(values)]
    largest = float(np.max(np.abs(known), initial=0.0))
    scale, prefix = (1.0, "") if unit in ("1", "deg") else prefixed(largest)
    words = f"{prefix}{unit_symbol(unit)}"
    cells = [number(f"{value / scale:.6g}") if math.isfinite(value) else "–" for value in values]
    return f"{name}, {words}" if words else name, cells


def _captures_words(reading: Reading) -> str:
    """Say in one line what the file holds."""
    if not reading.captures:
        return tr("Nothing can be read before the file's questions are answered.")
    first = reading.captures[0]
    count = abscissa(first).size
    points = plural(count, tr("1 point"), tr("%n points"))
    if len(reading.captures) == 1:
        return points
    return tr("{count} sweeps or records; the first, with {points}, is shown").format(
        count=len(reading.captures), points=points
    )
