"""The Capture station while a sweep is being taken: its points as they come."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import Notice, text
from benchapp.gui.theme import current
from benchapp.gui.traces import TracePlot
from benchapp.gui.views import VIEWS
from benchapp.gui.words import plural, quantity, tr

__all__ = ["LivePage"]


class LivePage(QWidget):
    """Two linked plots that grow, and the last point in words."""

    def __init__(self, instrument: Instrument, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self._instrument = instrument
        self.last = text("", "heading", wrap=False)
        self.field = pg.GraphicsLayoutWidget()
        self.field.setAccessibleName(tr("Points of the running sweep: |Z| and θ over frequency"))
        self.field.ci.setContentsMargins(4, 6, 10, 2)
        view = VIEWS["magnitude-phase"]
        self.upper, self.lower = TracePlot(bottom=False), TracePlot(bottom=True)
        for row, (plot, trace) in enumerate(((self.upper, view.upper), (self.lower, view.lower))):
            plot.set_trace(trace, x_log=False, y_log=trace.logarithmic)
            plot.resonance.hide()
            self.field.addItem(plot, row=row, col=0)
        self.lower.setXLink(self.upper)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 8)
        column.addWidget(self.last)
        column.addWidget(self.field, 1)
        column.addWidget(
            Notice(
                tr(
                    "The output is on. Keep hands and probes off the part until it is reported "
                    "off. Follow your workplace's rules; if unsure, ask the responsible person."
                )
            )
        )
        instrument.grew.connect(self.show_points)
        self.dress()
        self.show_points()

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        self.field.setBackground(current().color("card"))
        for plot in (self.upper, self.lower):
            plot.dress(current())

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "lower"):
            self.dress()

    def show_points(self) -> None:
        """Draw every point that is there."""
        points = self._instrument.points
        x = np.array([point.frequency for point in points])
        z = np.array([point.impedance for point in points], dtype=np.complex128)
        used = np.ones(x.size, dtype=bool)
        for plot in (self.upper, self.lower):
            plot.show_points(x, plot.trace.of(x, z) if x.size else x, used, ~used)
        if not points:
            self.last.setText(tr("Waiting for the first point"))
            return
        unit = ""
        for plot in (self.upper, self.lower):
            unit = plot.base_axis.set_scale_by(float(x.max()))
        self.lower.base_axis.setLabel(f"{tr('frequency')}, {unit}")
        words = plural(x.size, tr("1 point"), tr("%n points"))
        at, size = quantity(float(x[-1]), "Hz", digits=6), quantity(float(abs(z[-1])), "ohm")
        self.last.setText(
            tr("{words} · last: {at}, |Z| {size}").format(words=words, at=at, size=size)
        )
