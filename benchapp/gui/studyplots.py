"""The plots of a gauge study: every value by its part, and what each person makes of the parts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from benchapp.gui.axis import EngineeringAxis
from benchapp.gui.theme import current
from benchapp.gui.words import tr
from benchapp.lot import StudyTable

__all__ = ["COLOURS", "SYMBOLS", "PartPlot", "PersonPlot"]

SYMBOLS = ("o", "s", "t", "d", "+", "x")
"""The sign of each person in their order, from the first again after the last."""

COLOURS = ("fit", "doubt", "band", "ink", "muted", "edge")
"""The colour of each person, as `SYMBOLS`."""

_SIZE, _MEAN_SIZE = 8, 15
_ROOM = 0.08
_ASIDE = 0.5  # of the place of a part, over which its persons stand beside each other
_LONGEST = 12  # signs of the name of a group
_SIDE, _BETWEEN = 110, 12  # pixels: the axis at the side, and from name to name


class _StudyPlot(pg.PlotWidget):
    """Groups beside each other; one sign for each person; a bar at the mean of each group."""

    def __init__(self, name: str, base: str, side: str, parent: QWidget | None) -> None:
        self._groups: tuple[str, ...] = ()
        self.base, self.side = pg.AxisItem("bottom"), EngineeringAxis("left", "1")
        axes = {"bottom": self.base, "left": self.side}
        super().__init__(parent, viewBox=pg.ViewBox(enableMenu=False), axisItems=axes)
        self.setAccessibleName(name)
        self.hideButtons()
        self.setMouseEnabled(x=False, y=False)
        self.plotItem.showGrid(x=False, y=True, alpha=0.22)
        self.base.setLabel(base)
        self.side.setLabel(side)
        self.level = pg.InfiniteLine(angle=0)
        self.means = pg.PlotDataItem(pen=None, symbol="_", symbolSize=_MEAN_SIZE)
        self.addItem(self.level)
        self.addItem(self.means)
        self.means.setZValue(1)
        self.dots: list[pg.PlotDataItem] = []
        self.dress()

    def sizeHint(self) -> QSize:
        """Small: it grows into what room there is."""
        return QSize(360, 210)

    def minimumSizeHint(self) -> QSize:
        """As small as can still be read."""
        return QSize(220, 150)

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        theme = current()
        self.setBackground(theme.color("card"))
        for axis in (self.base, self.side):
            axis.setPen(theme.color("edge"))
            axis.setTextPen(theme.color("muted"))
        self.level.setPen(theme.color("edge"))
        self.means.setSymbolPen(theme.color("ink"))
        self.means.setSymbolBrush(theme.color("ink"))
        for at, item in enumerate(self.dots):
            colour = theme.color(COLOURS[at % len(COLOURS)])
            item.setSymbolPen(pg.mkPen(colour, width=1.5))
            item.setSymbolBrush(colour)

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "dots"):
            self.dress()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Name as many groups as there is room for."""
        super().resizeEvent(event)
        if self._groups:
            self._name_groups()

    def _name_groups(self) -> None:
        metrics = self.fontMetrics()
        widest = max(metrics.horizontalAdvance(one) for one in self._groups) + _BETWEEN
        room = max(1.0, self.width() - _SIDE)
        every = math.ceil(len(self._groups) * widest / room)
        places = range(1, len(self._groups) + 1, every)
        self.base.setTicks([[(at, self._groups[at - 1]) for at in places]])

    def _show(
        self,
        groups: Sequence[str],
        persons: Sequence[tuple[np.ndarray, np.ndarray]],
        means: np.ndarray,
        unit: str,
    ) -> None:
        """Show the places and values of each person, and the mean of each group."""
        for item in self.dots:
            self.removeItem(item)
        self.dots = []
        for at, (x, y) in enumerate(persons):
            sign = SYMBOLS[at % len(SYMBOLS)]
            self.dots.append(pg.PlotDataItem(x, y, pen=None, symbol=sign, symbolSize=_SIZE))
            self.addItem(self.dots[-1])
        places = np.arange(1, len(groups) + 1)
        self.means.setData(places, means)
        self._groups = tuple(one[:_LONGEST] for one in groups)
        self._name_groups()
        self.side.quantity_unit = unit or "1"
        values = np.concatenate([y for _, y in persons])
        low, high = float(values.min()), float(values.max())
        room = _ROOM * (high - low) or 1.0
        self.setYRange(low - room, high + room, padding=0)
        self.setXRange(0.3, len(groups) + 0.7, padding=0)
        self.dress()


class PartPlot(_StudyPlot):
    """Every value over its part, the persons beside each other; the line is the mean of all."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("Every value by its part"), tr("part"), "", parent)

    def show_study(self, table: StudyTable) -> None:
        """Show a study."""
        values = table.values
        parts, persons, trials = values.shape
        steps = _ASIDE * ((np.arange(persons) + 0.5) / persons - 0.5)
        traces = [
            (np.repeat(np.arange(1, parts + 1) + step, trials), values[:, at, :].ravel())
            for at, step in enumerate(steps)
        ]
        self.side.setLabel(table.quantity or tr("value"))
        self.level.setValue(float(values.mean()))
        self._show(table.parts, traces, values.mean(axis=(1, 2)), table.unit)


class PersonPlot(_StudyPlot):
    """What each person measures above or below the mean of the part; the line is no deviation."""

    def __init__(self, parent: QWidget | None = None) -> None:
        name = tr("Deviation from the mean of the part, by person")
        super().__init__(name, tr("person"), tr("from the part's mean"), parent)

    def show_study(self, table: StudyTable) -> None:
        """Show a study."""
        off = table.values - table.values.mean(axis=(1, 2), keepdims=True)
        parts, persons, trials = off.shape
        spread = _ASIDE * ((np.arange(parts) + 0.5) / parts - 0.5)
        traces = [
            (np.repeat(at + 1 + spread, trials), off[:, at, :].ravel()) for at in range(persons)
        ]
        self.level.setValue(0.0)
        self._show(table.persons, traces, off.mean(axis=(0, 2)), table.unit)
