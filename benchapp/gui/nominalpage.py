"""The Nominal station: the design as a form, its circuit, and what a good sweep looks like."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QT_TR_NOOP, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.circuit import CIRCUITS
from benchapp.errors import BenchError
from benchapp.gui.historybox import HistoryBox
from benchapp.gui.labels import Choice, Elided, heading, muted, set_wrong, text
from benchapp.gui.limitrows import LimitRows
from benchapp.gui.preview import Preview
from benchapp.gui.proposal import Proposal
from benchapp.gui.reporter import ReportButton, Wish
from benchapp.gui.schematic import Schematic
from benchapp.gui.session import Session
from benchapp.gui.words import decimal_mark, number, plain, quantity, tr
from benchapp.jobs import WriteDesignReport
from benchapp.nominal import Nominal, envelope_obstacle, nominal_from
from benchapp.nominal.writing import form_from, toml_text
from benchapp.units import parse_number

__all__ = ["NominalPage"]

_NARROW = 1120  # pixels: below it the two columns stand one below the other

_CONDITIONS = {
    "frequency": (
        QT_TR_NOOP("frequency"),
        QT_TR_NOOP("Frequency at which limits without their own hold"),
    ),
    "level": (QT_TR_NOOP("test level"), QT_TR_NOOP("Rms level at the part, in V or A")),
    "bias": (QT_TR_NOOP("DC bias"), QT_TR_NOOP("Bias at the part, in V or A")),
    "temperature": (QT_TR_NOOP("temperature"), QT_TR_NOOP("Temperature of the part")),
    "fixture": (QT_TR_NOOP("fixture"), QT_TR_NOOP("How the part is held and connected")),
    "surroundings": (
        QT_TR_NOOP("surroundings"),
        QT_TR_NOOP("What is near the part: ferrite, metal"),
    ),
}
_DECISION = {
    "guard": (
        QT_TR_NOOP("guard band, times U"),
        QT_TR_NOOP("1 is usual; 0 accepts up to the limit itself"),
    ),
    "coverage": (QT_TR_NOOP("coverage k, U = k u"), QT_TR_NOOP("2 covers about 95 of 100 cases")),
}


_LONG = ("fixture", "surroundings")
_NUMERIC = {("conditions", key) for key in ("frequency", "level", "bias", "temperature")}


def _shown(table: str, key: str, value: object) -> str:
    """Write a value of the form as its field shows it."""
    if isinstance(value, float):
        return number(f"{value:g}")
    return number(str(value)) if (table, key) in _NUMERIC else str(value)


class NominalPage(QScrollArea):
    """The design that parts are judged by, open to change.

    A change that makes no design is refused with its reason, and the design before it holds on.

    Signals
    -------
    wants_file()
        The person wants to open a design.
    wants_place(words)
        The person wants to save the design, given as the text of its file.
    """

    wants_file = Signal()
    wants_place = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._form: dict[str, Any] = {}
        self._saved: dict[str, Any] = {}
        self._before: Nominal | None = None
        self._past: list[dict[str, Any] | None] = []
        self._own = False
        self.fields: dict[tuple[str, str], QLineEdit] = {}
        self._build_widgets()
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self._columns = QHBoxLayout(sheet)
        self._columns.setContentsMargins(0, 0, 0, 0)
        self._columns.setSpacing(0)
        self._columns.addWidget(self._left(), 8)
        self._columns.addWidget(self._right(), 5)
        self.setWidget(sheet)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        session.nominal_changed.connect(self.show_nominal)
        self.show_nominal()

    def _build_widgets(self) -> None:
        self.rows, self.drawing, self.preview = LimitRows(), Schematic(), Preview()
        self.rows.edited.connect(lambda limits, field: self._try("limits", limits, field))
        self.history = HistoryBox()
        self.refusal = text("", "stop")
        self.no_preview = muted()
        self.file = Elided("muted")
        self.circuit = Choice(tr("Equivalent circuit of the design"))
        for name in ("auto", *CIRCUITS, "resonance", "ring-down"):
            title = CIRCUITS[name].title if name in CIRCUITS else ""
            self.circuit.addItem(tr("chosen by the data") if name == "auto" else name, name)
            self.circuit.setItemData(self.circuit.count() - 1, title, Qt.ItemDataRole.ToolTipRole)
        self.circuit.activated.connect(
            lambda _at: self._try("circuit", self.circuit.currentData(), None)
        )
        self.opener = QPushButton(tr("Open another…"))
        self.opener.clicked.connect(self.wants_file)
        self.saver = QPushButton(tr("Save as…"))
        self.saver.clicked.connect(self._save)
        self.report = ReportButton(self._wish)
        self.undo = QPushButton(tr("Undo"))
        self.undo.setToolTip(tr("Take the last change of the design back"))
        self.undo.clicked.connect(self._undo)

    def _wish(self) -> Wish | None:
        nominal = self._session.nominal
        if nominal is None:
            return None
        job = partial(WriteDesignReport, nominal=nominal)
        return Wish(name=nominal.title, job=lambda choices: job(choices=choices))

    def _left(self) -> QWidget:
        sheet = QWidget()
        sheet.setObjectName("sheet")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(24, 14, 20, 12)
        column.setSpacing(10)
        head = QHBoxLayout()
        for key, words, tip, stretch in (
            ("title", tr("Title"), tr("What the part is called"), 5),
            ("revision", tr("revision"), tr("Revision of the design"), 1),
        ):
            field = self._field("", key, words, tip)
            head.addWidget(muted(words, wrap=False))
            head.addWidget(field, stretch)
        head.addWidget(muted(tr("circuit"), wrap=False))
        head.addWidget(self.circuit, 2)
        column.addLayout(head)
        column.addWidget(heading(tr("Limits")))
        column.addWidget(self.rows)
        column.addWidget(self.refusal)
        column.addWidget(heading(tr("What these limits allow over frequency")))
        column.addWidget(self.no_preview)
        column.addWidget(self.preview, 1)
        self._rest = muted()
        column.addWidget(self._rest)
        self.preview.setMinimumHeight(180)
        return sheet

    def _right(self) -> QWidget:
        sheet = QFrame()
        sheet.setObjectName("side")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(18, 14, 20, 12)
        column.setSpacing(10)
        buttons = QHBoxLayout()
        buttons.addWidget(self.file, 1)
        for button in (self.undo, self.saver, self.report, self.opener):
            buttons.addWidget(button)
        column.addLayout(buttons)
        box = QFrame()
        box.setObjectName("box")
        inside = QVBoxLayout(box)
        inside.addWidget(self.drawing)
        self.circuit_title = muted()
        self.circuit_title.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        inside.addWidget(self.circuit_title)
        box.setMaximumHeight(220)
        column.addWidget(box, 1)
        column.addWidget(heading(tr("Conditions under which the limits hold")))
        column.addLayout(self._form_of("conditions", _CONDITIONS))
        column.addWidget(heading(tr("How it is decided")))
        column.addLayout(self._form_of("decision", _DECISION))
        column.addWidget(self.history)
        column.addStretch(1)
        return sheet

    def _form_of(self, table: str, entries: Mapping[str, tuple[str, str]]) -> QGridLayout:
        """Lay fields out behind their names: numbers in pairs, longer texts on their own."""
        form = QGridLayout()
        form.setHorizontalSpacing(10)
        form.setVerticalSpacing(5)
        for column in (1, 3):
            form.setColumnStretch(column, 1)
        row = column = 0
        for key, (words, tip) in entries.items():
            field = self._field(table, key, tr(words), tr(tip))
            field.setPlaceholderText(tr("not stated"))
            whole = key in _LONG
            form.addWidget(muted(tr(words), wrap=False), row, column)
            form.addWidget(field, row, column + 1, 1, 3 if whole else 1)
            row, column = (row, 2) if not whole and column == 0 else (row + 1, 0)
        return form

    def _field(self, table: str, key: str, words: str, tip: str) -> QLineEdit:
        field = QLineEdit()
        field.setAccessibleName(words)
        field.setToolTip(tip)
        field.editingFinished.connect(lambda: self._edit(table, key))
        self.fields[table, key] = field
        return field

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the second column below the first where the window is narrow."""
        super().resizeEvent(event)
        narrow = event.size().width() < _NARROW
        direction = (
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
        self._columns.setDirection(direction)

    def show_nominal(self) -> None:
        """Show the design of the session."""
        nominal = self._session.nominal
        self.setEnabled(nominal is not None)
        if nominal is None:
            return
        if not self._own:
            self._form = form_from(nominal)
            self._saved, self._past = copy.deepcopy(self._form), []
            self._before = nominal
            self._fill()
        self._show_state(nominal)

    def _fill(self) -> None:
        for (table, key), field in self.fields.items():
            place = self._form.get(table, {}) if table else self._form
            field.setText(_shown(table, key, place.get(key, "")))
            field.setCursorPosition(0)
            set_wrong(field, wrong=False)
        with QSignalBlocker(self.circuit):
            self.circuit.setCurrentIndex(max(0, self.circuit.findData(self._form["circuit"])))
        self.rows.show_limits(self._form["limits"], self._session.nominal)

    def _show_state(self, nominal: Nominal) -> None:
        self.refusal.hide()
        self.rows.show_bands(nominal)
        name = Path(self._session.nominal_path).name or tr("design")
        changed = self._form != self._saved
        self.file.setText(tr("{name}, changed, not saved").format(name=name) if changed else name)
        self.undo.setEnabled(bool(self._past))
        self.history.show_history(nominal, self._before)
        circuit = CIRCUITS.get(nominal.circuit)
        title = circuit.title if circuit is not None else ""
        values = {
            limit.quantity: quantity(limit.nominal, limit.unit, digits=4)
            for limit in nominal.limits
            if limit.nominal is not None
        }
        self.drawing.show_circuit(nominal.circuit, title, values)
        self.circuit_title.setText(title)
        shown = self.preview.show_nominal(nominal)
        self.preview.setVisible(shown)
        self.no_preview.setVisible(not shown)
        self.no_preview.setText(envelope_obstacle(nominal) or tr("State a frequency to see it."))
        self._rest.setVisible(not shown)

    def _edit(self, table: str, key: str) -> None:
        """Take what was typed into one field."""
        field = self.fields[table, key]
        held = self._form.get(table, {}) if table else self._form
        typed: Any = field.text().strip()
        if typed == _shown(table, key, held.get(key, "")):
            set_wrong(field, wrong=False)
            return
        if (table, key) in _NUMERIC:
            typed = plain(typed)
        if table == "decision" and typed:
            try:
                typed = parse_number(typed, mark=decimal_mark())
            except BenchError as error:
                self._refuse(error, field)
                return
        if not table:
            self._try(key, typed, field)
            return
        entries = {name: value for name, value in held.items() if name != key}
        self._try(table, entries | ({key: typed} if typed != "" else {}), field)

    def _try(self, key: str, value: Any, field: QLineEdit | None) -> None:
        """Change one part of the design if that makes a design; otherwise say why not."""
        form = {**copy.deepcopy(self._form), key: value}
        try:
            nominal = nominal_from(form, self._session.nominal.title)
        except BenchError as error:
            if key == "limits" and field is None:
                self.rows.show_limits(value, self._session.nominal)
            self._refuse(error, field)
            return
        self._past.append(self._form)
        self._apply(form, nominal)
        if key == "limits" and field is None:
            self.rows.show_limits(value, nominal)
        if field is not None:
            set_wrong(field, wrong=False)

    def _apply(self, form: dict[str, Any], nominal: Nominal) -> None:
        self._form = form
        self._own = True
        try:
            self._session.use_nominal(nominal, self._session.nominal_path)
        finally:
            self._own = False

    def _refuse(self, error: BenchError, field: QLineEdit | None) -> None:
        self.refusal.setText(str(error))
        self.refusal.show()
        if field is not None:
            set_wrong(field, wrong=True)

    def _save(self) -> None:
        """Hand over the design as it holds, not as it was typed, with an entry of its history."""
        nominal = self._session.nominal
        if self._form != self._saved:
            entry = self.history.next_entry(
                self._before, nominal, datetime.now().astimezone().date()
            )
            nominal = replace(nominal, history=(*nominal.history, entry))
        self.wants_place.emit(toml_text(form_from(nominal)))

    def take(self, proposal: Proposal) -> None:
        """Take limits that were worked out elsewhere into the design, or begin one with them."""
        nominal = self._session.nominal
        proposed = Nominal(
            title=tr("New design"),
            circuit=proposal.circuit,
            limits=proposal.limits,
            frequency=proposal.frequency,
        )
        form = form_from(proposed)
        if nominal is None:
            self._past, self._saved, self._before = [None], {}, None
            self._apply(form, nominal_from(form, form["title"]))
        else:
            limits = {**copy.deepcopy(self._form["limits"]), **form["limits"]}
            self._try("limits", limits, None)
        self._fill()

    def _undo(self) -> None:
        if self._past:
            form = self._past.pop()
            if form is None:
                self._session.use_nominal(None)
                return
            self._apply(form, nominal_from(form, self._session.nominal.title))
            self._fill()
