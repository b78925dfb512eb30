"""The plots of a lot: acceptance curve, histogram, run chart, all sweeps over each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, QSize, Qt, Signal
from PySide6.QtWidgets import QWidget

from benchapp.gui.axis import EngineeringAxis
from benchapp.gui.planwords import whole_shares
from benchapp.gui.theme import Theme, current
from benchapp.gui.words import tr
from benchapp.lot import LotPlan, QuantitySummary, Trend
from benchapp.nominal import Envelope, Limit

__all__ = ["AcceptancePlot", "HistogramPlot", "OverlayPlot", "RunPlot", "TrendPlot"]

FloatArray = NDArray[np.float64]
_NEAR = 12  # pixels from a sweep within which a click chooses it
_SPARE = 0.06
_MOST_SHARE = 0.3  # of nonconforming parts that is drawn
_CURVE_POINTS = 121


class _LotPlot(pg.PlotWidget):
    """A plot without a menu that follows the theme."""

    clicked = Signal(float, float)

    def __init__(
        self, name: str, base: tuple[str, str], side: tuple[str, str], parent: QWidget | None
    ) -> None:
        self.base = EngineeringAxis("bottom", base[1], with_unit=False)
        self.side = EngineeringAxis("left", side[1], with_unit=True)
        axes = {"bottom": self.base, "left": self.side}
        super().__init__(parent, viewBox=pg.ViewBox(enableMenu=False), axisItems=axes)
        self.setAccessibleName(name)
        self.hideButtons()
        self.setMouseEnabled(x=False, y=False)
        self.plotItem.showGrid(x=True, y=True, alpha=0.18)
        self._base_name = base[0]
        if side[0]:
            self.side.setLabel(side[0])
        self.scene().sigMouseClicked.connect(self._tell_click)
        self._lines: list[tuple[pg.InfiniteLine, str]] = []

    def sizeHint(self) -> QSize:
        """Small: it grows into what room there is."""
        return QSize(320, 180)

    def minimumSizeHint(self) -> QSize:
        """As small as can still be read."""
        return QSize(160, 110)

    def name_base(self, unit: str, largest: float) -> None:
        """Label the lower axis with its quantity and the prefixed unit."""
        self.base.quantity_unit = unit
        written = self.base.set_scale_by(largest) if unit != "1" else ""
        self.base.setLabel(f"{self._base_name}, {written}" if written else self._base_name)

    def rename_base(self, name: str) -> None:
        """Give the lower axis another quantity."""
        self._base_name = name

    def show_lines(
        self, lines: Sequence[tuple[float, str, Qt.PenStyle]], *, upright: bool
    ) -> None:
        """Draw lines right across: value, name of the colour, style."""
        for line, _ in self._lines:
            self.removeItem(line)
        self._lines = []
        for value, color, style in lines:
            line = pg.InfiniteLine(value, angle=90 if upright else 0)
            line.setPen(pg.mkPen(current().color(color), style=style))
            self.addItem(line)
            self._lines.append((line, color))

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        theme = current()
        self.setBackground(theme.color("card"))
        for axis in (self.base, self.side):
            axis.setPen(theme.color("edge"))
            axis.setTextPen(theme.color("muted"))
        for line, color in self._lines:
            line.setPen(pg.mkPen(theme.color(color), style=line.pen.style()))
        self.paint(theme)

    def paint(self, theme: Theme) -> None:
        """Colour what is drawn."""

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "_lines"):
            self.dress()

    def _tell_click(self, event: object) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            at = self.plotItem.vb.mapSceneToView(event.scenePos())
            self.clicked.emit(at.x(), at.y())


def _limit_lines(limit: Limit) -> list[tuple[float, str, Qt.PenStyle]]:
    ends = [
        (end, "good", Qt.PenStyle.SolidLine)
        for end in (limit.lower, limit.upper)
        if end is not None
    ]
    if limit.nominal is not None:
        ends.append((limit.nominal, "good", Qt.PenStyle.DotLine))
    return ends


class AcceptancePlot(_LotPlot):
    """How often a plan accepts lots, by the share of nonconforming parts in them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        base = (tr("nonconforming parts in the lot, %"), "1")
        super().__init__(
            tr("Operating characteristic of the plan"), base, (tr("accepted, %"), "1"), parent
        )
        self.curve = self.plot()
        self.points = pg.PlotDataItem(pen=None, symbol="o", symbolSize=7)
        self.addItem(self.points)
        self.setYRange(0, 100, padding=0.03)
        self.dress()

    def paint(self, theme: Theme) -> None:
        """Colour the curve."""
        self.curve.setPen(theme.color("fit"))
        self.points.setSymbolBrush(theme.color("fit"))
        self.points.setSymbolPen(None)

    def show_plan(self, plan: LotPlan | None, at: Sequence[float] = ()) -> None:
        """Draw the curve of a plan, with points at some fractions, at whole parts of its lot."""
        grid = np.linspace(0, _MOST_SHARE, _CURVE_POINTS)
        fraction = grid if plan is None else whole_shares(plan, grid)
        chance = None if plan is None else plan.acceptance(fraction)
        if plan is None or chance is None:
            self.curve.setData([], [])
            self.points.setData([], [])
            return
        low = np.flatnonzero(chance < 0.02)
        end = int(low[0]) if low.size else fraction.size - 1
        self.curve.setData(100 * fraction, 100 * chance)
        marked = whole_shares(plan, [one for one in at if one <= fraction[end]])
        marked = marked[marked > 0]
        self.points.setData(100 * marked, 100 * plan.acceptance(marked))
        self.setXRange(0, 100 * max(float(fraction[end]), 0.04), padding=0.02)
        self.name_base("1", 1.0)


