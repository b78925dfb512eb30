"""One plot of the capture page: points, curve, envelope, marks; and its mouse."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import Qt, Signal

from benchapp.gui.axis import EngineeringAxis
from benchapp.gui.theme import Theme
from benchapp.gui.views import Trace

__all__ = ["AxisArea", "TracePlot"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_MOST_BAND_POINTS = 160
_AXIS_WIDTH = 76


class AxisArea(pg.ViewBox):
    """The area between the axes: dragging with the left button chooses a band.

    Signals
    -------
    dragged(start, end, finished)
        Both ends in plot coordinates (log10 on a logarithmic axis).
    """

    dragged = Signal(float, float, bool)

    def __init__(self) -> None:
        super().__init__(enableMenu=False)
        self.setMouseEnabled(x=True, y=False)

    def mouseDragEvent(self, ev: object, axis: int | None = None) -> None:
        """Choose a band with the left button; the others move and stretch the view."""
        if ev.button() != Qt.MouseButton.LeftButton or axis is not None:
            super().mouseDragEvent(ev, axis)
            return
        ev.accept()
        start = self.mapToView(ev.buttonDownPos()).x()
        self.dragged.emit(start, self.mapToView(ev.pos()).x(), ev.isFinish())


def _symbols(size: float, shape: str = "o") -> pg.PlotDataItem:
    return pg.PlotDataItem(pen=None, symbol=shape, symbolSize=size, pxMode=True)


class TracePlot(pg.PlotItem):
    """One quantity over the abscissa, with everything that is drawn about it."""

    def __init__(self, *, bottom: bool) -> None:
        self.area = AxisArea()
        self.scale_axis = EngineeringAxis("left")
        self.base_axis = EngineeringAxis("bottom", "Hz", with_unit=False)
        super().__init__(
            viewBox=self.area, axisItems={"left": self.scale_axis, "bottom": self.base_axis}
        )
        self.hideButtons()
        self.setMenuEnabled(False)
        self.scale_axis.setWidth(_AXIS_WIDTH)
        self.showGrid(x=True, y=True, alpha=0.22)
        self.base_axis.setStyle(showValues=bottom)
        self._trace: Trace | None = None
        self._edges = [pg.PlotDataItem(pen=pg.mkPen(None)) for _ in range(2)]
        self._fill = pg.FillBetweenItem(*self._edges)
        self.outside = _symbols(4)
        self.measured = _symbols(4)
        self.aside = _symbols(8)
        self.curve = pg.PlotDataItem(connect="finite")
        self.half_power = _symbols(9, "d")
        self.pointed = _symbols(13)
        self.cursor = _symbols(15, "o")
        self.resonance = pg.InfiniteLine(angle=90, movable=False)
        self.addItem(self._fill, ignoreBounds=True)
        for item in (*self._edges, self.outside, self.measured, self.curve):
            self.addItem(item)
        for item in (self.aside, self.half_power, self.pointed, self.cursor):
            self.addItem(item)
        self.addItem(self.resonance, ignoreBounds=True)

    @property
    def trace(self) -> Trace | None:
        """The quantity that is shown."""
        return self._trace

    def set_trace(self, trace: Trace, *, x_log: bool, y_log: bool) -> None:
        """Show another quantity, on linear or logarithmic axes."""
        self._trace = trace
        self.scale_axis.quantity_unit = trace.unit
        self.scale_axis.setLabel(trace.name)
        self.setLogMode(x=x_log, y=y_log)

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

    def show_envelope(self, x: FloatArray, low: FloatArray, high: FloatArray) -> None:
        """Show what the nominal design allows as a band, on no more points than are seen."""
        self._fill.setVisible(x.size > 0)
        if not x.size:
            low = high = x
        elif x.size > _MOST_BAND_POINTS:
            kept = np.zeros(x.size, dtype=bool)
            kept[np.linspace(0, x.size - 1, _MOST_BAND_POINTS).astype(int)] = True
            kept[[np.argmax(low), np.argmax(high)]] = True
            x, low, high = x[kept], low[kept], high[kept]
        for edge, values in zip(self._edges, (low, high), strict=True):
            edge.setData(x, _drawable(values))

    def show_marks(self, x: FloatArray, y: FloatArray, resonance: float | None) -> None:
        """Mark the half-power points and the resonance (in plot coordinates)."""
        finite = np.isfinite(y)
        self.half_power.setData(x[finite], y[finite])
        self.resonance.setVisible(resonance is not None)
        if resonance is not None:
            self.resonance.setValue(resonance)

    def show_pointed(self, x: FloatArray, y: FloatArray) -> None:
        """Ring the points that a warning speaks of."""
        finite = np.isfinite(y)
        self.pointed.setData(x[finite], y[finite])

    def show_cursor(self, x: FloatArray, y: FloatArray) -> None:
        """Ring the point that the keyboard is at; empty arrays take the ring away."""
        finite = np.isfinite(y)
        self.cursor.setData(x[finite], y[finite])

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
            (self.cursor, "fit", 2),
        ):
            item.setSymbolBrush(None)
            item.setSymbolPen(theme.color(color), width=width)
        self.half_power.setSymbolBrush(theme.color("fit"))
        self.half_power.setSymbolPen(theme.color("card"), width=1)
        self.curve.setPen(theme.color("fit"), width=1)
        self._fill.setBrush(theme.band_fill)
        self.resonance.setPen(theme.color("muted"), style=Qt.PenStyle.DashLine)


def _drawable(values: FloatArray) -> FloatArray:
    """Give values without infinities: what has no upper end ends well above everything else."""
    finite = values[np.isfinite(values)]
    return np.minimum(values, 10 * np.max(finite)) if finite.size else values
