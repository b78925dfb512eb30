"""The strips that tell: a message below the job line, work and cancel at the foot."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.labels import Elided, muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.session import Message
from benchapp.gui.words import tr

__all__ = ["FootStrip", "MessageStrip"]

_DOING = 360  # pixels that the words on the work may take
_SHORT_MS = 200  # work that is done sooner is not worth a flicker
_WORDS = {"stop": "stop", "doubt": "warning", "note": "note", "good": "done"}


class MessageStrip(QFrame):
    """One sentence and what to do about it, until it is closed or settled."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("message")
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 8, 12, 8)
        row.setSpacing(12)
        self._mark = Mark(22)
        self.words, self.hint = text("", "heading"), muted()
        for label in (self.words, self.hint):
            label.setTextInteractionFlags(
                Qt.TextInteractionFlag.TextSelectableByMouse
                | Qt.TextInteractionFlag.TextSelectableByKeyboard
            )
        column = QVBoxLayout()
        column.setSpacing(2)
        column.addWidget(self.words)
        column.addWidget(self.hint)
        self.closer = QPushButton(tr("Close"))
        self.closer.setAccessibleName(tr("Close this message"))
        self.closer.clicked.connect(self.hide)
        row.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addLayout(column, 1)
        row.addWidget(self.closer, 0, Qt.AlignmentFlag.AlignTop)
        self.hide()

    def tell(self, message: Message | None) -> None:
        """Show a message; None takes it away."""
        self.setVisible(message is not None)
        if message is None:
            return
        self._mark.set_mark(message.mark, tr(_WORDS[message.mark]))
        self.words.setText(message.text)
        self.hint.setText(message.hint)
        self.hint.setVisible(bool(message.hint))
        self.setAccessibleName(f"{tr(_WORDS[message.mark])}: {message.text} {message.hint}")


class FootStrip(QFrame):
    """Where the work comes from at the left; what is being done, and Cancel, at the right.

    Signals
    -------
    cancelled()
        The person wants the work to stop.
    retried()
        The person wants what was not kept to be kept now.
    """

    cancelled = Signal()
    retried = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 3, 12, 3)
        row.setSpacing(12)
        self.source = Elided("muted")
        self.doing = Elided("muted")
        self.doing.setMaximumWidth(_DOING)
        self.bar = QProgressBar()
        self.bar.setRange(0, 100)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(120, 8)
        self.canceller = QPushButton(tr("Cancel"))
        self.canceller.clicked.connect(self.cancelled)
        self.kept = Elided("muted")
        self.kept.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        row.addWidget(self.source, 1)
        self.retry = QPushButton(tr("Retry"))
        self.retry.setToolTip(tr("Try once more to keep what could not be kept"))
        self.retry.clicked.connect(self.retried)
        self.retry.hide()
        row.addWidget(self.kept)
        row.addWidget(self.retry)
        for widget in (self.doing, self.bar, self.canceller):
            row.addWidget(widget)
        self.setFixedHeight(self.canceller.sizeHint().height() + 8)
        self._delay = QTimer(self, singleShot=True, interval=_SHORT_MS)
        self._delay.timeout.connect(lambda: self._show_work(shown=True))
        self.show_busy(busy=False)

    def show_sources(self, paths: Sequence[str], kept: str = "", *, lost: bool = False) -> None:
        """Show the names of the files in use, and whether what is measured is kept."""
        self.kept.setText(kept)
        self.kept.set_color("stop" if lost else "muted")
        self.retry.setVisible(lost)
        self.source.setText(" · ".join(Path(path).name for path in paths))
        self.source.setToolTip("\n".join(paths))

    def show_busy(self, *, busy: bool) -> None:
        """Show that something is being done, once it takes longer than a moment."""
        if not busy:
            self._delay.stop()
            self._show_work(shown=False)
        elif self.canceller.isHidden() and not self._delay.isActive():
            self.show_progress(tr("working"), 0.0)
            self._delay.start()

    def _show_work(self, *, shown: bool) -> None:
        for widget in (self.doing, self.bar, self.canceller):
            widget.setVisible(shown)

    def show_progress(self, words: str, fraction: float) -> None:
        """Show what is being done and how much of it is done."""
        self.doing.setText(words)
        self.bar.setValue(round(100 * fraction))
        self.bar.setAccessibleName(words)
