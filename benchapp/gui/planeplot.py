"""The complex plane: points, curve and marks on equal axes, beside the plots over frequency."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray

from benchapp.capture import Capture
from benchapp.gui.pointplot import PointPlot
from benchapp.gui.theme import Theme
from benchapp.gui.views import Plane
from benchapp.gui.words import quantity

__all__ = ["PlanePlot"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
_ROOM = 0.09  # of the range, left free around what is shown
_SPACE = "\N{EN SPACE}"  # between a point and the words beside it
_CIRCLE = np.exp(2j * np.pi * np.linspace(0, 1, 181))


class PlanePlot(PointPlot):
    """One complex quantity with its imaginary part over its real part, both equally long."""

    def __init__(self) -> None:
        super().__init__(pg.ViewBox(lockAspect=True, enableMenu=False))
        self._plane: Plane | None = None
        self._all = np.zeros(2, dtype=complex)
        self.circle = pg.PlotDataItem()
        self.axes = [pg.InfiniteLine(0, angle=angle) for angle in (0, 90)]
        self.resonance = pg.PlotDataItem(pen=None, symbol="s", symbolSize=8)
        self.ends, self.name = [pg.TextItem() for _ in range(2)], pg.TextItem()
        for item in (*self.axes, *self.ends, self.name):
            item.setZValue(-5)
            self.addItem(item, ignoreBounds=True)
        self.addItem(self.circle)
        self.addItem(self.resonance)

    @property
    def plane(self) -> Plane | None:
        """The quantity that is shown; None where the plane is folded away."""
        return self._plane

    def set_plane(self, plane: Plane | None) -> None:
        """Show another quantity, or none."""
        self._plane = plane

    def places(
        self, capture: Capture, _x: FloatArray, z: ComplexArray
    ) -> tuple[FloatArray, FloatArray]:
        """Give where points with the ordinate ``z`` are drawn, in plain units."""
        at = self._plane.of(capture, z)
        return at.real, at.imag

    def frame(self, capture: Capture, x: FloatArray, z: ComplexArray) -> None:
        """Set up axes, circle and the names of the first and the last frequency."""
        plane, at = self._plane, self._plane.of(capture, z)
        x, at = x[np.isfinite(at)], at[np.isfinite(at)]
        turn = _CIRCLE if plane.is_unit(capture) else _CIRCLE[:0]
        self.circle.setData(turn.real, turn.imag)
        self._all = np.concatenate([at if at.size else [0j], turn])
        for axis, name in ((self.base_axis, plane.across), (self.scale_axis, plane.upward)):
            axis.quantity_unit = plane.unit
            axis.setLabel(name)
        prefixed = self.base_axis.set_scale_by(float(np.max(np.abs(self._all))))
        self.base_axis.setLabel(f"{plane.across}, {prefixed}" if prefixed else plane.across)
        for item, end in zip(self.ends, (0, -1), strict=True):
            item.setVisible(at.size > 1)
            if at.size > 1:
                across, upward = _inwards(at[end], self._all)
                item.setText(_SPACE + quantity(float(x[end]), "Hz") + _SPACE)
                item.setAnchor((across, 1.0 - upward))
                item.setPos(at[end].real, at[end].imag)

    def show_marks(self, x: FloatArray, y: FloatArray, _resonance: float | None) -> None:
        """Mark the half-power points; the resonance has no line here, but a place."""
        self.half_power.setData(x, y)
        self.show_resonance(np.empty(0), np.empty(0), "")

    def show_resonance(self, x: FloatArray, y: FloatArray, words: str) -> None:
        """Mark the resonance by a square and its name; empty arrays take both away."""
        self.resonance.setData(x, y)
        self.name.setVisible(x.size > 0)
        if x.size:
            self.name.setText(_SPACE + words + _SPACE)
            self.name.setAnchor((_inwards(complex(x[0], y[0]), self._all)[0], 0.5))
            self.name.setPos(float(x[0]), float(y[0]))

    def show_all(self) -> None:
        """Show every point, and the circle where there is one."""
        ends = [
            (float(np.min(part)), float(np.max(part))) for part in (self._all.real, self._all.imag)
        ]
        self.setRange(xRange=ends[0], yRange=ends[1], padding=_ROOM)

    def dress(self, theme: Theme) -> None:
        """Take the colours of ``theme``."""
        super().dress(theme)
        self.circle.setPen(theme.color("muted"), width=1)
        for line in self.axes:
            line.setPen(theme.color("edge"), width=1)
        for item in self.ends:
            item.setColor(theme.color("muted"))
        self.name.setColor(theme.color("ink"))
        self.resonance.setSymbolBrush(theme.color("card"))
        self.resonance.setSymbolPen(theme.color("ink"), width=1.5)


def _inwards(place: complex, points: ComplexArray) -> tuple[float, float]:
    """Give the anchor that lets words stand on the inner side of a point, both ways."""
    across, upward = ((np.min(part) + np.max(part)) / 2 for part in (points.real, points.imag))
    return float(place.real > across), float(place.imag < upward)
