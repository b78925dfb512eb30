"""Pages for what is not there yet: answers about a file, or the subject of a station."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontDatabase
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from benchapp.gui.labels import heading, muted, text
from benchapp.gui.memory import Memory
from benchapp.gui.session import Session
from benchapp.gui.understood import Understood
from benchapp.gui.words import tr
from benchapp.readers import Reading

__all__ = ["AskPage", "EmptyPage"]

_LINES = 8


def _centred(area: QScrollArea) -> QVBoxLayout:
    """Give a column in the middle of a page, no wider than is pleasant to read."""
    area.setWidgetResizable(True)
    sheet = QWidget()
    sheet.setObjectName("sheet")
    area.setWidget(sheet)
    row = QHBoxLayout(sheet)
    row.addStretch(1)
    column = QVBoxLayout()
    column.setSpacing(10)
    row.addLayout(column, 4)
    row.addStretch(1)
    return column


class EmptyPage(QScrollArea):
    """One sentence on what would be here, and the ways to get there."""

    def __init__(
        self,
        title: str,
        words: str,
        actions: Sequence[tuple[str, Callable[[], object]]],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        column = _centred(self)
        column.addStretch(2)
        column.addWidget(text(title, "title"))
        column.addWidget(text(words))
        row = QHBoxLayout()
        for at, (name, act) in enumerate(actions):
            button = QPushButton(name)
            button.setProperty("role", "" if at else "main")
            button.clicked.connect(lambda _on=False, act=act: act())
            row.addWidget(button)
        row.addStretch(1)
        column.addLayout(row)
        column.addStretch(3)


class AskPage(QScrollArea):
    """What a file does not say and only a person knows, beside its first lines as written."""

    def __init__(self, session: Session, memory: Memory, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._memory = session, memory
        self._reading: Reading | None = None
        column = _centred(self)
        column.setContentsMargins(0, 24, 0, 24)
        self.title = text("", "title")
        column.addWidget(self.title)
        column.addWidget(
            text(tr("The file stays as it is; the answers are kept for files laid out alike."))
        )
        column.addWidget(heading(tr("First lines of the file")))
        self.lines = muted("", wrap=False)
        self.lines.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        column.addWidget(self.lines)
        self.understood = Understood()
        self.understood.answered.connect(self._answer)
        column.addWidget(self.understood)
        column.addStretch(1)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        session.asked.connect(self.ask)

    def ask(self, reading: Reading) -> None:
        """Ask what this file does not say."""
        self._reading = reading
        name = Path(reading.source).name
        self.title.setText(tr("{name} does not say everything").format(name=name))
        self.lines.setText("\n".join(line[:110] for line in reading.sample[:_LINES]))
        self.understood.show_reading(reading)

    def _answer(self, given: dict[str, object]) -> None:
        if self._reading is not None:
            self._memory.keep_answers(self._reading.layout, given)
            self._session.answer(self._reading.source, given)
