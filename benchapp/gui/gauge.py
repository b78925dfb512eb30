"""The band gauge: where a value lies in its allowed range, guard bands and U included.

The scale is worked out as plain numbers first (`scale_of`), then painted.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchapp.gui.theme import Theme, current
from benchapp.gui.words import outcome_words, quantity, range_words, symbol, tr, with_expanded
from benchapp.nominal import Limit, LimitVerdict

__all__ = ["BandGauge", "Scale", "paint_gauge", "scale_of"]

_MARGIN = 0.36  # of the allowed range, shown outside each limit
_OPEN = 0.5  # of a single limit, shown on its allowed side at least
_FURTHEST = 4.0  # of a single limit, shown on its allowed side at most


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A gauge in fractions of its width: 0 is the left end, 1 the right end.

    ``allowed`` is the bar, ``guards`` the hatched parts of it, ``value`` the diamond (None where
    nothing was measured), ``whisker`` value ± U cut at the ends. ``off`` is -1 or 1 where the
    value lies beyond the left or right end, else 0.
    """

    allowed: tuple[float, float]
    guards: tuple[tuple[float, float], ...] = ()
    nominal: float | None = None
    value: float | None = None
    whisker: tuple[float, float] | None = None
    off: int = 0


def _ends(limit: Limit, value: float | None) -> tuple[float, float]:
    """Give the values at the two ends of the gauge."""
    low, high = limit.lower, limit.upper
    if low is not None and high is not None:
        pad = _MARGIN * (high - low)
        return low - pad, high + pad
    edge = high if high is not None else low
    if edge is None:
        return 0.0, 1.0
    reach = max(abs(edge) * _OPEN, 1.25 * abs((value or edge) - edge))
    reach = min(reach, abs(edge) * _FURTHEST) or 1.0
    if low is None:
        start = 0.0 if edge > 0 else edge - reach
        return start, edge + _MARGIN * (edge - start)
    return edge - _MARGIN * reach, edge + reach


def scale_of(entry: LimitVerdict) -> Scale:
    """Work out where everything of one judged limit stands on its gauge."""
    limit = entry.limit
    value = None if entry.measured is None else entry.measured.value
    left, right = _ends(limit, value)

    def place(x: float) -> float:
        return min(max((x - left) / (right - left), 0.0), 1.0)

    allowed = (
        0.0 if limit.lower is None else place(limit.lower),
        1.0 if limit.upper is None else place(limit.upper),
    )
    reach = min((entry.guard or 0.0) / (right - left), allowed[1] - allowed[0])
    guards = []
    if reach > 0 and limit.lower is not None:
        guards.append((allowed[0], allowed[0] + reach))
    if reach > 0 and limit.upper is not None:
        guards.append((allowed[1] - reach, allowed[1]))
    nominal = None if limit.nominal is None else place(limit.nominal)
    if value is None:
        return Scale(allowed=allowed, guards=tuple(guards), nominal=nominal)
    spread = entry.expanded or 0.0
    return Scale(
        allowed=allowed,
        guards=tuple(guards),
        nominal=nominal,
        value=place(value),
        whisker=(place(value - spread), place(value + spread)),
        off=(value > right) - (value < left),
    )


