"""One quantity over the abscissa: points, curve, envelope, marks; and its mouse."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import Qt, Signal

from benchapp.capture import Capture
from benchapp.gui.pointplot import PointPlot
from benchapp.gui.theme import Theme
from benchapp.gui.views import Trace

__all__ = ["AxisArea", "TracePlot"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
_MOST_BAND_POINTS = 160


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


class TracePlot(PointPlot):
    """One quantity over the abscissa, with everything that is drawn about it."""

    def __init__(self, *, bottom: bool) -> None:
        super().__init__(AxisArea())
        self.base_axis.setStyle(showValues=bottom)
        self._trace: Trace | None = None
        self._edges = [pg.PlotDataItem(pen=pg.mkPen(None)) for _ in range(2)]
        self._fill = pg.FillBetweenItem(*self._edges)
        self._fill.setZValue(-10)
        self.resonance = pg.InfiniteLine(angle=90, movable=False)
        self.addItem(self._fill, ignoreBounds=True)
        for item in self._edges:
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

    def places(
        self, _capture: Capture, x: FloatArray, z: ComplexArray
    ) -> tuple[FloatArray, FloatArray]:
        """Give where points with abscissa ``x`` and ordinate ``z`` are drawn, in plain units."""
        return x, self._trace.of(x, z)

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

    def dress(self, theme: Theme) -> None:
        """Take the colours of ``theme``."""
        super().dress(theme)
        self._fill.setBrush(theme.band_fill)
        self.resonance.setPen(theme.color("muted"), style=Qt.PenStyle.DashLine)


def _drawable(values: FloatArray) -> FloatArray:
    """Give values without infinities: what has no upper end ends well above everything else."""
    finite = values[np.isfinite(values)]
    return np.minimum(values, 10 * np.max(finite)) if finite.size else values
