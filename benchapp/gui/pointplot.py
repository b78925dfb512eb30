"""What every plot of measured points shares: their roles, the curve, the rings, the colours."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray

from benchapp.gui.axis import EngineeringAxis
from benchapp.gui.theme import Theme

__all__ = ["PointPlot"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_AXIS_WIDTH = 76


def _symbols(size: float, shape: str = "o") -> pg.PlotDataItem:
    return pg.PlotDataItem(pen=None, symbol=shape, symbolSize=size, pxMode=True)


class PointPlot(pg.PlotItem):
    """Points by their roles with a curve; rings for what a warning, a key or the mouse is at."""

    def __init__(self, area: pg.ViewBox, *, unit: str = "Hz") -> None:
        self.area = area
        self.scale_axis = EngineeringAxis("left")
        self.base_axis = EngineeringAxis("bottom", unit, with_unit=False)
        super().__init__(
            viewBox=self.area, axisItems={"left": self.scale_axis, "bottom": self.base_axis}
        )
        self.hideButtons()
        self.setMenuEnabled(False)
        self.scale_axis.setWidth(_AXIS_WIDTH)
        self.showGrid(x=True, y=True, alpha=0.22)
        self.outside = _symbols(4)
        self.measured = _symbols(4)
        self.aside = _symbols(8)
        self.curve = pg.PlotDataItem(connect="finite")
        self.half_power = _symbols(9, "d")
        self.pointed = _symbols(13)
        self.hovered = _symbols(11)
        self.cursor = _symbols(15)
        for item in (self.outside, self.measured, self.curve):
            self.addItem(item)
        for item in (self.aside, self.half_power, self.pointed, self.hovered, self.cursor):
            self.addItem(item)

    def show_points(self, x: FloatArray, y: FloatArray, used: BoolArray, aside: BoolArray) -> None:
        """Show the points: used ones full, those set aside hollow, the rest faint."""
        finite = np.isfinite(y)
        for item, chosen in (
            (self.measured, used),
            (self.aside, aside),
            (self.outside, ~(used | aside)),
        ):
            item.setData(x[chosen & finite], y[chosen & finite])

    def show_curve(self, x: FloatArray, y: FloatArray) -> None:
        """Show the fitted curve, with gaps where it has no value."""
        self.curve.setData(x, y)

    def ring(self, which: str, x: FloatArray, y: FloatArray) -> None:
        """Ring points as ``pointed``, ``hovered`` or ``cursor``; empty arrays take rings away."""
        finite = np.isfinite(y)
        getattr(self, which).setData(x[finite], y[finite])

    def scene_places(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Give where points lie in the scene, as two rows; NaN where an axis has no place."""
        if self.base_axis.logMode:
            x = np.log10(np.where(x > 0, x, np.nan))
        if self.scale_axis.logMode:
            y = np.log10(np.where(y > 0, y, np.nan))
        place = self.area.sceneBoundingRect()
        (left, right), (bottom, top) = self.area.viewRange()
        across = place.left() + (x - left) / (right - left) * place.width()
        return np.array([across, place.bottom() - (y - bottom) / (top - bottom) * place.height()])

    def dress(self, theme: Theme) -> None:
        """Take the colours of ``theme``."""
        for axis in (self.scale_axis, self.base_axis):
            axis.setPen(theme.color("edge"))
            axis.setTextPen(theme.color("muted"))
        for item, color, alpha in ((self.measured, "ink", 150), (self.outside, "edge", 130)):
            item.setSymbolBrush(theme.color(color, alpha))
            item.setSymbolPen(None)
        for item, color, width in (
            (self.aside, "doubt", 1.5),
            (self.pointed, "stop", 2),
            (self.hovered, "ink", 1.5),
            (self.cursor, "fit", 2),
        ):
            item.setSymbolBrush(None)
            item.setSymbolPen(theme.color(color), width=width)
        self.half_power.setSymbolBrush(theme.color("fit"))
        self.half_power.setSymbolPen(theme.color("card"), width=1)
        self.curve.setPen(theme.color("fit"), width=1)
