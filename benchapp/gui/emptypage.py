"""The page of a station whose subject is not there yet."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from benchapp.gui.labels import text
from benchapp.gui.words import tr

__all__ = ["EmptyPage", "no_capture", "no_nominal"]


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


def no_nominal(act: Callable[[], object]) -> EmptyPage:
    """Say that no design is open, and let one be opened."""
    words = tr(
        "A nominal design says what the part should be: its limits, the conditions they hold "
        "under, and how it is decided."
    )
    actions = [(tr("Open a nominal design…"), act)]
    return EmptyPage(tr("No nominal design is open"), words, actions)


def no_capture(act: Callable[[], object]) -> EmptyPage:
    """Say that no capture is open, and let one be opened."""
    words = tr(
        "Open the sweep or record that your instrument saved, or drop it here. It is never "
        "changed."
    )
    return EmptyPage(tr("No capture is open"), words, [(tr("Open a capture…"), act)])
