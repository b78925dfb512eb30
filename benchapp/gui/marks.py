"""The shapes that stand beside every state word, so that colour is never the only sign."""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QIcon,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPixmap,
    QPixmapCache,
    QPolygonF,
)
from PySide6.QtWidgets import QWidget

from benchapp.gui.theme import Theme, current
from benchapp.nominal import Outcome

__all__ = ["MARKS", "ROLES", "Mark", "mark_icon", "mark_of", "paint_mark"]


def _circle(painter: QPainter, ink: QColor, _ground: QColor) -> None:
    painter.setBrush(ink)
    painter.drawEllipse(QPointF(0.5, 0.5), 0.46, 0.46)


def _stroke(painter: QPainter, color: QColor, *lines: tuple[QPointF, ...]) -> None:
    pen = QPen(color, 0.11, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for line in lines:
        painter.drawPolyline(QPolygonF(line))


def _exclaim(painter: QPainter, color: QColor, top: float, bottom: float) -> None:
    _stroke(painter, color, (QPointF(0.5, top), QPointF(0.5, bottom)))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(color)
    painter.drawEllipse(QPointF(0.5, bottom + 0.17), 0.065, 0.065)


def _tick(painter: QPainter, ink: QColor, ground: QColor) -> None:
    _circle(painter, ink, ground)
    _stroke(painter, ground, (QPointF(0.29, 0.52), QPointF(0.44, 0.67), QPointF(0.71, 0.36)))


def _triangle(painter: QPainter, ink: QColor, ground: QColor) -> None:
    painter.setBrush(ink)
    painter.drawPolygon(QPolygonF([QPointF(0.5, 0.05), QPointF(0.99, 0.93), QPointF(0.01, 0.93)]))
    _exclaim(painter, ground, 0.36, 0.62)


def _diamond(painter: QPainter, ink: QColor, ground: QColor) -> None:
    corners = [(0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5)]
    painter.setBrush(ink)
    painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in corners]))
    _exclaim(painter, ground, 0.28, 0.54)


def _octagon(painter: QPainter, ink: QColor, ground: QColor) -> None:
    turns = [math.radians(22.5 + 45 * k) for k in range(8)]
    corners = [QPointF(0.5 + 0.5 * math.cos(t), 0.5 + 0.5 * math.sin(t)) for t in turns]
    painter.setBrush(ink)
    painter.drawPolygon(QPolygonF(corners))
    low, high = 0.33, 0.67
    _stroke(
        painter,
        ground,
        (QPointF(low, low), QPointF(high, high)),
        (QPointF(low, high), QPointF(high, low)),
    )


def _ring(painter: QPainter, ink: QColor, _ground: QColor) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ink, 0.14))
    painter.drawEllipse(QPointF(0.5, 0.5), 0.38, 0.38)


def _barred_ring(painter: QPainter, ink: QColor, ground: QColor) -> None:
    _ring(painter, ink, ground)
    _stroke(painter, ink, (QPointF(0.34, 0.5), QPointF(0.66, 0.5)))


def _half_ring(painter: QPainter, ink: QColor, ground: QColor) -> None:
    _ring(painter, ink, ground)
    path = QPainterPath(QPointF(0.5, 0.5))
    path.arcTo(QRectF(0.12, 0.12, 0.76, 0.76), 90, -180)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    painter.drawPath(path)


def _dot(painter: QPainter, ink: QColor, _ground: QColor) -> None:
    painter.setBrush(ink)
    painter.drawEllipse(QPointF(0.5, 0.5), 0.3, 0.3)


_Drawing = Callable[[QPainter, QColor, QColor], None]
# Shape and colour by what is said.
MARKS: dict[str, tuple[_Drawing, str]] = {
    "good": (_tick, "good"),
    "doubt": (_triangle, "doubt"),
    "bad": (_diamond, "stop"),
    "stop": (_octagon, "stop"),
    "unknown": (_barred_ring, "muted"),
    "empty": (_ring, "muted"),
    "working": (_half_ring, "fit"),
    "note": (_dot, "muted"),
}
_OUTCOME_MARKS = {
    Outcome.PASS: "good",
    Outcome.CONDITIONAL_PASS: "doubt",
    Outcome.CONDITIONAL_FAIL: "bad",
    Outcome.FAIL: "stop",
    Outcome.NOT_JUDGED: "unknown",
}


ROLES = {outcome: MARKS[mark][1] for outcome, mark in _OUTCOME_MARKS.items()}
"""Role of the style sheet for the words of an outcome."""


def mark_of(outcome: Outcome) -> str:
    """Give the mark of an outcome."""
    return _OUTCOME_MARKS[outcome]


def paint_mark(painter: QPainter, area: QRectF, mark: str, theme: Theme, ground: str) -> None:
    """Paint a mark as large as fits a square in ``area``, on the colour named ``ground``."""
    draw, ink = MARKS[mark]
    side = min(area.width(), area.height())
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(area.center().x() - side / 2, area.center().y() - side / 2)
    painter.scale(side, side)
    painter.setPen(Qt.PenStyle.NoPen)
    draw(painter, theme.color(ink), theme.color(ground))
    painter.restore()


def mark_icon(name: str, side: int = 16) -> QIcon:
    """Give a mark as an icon for a row of a list or a table."""
    theme = current()
    key = f"benchapp mark {name} {theme.name} {side}"
    picture = QPixmap()
    if not QPixmapCache.find(key, picture):
        picture = QPixmap(side * 2, side * 2)
        picture.fill(QColor(0, 0, 0, 0))
        painter = QPainter(picture)
        paint_mark(painter, QRectF(1, 1, 2 * side - 2, 2 * side - 2), name, theme, "raised")
        painter.end()
        QPixmapCache.insert(key, picture)
    icon = QIcon(picture)
    icon.addPixmap(picture, QIcon.Mode.Selected)  # a mark keeps its colour in a chosen row
    return icon


class Mark(QWidget):
    """One mark of a fixed size as a widget."""

    def __init__(self, side: int, ground: str = "card", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ground = ground
        self._mark = "empty"
        self.setFixedSize(QSize(side, side))

    @property
    def mark(self) -> str:
        """Which mark is shown."""
        return self._mark

    def set_mark(self, mark: str, words: str) -> None:
        """Show ``mark``; ``words`` is what a screen reader says for it."""
        self._mark = mark
        self.setAccessibleName(words)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the mark."""
        painter = QPainter(self)
        paint_mark(painter, QRectF(self.rect()), self._mark, current(), self._ground)
