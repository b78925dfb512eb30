"""Circuit drawings: each circuit as a tree of elements in series and in parallel.

Symbols follow IEC 60617 (resistor as a rectangle). Sizes are in units of half a symbol's width.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath, QPaintEvent, QPen, QTransform
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchapp.gui.theme import current
from benchapp.gui.words import symbol, tr

__all__ = ["DRAWINGS", "Element", "Parallel", "Schematic", "Series", "elements_of", "size_of"]


@dataclass(frozen=True, slots=True)
class Element:
    """One two-terminal symbol: ``kind`` is what is drawn, ``names`` what is written beside it."""

    kind: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Series:
    """Parts one after the other."""

    parts: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Parallel:
    """Parts across each other."""

    parts: tuple[Node, ...]


Node = Element | Series | Parallel


def _element(name: str) -> Element:
    return Element(name[0], (name,))


_R, _L, _C = (_element(name) for name in "RLC")
_TANK = Parallel((Series((_L, _R)), _C))
_COIL = Parallel((Series((_L, _element("Rdc"), Element("R", ("Rac",)))), _C))

DRAWINGS: Mapping[str, Node] = {
    "series-rlc": Series((_R, _L, _C)),
    "parallel-rlc": Parallel((_R, _L, _C)),
    "tank": _TANK,
    "coil": _COIL,
    "inductor": Series((_L, _R)),
    "capacitor": Series((_C, _R, _L)),
    "coupled-pair": Parallel((Series((_L, _R)), _C, Element("loop", ("k", "f2", "Q2")))),
    "resonance": _TANK,
    "ring-down": _TANK,
}

_WIDTH, _HEIGHT = 4.0, 2.6  # of one element with its text
_RAIL = 0.8  # wire on each side of a parallel connection
_LEAD = 1.2  # wire to each terminal
_INSET = 4  # pixels left free at each side


def size_of(node: Node) -> tuple[float, float]:
    """Give width and height that ``node`` needs."""
    if isinstance(node, Element):
        return _WIDTH, _HEIGHT
    sizes = [size_of(part) for part in node.parts]
    if isinstance(node, Series):
        return sum(width for width, _ in sizes), max(height for _, height in sizes)
    return max(width for width, _ in sizes) + 2 * _RAIL, sum(height for _, height in sizes)


def elements_of(node: Node) -> tuple[str, ...]:
    """Give the names written beside the symbols, in the order they are drawn."""
    if isinstance(node, Element):
        return node.names
    return tuple(name for part in node.parts for name in elements_of(part))


def _resistor(path: QPainterPath) -> None:
    path.moveTo(-2, 0)
    path.lineTo(-0.9, 0)
    path.addRect(QRectF(-0.9, -0.32, 1.8, 0.64))
    path.moveTo(0.9, 0)
    path.lineTo(2, 0)


def _inductor(path: QPainterPath) -> None:
    path.moveTo(-2, 0)
    path.lineTo(-1, 0)
    for turn in range(4):
        path.arcTo(QRectF(-1 + 0.5 * turn, -0.3, 0.5, 0.6), 180, -180)
    path.lineTo(2, 0)


def _capacitor(path: QPainterPath) -> None:
    for side in (-1, 1):
        path.moveTo(2 * side, 0)
        path.lineTo(0.14 * side, 0)
        path.moveTo(0.14 * side, -0.55)
        path.lineTo(0.14 * side, 0.55)


def _loop(path: QPainterPath) -> None:
    """Draw a closed resonator that is coupled by its field alone, not by a wire."""
    path.addRoundedRect(QRectF(-1.1, -0.45, 2.2, 0.9), 0.3, 0.3)
    path.moveTo(-0.5, -0.45)
    for turn in range(4):
        path.arcTo(QRectF(-0.5 + 0.25 * turn, -0.65, 0.25, 0.4), 180, -180)


_SYMBOLS = {"R": _resistor, "L": _inductor, "C": _capacitor, "loop": _loop}


class Schematic(QWidget):
    """The drawing of one circuit, with the value of each element where it is known."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._node: Node | None = None
        self._values: Mapping[str, str] = {}
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_circuit(self, name: str, title: str, values: Mapping[str, str]) -> None:
        """Draw the circuit called ``name``; ``values`` gives the text beside its elements."""
        self._node = DRAWINGS.get(name)
        self._values = values
        written = [f"{symbol(key)} {text}" for key, text in values.items()]
        self.setAccessibleName(
            tr("Circuit: {title}. {values}").format(title=title, values=", ".join(written))
        )
        self.update()

    def sizeHint(self) -> QSize:
        """Large enough for the biggest circuit."""
        return QSize(440, 190)

    def minimumSizeHint(self) -> QSize:
        """Small enough for a short window."""
        return QSize(260, 130)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the circuit in the middle, as large as fits."""
        if self._node is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        width, height = size_of(self._node)
        room = self.width() - 2 * _INSET
        unit = min(room / (width + 2 * _LEAD), self.height() / height, 34.0)
        left = (self.width() - (width + 2 * _LEAD) * unit) / 2
        top = (self.height() - height * unit) / 2
        pen = QPen(current().color("ink"), 1.6, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        middle = top + height * unit / 2
        right = left + (width + 2 * _LEAD) * unit
        self._paint(painter, self._node, QPointF(left + _LEAD * unit, top), unit)
        for end, inward in ((left, 1), (right, -1)):
            wire = end + inward * _LEAD * unit
            painter.drawLine(QPointF(end + inward * 4, middle), QPointF(wire, middle))
            painter.drawEllipse(QPointF(end + inward * 2, middle), 3, 3)

    def _paint(self, painter: QPainter, node: Node, corner: QPointF, unit: float) -> None:
        width, height = size_of(node)
        if isinstance(node, Element):
            self._paint_element(painter, node, corner, unit)
        elif isinstance(node, Series):
            x = corner.x()
            for part in node.parts:
                inner = size_of(part)
                y = corner.y() + (height - inner[1]) * unit / 2
                self._paint(painter, part, QPointF(x, y), unit)
                x += inner[0] * unit
        else:
            self._paint_parallel(
                painter, node, QRectF(corner.x(), corner.y(), width, height), unit
            )

    def _paint_parallel(
        self, painter: QPainter, node: Parallel, area: QRectF, unit: float
    ) -> None:
        """Paint the parts below each other between two rails; ``area`` is in symbol units."""
        left, right = area.left(), area.left() + area.width() * unit
        y = area.top()
        joined = []
        for part in node.parts:
            width, height = size_of(part)
            inset = (area.width() - width) / 2 * unit
            self._paint(painter, part, QPointF(left + inset, y), unit)
            middle = y + height * unit / 2
            if not (isinstance(part, Element) and part.kind == "loop"):
                painter.drawLine(QPointF(left, middle), QPointF(left + inset, middle))
                painter.drawLine(QPointF(right - inset, middle), QPointF(right, middle))
                joined.append(middle)
            y += height * unit
        centre = area.top() + area.height() * unit / 2
        for rail in (left, right):
            ends = (min(*joined, centre), max(*joined, centre))
            painter.drawLine(QPointF(rail, ends[0]), QPointF(rail, ends[1]))

    def _paint_element(
        self, painter: QPainter, element: Element, corner: QPointF, unit: float
    ) -> None:
        path = QPainterPath()
        _SYMBOLS[element.kind](path)
        place = QTransform.fromTranslate(
            corner.x() + _WIDTH * unit / 2, corner.y() + _HEIGHT * unit / 2
        ).scale(unit, unit)
        painter.drawPath(place.map(path))
        self._write(painter, element, QRectF(corner.x(), corner.y(), _WIDTH * unit, unit), unit)

    def _write(self, painter: QPainter, element: Element, place: QRectF, unit: float) -> None:
        """Write name and value above the symbol, and below it where one line is too long."""
        texts = [f"{symbol(name)} {self._values.get(name, '')}".strip() for name in element.names]
        line = " · ".join(texts)
        metrics = QFontMetricsF(self.font())
        centred = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignBottom
        place.setHeight(max((_HEIGHT / 2 - 0.72) * unit, metrics.height()))
        name, _, value = line.partition(" ")
        if metrics.horizontalAdvance(line) <= place.width() or not value:
            painter.drawText(place, centred, line)
            return
        painter.drawText(place, centred, name)
        place.moveTop(place.top() + (_HEIGHT / 2 + 0.72) * unit)
        painter.drawText(place, Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop, value)
