"""The strip of the instrument: output state, take, stop, off, wherever the person is."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QPushButton, QWidget

from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import Elided, muted, set_role, text
from benchapp.gui.words import tr

__all__ = ["TakeStrip", "output_words"]

_SERIAL = 110


def output_words(output: str, bias: str) -> tuple[str, str]:
    """Say what is on, and in which role of the style sheet: never by colour alone."""
    if bias == "on":
        return tr("BIAS ON · do not disconnect"), "stop"
    if bias == "unknown":
        return tr("BIAS UNKNOWN · do not disconnect"), "stop"
    if output == "on":
        return tr("OUTPUT ON"), "doubt"
    if output == "unknown":
        return tr("OUTPUT UNKNOWN · switch it off at the instrument"), "stop"
    return tr("output off"), "good"


class TakeStrip(QFrame):
    """Output state and the acts at the instrument; hidden where none is set up.

    Signals
    -------
    asked()
        Take the next sweep.
    """

    asked = Signal()

    def __init__(self, instrument: Instrument, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        self._instrument = instrument
        self.state = text("", "good", wrap=False)
        self.part = QLineEdit()
        self.part.setFixedWidth(_SERIAL)
        self.part.setAccessibleName(tr("Serial number of the next part"))
        self.part.setToolTip(tr("Serial number of the next part; it counts on by itself"))
        self.part.textEdited.connect(lambda words: instrument.texts.update(part=words))
        self.doing = Elided("muted")
        self.take = QPushButton(tr("Take sweep"))
        self.take.setProperty("role", "main")
        self.take.setToolTip(tr("Measure the part that is connected (Space)"))
        self.take.clicked.connect(lambda _on=False: self.asked.emit())
        self.stopper = QPushButton(tr("Stop"))
        self.stopper.setToolTip(tr("Stop and keep the points so far (Esc)"))
        self.stopper.clicked.connect(lambda _on=False: instrument.stop())
        self.off = QPushButton(tr("Output off"))
        self.off.setToolTip(tr("Bring the bias to zero and switch the output off now (F9)"))
        self.off.clicked.connect(lambda _on=False: instrument.switch_off())
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 4, 12, 4)
        row.setSpacing(10)
        row.addWidget(self.state)
        row.addWidget(self.doing, 1)
        row.addWidget(muted(tr("Part"), wrap=False))
        for widget in (self.part, self.take, self.stopper, self.off):
            row.addWidget(widget)
        instrument.changed.connect(self.refresh)
        instrument.grew.connect(self._progress)
        self.refresh()

    def refresh(self) -> None:
        """Show what holds now."""
        instrument = self._instrument
        self.setVisible(bool(instrument.address))
        words, role = output_words(instrument.output, instrument.bias)
        self.state.setText(words)
        set_role(self.state, role)
        if self.part.text() != instrument.texts["part"]:
            self.part.setText(instrument.texts["part"])
        self.take.setEnabled(not instrument.obstacle)
        self.stopper.setEnabled(instrument.is_busy)
        self._progress()

    def _progress(self) -> None:
        instrument = self._instrument
        words, fraction = instrument.progress
        busy = instrument.is_busy
        shown = f"{words} · {round(100 * fraction)} %" if words else tr("connecting")
        self.doing.setText(shown if busy else instrument.identity or instrument.address)