class HistogramPlot(_LotPlot):
    """How the values of one quantity are spread, with its limits; a click chooses a bar.

    Signals
    -------
    chosen(low, high)
        The ends of the bar that was clicked.
    """

    chosen = Signal(float, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("Histogram"), ("", "1"), (tr("parts"), "1"), parent)
        self.bars = pg.PlotCurveItem([0.0, 1.0], [0], stepMode="center", fillLevel=0)
        self.addItem(self.bars)
        self.mark = pg.InfiniteLine(0, angle=90)
        self.mark.hide()
        self.addItem(self.mark)
        self.clicked.connect(self._choose)
        self._edges: FloatArray | None = None
        self.dress()

    def paint(self, theme: Theme) -> None:
        """Colour the bars."""
        self.bars.setPen(theme.color("fit"))
        self.bars.setBrush(theme.color("fit", 90))
        self.mark.setPen(pg.mkPen(theme.color("ink"), width=2))

    def show_quantity(self, found: QuantitySummary, name: str) -> None:
        """Show one quantity of a lot."""
        self._edges = found.edges
        self.rename_base(name)
        lines = _limit_lines(found.limit)
        self.show_lines(lines, upright=True)
        if found.edges is None or found.counts is None:
            self.bars.setData([0.0, 1.0], [0])
            return
        self.bars.setData(found.edges, found.counts)
        low, high = _range([*found.edges[[0, -1]], *(value for value, _, _ in lines)])
        self.setXRange(low, high, padding=0)
        self.setYRange(0, 1.08 * max(1, int(found.counts.max())), padding=0)
        self.name_base(found.limit.unit, max(abs(low), abs(high)))

    def show_chosen(self, value: float | None) -> None:
        """Mark the value of the chosen part."""
        self.mark.setVisible(value is not None)
        if value is not None:
            self.mark.setValue(value)

    def _choose(self, x: float, _y: float) -> None:
        edges = self._edges
        if edges is not None and edges[0] <= x <= edges[-1]:
            at = min(int(np.searchsorted(edges, x, side="right")) - 1, edges.size - 2)
            self.chosen.emit(float(edges[at]), float(edges[at + 1]))


