"""What a good sweep looks like: the envelope of a design, before anything is measured."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QSize
from PySide6.QtWidgets import QWidget

from benchapp.gui.theme import current
from benchapp.gui.traces import TracePlot
from benchapp.gui.views import VIEWS
from benchapp.gui.words import tr
from benchapp.nominal import Nominal, envelope

__all__ = ["Preview", "preview_span"]

_POINTS = 161


def preview_span(nominal: Nominal) -> tuple[float, float] | None:
    """Give the frequencies in Hz between which a design is worth looking at; None if unknown."""
    centre = nominal.frequency
    for limit in nominal.limits:
        if limit.quantity in ("f0", "SRF") and centre is None:
            centre = limit.nominal or limit.upper or limit.lower
        centre = centre or limit.at
    return None if centre is None else (0.85 * centre, 1.15 * centre)


class Preview(pg.GraphicsLayoutWidget):
    """The envelope of |Z| and θ around the frequency of a design."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(tr("What the design allows: |Z| and θ over frequency"))
        self.ci.setContentsMargins(4, 6, 10, 2)
        self.ci.setSpacing(6)
        view = VIEWS["magnitude-phase"]
        self.upper, self.lower = TracePlot(bottom=False), TracePlot(bottom=True)
        for row, (plot, trace) in enumerate(((self.upper, view.upper), (self.lower, view.lower))):
            plot.set_trace(trace, x_log=False, y_log=trace.logarithmic)
            plot.resonance.hide()
            plot.setMouseEnabled(x=False, y=False)
            self.addItem(plot, row=row, col=0)
        self.lower.setXLink(self.upper)
        self.ready = True
        self.dress()

    def sizeHint(self) -> QSize:
        """Small: it grows into what room there is."""
        return QSize(400, 220)

    def dress(self) -> None:
        """Take the colours of the theme that the application wears."""
        self.setBackground(current().color("card"))
        for plot in (self.upper, self.lower):
            plot.dress(current())

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and getattr(self, "ready", False):
            self.dress()

    def show_nominal(self, nominal: Nominal) -> bool:
        """Show the envelope; False where the limits do not give one."""
        span = preview_span(nominal)
        found = None if span is None else envelope(nominal, np.linspace(*span, _POINTS))
        if found is None:
            return False
        for plot in (self.upper, self.lower):
            low, high = (getattr(found, name) for name in plot.trace.envelope)
            plot.show_envelope(found.frequency, low, high)
            plot.enableAutoRange(axis="y")
            unit = plot.base_axis.set_scale_by(span[1])
        self.lower.base_axis.setLabel(f"{tr('frequency')}, {unit}")
        self.upper.setXRange(*span, padding=0)
        return True
