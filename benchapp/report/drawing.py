"""Scenes through Qt's painter: on paper and as pictures, without a display."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import cast

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QGuiApplication,
    QImage,
    QPainter,
    QPen,
    QPolygonF,
)

from benchapp.capture import Capture
from benchapp.errors import FileAccessError
from benchapp.fit import Fit
from benchapp.report.curves import fit_plot
from benchapp.report.plot import scene_of
from benchapp.report.scene import INK, PAPER, WARNING, Area, Dots, Label, Line, Mark, Points, Scene
from benchapp.units import format_estimate

__all__ = ["draw", "font", "ready", "save_png", "save_scene"]

_HEAD = 70.0


def ready() -> QGuiApplication:
    """Give the application that fonts and painters need, without a display where there is none."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    running = QGuiApplication.instance()
    return cast("QGuiApplication", running or QGuiApplication(["benchapp"]))


def font(pixels: float, *, bold: bool = False) -> QFont:
    """Give the typeface of reports; its letters stand where they would at any resolution.

    No two letters are drawn as one sign: a search finds every word.
    """
    made = QFont(["DejaVu Sans", "Verdana", "Arial"])
    made.setPointSizeF(0.75 * pixels)
    made.setBold(bold)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    made.setFeature(QFont.Tag("liga"), 0)
    return made


def draw(painter: QPainter, scene: Scene) -> None:
    """Paint a scene with its corner at the origin of the painter."""
    for mark in scene.marks:
        _mark(painter, mark)


def _mark(painter: QPainter, mark: Mark) -> None:
    if isinstance(mark, Label):
        _label(painter, mark)
        return
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if isinstance(mark, Line):
        painter.setPen(_pen(mark))
        for piece in _pieces(mark.points):
            painter.drawPolyline(piece)
    elif isinstance(mark, Area):
        painter.setBrush(QColor(mark.colour))
        painter.drawPolygon(_polygon(mark.points))
    else:
        _dots(painter, mark)


def _pen(mark: Line) -> QPen:
    pen = QPen(QColor(mark.colour), mark.width)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if mark.dashed:
        pen.setStyle(Qt.PenStyle.DashLine)
    return pen


def _polygon(points: Points) -> QPolygonF:
    return QPolygonF([QPointF(x, y) for x, y in points.tolist()])


def _pieces(points: Points) -> list[QPolygonF]:
    finite = np.asarray(np.isfinite(points).all(axis=1))
    if finite.all():
        return [_polygon(points)]
    breaks = np.flatnonzero(np.diff(finite.astype(np.int8))) + 1
    runs = np.split(np.arange(finite.size), breaks)
    return [_polygon(points[run]) for run in runs if finite[run[0]]]


def _dots(painter: QPainter, mark: Dots) -> None:
    if mark.hollow:
        painter.setPen(QPen(QColor(mark.colour), 1.4))
        for x, y in mark.points.tolist():
            painter.drawEllipse(QPointF(x, y), mark.radius, mark.radius)
        return
    pen = QPen(QColor(mark.colour), 2 * mark.radius)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)
    painter.drawPoints(_polygon(mark.points))


def _label(painter: QPainter, mark: Label) -> None:
    look = font(mark.size, bold=mark.bold)
    painter.setFont(look)
    painter.setPen(QColor(mark.colour))
    wide = QFontMetricsF(look, painter.device()).horizontalAdvance(mark.text)
    start = {"start": 0.0, "middle": -0.5, "end": -1.0}[mark.anchor] * wide
    if mark.turned:
        painter.save()
        painter.translate(mark.x, mark.y)
        painter.rotate(-90)
        painter.drawText(QPointF(start, 0.0), mark.text)
        painter.restore()
    else:
        painter.drawText(QPointF(mark.x + start, mark.y), mark.text)


def save_scene(scene: Scene, path: str) -> None:
    """Paint a scene into a PNG file.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """
    application = ready()
    image = QImage(round(scene.width), round(scene.height), QImage.Format.Format_RGB32)
    image.setDotsPerMeterX(3780)  # 96 dots per inch: a point is 4/3 of a pixel
    image.setDotsPerMeterY(3780)
    image.fill(QColor(PAPER))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        draw(painter, scene)
    finally:
        painter.end()
    if not image.save(path):
        raise FileAccessError(
            f"{path}: the picture must go to a folder that can be written (it could not be).",
            hint="Name another folder.",
            path=path,
        )
    del application


def save_png(
    capture: Capture, fit: Fit, title: str, path: str, *, width: int = 1100, height: int = 780
) -> None:
    """Draw a capture with its fit and its residuals, and write the picture.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """
    below = scene_of(fit_plot(capture, fit), float(width), height - _HEAD)
    marks = (*_headline(fit, title), *(_lowered(mark) for mark in below.marks))
    save_scene(replace(below, height=float(height), marks=marks), path)


def _lowered(mark: Mark) -> Mark:
    if isinstance(mark, Label):
        return replace(mark, y=mark.y + _HEAD)
    return replace(mark, points=mark.points + np.array([0.0, _HEAD]))


def _headline(fit: Fit, title: str) -> tuple[Label, Label]:
    text = "    ".join(f"{found.name} {format_estimate(found, 2.0)}" for found in fit.results)
    if fit.undetermined:
        text += f"    not determined: {', '.join(fit.undetermined)}"
    if not fit.describes:
        text = "The circuit does not describe the data.   " + text
    colour = INK if fit.describes else WARNING
    return (
        Label(x=84, y=32, text=f"{title}: {fit.circuit}", size=18, bold=True, colour=INK),
        Label(x=84, y=58, text=text, size=13, colour=colour),
    )
