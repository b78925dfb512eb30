"""Cutting one word of a marking into pieces, in every way that makes sense."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from benchapp.marking.figure import FIGURES
from benchapp.marking.piece import Piece
from benchapp.marking.sign import SIGNS

__all__ = ["cuts"]

_RECOGNISERS = tuple(
    (re.compile(pattern), recogniser) for pattern, recogniser in (*FIGURES, *SIGNS)
)
_ORDER = re.compile(r"D?(?:X?R?(?:T?V|VT)|T)?R{0,2}D?X?|XR{1,2}|N")
_MOST = {"V": 1, "T": 1, "R": 2, "D": 1, "X": 1, "N": 1}
_LONGEST = 24


def _pieces_at(word: str, start: int) -> Iterator[Piece]:
    seen = set()
    for pattern, recogniser in _RECOGNISERS:
        match = pattern.match(word, start)
        if match is None or match.end() == start:
            continue
        for piece in recogniser(match):
            key = (piece.text, repr(piece.content))
            if key not in seen:
                seen.add(key)
                yield piece


def _cut(word: str, start: int, roles: str) -> Iterator[tuple[Piece, ...]]:
    if start == len(word):
        if _ORDER.fullmatch(roles):
            yield ()
        return
    for piece in _pieces_at(word, start):
        if roles.count(piece.role) < _MOST[piece.role]:
            for rest in _cut(word, start + len(piece.text), roles + piece.role):
                yield (piece, *rest)


@lru_cache(maxsize=512)
def cuts(word: str) -> tuple[tuple[Piece, ...], ...]:
    """Give every way to cut ``word`` into pieces that stand in an order seen on parts.

    Returns
    -------
    tuple of tuple of Piece
        Empty when the word cannot be understood.
    """
    if len(word) > _LONGEST:
        return ()
    return tuple(_cut(word, 0, ""))
