"""Plots laid out as scenes: panels above each other over one common axis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchapp.report.axis import Axis
from benchapp.report.scene import (
    FAINT,
    GRID,
    INK,
    LIMIT,
    MUTED,
    Area,
    Dots,
    Label,
    Line,
    Mark,
    Scene,
)

__all__ = ["Panel", "Plot", "Trace", "scene_of"]

FloatArray = NDArray[np.float64]

_LEFT, _RIGHT, _TOP, _GAP, _BOTTOM, _LEGEND = 84.0, 22.0, 12.0, 18.0, 46.0, 24.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """Points as positions on the axes: ``x`` and ``y`` (N,), ``low`` (N,) for bars and bands.

    A named trace is explained below the plot.
    """

    kind: Literal["line", "dots", "rings", "band", "bars"]
    x: FloatArray
    y: FloatArray
    low: FloatArray | None = None
    colour: str = INK
    name: str = ""
    width: float = 1.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One plot of the column. ``across`` and ``along`` are limits to draw through it."""

    label: str
    axis: Axis
    traces: tuple[Trace, ...]
    weight: float = 1.0
    across: tuple[float, ...] = ()
    along: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plot:
    """Panels over one axis, and what is seen in words."""

    axis: Axis
    label: str
    panels: tuple[Panel, ...]
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """Where a panel lies on the sheet, and its two axes."""

    left: float
    top: float
    width: float
    height: float
    x: Axis
    y: Axis

    def place(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Give positions as places on the sheet; beyond the frame they end just outside it."""
        across = np.clip((x - self.x.low) / (self.x.high - self.x.low), -1e-3, 1 + 1e-3)
        up = np.clip((y - self.y.low) / (self.y.high - self.y.low), -0.01, 1.01)
        points: FloatArray = np.column_stack(
            [self.left + across * self.width, self.top + (1 - up) * self.height]
        )
        return points

    def inside(self, x: FloatArray, y: FloatArray) -> NDArray[np.bool_]:
        """Tell which positions lie in the frame."""
        rounding = 1e-9 * (self.x.high - self.x.low)
        found: NDArray[np.bool_] = (
            np.isfinite(y) & (x >= self.x.low - rounding) & (x <= self.x.high + rounding)
        )
        return found & (y >= self.y.low) & (y <= self.y.high)


def scene_of(plot: Plot, width: float = 640.0, height: float = 420.0) -> Scene:
    """Lay out a plot.

    Parameters
    ----------
    plot : Plot
    width, height : float
        Size of the sheet.

    Returns
    -------
    Scene
    """
    named = [trace for panel in plot.panels for trace in panel.traces if trace.name]
    bottom = _BOTTOM + (_LEGEND if named else 0.0)
    total = sum(panel.weight for panel in plot.panels)
    room = height - _TOP - bottom - _GAP * (len(plot.panels) - 1)
    marks: list[Mark] = []
    top = _TOP
    frame = None
    for panel in plot.panels:
        frame = _Frame(
            left=_LEFT,
            top=top,
            width=width - _LEFT - _RIGHT,
            height=room * panel.weight / total,
            x=plot.axis,
            y=panel.axis,
        )
        marks += _panel(panel, frame)
        top += frame.height + _GAP
    if frame is not None:
        marks += _feet(plot, frame)
    marks += _legend(named, height)
    return Scene(width=width, height=height, marks=tuple(marks), words=plot.words)


def _panel(panel: Panel, frame: _Frame) -> Iterator[Mark]:
    right, bottom = frame.left + frame.width, frame.top + frame.height
    for at in _spaced(panel.axis, frame):
        value, text = panel.axis.ticks[at]
        y = bottom - panel.axis.fraction(value) * frame.height
        yield _straight(frame.left, y, right, y, GRID)
        yield Label(x=frame.left - 7, y=y + 4, text=text, size=11, anchor="end")
    for at_x, _ in frame.x.ticks:
        x = frame.left + frame.x.fraction(at_x) * frame.width
        yield _straight(x, frame.top, x, bottom, GRID)
    for trace in panel.traces:
        yield from _trace(trace, frame)
    for value in panel.across:
        if panel.axis.low <= value <= panel.axis.high:
            y = bottom - panel.axis.fraction(value) * frame.height
            yield _straight(frame.left, y, right, y, LIMIT, dashed=True)
    for value in panel.along:
        if frame.x.low <= value <= frame.x.high:
            x = frame.left + frame.x.fraction(value) * frame.width
            yield _straight(x, frame.top, x, bottom, LIMIT, dashed=True)
    corners = [(frame.left, frame.top), (right, frame.top), (right, bottom), (frame.left, bottom)]
    yield Line(points=np.array([*corners, corners[0]]), colour=FAINT)
    middle = frame.top + frame.height / 2
    yield Label(x=14, y=middle, text=panel.label, anchor="middle", turned=True)


def _spaced(axis: Axis, frame: _Frame) -> range:
    """Leave out ticks that would touch each other on a low panel."""
    fits = max(1, int(frame.height / 15))
    return range(0, len(axis.ticks), max(1, -(-len(axis.ticks) // fits)))


def _straight(
    x1: float, y1: float, x2: float, y2: float, colour: str, *, dashed: bool = False
) -> Line:
    points = np.array([(x1, y1), (x2, y2)])
    return Line(points=points, colour=colour, width=1.2 if dashed else 1.0, dashed=dashed)


def _trace(trace: Trace, frame: _Frame) -> Iterator[Mark]:
    if trace.kind == "line":
        yield Line(points=frame.place(trace.x, trace.y), colour=trace.colour, width=trace.width)
    elif trace.kind == "band" and trace.low is not None:
        there = frame.place(trace.x, trace.y)
        back = frame.place(trace.x, trace.low)[::-1]
        yield Area(points=np.concatenate([there, back]), colour=trace.colour)
    elif trace.kind == "bars":
        yield from _bars(trace, frame)
    else:
        seen = frame.inside(trace.x, trace.y)
        hollow = trace.kind == "rings"
        points = frame.place(trace.x[seen], trace.y[seen])
        yield Dots(
            points=points, radius=3.2 if hollow else 1.7, colour=trace.colour, hollow=hollow
        )


def _bars(trace: Trace, frame: _Frame) -> Iterator[Mark]:
    """Stand bars on the axis: ``x`` (N + 1,) are the edges, ``y`` (N,) the heights."""
    for (start, end), high in zip(pairwise(trace.x.tolist()), trace.y.tolist(), strict=True):
        if high > 0:
            corners = np.array([(start, 0.0), (start, high), (end, high), (end, 0.0)])
            points = frame.place(corners[:, 0], corners[:, 1])
            yield Area(points=points, colour=MUTED)
            yield Line(points=points, colour=trace.colour)


def _feet(plot: Plot, frame: _Frame) -> Iterator[Mark]:
    bottom = frame.top + frame.height
    for at, text in plot.axis.ticks:
        x = frame.left + plot.axis.fraction(at) * frame.width
        yield Label(x=x, y=bottom + 16, text=text, size=11, anchor="middle")
    middle = frame.left + frame.width / 2
    yield Label(x=middle, y=bottom + 36, text=plot.label, anchor="middle")


def _legend(named: list[Trace], height: float) -> Iterator[Mark]:
    x, y = _LEFT, height - 8
    for trace in named:
        middle = y - 4
        if trace.kind in ("dots", "rings"):
            spot = np.array([(x + 9, middle)])
            hollow = trace.kind == "rings"
            yield Dots(
                points=spot, radius=3.2 if hollow else 2.2, colour=trace.colour, hollow=hollow
            )
        else:
            points = np.array([(x, middle), (x + 18, middle)])
            yield Line(
                points=points, colour=trace.colour, width=8.0 if trace.kind == "band" else 2.0
            )
        yield Label(x=x + 24, y=y, text=trace.name, size=11)
        x += 50 + 6.6 * len(trace.name)
