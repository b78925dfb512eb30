"""Pictures of a capture and its fit, through Qt's painter and without a display."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QImage, QPainter, QPen, QPolygonF

from benchapp.capture import Capture, Sweep, Transient
from benchapp.errors import FileAccessError
from benchapp.fit import Fit
from benchapp.report.axis import Axis, linear_axis, log_axis
from benchapp.units import format_estimate

__all__ = ["save_png"]

FloatArray = NDArray[np.float64]

_PAPER, _INK, _FAINT, _GRID = "#FFFFFF", "#1B1E23", "#5C626B", "#E4E2DC"
_FITTED, _ASIDE = "#0072B2", "#B35900"
_LEFT, _RIGHT, _TOP, _GAP, _BOTTOM = 92.0, 28.0, 84.0, 22.0, 54.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    """One plot of the column: what was measured and what the fit says, already as positions."""

    label: str
    axis: Axis
    measured: FloatArray
    fitted: FloatArray | None
    weight: float


def save_png(
    capture: Capture, fit: Fit, title: str, path: str, *, width: int = 1100, height: int = 780
) -> None:
    """Draw a capture with its fit and its residuals, and write the picture.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    application = QGuiApplication.instance() or QGuiApplication(["benchapp"])
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(QColor(_PAPER))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        _draw(painter, capture, fit, title, float(width), float(height))
    finally:
        painter.end()
    if not image.save(path):
        raise FileAccessError(
            f"{path}: the picture must go to a folder that can be written (it could not be).",
            hint="Name another folder.",
            path=path,
        )
    del application


def _draw(
    painter: QPainter, capture: Capture, fit: Fit, title: str, width: float, height: float
) -> None:
    x, across, x_label = _across(capture)
    panels = _panels(capture, fit)
    _headline(painter, fit, title, width)
    total = sum(panel.weight for panel in panels)
    room = height - _TOP - _BOTTOM - _GAP * (len(panels) - 1)
    top = _TOP
    for panel in panels:
        box = QRectF(_LEFT, top, width - _LEFT - _RIGHT, room * panel.weight / total)
        _draw_panel(painter, panel, box, across, x, fit.used)
        top = box.bottom() + _GAP
    _label_across(painter, across, width, height, x_label)


def _across(capture: Capture) -> tuple[FloatArray, Axis, str]:
    if isinstance(capture, Transient):
        time = capture.time
        return time, linear_axis(float(time[0]), float(time[-1]), "s", most=8), "time"
    frequency = capture.frequency
    low, high = float(frequency[0]), float(frequency[-1])
    if high > 10 * low:
        return np.log10(frequency), log_axis(low, high, "Hz", most=10), "frequency"
    return frequency, linear_axis(low, high, "Hz", most=8), "frequency"


def _panels(capture: Capture, fit: Fit) -> list[_Panel]:
    if isinstance(capture, Transient):
        panels = [_linear("voltage", "V", capture.voltage, fit.fitted.real, 4.0)]
    elif isinstance(capture, Sweep):
        panels = [
            _magnitude("|Z|", capture.impedance, fit, unit="ohm"),
            _phase("θ", capture.impedance, fit),
        ]
    else:
        panels = [_magnitude("magnitude", capture.ratio, fit, unit="1")]
        if capture.has_phase:
            panels.append(_phase("phase", capture.ratio, fit))
    residual = np.concatenate([fit.residual.real, fit.residual.imag])
    limit = max(4.0, float(np.max(np.abs(residual[np.tile(fit.used, 2)]), initial=0.0)))
    real = np.clip(fit.residual.real, -limit, limit)
    axis = linear_axis(-limit, limit, "1", most=4)
    panels.append(_Panel(label="residual / u", axis=axis, measured=real, fitted=None, weight=1.2))
    return panels


def _linear(
    label: str, unit: str, measured: FloatArray, fitted: FloatArray, weight: float
) -> _Panel:
    both = np.concatenate([measured, fitted])
    low, high = float(both.min()), float(both.max())
    room = 0.05 * (high - low)
    axis = linear_axis(low - room, high + room, unit, most=5)
    return _Panel(label=label, axis=axis, measured=measured, fitted=fitted, weight=weight)


def _phase(label: str, values: NDArray[np.complex128], fit: Fit) -> _Panel:
    measured, fitted = (np.degrees(np.angle(array)) for array in (values, fit.fitted))
    return _linear(label, "deg", measured, fitted, 2.4)