class RunPlot(_LotPlot):
    """The values of one quantity in the order measured, with limits and control limits.

    Signals
    -------
    chosen(index)
        The part that was clicked.
    """

    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(
            tr("Run chart"), (tr("parts in the order measured"), "1"), ("", "1"), parent
        )
        self.points = pg.PlotDataItem(symbol="o", symbolSize=5, autoDownsample=True)
        self.odd = pg.PlotDataItem(pen=None, symbol="t", symbolSize=11)
        self.ring = pg.PlotDataItem(pen=None, symbol="o", symbolSize=14)
        for item in (self.points, self.odd, self.ring):
            self.addItem(item)
        self.clicked.connect(self._choose)
        self._values = np.empty(0)
        self.dress()

    def paint(self, theme: Theme) -> None:
        """Colour the points."""
        self.points.setPen(theme.color("fit"))
        self.points.setSymbolBrush(theme.color("fit"))
        self.points.setSymbolPen(None)
        self.odd.setSymbolBrush(theme.color("doubt"))
        self.odd.setSymbolPen(None)
        self.ring.setSymbolBrush(None)
        self.ring.setSymbolPen(pg.mkPen(theme.color("ink"), width=2))

    def show_quantity(self, found: QuantitySummary, name: str) -> None:
        """Show one quantity of a lot."""
        values = self._values = found.values
        places = np.arange(1, values.size + 1)
        few = values.size <= 500
        self.points.setData(places, values, symbol="o" if few else None)
        lines = _limit_lines(found.limit)
        odd: set[int] = {one.index for one in found.outliers}
        if found.charts is not None:
            chart = found.charts.location
            lines += [(end, "muted", Qt.PenStyle.DashLine) for end in (chart.lower, chart.upper)]
            odd |= {point for signal in chart.signals for point in signal.points}
        marked = np.array(sorted(at for at in odd if at < values.size), dtype=int)
        self.odd.setData(places[marked], values[marked])
        self.show_lines(lines, upright=False)
        self.side.quantity_unit = found.limit.unit
        self.side.setLabel(name)
        if values.size:
            ends = _range([values.min(), values.max(), *(value for value, _, _ in lines)])
            self.setYRange(*ends, padding=0)
            self.setXRange(0.5, max(values.size, 2) + 0.5, padding=0.01)
        self.name_base("1", 1.0)

    def show_chosen(self, index: int | None) -> None:
        """Ring the chosen part."""
        if index is None or index >= self._values.size:
            self.ring.setData([], [])
        else:
            self.ring.setData([index + 1], [self._values[index]])

    def _choose(self, x: float, _y: float) -> None:
        if self._values.size:
            self.chosen.emit(int(np.clip(round(x) - 1, 0, self._values.size - 1)))


class TrendPlot(_LotPlot):
    """The mean of one quantity in each lot of a supplier, with what the design allows.

    Signals
    -------
    chosen(index)
        The lot that was clicked, of those that have a value.
    """

    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(
            tr("Trend over lots"), (tr("lots, the oldest first"), "1"), ("", "1"), parent
        )
        self.spread = pg.ErrorBarItem(beam=0.12)
        self.points = pg.PlotDataItem(symbol="o", symbolSize=8)
        self.odd = pg.PlotDataItem(pen=None, symbol="t", symbolSize=13)
        self.ring = pg.PlotDataItem(pen=None, symbol="o", symbolSize=16)
        for item in (self.spread, self.points, self.odd, self.ring):
            self.addItem(item)
        self.clicked.connect(self._choose)
        self._means = np.empty(0)
        self.dress()

    def paint(self, theme: Theme) -> None:
        """Colour the points."""
        self.spread.setOpts(pen=theme.color("fit"))
        self.points.setPen(theme.color("fit"))
        self.points.setSymbolBrush(theme.color("fit"))
        self.points.setSymbolPen(None)
        self.odd.setSymbolBrush(theme.color("doubt"))
        self.odd.setSymbolPen(None)
        self.ring.setSymbolBrush(None)
        self.ring.setSymbolPen(pg.mkPen(theme.color("ink"), width=2))

    def show_trend(self, trend: Trend) -> None:
        """Show one quantity over the lots."""
        means = self._means = np.array([one.mean for one in trend.figures])
        spread = np.array([one.sd or 0.0 for one in trend.figures])
        places = np.arange(1, means.size + 1)
        self.points.setData(places, means)
        self.spread.setData(x=places.astype(float), y=means, top=spread, bottom=spread)
        lines, odd = _limit_lines(trend.limit), np.empty(0, dtype=int)
        if trend.charts is not None:
            chart = trend.charts.location
            lines += [(end, "muted", Qt.PenStyle.DashLine) for end in (chart.lower, chart.upper)]
            odd = np.unique([point for one in chart.signals for point in one.points]).astype(int)
        self.odd.setData(places[odd], means[odd])
        self.show_lines(lines, upright=False)
        self.side.quantity_unit = trend.limit.unit
        self.side.setLabel(trend.name)
        ends = [*(means - spread), *(means + spread), *(value for value, _, _ in lines)]
        self.setYRange(*_range(ends), padding=0)
        self.setXRange(0.5, max(means.size, 2) + 0.5, padding=0.01)
        self.base.setTicks([[(int(place), str(place)) for place in places[:60]]])
        self.name_base("1", 1.0)

    def show_chosen(self, index: int | None) -> None:
        """Ring the chosen lot."""
        if index is None or index >= self._means.size:
            self.ring.setData([], [])
        else:
            self.ring.setData([index + 1], [self._means[index]])

    def _choose(self, x: float, _y: float) -> None:
        if self._means.size:
            self.chosen.emit(int(np.clip(round(x) - 1, 0, self._means.size - 1)))


