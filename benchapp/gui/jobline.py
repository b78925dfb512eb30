"""The job line across the top: stations in the order of the work, joined by a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QHBoxLayout, QSizePolicy, QWidget

from benchapp.gui.marks import paint_mark
from benchapp.gui.theme import current
from benchapp.gui.words import tr

__all__ = ["PART", "JobLine", "StationButton", "StationState"]

_MARK = 18
_INDENT = 13
_LEFT, _RIGHT = _INDENT + _MARK + 7, 4
_GAP = 8
PART = " · "
"""What stands between two parts of a line of state."""
_WIDEST = 420


@dataclass(frozen=True, slots=True, kw_only=True)
class StationState:
    """What a station says of itself: the mark, its meaning in one or two words, and one line."""

    mark: str
    word: str
    line: str


class StationButton(QAbstractButton):
    """One station: name, state mark and one line of live state."""

    def __init__(self, name: str, number: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setText(tr(name))
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMaximumWidth(_WIDEST)
        self.joined = number > 1
        self._number = number
        self._state = StationState(mark="empty", word="", line="")

    @property
    def state(self) -> StationState:
        """What the station says of itself."""
        return self._state

    def set_state(self, state: StationState) -> None:
        """Say something else."""
        self._state = state
        self.setAccessibleName(f"{self.text()}: {state.word}. {state.line}")
        shortcut = tr("Ctrl+{n} goes here").format(n=self._number)
        self.setToolTip(f"{state.word}: {state.line}\n{shortcut}" if state.line else shortcut)
        self.update()

    def sizeHint(self) -> QSize:
        """Room for both lines."""
        metrics = self.fontMetrics()
        return QSize(230, 2 * metrics.height() + 26)

    def minimumSizeHint(self) -> QSize:
        """Narrow enough for six stations in a small window."""
        return QSize(120, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the station; the chosen one is a tab joined to the page below."""
        theme = current()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ground = "paper"
        if self.isChecked():
            ground = "card"
            self._paint_tab(painter)
        elif self.underMouse():
            painter.fillRect(self.rect().adjusted(2, 8, -2, -4), theme.color("line", 90))
        mark = QRectF(_INDENT, 0, _MARK, _MARK)
        height = self.fontMetrics().height()
        top = (self.height() - 2 * height - 4) / 2 + 1
        mark.moveTop(top + (height - _MARK) / 2)
        paint_mark(painter, mark, self._state.mark, theme, ground)
        if self.joined:
            painter.setPen(QPen(theme.color("edge"), 1))
            painter.drawLine(QPointF(0, mark.center().y()), QPointF(9, mark.center().y()))
        painter.setFont(self._bold())
        painter.setPen(theme.color("ink"))
        place = QRectF(_LEFT, top, self._room(), height)
        painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, self.text())
        painter.setFont(self.font())
        painter.setPen(theme.color("muted"))
        beside, below = self.shown_words()
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.drawText(place.adjusted(self._named(), 0, 0, 0), middle, beside)
        painter.drawText(place.translated(0, height + 4), middle, below)
        if self.hasFocus():
            painter.setPen(QPen(theme.color("fit"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(4, 9, -4, -5), 5, 5)

    def _bold(self) -> QFont:
        bold = QFont(self.font())
        bold.setWeight(QFont.Weight.DemiBold)
        return bold

    def _room(self) -> int:
        return self.width() - _LEFT - _RIGHT

    def _named(self) -> int:
        """Give how far the name reaches, with the space after it."""
        return QFontMetrics(self._bold()).horizontalAdvance(self.text()) + _GAP

    def shown_words(self) -> tuple[str, str]:
        """Give what has room beside the name, and below it.

        Where the state's word has no room beside the name it goes before the line. Of the line
        those parts are left out, from its end, that have no room; the first is cut if it must.
        """
        word, line = self._state.word, self._state.line
        if self.fontMetrics().horizontalAdvance(word) > self._room() - self._named():
            word, line = "", f"{word}{PART}{line}" if line else word
        return word, _whole_parts(line, self.fontMetrics(), self._room())

    def _paint_tab(self, painter: QPainter) -> None:
        theme = current()
        area = QRectF(self.rect()).adjusted(0.5, 6.5, -0.5, 8)
        path = QPainterPath()
        path.addRoundedRect(area, 8, 8)
        painter.setPen(QPen(theme.color("line"), 1))
        painter.setBrush(theme.color("card"))
        painter.drawPath(path)


def _whole_parts(line: str, metrics: QFontMetrics, room: int) -> str:
    """Give as many parts of a line as have room; the first one alone is cut where it must be."""
    parts = line.split(PART)
    for kept in range(len(parts), 0, -1):
        more = "" if kept == len(parts) else " …"
        words = PART.join(parts[:kept]) + more
        if metrics.horizontalAdvance(words) <= room:
            return words
    return metrics.elidedText(parts[0], Qt.TextElideMode.ElideRight, room)


class JobLine(QWidget):
    """The row of stations, the last one apart, and at its right end whatever is put there.

    Signals
    -------
    chosen(index)
        A station was pressed.
    """

    chosen = Signal(int)

    def __init__(self, names: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(tr("Job line"))
        self.buttons = [
            StationButton(name, number, self) for number, name in enumerate(names, start=1)
        ]
        self._layout = QHBoxLayout(self)
        self._layout.setContentsMargins(8, 0, 12, 0)
        self._layout.setSpacing(0)
        for at, button in enumerate(self.buttons):
            button.clicked.connect(lambda _checked=False, at=at: self.chosen.emit(at))
            if button is self.buttons[-1]:
                button.joined = False
                self._layout.addSpacing(10)
            self._layout.addWidget(button, 4)
        self._layout.addStretch(0)

    def add_at_end(self, widget: QWidget) -> None:
        """Put a widget at the right end."""
        self._layout.addSpacing(14)
        self._layout.addWidget(widget)

    def show_chosen(self, index: int) -> None:
        """Show which station the page below belongs to; -1 for none."""
        for at, button in enumerate(self.buttons):
            button.setChecked(at == index)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the ground and the line on which the tabs stand."""
        painter = QPainter(self)
        theme = current()
        painter.fillRect(self.rect(), theme.color("paper"))
        painter.setPen(QPen(theme.color("line"), 1))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
