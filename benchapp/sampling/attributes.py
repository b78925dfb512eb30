"""Single sampling plans for attributes after MIL-STD-105E (1989), arrows resolved.

The tables of MIL-STD-105E are in the public domain. They have a regular structure: with the place
of the letter (A 0, B 1 ... R 15) plus the place of the AQL (0.010 % 0 ... 1000 25) every diagonal
has one pair of acceptance and rejection numbers, from which the plans here are worked out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from benchapp.errors import UsageError

__all__ = [
    "AQLS",
    "LETTERS",
    "LEVELS",
    "SEVERITIES",
    "Plan",
    "Severity",
    "code_letter",
    "letter_plan",
    "single_plan",
]

Severity = Literal["normal", "tightened", "reduced"]
SEVERITIES: tuple[Severity, ...] = ("normal", "tightened", "reduced")
LETTERS = "ABCDEFGHJKLMNPQR"
LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
AQLS = (
    *(0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0),
    *(6.5, 10.0, 15.0, 25.0, 40.0, 65.0, 100.0, 150.0, 250.0, 400.0, 650.0, 1000.0),
)
"""Acceptable quality levels: percent nonconforming up to 10, nonconformities per 100 above."""

_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000, 3150)
_REDUCED_SIZES = (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800)
_LOT_ENDS = (
    *(8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000),
    math.inf,
)
_LETTERS_OF_LOT = (
    *("AAAAAAB", "AAAAABC", "AABBBCD", "ABBCCDE", "BBCCCEF", "BBCDDFG", "BCDEEGH", "BCDEFHJ"),
    *("CCEFGJK", "CDEGHKL", "CDFGJLM", "CDFHKMN", "DEGJLNP", "DEGJMPQ", "DEHKNQR"),
)
_NORMAL = dict(
    zip(
        (14, *range(17, 27)),
        (
            *((0, 1), (1, 2), (2, 3), (3, 4), (5, 6), (7, 8), (10, 11), (14, 15), (21, 22)),
            *((30, 31), (44, 45)),
        ),
        strict=True,
    )
)
_TIGHTENED = dict(
    zip(
        (15, *range(18, 27)),
        (
            *((0, 1), (1, 2), (2, 3), (3, 4), (5, 6), (8, 9), (12, 13), (18, 19), (27, 28)),
            (41, 42),
        ),
        strict=True,
    )
)
_REDUCED = dict(
    zip(
        (14, *range(17, 28)),
        (
            *((0, 1), (0, 2), (1, 3), (1, 4), (2, 5), (3, 6), (5, 8), (7, 10), (10, 13)),
            *((14, 17), (21, 24), (30, 31)),
        ),
        strict=True,
    )
)
_DIAGONALS: Mapping[Severity, Mapping[int, tuple[int, int]]] = MappingProxyType(
    {"normal": _NORMAL, "tightened": _TIGHTENED, "reduced": _REDUCED}
)
_FIRST_AQL_OF_SMALL = 12
_REDUCED_SMALL = {
    "A": (
        *((0, 1), (0, 1), (0, 1), (0, 2), (0, 2), (1, 2), (2, 3), (3, 4), (5, 6), (7, 8)),
        *((10, 11), (14, 15), (21, 22), (30, 31)),
    ),
    "B": (
        *((0, 1), (0, 1), (0, 1), (0, 2), (0, 2), (1, 3), (2, 4), (3, 5), (5, 6), (7, 8)),
        *((10, 11), (14, 15), (21, 22), (30, 31)),
    ),
}
_LAST_LARGE = 4  # letters after E have no acceptance number beyond their 24th diagonal


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A single plan: draw ``n``, accept up to ``accept`` nonconforming, reject from ``reject`` on.

    ``letter`` is that of the lot, ``used_letter`` the one whose plan an arrow of the table leads
    to. Under reduced inspection there is a gap: between the two numbers the lot is accepted
    and inspection goes back to normal. ``everything`` tells that the lot is not larger than the
    sample: then inspect every part.
    """

    letter: str
    used_letter: str
    n: int
    accept: int
    reject: int
    aql: float
    severity: Severity
    everything: bool = False

    @property
    def arrow(self) -> str:
        """Where the arrow of the table led: '' (nowhere), 'up' or 'down'."""
        order = f"{LETTERS}S"
        step = order.index(self.used_letter) - order.index(self.letter)
        return "" if step == 0 else "down" if step > 0 else "up"


