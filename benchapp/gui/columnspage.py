"""A page of columns that stand beside each other as far as the window is wide enough."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

__all__ = ["ColumnsPage", "button_row"]


class ColumnsPage(QScrollArea):
    """Columns of a calculator: what is typed at the left, what follows at the right.

    All stand beside each other where they fit; else the first stays at the left and the others
    stand below each other beside it; else all stand below each other.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._frames: list[tuple[QFrame, int]] = []
        self._arranged = 0
        self._is_stale = False
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self._grid = QGridLayout(sheet)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(0)
        self.setWidget(sheet)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        sheet.installEventFilter(self)

    def add_column(self, stretch: int) -> QVBoxLayout:
        """Add a column at the right and give its layout."""
        frame = QFrame()
        frame.setObjectName("side" if self._frames else "sheet")
        column = QVBoxLayout(frame)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(8)
        self._frames.append((frame, stretch))
        self._grid.addWidget(frame, 0, len(self._frames) - 1)
        self._arranged = 0
        return column

    def refresh(self) -> None:
        """Show what holds now. Each view says how; a page as such has nothing to show."""

    def follow(self) -> None:
        """Show what holds now, or once the page is seen: nobody waits for a hidden one."""
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with what changed while the page was hidden."""
        super().showEvent(event)
        if self._is_stale:
            self._is_stale = False
            self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Arrange the columns anew."""
        super().resizeEvent(event)
        self._arrange()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Arrange the columns anew when one of them needs more room, or less."""
        if event.type() == QEvent.Type.LayoutRequest:
            self._arrange()
        return super().eventFilter(watched, event)

    def _fitting(self) -> int:
        """Give how many columns fit beside each other."""
        widths = [frame.minimumSizeHint().width() for frame, _ in self._frames]
        room = self.viewport().width()
        if sum(widths) <= room:
            return len(widths)
        return 2 if widths[0] + max(widths[1:]) <= room else 1

    def _arrange(self) -> None:
        if not self._frames or (abreast := self._fitting()) == self._arranged:
            return
        self._arranged = abreast
        for frame, _ in self._frames:
            self._grid.removeWidget(frame)
        for place, (frame, stretch) in enumerate(self._frames):
            self._grid.setColumnStretch(place, 0)
            if abreast == len(self._frames):
                self._grid.addWidget(frame, 0, place)
                self._grid.setColumnStretch(place, stretch)
            elif abreast == 1:
                self._grid.addWidget(frame, place, 0)
            elif place == 0:
                self._grid.addWidget(frame, 0, 0, len(self._frames) - 1, 1)
            else:
                self._grid.addWidget(frame, place - 1, 1)
        if abreast < len(self._frames):
            for place in range(abreast):
                self._grid.setColumnStretch(place, self._frames[place][1])


def button_row(*buttons: QPushButton) -> QHBoxLayout:
    """Give a row of buttons that starts at the left."""
    row = QHBoxLayout()
    row.setSpacing(8)
    for button in buttons:
        row.addWidget(button)
    row.addStretch(1)
    return row
