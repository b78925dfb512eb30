"""The gauge study while it is measured: who is next, under which label, and the value."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.errors import BenchError
from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import Notice, muted, set_role, set_wrong, text
from benchapp.gui.study import Study
from benchapp.gui.words import tr

__all__ = ["StudyBench"]

_LETTERS = 44  # pixels
_NARROW = 220


class _Entry(QLineEdit):
    """The field of the value; Space in an empty one is for the window, which takes a sweep."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave Space to the window as long as nothing is typed."""
        if event.key() == Qt.Key.Key_Space and not self.text():
            event.ignore()
            return
        super().keyPressEvent(event)


class StudyBench(QWidget):
    """One measurement after the other, blind: no part and no earlier value is shown.

    Signals
    -------
    wants_sweep(), wants_capture()
        Take a sweep; choose the file of a capture.
    """

    wants_sweep = Signal()
    wants_capture = Signal()

    def __init__(
        self, study: Study, instrument: Instrument, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._study, self._instrument = study, instrument
        self._asked: float | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 16, 24, 14)
        column.setSpacing(12)
        self.progress = muted()
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(8)
        self.bar.setAccessibleName(tr("measurements made"))
        column.addWidget(self.progress)
        column.addWidget(self.bar)
        column.addWidget(self._card())
        self.turn = text("", "doubt")
        self.caution = Notice(
            tr(
                "A bias is on, or may be: do not disconnect the part. Switch the output off (F9) "
                "before the next one. Follow the rules of your workplace."
            )
        )
        self.trouble, self.how = text("", "stop"), muted()
        column.addWidget(self.turn)
        column.addWidget(self.caution)
        column.addLayout(self._entry())
        column.addWidget(self.trouble)
        column.addWidget(self.how)
        column.addStretch(1)
        column.addLayout(self._ways_out())
        study.changed.connect(self.show_study)
        instrument.changed.connect(self._show_instrument)

    def _card(self) -> QFrame:
        """Say in large letters who measures which label."""
        card = QFrame()
        card.setObjectName("box")
        row = QHBoxLayout(card)
        row.setContentsMargins(20, 14, 20, 14)
        row.setSpacing(40)
        self.person, self.label = _large(), _large()
        for words, widget in (
            (tr("person"), self.person),
            (tr("part with the label"), self.label),
        ):
            pair = QVBoxLayout()
            pair.setSpacing(2)
            pair.addWidget(muted(words, wrap=False))
            pair.addWidget(widget)
            row.addLayout(pair, 1)
        return card

    def _entry(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(8)
        self.value = _Entry()
        self.value.setAccessibleName(tr("value measured"))
        self.value.setMinimumWidth(_NARROW)
        self.value.returnPressed.connect(self._take_typed)
        self.value.textEdited.connect(self._forget)
        self.taker = QPushButton(tr("Take the value"))
        self.taker.clicked.connect(self._take_typed)
        self.sweep = QPushButton(tr("Measure"))
        self.sweep.setToolTip(tr("Take a sweep of the part in the clip (Space)"))
        self.sweep.clicked.connect(self.wants_sweep)
        self.capture = QPushButton(tr("Open a capture…"))
        self.capture.setToolTip(tr("The quantity is taken from the fit of a saved capture"))
        self.capture.clicked.connect(self.wants_capture)
        for widget in (self.value, self.taker, self.sweep, self.capture):
            row.addWidget(widget)
        row.addStretch(1)
        return row

    def _ways_out(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.undo = QPushButton(tr("Take the last value back"))
        self.undo.setToolTip(tr("It is measured once more (Ctrl+Z)"))
        self.undo.clicked.connect(self._study.undo)
        self.away = QPushButton(tr("Put the study away"))
        self.away.setToolTip(tr("It can be gone on with at any time: it is in its file"))
        self.away.clicked.connect(self._study.leave)
        self.kept = muted("", wrap=False)
        row.addWidget(self.undo)
        row.addWidget(self.away)
        row.addSpacing(12)
        row.addWidget(self.kept)
        row.addStretch(1)
        return row

    def _forget(self) -> None:
        """Ask anew about what is typed anew."""
        self._asked = None
        set_wrong(self.value, wrong=False)
        self._tell("")

    def _take_typed(self) -> None:
        study, words = self._study, self.value.text().strip()
        if not words:
            self._tell(tr("Type the value with its unit, then press Enter."))
            return
        try:
            value = study.read(words)
        except BenchError as error:
            self._refuse(f"{error.message} {error.hint}".strip())
            return
        if self._asked != value and study.is_far(value):
            self._refuse(
                tr(
                    "This is far from every value so far: look at the unit and the decimal mark. "
                    "If it is right, press Enter once more."
                )
            )
            self._asked = value
            return
        study.take(value)

    def _refuse(self, words: str) -> None:
        set_wrong(self.value, wrong=True)
        self._tell(words)

    def _tell(self, words: str) -> None:
        self.trouble.setText(words)
        self.trouble.setVisible(bool(words))

    def show_study(self) -> None:
        """Show what is next; nothing of what was measured before."""
        study = self._study
        if not study.is_measuring:
            return
        sheet = study.sheet
        at, act = sheet.position, sheet.next
        self.value.clear()
        self._forget()
        self.person.setText(act.person)
        self.label.setText(act.blind or act.part)
        words = tr("{name}measurement {n} of {of}, trial {trial}")
        name = f"{sheet.quantity}: " if sheet.quantity else ""
        of = len(sheet.readings)
        self.progress.setText(words.format(name=name, n=sheet.taken + 1, of=of, trial=act.trial))
        self.bar.setMaximum(of)
        self.bar.setValue(sheet.taken)
        before = sheet.readings[at - 1].person if at else act.person
        turn = tr("Another person measures now: {person}.").format(person=act.person)
        self.turn.setText(turn if before != act.person else "")
        self.turn.setVisible(before != act.person)
        self.kept.setText(tr("kept in {name}").format(name=Path(study.path).name))
        self.kept.setToolTip(study.path)
        self.value.setPlaceholderText(self._wanted())
        self._show_instrument()

    def _wanted(self) -> str:
        """Say what is to be typed: the unit stays that of the value before."""
        study = self._study
        if study.typed_unit:
            return tr("value, in {unit}").format(unit=study.typed_unit)
        return tr("value with its unit") if study.sheet.unit else tr("value")

    def _show_instrument(self) -> None:
        instrument, study = self._instrument, self._study
        if not study.is_measuring:
            return
        ready, free = bool(instrument.address), not study.is_waiting
        named = bool(study.sheet.quantity)
        for widget in (self.value, self.taker):
            widget.setEnabled(free)
        self.sweep.setEnabled(ready and named and free and not instrument.is_busy)
        self.capture.setEnabled(named and free)
        self.undo.setEnabled(study.can_undo)
        set_role(self.sweep, "main" if ready and named else "")
        set_role(self.taker, "" if ready and named else "main")
        self.caution.setVisible(instrument.bias != "off" or instrument.output == "unknown")
        self.how.setText(self._how(ready=ready, named=named))

    def _how(self, *, ready: bool, named: bool) -> str:
        anew = tr("Take the part out and place it anew for every measurement.")
        if self._study.is_waiting:
            return tr("The capture is being measured…")
        if not named:
            return f"{anew} {tr('The file does not name the quantity: type the values.')}"
        if ready:
            return f"{anew} {tr('Space takes a sweep; a value that is typed counts as well.')}"
        return f"{anew} {tr('Type the value, or drop a capture here.')}"


def _large() -> QLabel:
    label = text("", wrap=False)
    font = QFont(label.font())
    font.setPixelSize(_LETTERS)
    font.setWeight(QFont.Weight.Bold)
    label.setFont(font)
    return label
