"""The line below the plots that says what each sign means, and never wraps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchapp.gui.theme import Theme, current

__all__ = ["Legend", "Sign"]

_SIGN_WIDTH = 18
_GAP = 16


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign of the plots: its shape, the name of its colour, what it stands for."""

    shape: str
    color: str
    words: str


class Legend(QWidget):
    """Signs with their words on one line; the last ones are left out where there is no room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._signs: tuple[Sign, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_signs(self, signs: Sequence[Sign]) -> None:
        """Show these, the most needed first."""
        self._signs = tuple(signs)
        self.setAccessibleName(", ".join(sign.words for sign in signs))
        self.setToolTip("\n".join(sign.words for sign in signs))
        self.update()

    def fitting(self) -> tuple[Sign, ...]:
        """Give the signs that have room."""
        shown, used = [], 0
        for sign in self._signs:
            used += _SIGN_WIDTH + self.fontMetrics().horizontalAdvance(sign.words) + 2 + _GAP
            if used - _GAP > self.width():
                break
            shown.append(sign)
        return tuple(shown)

    def sizeHint(self) -> QSize:
        """One line high."""
        return QSize(300, self.fontMetrics().height() + 4)

    def minimumSizeHint(self) -> QSize:
        """Any width will do."""
        return QSize(60, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the line."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, x = current(), 0
        for sign in self.fitting():
            place = QRectF(x, 0, _SIGN_WIDTH - 5, self.height())
            _paint_sign(painter, sign, place, theme)
            painter.setPen(theme.color("muted"))
            width = self.fontMetrics().horizontalAdvance(sign.words) + 2
            words = QRectF(x + _SIGN_WIDTH, 0, width, self.height())
            painter.drawText(words, Qt.AlignmentFlag.AlignVCenter, sign.words)
            x += _SIGN_WIDTH + width + _GAP


def _paint_sign(painter: QPainter, sign: Sign, place: QRectF, theme: Theme) -> None:
    color, middle = theme.color(sign.color), place.center()
    painter.setPen(QPen(color, 1.6))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if sign.shape == "line":
        painter.drawLine(QPointF(place.left(), middle.y()), QPointF(place.right(), middle.y()))
    elif sign.shape == "ring":
        painter.drawEllipse(middle, 3.6, 3.6)
    elif sign.shape == "plus":
        for dx, dy in ((3.5, 0), (0, 3.5)):
            painter.drawLine(middle - QPointF(dx, dy), middle + QPointF(dx, dy))
    elif sign.shape == "square":
        painter.drawRect(QRectF(middle.x() - 3.6, middle.y() - 3.6, 7.2, 7.2))
    elif sign.shape == "band":
        painter.fillRect(
            place.adjusted(0, place.height() / 4, 0, -place.height() / 4), theme.band_fill
        )
    else:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(color)
        if sign.shape == "diamond":
            corners = [QPointF(0, -5), QPointF(4.5, 0), QPointF(0, 5), QPointF(-4.5, 0)]
            painter.drawPolygon(QPolygonF([middle + corner for corner in corners]))
        else:
            painter.drawEllipse(middle, 2.6, 2.6)