def _magnitude(label: str, values: NDArray[np.complex128], fit: Fit, *, unit: str) -> _Panel:
    floor = np.finfo(np.float64).tiny
    measured, fitted = (np.maximum(np.abs(array), floor) for array in (values, fit.fitted))
    low, high = min(measured.min(), fitted.min()), max(measured.max(), fitted.max())
    axis = log_axis(float(low) / 1.1, float(high) * 1.1, unit)
    return _Panel(
        label=label, axis=axis, measured=np.log10(measured), fitted=np.log10(fitted), weight=4.0
    )


def _font(painter: QPainter, pixels: int, *, bold: bool = False) -> None:
    font = QFont("DejaVu Sans")
    font.setPixelSize(pixels)
    font.setBold(bold)
    painter.setFont(font)


def _headline(painter: QPainter, fit: Fit, title: str, width: float) -> None:
    box = QRectF(_LEFT, 14, width - _LEFT - _RIGHT, 26)
    _font(painter, 18, bold=True)
    painter.setPen(QColor(_INK))
    painter.drawText(box, Qt.AlignmentFlag.AlignLeft, f"{title}: {fit.circuit}")
    _font(painter, 13)
    text = "    ".join(f"{found.name} {format_estimate(found, 2.0)}" for found in fit.results)
    if fit.undetermined:
        text += f"    not determined: {', '.join(fit.undetermined)}"
    if not fit.describes:
        text = "The circuit does not describe the data.   " + text
    painter.setPen(QColor(_INK if fit.describes else _ASIDE))
    painter.drawText(box.translated(0, 32), Qt.AlignmentFlag.AlignLeft, text)


def _draw_panel(
    painter: QPainter,
    panel: _Panel,
    box: QRectF,
    across: Axis,
    x: FloatArray,
    used: NDArray[np.bool_],
) -> None:
    def place(at: float, value: float) -> QPointF:
        return QPointF(
            box.left() + across.fraction(at) * box.width(),
            box.bottom() - panel.axis.fraction(value) * box.height(),
        )

    _grid(painter, panel, box, across, place)
    painter.setClipRect(box.adjusted(-1, -1, 1, 1))
    if panel.fitted is not None:
        painter.setPen(QPen(QColor(_FITTED), 1.6))
        line = QPolygonF([place(at, value) for at, value in zip(x, panel.fitted, strict=True)])
        painter.drawPolyline(line)
    for at, value, kept in zip(x, panel.measured, used, strict=True):
        if kept:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(_INK))
            painter.drawEllipse(place(at, value), 1.7, 1.7)
        else:
            painter.setPen(QPen(QColor(_ASIDE), 1.4))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(place(at, value), 3.2, 3.2)
    painter.setClipping(False)


def _grid(
    painter: QPainter,
    panel: _Panel,
    box: QRectF,
    across: Axis,
    place: Callable[[float, float], QPointF],
) -> None:
    _font(painter, 12)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(_GRID), 1))
    for at, _ in across.ticks:
        top = place(at, panel.axis.high)
        painter.drawLine(QLineF(top.x(), box.top(), top.x(), box.bottom()))
    for value, text in panel.axis.ticks:
        y = place(across.low, value).y()
        painter.setPen(QPen(QColor(_GRID), 1))
        painter.drawLine(QLineF(box.left(), y, box.right(), y))
        painter.setPen(QColor(_FAINT))
        side = QRectF(22, y - 9, _LEFT - 30, 18)
        painter.drawText(side, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
    painter.setPen(QPen(QColor(_FAINT), 1))
    painter.drawRect(box)
    painter.save()
    painter.translate(8, box.center().y() + 60)
    painter.rotate(-90)
    painter.drawText(QRectF(0, 0, 120, 18), Qt.AlignmentFlag.AlignCenter, panel.label)
    painter.restore()


def _label_across(
    painter: QPainter, across: Axis, width: float, height: float, label: str
) -> None:
    painter.setPen(QColor(_FAINT))
    for at, text in across.ticks:
        x = _LEFT + across.fraction(at) * (width - _LEFT - _RIGHT)
        painter.drawText(
            QRectF(x - 50, height - _BOTTOM + 5, 100, 18), Qt.AlignmentFlag.AlignCenter, text
        )
    box = QRectF(_LEFT, height - 26, width - _LEFT - _RIGHT, 20)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, label)
