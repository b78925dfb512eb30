"""Bars that show shares of a whole, and how much of a limit is used."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchapp.gui.gauge import Scale, paint_gauge
from benchapp.gui.theme import current

__all__ = ["ShareBar", "UseGauge", "scale_of_use"]

_WIDEST = 1.36  # uses of a limit that the gauge shows
_NEAR = 0.8


class _Bar(QWidget):
    def __init__(self, height: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._height = height
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """As wide as there is room."""
        return QSize(140, self._height)

    def minimumSizeHint(self) -> QSize:
        """Wide enough to tell a half from a third."""
        return QSize(60, self._height)


class ShareBar(_Bar):
    """A bar as long as its share of the whole, on a line as long as the whole."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(12, parent)
        self.share = 0.0

    def show_share(self, share: float, words: str) -> None:
        """Show a share from 0 to 1; ``words`` says it to a screen reader and on hover."""
        self.share = min(max(share, 0.0), 1.0)
        self.setAccessibleName(words)
        self.setToolTip(words)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the bar."""
        painter, theme = QPainter(self), current()
        area = QRectF(self.rect())
        painter.fillRect(area, theme.color("line"))
        painter.fillRect(
            QRectF(area.left(), area.top(), self.share * area.width(), area.height()),
            theme.color("fit"),
        )


def scale_of_use(use: float) -> Scale:
    """Lay out how much of a limit is used: allowed up to 1, hatched from 0.8 on."""
    place = min(max(use, 0.0), _WIDEST) / _WIDEST
    limit = 1 / _WIDEST
    return Scale(
        allowed=(0.0, limit),
        guards=((_NEAR * limit, limit),),
        value=place,
        whisker=(place, place),
        off=1 if use > _WIDEST else 0,
    )


class UseGauge(_Bar):
    """How much of a limit is used; empty where that cannot be judged."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(20, parent)
        self.scale: Scale | None = None

    def show_use(self, use: float | None, words: str) -> None:
        """Show seen over allowed; None where one of them is not known."""
        self.scale = None if use is None else scale_of_use(use)
        self.setAccessibleName(words)
        self.setToolTip(words)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the gauge."""
        if self.scale is not None:
            paint_gauge(QPainter(self), QRectF(self.rect()), self.scale, current())
