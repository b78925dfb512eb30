"""Putting the pieces of a marking together: one value, its tolerance, what stands beside it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

from benchapp.marking.code import (
    ASYMMETRIC,
    INDUCTOR_NANOHENRY,
    INDUCTOR_PERCENT,
    PICOFARAD,
    SYMMETRIC_PERCENT,
    UNSETTLED,
)
from benchapp.marking.piece import Piece, Role, ToleranceText, Value
from benchapp.marking.preferred import TOLERANCE_OF, series_of
from benchapp.marking.value import UNIT_OF, Dielectric, Kind, Rating, Reading

__all__ = ["assembled"]

_MOST: Mapping[Role, int] = {"V": 1, "T": 1, "R": 2, "D": 2, "X": 2, "N": 3}
_SERIES_WEIGHT = {"E3": 1.0, "E6": 1.0, "E12": 1.0, "E24": 0.7, "E48": 0.05, "E96": 0.04}
_NO_SERIES_WEIGHT = 0.01
_ALONE_WEIGHT = 6.0
_MADE: Mapping[Kind, tuple[float, float]] = {
    "capacitor": (1e-13, 0.1),
    "resistor": (1e-4, 1e10),
    "inductor": (5e-10, 1.0),
}
_UNMARKED_VOLTS = re.compile(r"[\d.]+[kK]?[Ww]?[Vv]?")
_VOLT_CODE = re.compile(r"[0-4]?[A-Za-z]")
_TEN_PICOFARAD = 1e-11
_HUNDRED_NANOHENRY = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tolerance:
    low: float | None = None
    high: float | None = None
    absolute: float | None = None
    weight: float = 1.0
    why: str = ""


def assembled(pieces: Sequence[Piece]) -> Iterator[Reading]:
    """Give what ``pieces`` say together, nothing where they contradict each other.

    The likelihood is a weight here; it becomes a share when all readings are known.
    """
    kinds = {piece.kind for piece in pieces} - {None}
    by_role = {role: [piece for piece in pieces if piece.role == role] for role in _MOST}
    too_many = any(len(by_role[role]) > most for role, most in _MOST.items())
    if len(kinds) > 1 or too_many:
        return
    beside = [piece for role in ("R", "D", "X", "N") for piece in by_role[role]]
    context = _beside(by_role)
    if by_role["V"]:
        yield from _with_value(by_role["V"][0], by_role["T"], beside, context)
    elif not by_role["T"] and len(by_role["N"]) < len(beside) and not _only_digits(by_role["R"]):
        yield replace(
            context,
            likelihood=_ALONE_WEIGHT * math.prod(piece.weight for piece in beside),
            why=f"{context.why}; no value in this marking",
        )


def _only_digits(ratings: Sequence[Piece]) -> bool:
    """Tell whether a rating was recognised only by being a usual voltage beside a value."""
    return any(piece.text.replace(".", "").isdigit() for piece in ratings)


def _with_value(
    piece: Piece, tolerance: Sequence[Piece], beside: Sequence[Piece], context: Reading
) -> Iterator[Reading]:
    value = cast("Value", piece.content)
    series = series_of(value.value)
    weight = math.prod(entry.weight for entry in (piece, *tolerance, *beside))
    weight *= _setting(value, piece.text, bool(tolerance), beside)
    for entry in _tolerances(value, piece.text, tolerance):
        reasons = (f"{piece.text}: {piece.why}", entry.why, context.why, _evidence(value, series))
        yield replace(
            context,
            kind=value.kind,
            unit=UNIT_OF[value.kind],
            value=value.value,
            tolerance_low=entry.low,
            tolerance_high=entry.high,
            absolute_tolerance=entry.absolute,
            series=series,
            likelihood=weight * entry.weight * _plausible(value, series, entry.high),
            why="; ".join(reason for reason in reasons if reason),
        )


def _beside(by_role: Mapping[Role, Sequence[Piece]]) -> Reading:
    """Give a reading that holds everything but the value and its tolerance."""
    safety = "/".join(str(piece.content) for piece in by_role["X"]) or None
    reasons, ratings = [], []
    for piece in by_role["R"]:
        rating, reason = _rating(piece, safety)
        ratings.append(rating)
        reasons.append(reason)
    films = [piece.content for piece in by_role["D"] if isinstance(piece.content, Dielectric)]
    reasons += [piece.why for role in ("D", "X", "N") for piece in by_role[role]]
    return Reading(
        kind="capacitor",
        unit="F",
        ratings=tuple(ratings),
        dielectric=films[0] if films else None,
        safety_class=safety,
        why="; ".join(reasons),
    )


def _rating(piece: Piece, safety: str | None) -> tuple[Rating, str]:
    rating, why = cast("Rating", piece.content), piece.why
    if safety and _UNMARKED_VOLTS.fullmatch(rating.text):
        rating, why = replace(rating, kind="ac"), f"class {safety} is rated for AC"
    meaning = {
        "dc": f"{rating.volt:g} V DC, no AC rating follows from it",
        "ac": f"{rating.volt:g} V AC at mains frequency, it says nothing about higher frequencies",
    }[rating.kind]
    return rating, f"{rating.text}: {meaning}" + (f" ({why})" if why else "")


def _setting(value: Value, text: str, has_tolerance: bool, beside: Sequence[Piece]) -> float:  # noqa: FBT001
    """Weigh a way of writing by what stands beside it."""
    in_volts = any(piece.role == "R" and not _VOLT_CODE.fullmatch(piece.text) for piece in beside)
    if value.style == "plain µF" and text.isdigit() and not text.startswith("0"):
        return 20.0 if in_volts else (0.5 if len(text) < 3 else 0.1)
    if value.style == "chip":
        return 0.1 if has_tolerance or beside else 1.0
    return 1.0


def _tolerances(value: Value, text: str, pieces: Sequence[Piece]) -> tuple[_Tolerance, ...]:
    if not pieces:
        share = value.tolerance
        return (_Tolerance() if share is None else _Tolerance(low=-share, high=share),)
    content = pieces[0].content
    if isinstance(content, ToleranceText):
        if content.relative:
            return (_Tolerance(low=content.low, high=content.high, why=pieces[0].why),)
        return (_Tolerance(absolute=content.high, why=pieces[0].why),)
    if value.value == 0:
        return ()
    letter = str(content)
    if value.kind == "capacitor":
        return _capacitor_tolerances(letter, value.value, text)
    if value.kind == "inductor":
        return _inductor_tolerances(letter, value.value)
    return _resistor_tolerances(letter)


def _percent(letter: str, percent: str, weight: float) -> _Tolerance:
    share = float(percent) / 100
    return _Tolerance(low=-share, high=share, weight=weight, why=f"{letter}: ±{percent} %")


def _capacitor_tolerances(letter: str, value: float, text: str) -> tuple[_Tolerance, ...]:
    if letter in UNSETTLED:
        why = f"{letter}: tolerance not known, {UNSETTLED[letter]}: look into the maker's sheet"
        return (_Tolerance(weight=0.3, why=why),) if len(text) > 1 else ()
    if letter in ASYMMETRIC:
        low, high = ASYMMETRIC[letter]
        why = f"{letter}: {100 * low:+g}/{100 * high:+g} %"
        return (_Tolerance(low=low, high=high, why=why),)
    small = value <= _TEN_PICOFARAD * (1 + 1e-9)
    exactly_ten = small and value > _TEN_PICOFARAD * (1 - 1e-9)
    found = []
    if letter in SYMMETRIC_PERCENT and not (small and not exactly_ten and letter in PICOFARAD):
        found.append(_percent(letter, SYMMETRIC_PERCENT[letter], 0.1 if letter == "L" else 1.0))
    if small and letter in PICOFARAD:
        limit = "many makers up to 10 pF" if exactly_ten else "below 10 pF"
        why = f"{letter}: ±{PICOFARAD[letter]} pF ({limit})"
        width = float(f"{PICOFARAD[letter]}e-12")
        found.append(_Tolerance(absolute=width, weight=0.8 if exactly_ten else 1.0, why=why))
    return tuple(found)


def _inductor_tolerances(letter: str, value: float) -> tuple[_Tolerance, ...]:
    if letter in INDUCTOR_NANOHENRY and value < _HUNDRED_NANOHENRY:
        width = float(f"{INDUCTOR_NANOHENRY[letter]}e-9")
        why = f"{letter}: ±{INDUCTOR_NANOHENRY[letter]} nH (common practice)"
        return (_Tolerance(absolute=width, why=why),)
    if letter in INDUCTOR_PERCENT:
        return (_percent(letter, INDUCTOR_PERCENT[letter], 0.3 if letter in "LV" else 1.0),)
    return ()


def _resistor_tolerances(letter: str) -> tuple[_Tolerance, ...]:
    if letter not in SYMMETRIC_PERCENT:
        return ()
    weight = 1.0 if letter in "FGJKM" else 0.8 if letter in "BCD" else 0.2
    return (_percent(letter, SYMMETRIC_PERCENT[letter], weight),)


def _plausible(value: Value, series: str | None, high: float | None) -> float:
    """Weigh a value by the preferred series that holds it and by what is made at all."""
    if value.value == 0 or value.style == "link":
        return 1.0
    weight = _NO_SERIES_WEIGHT if series is None else _SERIES_WEIGHT.get(series, 0.03)
    made_for = TOLERANCE_OF.get(series or "")
    if series in ("E48", "E96", "E192") and high is not None and made_for and high <= made_for:
        weight = 0.7
    smallest, largest = _MADE[value.kind]
    return weight if smallest <= value.value <= largest else 0.1 * weight


def _evidence(value: Value, series: str | None) -> str:
    if value.value == 0:
        return ""
    return f"a value of {series}" if series else "a value of no preferred series"
