"""One understood stretch of a marking."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from benchapp.marking.value import Dielectric, Kind, Rating

__all__ = ["Piece", "Recogniser", "Role", "ToleranceText", "Value"]

Role = Literal["V", "T", "R", "D", "X", "N"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A value for one kind of part, in F, H or ohm; ``tolerance`` where the code implies one."""

    kind: Kind
    value: float
    style: Literal["code", "plain", "plain µF", "letter", "unit", "chip", "link"]
    tolerance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceText:
    """A tolerance as printed: signed fractions, or farad where not ``relative``."""

    low: float
    high: float
    relative: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One understood stretch of a word.

    ``role``: V value, T tolerance, R rating, D dielectric, X safety class, N only a note.
    ``content`` is what it means; for a tolerance letter the letter itself, because its meaning
    depends on the value. ``kind`` limits the kinds of part that carry such a piece. ``weight``
    tells how usual this meaning is beside the other meanings of the same characters.
    """

    role: Role
    text: str
    content: Value | ToleranceText | Rating | Dielectric | str
    weight: float
    why: str
    kind: Kind | None = None


Recogniser = Callable[[re.Match[str]], Iterator[Piece]]
"""Gives the meanings of one stretch of a word that matched its pattern."""