def paint_gauge(painter: QPainter, area: QRectF, scale: Scale, theme: Theme) -> None:
    """Paint ``scale`` into ``area``: axis, allowed bar, guard bands, nominal, whisker, diamond."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    size = area.height() / 2
    track = area.adjusted(size, 0, -size, 0)
    middle = area.center().y()

    def x(fraction: float) -> float:
        return track.left() + fraction * track.width()

    painter.setPen(QPen(theme.color("line"), 2))
    painter.drawLine(QPointF(track.left(), middle), QPointF(track.right(), middle))
    bar = QRectF(x(scale.allowed[0]), middle - 0.3 * area.height(), 0, 0.6 * area.height())
    bar.setRight(x(scale.allowed[1]))
    painter.fillRect(bar, theme.band_fill)
    for start, end in scale.guards:
        hatched = QRectF(bar)
        hatched.setLeft(x(start))
        hatched.setRight(x(end))
        painter.fillRect(hatched, QBrush(theme.color("good", 170), Qt.BrushStyle.BDiagPattern))
    painter.setPen(QPen(theme.color("good"), 1.5))
    for fraction in scale.allowed:
        if 0 < fraction < 1:
            painter.drawLine(QPointF(x(fraction), bar.top()), QPointF(x(fraction), bar.bottom()))
    if scale.nominal is not None:
        painter.setPen(QPen(theme.color("good"), 1, Qt.PenStyle.DotLine))
        painter.drawLine(
            QPointF(x(scale.nominal), bar.top()), QPointF(x(scale.nominal), bar.bottom())
        )
    if scale.value is not None:
        _paint_value(painter, x, middle, size, scale, theme)
    painter.restore()


def _paint_value(painter, x, middle: float, size: float, scale: Scale, theme: Theme) -> None:  # noqa: ANN001
    ink = theme.color("stop" if scale.off else "ink")
    at = x(scale.value)
    painter.setPen(QPen(ink, max(1.5, size / 8)))
    painter.setBrush(ink)
    if scale.off:
        shape = [QPointF(at, middle - size), QPointF(at, middle + size)]
        shape.append(QPointF(at + scale.off * 1.1 * size, middle))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawPolygon(QPolygonF(shape))
        return
    low, high = (x(end) for end in scale.whisker)
    painter.drawLine(QPointF(low, middle), QPointF(high, middle))
    for end in (low, high):
        painter.drawLine(QPointF(end, middle - size / 3), QPointF(end, middle + size / 3))
    painter.setPen(Qt.PenStyle.NoPen)
    half = max(4.0, size / 2.6)
    corners = [(0, -size), (half, 0), (0, size), (-half, 0)]
    painter.drawPolygon(QPolygonF([QPointF(at + dx, middle + dy) for dx, dy in corners]))


class BandGauge(QWidget):
    """The band gauge of one limit as a widget."""

    def __init__(self, height: int = 18, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._scale: Scale | None = None
        self._height = height
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMinimumWidth(120)

    @property
    def scale(self) -> Scale | None:
        """What is shown, in fractions of the width."""
        return self._scale

    def show_limit(self, entry: LimitVerdict) -> None:
        """Show one judged limit."""
        self._scale = scale_of(entry)
        words = _spoken(entry, self._scale)
        self.setToolTip(words)
        self.setAccessibleName(words)
        self.update()

    def set_height(self, height: int) -> None:
        """Be another height."""
        self._height = height
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Wide enough to read, as high as asked for."""
        return QSize(260, self._height)

    def minimumSizeHint(self) -> QSize:
        """Keep the height when the width is short."""
        return QSize(120, self._height)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the gauge."""
        if self._scale is None:
            return
        painter = QPainter(self)
        paint_gauge(painter, QRectF(self.rect()), self._scale, current())


def _spoken(entry: LimitVerdict, scale: Scale) -> str:
    """Say in words what the gauge shows."""
    name, allowed = symbol(entry.limit.quantity), range_words(entry.limit)
    if entry.measured is None:
        return tr("{name}: allowed {allowed}; not determined").format(name=name, allowed=allowed)
    text = tr("{name} {value}, allowed {allowed}: {outcome}").format(
        name=name,
        value=with_expanded(entry.measured, expanded=entry.expanded),
        allowed=allowed,
        outcome=outcome_words(entry.outcome),
    )
    if entry.guard:
        guard = quantity(entry.guard, entry.limit.unit, digits=2)
        text += "\n" + tr("Hatched: guard band of {guard} at each limit.").format(guard=guard)
    if scale.off:
        text += "\n" + tr("The value lies beyond the end of this gauge (off scale).")
    return text
