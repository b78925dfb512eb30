"""The reference coil on the Set-up page: its state, its chart, its check and its review."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP, QSignalBlocker, Qt
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.gui.controlplot import ControlPlot
from benchapp.gui.form import Blank, Form
from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import Choice, heading, muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.referencecoil import ReferenceCoil
from benchapp.gui.times import time_words
from benchapp.gui.words import number, plural, quantity, sentence, tr
from benchapp.lot import Check, Control, Gate, Reference, normalised_error
from benchapp.units import format_estimate

__all__ = ["ReferenceCard"]

_MARK = 20
_HOUR = 3600.0
_COVERAGE = 2.0
_WHO = (
    Blank(
        key="who",
        label=QT_TR_NOOP("checked by"),
        tip=QT_TR_NOOP("Your name, kept with the check"),
        wide=True,
    ),
)
_REVIEW = (
    Blank(
        key="reason",
        label=QT_TR_NOOP("what was found"),
        tip=QT_TR_NOOP("Why the station was locked, and what was done"),
        wide=True,
    ),
)


class ReferenceCard(QWidget):
    """Everything about the reference coil of the station."""

    def __init__(
        self, coil: ReferenceCoil, instrument: Instrument, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._coil, self._instrument = coil, instrument
        self._build()
        self._lay_out()
        self._connect()
        self.refresh()

    def _build(self) -> None:
        self.mark = Mark(_MARK)
        self.state = text("", "heading")
        self.about, self.measured, self.cautions = muted(), text(), muted()
        self.file = QPushButton(tr("Reference coil from a file…"))
        self.checker = QPushButton(tr("Check the coil"))
        self.checker.setToolTip(
            tr("Put the reference coil in the clip: it is swept as set beside this")
        )
        self.forgetter = QPushButton(tr("Use none"))
        self.who, self.reason = Form(_WHO), Form(_REVIEW)
        self.reviewer = QPushButton(tr("Keep this review"))
        self.keys = Choice(tr("Quantity of the control chart"))
        self.chart = ControlPlot()
        self.legend = muted(
            tr(
                "Solid: stated limits. Dashed: control limits. Squares: a rule of the "
                "chart is met."
            )
        )

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(heading(tr("Reference coil")))
        top = QHBoxLayout()
        top.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        top.addWidget(self.state, 1)
        column.addLayout(top)
        column.addWidget(self.about)
        column.addLayout(_row(self.file, self.checker, self.forgetter))
        column.addWidget(self.who)
        column.addWidget(self.measured)
        column.addWidget(self.keys, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.chart)
        column.addWidget(self.legend)
        column.addWidget(self.cautions)
        column.addWidget(self.reason)
        column.addLayout(_row(self.reviewer))

    def _connect(self) -> None:
        coil = self._coil
        self.file.clicked.connect(lambda _on=False: self._choose())
        self.checker.clicked.connect(lambda _on=False: self._instrument.take_reference())
        self.forgetter.clicked.connect(lambda _on=False: coil.forget())
        self.reviewer.clicked.connect(lambda _on=False: self._review())
        self.who.edited.connect(lambda _key, words: setattr(coil, "who", words))
        self.keys.activated.connect(lambda _at: self._show_chart(coil.gate))
        coil.changed.connect(self.refresh)
        self._instrument.changed.connect(self._enable)

    def refresh(self) -> None:
        """Show what holds now."""
        coil = self._coil
        gate, reference = coil.gate, coil.reference
        self._show_state(gate)
        known = reference is not None and gate is not None
        for widget in (self.checker, self.forgetter, self.who):
            widget.setVisible(known or (widget is self.forgetter and bool(coil.path)))
        self.who.show_texts({"who": coil.who})
        last = gate.last if known else None
        words = tr(
            "A coil of known value that stays here and is measured each day. While it is outside "
            "its limits, or its check is overdue, no lot can be worked on."
        )
        if known:
            words = f"{reference.nominal.title}. {_age_words(gate)}"
        self.about.setText(words)
        self.measured.setVisible(last is not None)
        if last is not None:
            lines = [_line(reference, one, last) for one in gate.controls]
            self.measured.setText("\n".join(lines))
        self._fill_keys(gate)
        self._show_chart(gate)
        cautions = [f"{sentence(one)}." for one in gate.cautions] if known else []
        self.cautions.setText(" ".join(cautions))
        self.cautions.setVisible(bool(cautions))
        locked = known and gate.state in ("outside", "not judged")
        self.reason.setVisible(locked)
        self.reviewer.setVisible(locked)
        self._enable()

    def _enable(self) -> None:
        instrument = self._instrument
        free = bool(instrument.address) and not instrument.is_busy
        self.checker.setEnabled(free and self._coil.reference is not None)

    def _show_state(self, gate: Gate | None) -> None:
        if gate is None:
            broken = bool(self._coil.path)
            words = self._coil.obstacle if broken else tr("No reference coil is used here.")
            self.mark.set_mark("stop" if broken else "empty", words)
        else:
            word = tr("Lot work is open") if gate.is_open else tr("Lot work is locked")
            words = f"{word}: {gate.reason}."
            self.mark.set_mark("good" if gate.is_open else "stop", word)
        self.state.setText(words)

    def _fill_keys(self, gate: Gate | None) -> None:
        keys = [] if gate is None else [one.key for one in gate.controls if one.points.size]
        shown = [self.keys.itemData(at) for at in range(self.keys.count())]
        if keys != shown:
            with QSignalBlocker(self.keys):
                self.keys.clear()
                for key in keys:
                    self.keys.addItem(key, key)
        controls = () if gate is None else gate.controls
        condemned = [one.key for one in controls if one.completed]
        if condemned and self.keys.currentData() not in condemned:
            self.keys.setCurrentIndex(keys.index(condemned[0]))

    def _show_chart(self, gate: Gate | None) -> None:
        key = self.keys.currentData()
        chosen = [] if gate is None else [one for one in gate.controls if one.key == key]
        seen = bool(chosen)
        for widget in (self.keys, self.chart, self.legend):
            widget.setVisible(seen)
        if seen:
            self.chart.show_control(chosen[0])

    def _review(self) -> None:
        field = self.reason.fields["reason"]
        self._coil.review(field.text())
        field.clear()

    def _choose(self) -> None:
        dialog = QFileDialog(self, tr("Choose the file of the reference coil"))
        dialog.setNameFilters([tr("Reference coils") + " (*.toml)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self._coil.open)
        dialog.open()


def _age_words(gate: Gate) -> str:
    words = []
    if gate.age is not None and gate.age >= 0:
        hours = int(gate.age // _HOUR)
        ago = plural(hours, tr("1 hour ago"), tr("%n hours ago"))
        words.append(tr("Last check: {ago}.").format(ago=ago if hours else tr("just now")))
    if not gate.is_open and gate.last_good is not None:
        words.append(
            tr("Review what was measured after {time}, the last good check.").format(
                time=time_words(gate.last_good)
            )
        )
    return " ".join(words)


def _line(reference: Reference, control: Control, last: Check) -> str:
    found, limit = last.value(control.key), control.limit
    if found is None:
        return tr("{key}: not determined").format(key=control.key)
    words = f"{control.key} {format_estimate(found, _COVERAGE)}"
    if limit.nominal is not None:
        stated = quantity(limit.nominal, limit.unit, digits=5)
        share = _signed(100 * (found.value / limit.nominal - 1), 2)
        words += tr(", stated {stated}: {share} %").format(stated=stated, share=share)
    error = normalised_error(reference, limit, last)
    return number(words if error is None else f"{words}, E_n {_signed(error, 1)}")


def _signed(value: float, digits: int) -> str:
    """Write a number with its sign, and none where it rounds to nothing."""
    rounded = round(value, digits)
    return f"{rounded:+.{digits}f}".replace("-", "\N{MINUS SIGN}") if rounded else "0"


def _row(*widgets: QWidget) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(8)
    for widget in widgets:
        row.addWidget(widget)
    row.addStretch(1)
    return row