class OverlayPlot(_LotPlot):
    """|Z| of all sweeps as one drawing, on what the design allows; a click chooses a part.

    Signals
    -------
    chosen(serial)
        The part whose sweep was clicked.
    """

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(
            tr("All sweeps over each other"), (tr("frequency"), "Hz"), ("|Z|", "ohm"), parent
        )
        self.setLogMode(x=False, y=True)
        self.low, self.high = pg.PlotCurveItem(), pg.PlotCurveItem()
        self.band = pg.FillBetweenItem(self.low, self.high)
        self.all = pg.PlotDataItem(connect="finite")
        self.one = pg.PlotDataItem()
        for item in (self.band, self.all, self.one):
            self.addItem(item)
        self._sweeps: Mapping[str, tuple[FloatArray, NDArray[np.complex128]]] = {}
        self.clicked.connect(self._choose)
        self.dress()

    def paint(self, theme: Theme) -> None:
        """Colour sweeps and band."""
        self.band.setBrush(theme.band_fill)
        for edge in (self.low, self.high):
            edge.setPen(None)
        self.all.setPen(theme.color("fit", 110))
        self.one.setPen(pg.mkPen(theme.color("ink"), width=2))

    def show_sweeps(
        self,
        sweeps: Mapping[str, tuple[FloatArray, NDArray[np.complex128]]],
        envelope: Envelope | None,
    ) -> None:
        """Draw these sweeps."""
        self._sweeps = sweeps
        gap = np.array([np.nan])
        xs = [part for frequency, _ in sweeps.values() for part in (frequency, gap)]
        ys = [part for _, z in sweeps.values() for part in (np.abs(z), gap)]
        nothing = np.empty(0)
        self.all.setData(
            np.concatenate(xs) if xs else nothing, np.concatenate(ys) if ys else nothing
        )
        self.one.setData([], [])
        if envelope is None:
            self.low.setData([], [])
            self.high.setData([], [])
        else:
            self.low.setData(envelope.frequency, np.log10(envelope.magnitude_low))
            self.high.setData(envelope.frequency, np.log10(envelope.magnitude_high))
        if sweeps:
            ends = [float(frequency[at]) for frequency, _ in sweeps.values() for at in (0, -1)]
            self.setXRange(min(ends), max(ends), padding=0.01)
            self.name_base("Hz", max(ends))

    def show_chosen(self, serial: str) -> None:
        """Draw the sweep of the chosen part over the others."""
        frequency, z = self._sweeps.get(serial, (np.empty(0), np.empty(0)))
        self.one.setData(frequency, np.abs(z))

    def nearest(self, x: float, y: float) -> str:
        """Give the part whose sweep passes nearest to a place of the plot, "" where none does."""
        box = self.plotItem.vb
        here = box.mapViewToDevice(QPointF(x, y))
        best, found = float(_NEAR), ""
        for serial, (frequency, z) in self._sweeps.items():
            if not frequency[0] <= x <= frequency[-1]:
                continue
            value = float(np.interp(x, frequency, np.log10(np.abs(z))))
            away = abs(box.mapViewToDevice(QPointF(x, value)).y() - here.y())
            if away < best:
                best, found = away, serial
        return found

    def _choose(self, x: float, y: float) -> None:
        serial = self.nearest(x, y)
        if serial:
            self.chosen.emit(serial)


def _range(values: Sequence[float]) -> tuple[float, float]:
    """Give an axis that holds all values with a little room."""
    low, high = min(values), max(values)
    room = _SPARE * (high - low) or abs(high) * _SPARE or 1.0
    return low - room, high + room
