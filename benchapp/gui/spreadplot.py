"""Where the resonance of many tanks falls: histogram, drive band, worst case, root sum of squares.

What is drawn is worked out first as plain numbers (`plan_of`), then painted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchapp.gui.axis import linear_ticks, prefixed, tick_words
from benchapp.gui.theme import Theme, current
from benchapp.gui.words import quantity, tr
from benchapp.tank import Band, Simulation, StackResult

__all__ = ["Plan", "SpreadPlot", "plan_of"]

_BARS = 50
_PAD = 0.06
_BESIDE = 0.35  # of the tolerance, how far away an end of the band is still shown
_TICK_ROOM = 58


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is drawn: frequencies in Hz, heights from 0 to 1.

    ``band`` is cut to the ends of the axis; ``outline`` holds the corners of the histogram.
    """

    low: float
    high: float
    nominal: float
    worst: tuple[float, float]
    rss: tuple[float, float]
    band: tuple[float, float] | None = None
    outline: tuple[tuple[float, float], ...] = ()


def plan_of(stacked: StackResult, band: Band | None, simulation: Simulation | None) -> Plan:
    """Work out the axis and the histogram."""
    ends = [stacked.worst_low, stacked.worst_high, stacked.rss_low, stacked.rss_high]
    reach = max(ends) - min(ends)
    edges = [] if band is None else [end for end in (band.low, band.high) if end is not None]
    ends += [e for e in edges if min(ends) - _BESIDE * reach < e < max(ends) + _BESIDE * reach]
    if simulation is not None:
        ends += [simulation.quantiles[0], simulation.quantiles[-1]]
    pad = _PAD * (max(ends) - min(ends)) or 1e-4 * stacked.frequency
    low, high = min(ends) - pad, max(ends) + pad
    return Plan(
        low=low,
        high=high,
        nominal=stacked.frequency,
        worst=(stacked.worst_low, stacked.worst_high),
        rss=(stacked.rss_low, stacked.rss_high),
        band=None if band is None else _cut(band, low, high),
        outline=() if simulation is None else _outline(simulation, low, high),
    )


def _cut(band: Band, low: float, high: float) -> tuple[float, float] | None:
    start = low if band.low is None else max(band.low, low)
    end = high if band.high is None else min(band.high, high)
    return (start, end) if start < end else None


def _outline(simulation: Simulation, low: float, high: float) -> tuple[tuple[float, float], ...]:
    """Give the corners of a histogram with even bars from ``low`` to ``high``."""
    edges = np.linspace(low, high, _BARS + 1)
    heaped = np.concatenate(([0.0], np.cumsum(simulation.counts)))
    heights = np.diff(np.interp(edges, simulation.edges, heaped))
    heights = heights / max(float(heights.max()), 1e-300)
    corners = [(low, 0.0)]
    for left, right, height in zip(edges, edges[1:], heights, strict=False):
        corners += [(float(left), float(height)), (float(right), float(height))]
    return (*corners, (high, 0.0))


