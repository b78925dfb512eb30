"""The rule of 100 over frequency: open above, short below the part by that factor."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QSize
from PySide6.QtWidgets import QWidget

from benchapp.fixture import RULE, Validity
from benchapp.gui.axis import EngineeringAxis
from benchapp.gui.theme import current
from benchapp.gui.words import tr

__all__ = ["RatioPlot"]


class RatioPlot(pg.PlotWidget):
    """Open over part solid, part over short dashed, and the line at 100 that both must pass."""

    def __init__(self, parent: QWidget | None = None) -> None:
        self._base = EngineeringAxis("bottom", "Hz", with_unit=False)
        self._side = EngineeringAxis("left", "1")
        axes = {"bottom": self._base, "left": self._side}
        super().__init__(parent, viewBox=pg.ViewBox(enableMenu=False), axisItems=axes)
        self.setAccessibleName(tr("Open over part, and part over short, over frequency"))
        self.hideButtons()
        self.setMouseEnabled(x=False, y=False)
        self.setLogMode(x=False, y=True)
        self.plotItem.showGrid(x=True, y=True, alpha=0.22)
        self.opened, self.shorted = self.plot(), self.plot()
        self.rule = pg.InfiniteLine(np.log10(RULE), angle=0, label=tr("100: enough above here"))
        self.addItem(self.rule)
        self.dress()

    def sizeHint(self) -> QSize:
        """Small: it grows into what room there is."""
        return QSize(380, 200)

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        theme = current()
        self.setBackground(theme.color("card"))
        for axis in (self._base, self._side):
            axis.setPen(theme.color("edge"))
            axis.setTextPen(theme.color("muted"))
        dashed = pg.mkPen(theme.color("ink"), style=pg.QtCore.Qt.PenStyle.DashLine)
        self.opened.setPen(theme.color("fit"))
        self.shorted.setPen(dashed)
        self.rule.setPen(theme.color("doubt"))
        self.rule.label.setColor(theme.color("doubt"))

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "rule"):
            self.dress()

    def show_rule(self, found: Validity) -> None:
        """Show how far open and short lie from a part."""
        for curve, ratio in ((self.opened, found.open_ratio), (self.shorted, found.short_ratio)):
            curve.setData(*((found.frequency, ratio) if ratio is not None else ([], [])))
        unit = self._base.set_scale_by(float(found.frequency[-1]))
        self._base.setLabel(f"{tr('frequency')}, {unit}")
