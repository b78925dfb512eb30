"""A scene as SVG: plain elements, no scripts, the same bytes for the same scene."""

from __future__ import annotations

import re
from html import escape

import numpy as np

from benchapp.report.scene import Area, Dots, Label, Line, Mark, Points, Scene

__all__ = ["plain", "svg_of"]

FONT = "DejaVu Sans, Verdana, sans-serif"
_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(text: str) -> str:
    """Escape a text for HTML and SVG; what no document may hold becomes a replacement sign.

    Source: W3C, XML 1.0 (Fifth Edition), 2.2 (characters of a document).
    """
    return escape(_FORBIDDEN.sub("\ufffd", text), quote=True)


def svg_of(scene: Scene) -> str:
    """Write a scene as an SVG element that scales to the width of the page."""
    body = "".join(_mark(mark) for mark in scene.marks)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" '
        f'viewBox="0 0 {_short(scene.width)} {_short(scene.height)}" '
        f'font-family="{FONT}"><title>{plain(scene.words)}</title>{body}</svg>'
    )


def _short(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _mark(mark: Mark) -> str:
    if isinstance(mark, Line):
        dashes = ' stroke-dasharray="5 4"' if mark.dashed else ""
        return (
            f'<path d="{_path(mark.points)}" fill="none" stroke="{mark.colour}" '
            f'stroke-width="{_short(mark.width)}"{dashes}/>'
        )
    if isinstance(mark, Area):
        return f'<path d="{_path(mark.points)}Z" fill="{mark.colour}"/>'
    if isinstance(mark, Dots):
        return _dots(mark)
    return _label(mark)


def _path(points: Points) -> str:
    words, pen_up = [], True
    for x, y in points.tolist():
        if not (np.isfinite(x) and np.isfinite(y)):
            pen_up = True
            continue
        words.append(f"{'M' if pen_up else 'L'}{_short(x)} {_short(y)}")
        pen_up = False
    return "".join(words)


def _dots(mark: Dots) -> str:
    """Draw all dots as one path: a line of no length with round ends is a disc."""
    if mark.hollow:
        look = f'fill="none" stroke="{mark.colour}" stroke-width="1.4"'
        return "".join(
            f'<circle cx="{_short(x)}" cy="{_short(y)}" r="{_short(mark.radius)}" {look}/>'
            for x, y in mark.points.tolist()
        )
    steps = "".join(f"M{_short(x)} {_short(y)}h0" for x, y in mark.points.tolist())
    return (
        f'<path d="{steps}" stroke="{mark.colour}" stroke-width="{_short(2 * mark.radius)}" '
        'stroke-linecap="round"/>'
    )


def _label(mark: Label) -> str:
    turn = f' transform="rotate(-90 {_short(mark.x)} {_short(mark.y)})"' if mark.turned else ""
    bold = ' font-weight="bold"' if mark.bold else ""
    return (
        f'<text x="{_short(mark.x)}" y="{_short(mark.y)}" font-size="{mark.size}" '
        f'text-anchor="{mark.anchor}" fill="{mark.colour}"{bold}{turn}>{plain(mark.text)}</text>'
    )