class SpreadPlot(QWidget):
    """The picture of a stack-up."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plan: Plan | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """High enough for bars, two ranges and an axis."""
        return QSize(380, 190)

    def minimumSizeHint(self) -> QSize:
        """Small enough for a short window."""
        return QSize(240, 8 * self.fontMetrics().height())

    def show_plan(self, plan: Plan | None) -> None:
        """Show a plan; None shows nothing."""
        self.plan = plan
        self.setAccessibleName("" if plan is None else _spoken(plan))
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the picture."""
        if self.plan is None:
            return
        painter, theme = QPainter(self), current()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = self.fontMetrics().height() + 2
        names = (tr("worst case"), tr("root sum of squares"))
        left = max(self.fontMetrics().horizontalAdvance(name) for name in names) + 10
        bars = QRectF(left, line, self.width() - left - 8, self.height() - 4.4 * line)
        self._paint_band(painter, bars, line, theme)
        self._paint_outline(painter, bars, theme)
        self._paint_axis(painter, bars, line, theme)
        ranges = (self.plan.worst, self.plan.rss)
        for row, (name, span) in enumerate(zip(names, ranges, strict=True)):
            middle = bars.bottom() + (1.75 + row) * line
            painter.setPen(theme.color("muted"))
            painter.drawText(
                QRectF(0, middle - line / 2, left - 8, line),
                Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
                name,
            )
            self._paint_range(painter, bars, middle, span, theme)

    def _x(self, area: QRectF, frequency: float) -> float:
        plan = self.plan
        return area.left() + (frequency - plan.low) / (plan.high - plan.low) * area.width()

    def _paint_band(self, painter: QPainter, area: QRectF, line: float, theme: Theme) -> None:
        if self.plan.band is None:
            return
        low, high = (self._x(area, end) for end in self.plan.band)
        column = QRectF(low, area.top(), high - low, area.height() + 3.2 * line)
        painter.fillRect(column, theme.band_fill)
        painter.setPen(QPen(theme.color("good"), 1.5))
        for end, x in zip(self.plan.band, (low, high), strict=True):
            if self.plan.low < end < self.plan.high:
                painter.drawLine(QPointF(x, column.top()), QPointF(x, column.bottom()))
        painter.drawText(
            QRectF(low, 0, high - low, line).adjusted(-60, 0, 60, 0),
            Qt.AlignmentFlag.AlignCenter,
            tr("drive band"),
        )

    def _paint_outline(self, painter: QPainter, area: QRectF, theme: Theme) -> None:
        corners = [
            QPointF(self._x(area, frequency), area.bottom() - 0.96 * height * area.height())
            for frequency, height in self.plan.outline
        ]
        if corners:
            painter.setPen(QPen(theme.color("fit"), 1))
            painter.setBrush(theme.color("fit", 90))
            painter.drawPolygon(QPolygonF(corners))
        painter.setPen(QPen(theme.color("ink"), 1, Qt.PenStyle.DotLine))
        x = self._x(area, self.plan.nominal)
        painter.drawLine(QPointF(x, area.top()), QPointF(x, area.bottom()))

    def _paint_axis(self, painter: QPainter, area: QRectF, line: float, theme: Theme) -> None:
        plan = self.plan
        painter.setPen(QPen(theme.color("edge"), 1))
        painter.drawLine(area.bottomLeft(), area.bottomRight())
        ticks = linear_ticks(plan.low, plan.high, max(2, int(area.width() / _TICK_ROOM)))
        painter.setPen(theme.color("muted"))
        for value, words in zip(ticks, _tick_texts(ticks), strict=True):
            x = self._x(area, value)
            painter.drawLine(QPointF(x, area.bottom()), QPointF(x, area.bottom() + 4))
            width = self.fontMetrics().horizontalAdvance(words) + 4
            place = QRectF(
                min(x - width / 2, self.width() - width), area.bottom() + 4, width, line
            )
            painter.drawText(place, Qt.AlignmentFlag.AlignCenter, words)

    def _paint_range(
        self,
        painter: QPainter,
        area: QRectF,
        middle: float,
        span: tuple[float, float],
        theme: Theme,
    ) -> None:
        painter.setPen(QPen(theme.color("ink"), 2))
        low, high = (self._x(area, end) for end in span)
        painter.drawLine(QPointF(low, middle), QPointF(high, middle))
        for x in (low, high):
            painter.drawLine(QPointF(x, middle - 4), QPointF(x, middle + 4))


def _tick_texts(ticks: Sequence[float]) -> list[str]:
    if not ticks:
        return []
    scale, prefix = prefixed(max(ticks))
    words = tick_words(ticks, "Hz", with_unit=False, scale=scale)
    return [*words[:-1], f"{words[-1]} {prefix}Hz"]


def _spoken(plan: Plan) -> str:
    """Say in words what the picture shows."""
    words = tr("Resonance {nominal}; worst case {low} to {high}").format(
        nominal=quantity(plan.nominal, "Hz"),
        low=quantity(plan.worst[0], "Hz"),
        high=quantity(plan.worst[1], "Hz"),
    )
    if plan.band is None:
        return words
    return words + tr("; drive band {low} to {high}").format(
        low=quantity(plan.band[0], "Hz"), high=quantity(plan.band[1], "Hz")
    )
