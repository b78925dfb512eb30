"""The control chart of one quantity of the reference coil: deviation over its checks."""

from __future__ import annotations

import math

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtWidgets import QWidget

from benchapp.gui.theme import current
from benchapp.gui.words import tr
from benchapp.lot import Control

__all__ = ["ControlPlot"]

_SHOWN = 60  # checks
_DOT = 7


class ControlPlot(pg.PlotWidget):
    """Checks in their order, in percent of the stated value or of the centre.

    Control limits are dashed and the stated limits solid; the points of a signal are squares.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        self._base, self._side = pg.AxisItem("bottom"), pg.AxisItem("left")
        axes = {"bottom": self._base, "left": self._side}
        super().__init__(parent, viewBox=pg.ViewBox(enableMenu=False), axisItems=axes)
        self.setAccessibleName(tr("Control chart of the reference coil"))
        self.hideButtons()
        self.setMouseEnabled(x=False, y=False)
        self._base.setLabel(tr("check"))
        self._base.enableAutoSIPrefix(False)
        self._side.setLabel(tr("deviation, %"))
        self._side.enableAutoSIPrefix(False)
        self.plotItem.showGrid(x=False, y=True, alpha=0.22)
        self.trace, self.marked = self.plot(), self.plot()
        self.lines = {
            name: pg.InfiniteLine(angle=0)
            for name in ("centre", "lower", "upper", "stated_lower", "stated_upper")
        }
        for line in self.lines.values():
            self.addItem(line)
        self.dress()

    def sizeHint(self) -> QSize:
        """Low and wide."""
        return QSize(380, 170)

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        theme = current()
        self.setBackground(theme.color("card"))
        for axis in (self._base, self._side):
            axis.setPen(theme.color("edge"))
            axis.setTextPen(theme.color("muted"))
        fit, doubt = theme.color("fit"), theme.color("doubt")
        self.trace.setPen(fit)
        self.trace.setSymbol("o")
        self.marked.setPen(None)
        self.marked.setSymbol("s")
        for item, colour in ((self.trace, fit), (self.marked, theme.color("stop"))):
            item.setSymbolSize(_DOT)
            item.setSymbolBrush(colour)
            item.setSymbolPen(colour)
        self.lines["centre"].setPen(theme.color("muted"))
        for name in ("lower", "upper"):
            self.lines[name].setPen(pg.mkPen(doubt, style=Qt.PenStyle.DashLine))
            self.lines[f"stated_{name}"].setPen(theme.color("stop"))

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "lines"):
            self.dress()

    def show_control(self, control: Control) -> None:
        """Show the last checks of one quantity."""
        chart, limit = control.chart, control.limit
        middle = limit.nominal or (chart.centre if chart is not None else None)
        if middle is None:
            middle = float(control.points.mean()) if control.points.size else 1.0

        def percent(value: float) -> float:
            return 100 * (value / middle - 1)

        numbers = np.arange(1, control.points.size + 1)
        x, y = numbers[-_SHOWN:], percent(control.points)[-_SHOWN:]
        met = () if chart is None else chart.signals
        hits = {at for signal in met for at in signal.points}
        square = np.array([number - 1 in hits for number in x], dtype=bool)
        self.trace.setData(x, y)
        self.marked.setData(x[square], y[square])
        values = {
            "stated_lower": limit.lower,
            "stated_upper": limit.upper,
            "centre": None if chart is None else chart.centre,
            "lower": None if chart is None else chart.lower,
            "upper": None if chart is None else chart.upper,
        }
        for name, value in values.items():
            self.lines[name].setVisible(value is not None)
            self.lines[name].setValue(0.0 if value is None else percent(value))
        self._reach(x, [percent(value) for value in values.values() if value is not None], y)

    def _reach(self, x: np.ndarray, lines: list[float], y: np.ndarray) -> None:
        every = [*lines, *y.tolist(), 0.0]
        low, high = min(every), max(every)
        room = 0.08 * max(high - low, 1e-3)
        self.setYRange(low - room, high + room, padding=0)
        first, last = (float(x[0]), float(x[-1])) if x.size else (1.0, 1.0)
        last = max(last, first + 9)
        self.setXRange(first - 0.5, last + 0.5, padding=0)
        step = max(1, math.ceil((last - first) / 10))
        self._base.setTickSpacing(step, step)