def code_letter(lot_size: int, level: str = "II") -> str:
    """Give the code letter of a lot (MIL-STD-105E Table I).

    Parameters
    ----------
    lot_size : int
        Two or more.
    level : {'S-1', 'S-2', 'S-3', 'S-4', 'I', 'II', 'III'}

    Returns
    -------
    str

    Raises
    ------
    UsageError
        When the lot is too small for sampling or there is no such level.
    """
    if level not in LEVELS:
        raise UsageError(
            f"inspection level: must be one of {', '.join(LEVELS)} (got '{level}').",
            hint="II is usual.",
        )
    if lot_size < 2:
        raise UsageError(
            f"lot size: must be two or more for sampling (got {lot_size}).",
            hint="Inspect a single part by itself.",
        )
    row = next(place for place, end in enumerate(_LOT_ENDS) if lot_size <= end)
    return _LETTERS_OF_LOT[row][LEVELS.index(level)]


def single_plan(
    lot_size: int, aql: float, level: str = "II", severity: Severity = "normal"
) -> Plan:
    """Give the single plan of a lot.

    Parameters
    ----------
    lot_size : int
    aql : float
        Percent nonconforming, one of `AQLS`.
    level : str
        One of `LEVELS`.
    severity : {'normal', 'tightened', 'reduced'}

    Returns
    -------
    Plan
        With the arrow of the table resolved; a sample as large as the lot becomes the whole lot.

    Raises
    ------
    UsageError
        When size, level, AQL or severity is not one of the table's.
    """
    plan = letter_plan(code_letter(lot_size, level), aql, severity)
    if plan.n < lot_size:
        return plan
    return Plan(
        letter=plan.letter,
        used_letter=plan.used_letter,
        n=lot_size,
        accept=plan.accept,
        reject=plan.reject,
        aql=aql,
        severity=severity,
        everything=True,
    )


def letter_plan(letter: str, aql: float, severity: Severity = "normal") -> Plan:
    """Give the single plan of a code letter, its arrow resolved (MIL-STD-105E Table II).

    Parameters
    ----------
    letter : str
        One of `LETTERS`.
    aql : float
        One of `AQLS`.
    severity : {'normal', 'tightened', 'reduced'}

    Returns
    -------
    Plan

    Raises
    ------
    UsageError
        When letter, AQL or severity is not one of the table's.
    """
    if letter not in LETTERS or len(letter) != 1:
        raise UsageError(
            f"code letter: must be one of {LETTERS} (got '{letter}').",
            hint="I and O are not used.",
        )
    if severity not in SEVERITIES:
        raise UsageError(
            f"severity: must be one of {', '.join(SEVERITIES)} (got '{severity}').",
            hint="Begin with normal inspection.",
        )
    if aql not in AQLS:
        near = min(AQLS, key=lambda other: abs(math.log(other / aql)) if aql > 0 else other)
        raise UsageError(
            f"AQL: must be a value of the table (got {aql:g} %).",
            hint=f"The nearest is {near:g} %.",
        )
    used, numbers = _resolved(LETTERS.index(letter), AQLS.index(aql), severity)
    sizes = _REDUCED_SIZES if severity == "reduced" else _SIZES
    return Plan(
        letter=letter,
        used_letter=f"{LETTERS}S"[used],
        n=sizes[used],
        accept=numbers[0],
        reject=numbers[1],
        aql=aql,
        severity=severity,
    )


def _resolved(letter: int, aql: int, severity: Severity) -> tuple[int, tuple[int, int]]:
    """Follow the arrow from a cell to the letter that has numbers there."""
    step = _arrow(letter, aql, severity)
    while (numbers := _numbers(letter, aql, severity)) is None:
        letter += step
    return letter, numbers


def _numbers(letter: int, aql: int, severity: Severity) -> tuple[int, int] | None:
    diagonal = letter + aql
    if severity == "reduced":
        small = _REDUCED_SMALL.get(f"{LETTERS}S"[letter])
        if small is not None:
            place = aql - _FIRST_AQL_OF_SMALL
            return small[place] if place >= 0 else None
        if diagonal == 15 and letter == 2:
            return 0, 1
    beyond = (diagonal > 24 and letter > _LAST_LARGE) or (diagonal > 26 and letter > 2)
    if beyond or (severity == "tightened" and diagonal == 15 and letter == 0):
        return None
    return _DIAGONALS[severity].get(diagonal)


def _arrow(letter: int, aql: int, severity: Severity) -> int:
    """Give the way of the arrow in a cell without numbers: 1 to larger samples, -1 to smaller."""
    diagonal, first = letter + aql, min(_DIAGONALS[severity])
    if diagonal == first + 1:
        return 1 if letter == 0 or (severity == "tightened" and letter < 15) else -1
    if diagonal == first + 2:
        return 1 if letter < 15 or severity == "tightened" else -1
    return 1 if diagonal <= first else -1
