"""The plots of one part: two linked quantities, their plane, the residuals; by mouse and key."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QMouseEvent
from PySide6.QtWidgets import QWidget

from benchapp.capture import Capture, Sweep, Transient
from benchapp.fit import Fit, curve
from benchapp.gui.labels import copy_text
from benchapp.gui.planeplot import PlanePlot
from benchapp.gui.pointplot import PointPlot
from benchapp.gui.theme import current
from benchapp.gui.traces import TracePlot
from benchapp.gui.views import Trace, View, abscissa, ordinate, points_outside
from benchapp.gui.words import decimal_mark, exact, quantity, symbol, tr
from benchapp.jobs import FitChoices, JudgedPart
from benchapp.nominal import Envelope, envelope

__all__ = ["Plots", "grid_for", "half_power_frequencies", "smooth_envelope"]

FloatArray = NDArray[np.float64]
_NEAR_PIXELS = 14.0
_SMOOTH = 161  # points of an envelope, at least
_STRIP_LIMIT = 5.5  # residuals beyond it are drawn at the edge
_STRETCHES = (10, 8, 4)
_PLANE_STRETCHES = (6, 5)  # of the plane and of the plots beside it
_UNLIMITED = 16777215  # Qt's greatest size of a widget
_STRIP = Trace(name="residual / u", meaning="residual", unit="1", of=lambda _x, z: z.real)


def half_power_frequencies(resonance: float, q: float) -> tuple[float, float]:
    """Give the two frequencies at which a resonator stores half the power of its resonance.

    f = f0 (sqrt(1 + 1/(4 Q²)) -+ 1/(2 Q)), so that f1 f2 = f0² and f2 - f1 = f0 / Q.

    Source: common practice.
    """
    centre, half = np.sqrt(1 + 0.25 / q**2), 0.5 / q
    return resonance * (centre - half), resonance * (centre + half)


def grid_for(capture: Capture, fit: Fit) -> FloatArray:
    """Give frequencies dense enough to draw the fitted curve smoothly, also at a narrow peak."""
    measured = capture.frequency
    between = np.sqrt(measured[1:] * measured[:-1])
    parts = [measured, between]
    found = fit.estimates
    if "f0" in found and "Q" in found and found["f0"].value > 0 and found["Q"].value > 0:
        reach = 4 * found["f0"].value / found["Q"].value
        near = found["f0"].value + reach * np.linspace(-1, 1, 201) ** 3
        parts.append(near[(near > measured[0]) & (near < measured[-1])])
    grid = np.sort(np.concatenate(parts))
    return grid[np.concatenate(([True], np.diff(grid) > 0))]


def smooth_envelope(result: JudgedPart) -> Envelope | None:
    """Give the envelope of a result on a grid that is fine enough to look smooth."""
    band = result.envelope
    if band is None or result.nominal is None or band.frequency.size >= _SMOOTH:
        return band
    ends = band.frequency[[0, -1]]
    space = np.geomspace if ends[1] >= 10 * ends[0] else np.linspace
    return envelope(result.nominal, space(*ends, _SMOOTH)) or band


@dataclass(slots=True)
class _Shown:
    """What the plots show at present, in plain units."""

    capture: Capture | None = None
    choices: FitChoices = field(default_factory=FitChoices)
    result: JudgedPart | None = None
    pointed: tuple[int, ...] = ()
    cursor: int | None = None


class Plots(pg.GraphicsLayoutWidget):
    """Two linked plots and the residual strip, beside them the complex plane where it is wanted.

    Signals
    -------
    point_chosen(index)
        A point was clicked, or Space pressed on it.
    band_chosen(band)
        A band in Hz was dragged out, or moved.
    pointed_at(words)
        What the point under the mouse or the keyboard is, in words; the plot shows them too.
    """

    point_chosen = Signal(int)
    band_chosen = Signal(object)
    pointed_at = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(tr("Plots of the capture"))
        self.ci.setContentsMargins(4, 8, 10, 2)
        self.ci.setSpacing(6)
        self._shown = _Shown()
        self._view: View | None = None
        self._x_log = False
        self.upper, self.lower, self.strip = (TracePlot(bottom=last) for last in (0, 0, 1))
        self.plots = (self.upper, self.lower, self.strip)
        self.plane = PlanePlot()
        self.plane.setMinimumWidth(0)  # its axes would keep their place while it is folded
        self.addItem(self.plane, row=0, col=0, rowspan=len(self.plots))
        for row, (plot, stretch) in enumerate(zip(self.plots, _STRETCHES, strict=True)):
            self.addItem(plot, row=row, col=1)
            self.ci.layout.setRowStretchFactor(row, stretch)
            plot.area.dragged.connect(self._drag)
        self.lower.setXLink(self.upper)
        self.strip.setXLink(self.upper)
        self._build_strip()
        self._regions = [self._region(plot) for plot in self.plots]
        self._moving = False
        self.told = ""
        self._name = pg.TextItem(anchor=(0, 0))
        self.upper.addItem(self._name, ignoreBounds=True)
        self.readout = pg.LabelItem(justify="left")
        self._fold_plane(folded=True)
        self.upper.area.sigRangeChanged.connect(self._place_name)
        self.scene().sigMouseMoved.connect(self._hover)
        self.scene().sigMouseClicked.connect(self._click)
        self.dress()

    def _build_strip(self) -> None:
        self.strip.set_trace(_STRIP, x_log=False, y_log=False)
        self._bound_strip()
        self._two_u = pg.LinearRegionItem((-2, 2), orientation="horizontal", movable=False)
        self._two_u.setZValue(-20)
        self.strip.addItem(self._two_u, ignoreBounds=True)
        self.imaginary = pg.PlotDataItem(pen=None, symbol="+", symbolSize=5)
        self.beyond = pg.PlotDataItem(pen=None, symbol="t", symbolSize=9)
        self.strip.addItem(self.imaginary)
        self.strip.addItem(self.beyond)

    def _bound_strip(self) -> None:
        self.strip.setYRange(-_STRIP_LIMIT, _STRIP_LIMIT, padding=0.04)

    def _region(self, plot: TracePlot) -> pg.LinearRegionItem:
        region = pg.LinearRegionItem((0, 1), swapMode="sort")
        region.setZValue(-15)
        region.hide()
        region.sigRegionChanged.connect(self._move_band)
        region.sigRegionChangeFinished.connect(self._finish_band)
        plot.addItem(region, ignoreBounds=True)
        return region

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        theme = current()
        self.setBackground(theme.color("card"))
        for plot in (*self.plots, self.plane):
            plot.dress(theme)
        self.imaginary.setSymbolPen(None)
        self.imaginary.setSymbolBrush(theme.color("ink", 150))
        self.beyond.setSymbolBrush(theme.color("stop"))
        self.beyond.setSymbolPen(None)
        self._two_u.setBrush(theme.band_fill)
        self._name.setColor(theme.color("ink"))
        for line in self._two_u.lines:
            line.setPen(None)
        for region in self._regions:
            region.setBrush(theme.color("fit", 22))
            for line in region.lines:
                line.setPen(theme.color("fit"), width=1)
                line.setHoverPen(theme.color("fit"), width=3)

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "_name"):
            self.dress()

    def set_view(self, view: View, *, x_log: bool, y_log: bool) -> None:
        """Show other quantities, on linear or logarithmic axes."""
        self._view, self._x_log = view, x_log and view.kind is not Transient
        pairs = ((self.upper, view.upper), (self.lower, view.lower))
        for plot, trace in pairs:
            if trace is not None:
                plot.set_trace(trace, x_log=self._x_log, y_log=y_log and trace.logarithmic)
        self.plane.set_plane(view.plane)
        self._fold_lower(folded=view.lower is None)
        self._fold_plane(folded=view.plane is None)
        self.strip.setLogMode(x=self._x_log, y=False)
        self._bound_strip()
        self._redraw()
        self.show_all()

    def _fold_lower(self, *, folded: bool) -> None:
        """Give the place of the second plot to the first one, or back."""
        self.lower.setVisible(not folded)
        self.ci.layout.setRowStretchFactor(1, 0 if folded else _STRETCHES[1])
        self.ci.layout.setRowMaximumHeight(1, 0 if folded else _UNLIMITED)

    def _fold_plane(self, *, folded: bool) -> None:
        """Give the place of the plane to the other plots, or back; the readout stands in it."""
        layout = self.ci.layout
        self.plane.setVisible(not folded)
        layout.setColumnMaximumWidth(0, 0 if folded else _UNLIMITED)
        layout.setColumnSpacing(0, 0 if folded else self.ci.layout.horizontalSpacing())
        for column, stretch in enumerate((0, 1) if folded else _PLANE_STRETCHES):
            layout.setColumnStretchFactor(column, stretch)
        self.readout.setParentItem((self.upper if folded else self.plane).area)
        self.readout.anchor((0, 0), (0, 0), offset=(6, 2))

    @property
    def _drawn(self) -> list[PointPlot]:
        """The plots that show the points of the capture now."""
        both = [plot for plot in (self.upper, self.lower) if plot.trace is not None]
        return both if self.plane.plane is None else [*both, self.plane]

    def show_part(
        self, capture: Capture | None, choices: FitChoices, result: JudgedPart | None
    ) -> None:
        """Show a capture with the choices about it and, where there is one, its result."""
        shown = self._shown
        fresh = capture is not shown.capture
        if not fresh and choices is shown.choices and result is shown.result:
            return
        self._shown = _Shown(capture, choices, result, (), None if fresh else shown.cursor)
        self._redraw()
        if fresh and capture is not None:
            self.show_all()

    def show_pointed(self, points: tuple[int, ...]) -> None:
        """Ring the points that a warning speaks of."""
        self._shown.pointed = points
        if not self._suits():
            return
        capture = self._shown.capture
        chosen = [point for point in points if point < abscissa(capture).size]
        self._ring("pointed", chosen)

    def _ring(self, which: str, points: list[int]) -> None:
        capture = self._shown.capture
        x, z = abscissa(capture)[points], ordinate(capture)[points]
        for plot in self._drawn:
            plot.ring(which, *plot.places(capture, x, z))

    def show_all(self) -> None:
        """Show the whole sweep again."""
        if not self._suits():
            return
        x = abscissa(self._shown.capture)
        ends = np.log10(x[[0, -1]]) if self._x_log else x[[0, -1]]
        self.upper.setXRange(*ends, padding=0.01)
        for plot in (self.upper, self.lower):
            plot.enableAutoRange(axis="y")
        if self.plane.plane is not None:
            self.plane.show_all()

    def _suits(self) -> bool:
        """Whether the view is one of the capture: a new capture comes before its view."""
        capture, view = self._shown.capture, self._view
        return capture is not None and view is not None and isinstance(capture, view.kind)

    def _redraw(self) -> None:
        if not self._suits():
            return
        capture = self._shown.capture
        self._label_base(capture)
        used, aside = self._roles(capture)
        x, z = abscissa(capture), ordinate(capture)
        for plot in self._drawn:
            plot.show_points(*plot.places(capture, x, z), used, aside)
        if self.plane.plane is not None:
            self.plane.frame(capture, x, z)
        self._draw_fit(capture)
        self._draw_envelope(capture)
        self._draw_strip(x, used, aside)
        self._draw_band()
        self.show_pointed(self._shown.pointed)
        self._show_cursor()
        self._describe(used, aside)

    def _label_base(self, capture: Capture) -> None:
        over_time = isinstance(capture, Transient)
        x = abscissa(capture)
        axis = self.strip.base_axis
        for plot in self.plots:
            plot.base_axis.quantity_unit = "s" if over_time else "Hz"
            unit = plot.base_axis.set_scale_by(float(np.max(np.abs(x))))
        name = tr("time") if over_time else tr("frequency")
        axis.setLabel(f"{name}, {unit}")

    def _roles(self, capture: Capture) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Tell which points are used and which are set aside, by the person or by the fit."""
        x, choices, result = abscissa(capture), self._shown.choices, self._shown.result
        inside = np.ones(x.size, dtype=bool)
        inside[list(points_outside(capture, choices.band))] = False
        aside = np.zeros(x.size, dtype=bool)
        aside[[point for point in choices.set_aside if point < x.size]] = True
        if result is not None and result.fit.used.size == x.size:
            aside |= ~result.fit.used & inside
        return inside & ~aside, aside

    def _draw_fit(self, capture: Capture) -> None:
        result = self._shown.result
        nothing = np.empty(0)
        if result is None or not result.fit.converged:
            for plot in self._drawn:
                plot.show_curve(nothing, nothing)
                plot.show_marks(nothing, nothing, None)
            self._name.hide()
            return
        if isinstance(capture, Sweep):
            x = grid_for(capture, result.fit)
            z = curve(result.fit, x)
        else:
            x, z = abscissa(capture), result.fit.fitted
        marks, resonance = self._marks(capture, result.fit)
        at = np.interp(marks, x, z.real) + 1j * np.interp(marks, x, z.imag)
        for plot in self._drawn:
            plot.show_curve(*plot.places(capture, x, z))
            plot.show_marks(*plot.places(capture, marks, at), self._plotted(resonance))
        if self.plane.plane is not None:
            self._mark_in_plane(capture, resonance, x, z)

    def _mark_in_plane(
        self, capture: Capture, resonance: float | None, x: FloatArray, z: NDArray[np.complex128]
    ) -> None:
        """Mark the resonance where the fitted curve passes it."""
        at = np.array([] if resonance is None else [resonance])
        on_curve = np.interp(at, x, z.real) + 1j * np.interp(at, x, z.imag)
        words = self._name.toPlainText()
        self.plane.show_resonance(*self.plane.places(capture, at, on_curve), words)
        self._name.hide()  # it stands in the plane, where there is room

    def _marks(self, capture: Capture, fit: Fit) -> tuple[FloatArray, float | None]:
        """Give the half-power points and the resonance that lie within the sweep."""
        found, x = fit.estimates, abscissa(capture)
        name = next((name for name in ("f0", "SRF") if name in found), None)
        if isinstance(capture, Transient) or name is None or not x[0] < found[name].value < x[-1]:
            self._name.hide()
            return np.empty(0), None
        resonance = found[name]
        written = quantity(resonance.value, "Hz", u=resonance.u, digits=5)
        self._name.setText(f"{symbol(name)} {written}")
        self._name.show()
        q = found["Q"].value if "Q" in found else 0.0
        marks = half_power_frequencies(resonance.value, q) if q > 0.5 else ()
        return np.array([f for f in marks if x[0] <= f <= x[-1]]), resonance.value

    def _plotted(self, x: float | None) -> float | None:
        """Give ``x`` as the plots hold it: log10 on a logarithmic axis."""
        return np.log10(x) if x is not None and self._x_log else x

    def _place_name(self, *_ignored: object) -> None:
        top = self.upper.area.viewRange()[1][1]
        self._name.setPos(self.upper.resonance.value(), top)

    def _draw_envelope(self, capture: Capture) -> None:
        result = self._shown.result
        band = None if result is None else smooth_envelope(result)
        nothing = np.empty(0)
        for plot in (self.upper, self.lower):
            names = None if plot.trace is None else plot.trace.envelope
            if band is None or names is None or not isinstance(capture, Sweep):
                plot.show_envelope(nothing, nothing, nothing)
            else:
                low, high = (getattr(band, name) for name in names)
                plot.show_envelope(band.frequency, low, high)

    def _draw_strip(
        self, x: FloatArray, used: NDArray[np.bool_], aside: NDArray[np.bool_]
    ) -> None:
        result = self._shown.result
        if result is None or not result.fit.converged or result.fit.residual.size != x.size:
            used = aside = np.zeros(x.size, dtype=bool)
            residual = np.zeros(x.size, dtype=complex)
        else:
            residual = result.fit.residual
        real, imaginary = residual.real, residual.imag
        inside = np.maximum(np.abs(real), np.abs(imaginary)) <= _STRIP_LIMIT
        self.strip.show_points(x, real, used & inside, aside & inside)
        self.strip.outside.setData([], [])
        over_time = isinstance(self._shown.capture, Transient)
        shown = used & inside & (not over_time)  # a voltage has no imaginary part
        self.imaginary.setData(x[shown], imaginary[shown])
        over = (used | aside) & ~inside
        larger = np.where(np.abs(real) > np.abs(imaginary), real, imaginary)[over]
        self.beyond.setData(
            x[over],
            np.sign(larger) * _STRIP_LIMIT,
            symbol=["t1" if up else "t" for up in larger > 0],
        )
        self.strip.show_marks(np.empty(0), np.empty(0), None)

    def _draw_band(self) -> None:
        band = self._shown.choices.band
        shown = band is not None and not isinstance(self._shown.capture, Transient)
        self._moving = True
        for region in self._regions:
            region.setVisible(shown)
            if shown:
                region.setRegion([self._plotted(edge) for edge in band])
        self._moving = False

    def _drag(self, start: float, end: float, finished: bool) -> None:
        if self._shown.capture is None or isinstance(self._shown.capture, Transient):
            return
        self._moving = True
        for region in self._regions:
            region.setRegion(sorted((start, end)))
            region.show()
        self._moving = False
        if finished:
            self._finish_band(self._regions[0])

    def _move_band(self, moved: pg.LinearRegionItem) -> None:
        if self._moving:
            return
        self._moving = True
        for region in self._regions:
            if region is not moved:
                region.setRegion(moved.getRegion())
        self._moving = False

    def _finish_band(self, moved: pg.LinearRegionItem) -> None:
        if self._moving:
            return
        low, high = moved.getRegion()
        band = (10.0**low, 10.0**high) if self._x_log else (low, high)
        x = abscissa(self._shown.capture)
        held = (max(band[0], float(x[0])), min(band[1], float(x[-1])))
        if np.count_nonzero((x >= held[0]) & (x <= held[1])) >= 2:
            self.band_chosen.emit(held)
        else:
            self._draw_band()

    def _nearest(self, position: QPointF) -> int | None:
        """Find the point close to a place in the scene, in either plot."""
        if not self._suits():
            return None
        capture = self._shown.capture
        x, z = abscissa(capture), ordinate(capture)
        for plot in self._drawn:
            if not plot.isVisible() or not plot.area.sceneBoundingRect().contains(position):
                continue
            places = plot.scene_places(*plot.places(capture, x, z))
            away = np.hypot(places[0] - position.x(), places[1] - position.y())
            away = np.where(np.isfinite(away), away, np.inf)
            nearest = int(np.argmin(away))
            return nearest if away[nearest] <= _NEAR_PIXELS else None
        return None

    def _click(self, event: object) -> None:
        """Choose the point under the mouse."""
        if event.button() != Qt.MouseButton.LeftButton or event.double():
            return
        nearest = self._nearest(event.scenePos())
        if nearest is not None:
            self._shown.cursor = nearest
            self.point_chosen.emit(nearest)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Show the whole sweep again."""
        super().mouseDoubleClickEvent(event)
        self.show_all()

    def _hover(self, position: QPointF) -> None:
        nearest = self._nearest(position)
        if self._suits():
            self._ring("hovered", [] if nearest is None else [nearest])
        if nearest is not None:
            self._tell(nearest)

    def _words(self, point: int) -> str:
        """Say what was measured at a point."""
        capture, view = self._shown.capture, self._view
        x, z = abscissa(capture)[[point]], ordinate(capture)[[point]]
        unit = "s" if isinstance(capture, Transient) else "Hz"
        words = [tr("point {n}").format(n=point + 1), exact(float(f"{x[0]:.7g}"), unit)]
        for trace in (view.upper, view.lower):
            value = np.nan if trace is None else float(trace.of(x, z)[0])
            if np.isfinite(value):
                words.append(f"{trace.name} {quantity(value, trace.unit)}")
        used, aside = self._roles(capture)
        if not used[point]:
            words.append(tr("set aside") if aside[point] else tr("outside the band"))
        if view.plane is not None:
            words += self._residual_words(point)
        return " · ".join(words)

    def _residual_words(self, point: int) -> list[str]:
        """Say how far a point lies from the curve, for both parts, in units of u."""
        result = self._shown.result
        if result is None or not result.fit.converged or point >= result.fit.residual.size:
            return []
        parts = (result.fit.residual[point].real, result.fit.residual[point].imag)
        return [tr("residual {re} and {im} u").format(re=_signed(parts[0]), im=_signed(parts[1]))]

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Walk along the points with the arrow keys; Space sets one aside, Ctrl+C copies it."""
        capture = self._shown.capture
        if capture is None:
            super().keyPressEvent(event)
            return
        last = abscissa(capture).size - 1
        stride = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        at = self._shown.cursor
        start = last // 2 if at is None else at
        places = {
            Qt.Key.Key_Left: start - stride,
            Qt.Key.Key_Right: start + stride,
            Qt.Key.Key_Home: 0,
            Qt.Key.Key_End: last,
        }
        if event.matches(QKeySequence.StandardKey.Copy):
            copy_text(self.told)
        elif event.key() in places:
            self._shown.cursor = min(max(places[event.key()], 0), last)
            self._show_cursor()
        elif event.key() == Qt.Key.Key_Space and at is not None:
            self.point_chosen.emit(at)
        else:
            super().keyPressEvent(event)

    def _show_cursor(self) -> None:
        at = self._shown.cursor
        self._ring("cursor", [] if at is None else [at])
        self._ring("hovered", [])
        self.readout.setText("")
        if at is not None:
            self._tell(at)

    def _tell(self, point: int) -> None:
        """Say what was measured at a point, in the plot and to whoever listens."""
        words = self.told = self._words(point)
        lines = words if self.plane.plane is None else _in_lines(words)
        self.readout.setText(lines, color=current().ink, size="10pt")
        self.pointed_at.emit(words)

    def _describe(self, used: NDArray[np.bool_], aside: NDArray[np.bool_]) -> None:
        words = tr("{used} points used, {aside} set aside. Arrow keys walk along the points.")
        self.setAccessibleDescription(
            words.format(used=np.count_nonzero(used), aside=np.count_nonzero(aside))
        )


def _signed(value: float) -> str:
    """Write a value with its sign and one decimal, as the person's desktop writes it."""
    return f"{value:+.1f}".replace("-", "−").replace(".", decimal_mark())


def _in_lines(words: str) -> str:
    """Break what is told of a point after each three parts, for a plot with little width."""
    parts = words.split(" · ")
    return "<br>".join(" · ".join(parts[at : at + 3]) for at in range(0, len(parts), 3))
