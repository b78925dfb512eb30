"""A picture as data: marks at places, painted alike on paper, in a file and on a page of HTML."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "FAINT",
    "FITTED",
    "GRID",
    "INK",
    "LIMIT",
    "MUTED",
    "PAPER",
    "WARNING",
    "Area",
    "Dots",
    "Label",
    "Line",
    "Mark",
    "Scene",
]

Points = NDArray[np.float64]

PAPER, INK, FAINT, GRID, MUTED = "#FFFFFF", "#1B1E23", "#5C626B", "#E4E2DC", "#DCE8F0"
FITTED, WARNING, LIMIT = "#0072B2", "#B35900", "#9A3324"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line through points (N, 2); not finite ones interrupt it."""

    points: Points
    colour: str = INK
    width: float = 1.0
    dashed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Area:
    """A filled outline through points (N, 2), all finite."""

    points: Points
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dots:
    """Discs, or rings where ``hollow``, at points (N, 2), all finite."""

    points: Points
    radius: float
    colour: str = INK
    hollow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A line of text at its base line; ``turned`` reads upwards."""

    x: float
    y: float
    text: str
    size: int = 12
    anchor: Literal["start", "middle", "end"] = "start"
    colour: str = FAINT
    bold: bool = False
    turned: bool = False


Mark = Line | Area | Dots | Label


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Marks on a sheet of ``width`` by ``height``, later ones above earlier ones.

    ``words`` says what is seen, for those who do not see it.
    """

    width: float
    height: float
    marks: tuple[Mark, ...]
    words: str = ""
