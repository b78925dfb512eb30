"""A page of columns beside each other, or below each other where the window is narrow."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

__all__ = ["ColumnsPage", "button_row"]

_NARROW = 1040  # pixels: below it the columns stand one below the other


class ColumnsPage(QScrollArea):
    """Columns of a calculator: what is typed at the left, what follows at the right."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self._columns = QHBoxLayout(sheet)
        self._columns.setContentsMargins(0, 0, 0, 0)
        self._columns.setSpacing(0)
        self.setWidget(sheet)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def add_column(self, stretch: int) -> QVBoxLayout:
        """Add a column at the right and give its layout."""
        frame = QFrame()
        frame.setObjectName("side" if self._columns.count() else "sheet")
        column = QVBoxLayout(frame)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(8)
        self._columns.addWidget(frame, stretch)
        return column

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the columns below each other where the window is narrow."""
        super().resizeEvent(event)
        narrow = event.size().width() < _NARROW
        self._columns.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )


def button_row(*buttons: QPushButton) -> QHBoxLayout:
    """Give a row of buttons that starts at the left."""
    row = QHBoxLayout()
    row.setSpacing(8)
    for button in buttons:
        row.addWidget(button)
    row.addStretch(1)
    return row
