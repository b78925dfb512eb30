"""What stands beside the value on a part: tolerance, voltage, dielectric, safety class."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from benchapp.marking.code import (
    ASYMMETRIC,
    INDUCTOR_PERCENT,
    STANDARD_VOLTS,
    SYMMETRIC_PERCENT,
    UNSETTLED,
    ceramic,
    film,
    volts,
)
from benchapp.marking.piece import Piece, Recogniser, ToleranceText
from benchapp.marking.value import Kind, Rating

__all__ = ["SIGNS"]


_TOLERANCES = frozenset((*SYMMETRIC_PERCENT, *ASYMMETRIC, *INDUCTOR_PERCENT, *UNSETTLED))

_SHORTEST_WITH_LETTER_IN_FRONT = 4


def _volts_before(text: str) -> bool:
    """Tell whether a V behind ``text`` is the volt: a usual voltage, or kilovolts."""
    number = re.fullmatch(r"(\d+(?:\.\d+)?)([kK]?)", text)
    return number is not None and (number[2] != "" or float(number[1]) in STANDARD_VOLTS)


def _letter(match: re.Match[str]) -> Iterator[Piece]:
    letter, word, start = match[0].upper(), match.string, match.start()
    in_front = start == 0 and len(word) > 1
    if letter not in _TOLERANCES or match[0] in "nup":
        return
    if letter == "V" and _volts_before(word[:start]):
        return
    if in_front and (letter in UNSETTLED or len(word) < _SHORTEST_WITH_LETTER_IN_FRONT):
        return
    weight = 1.0 if match[0].isupper() else 0.5
    if letter in "FH" and start and word[start - 1] in "pnµmPNUM":
        weight = 0.05  # nF and µH are rather the unit than a value with its tolerance
    yield Piece(role="T", text=match[0], content=letter, weight=weight, why="")


def _printed(match: re.Match[str], low: str, high: str) -> Piece:
    content = ToleranceText(low=float(-Decimal(low) / 100), high=float(Decimal(high) / 100))
    return Piece(role="T", text=match[0], content=content, weight=3, why="tolerance as printed")


def _symmetric(match: re.Match[str]) -> Iterator[Piece]:
    yield _printed(match, match[1], match[1])


def _up_down(match: re.Match[str]) -> Iterator[Piece]:
    yield _printed(match, match[2], match[1])


def _down_up(match: re.Match[str]) -> Iterator[Piece]:
    yield _printed(match, match[1], match[2])


def _picofarad(match: re.Match[str]) -> Iterator[Piece]:
    width = float(Decimal(match[1]).scaleb(-12))
    content = ToleranceText(low=-width, high=width, relative=False)
    why = "tolerance as printed"
    yield Piece(role="T", text=match[0], content=content, weight=3, why=why, kind="capacitor")


def _rating(rating: Rating, weight: float, why: str) -> Piece:
    return Piece(
        role="R", text=rating.text, content=rating, weight=weight, why=why, kind="capacitor"
    )


def _volts(match: re.Match[str]) -> Iterator[Piece]:
    """Read a number with V, AC, DC or ~ beside it."""
    size = float(Decimal(match["volts"]).scaleb(3 if match["kilo"] else 0))
    mark = f"{match['before'] or ''}{match['after'] or ''}".upper()
    alternating = "A" in mark or "~" in mark
    if mark or match["unit"]:
        rating = Rating(volt=size, kind="ac" if alternating else "dc", text=match[0])
        usual = 3.0 if size in STANDARD_VOLTS else 0.05
        yield _rating(rating, usual, "" if mark else "a plain V is read as DC")


def _voltage_code(match: re.Match[str]) -> Iterator[Piece]:
    code = match[0].upper()
    decoded = volts(code)
    if decoded is None:
        return
    size, listed = decoded
    weight = (1.0 if listed else 0.15) * (1.0 if match[0] == code else 0.5)
    why = f"voltage code {code}" + ("" if listed else " by the rule, in no makers' table seen")
    yield _rating(Rating(volt=size, kind="dc", text=match[0]), weight, why)


def _bare_volts(match: re.Match[str]) -> Iterator[Piece]:
    size = float(match[0])
    if size in STANDARD_VOLTS:
        why = "a usual rated voltage without its V (common practice)"
        yield _rating(Rating(volt=size, kind="dc", text=match[0]), 0.6, why)


_CHIP_VOLTS = {"e": 2.5, "G": 4.0, "J": 6.3, "A": 10.0, "C": 16.0, "D": 20.0, "E": 25.0, "V": 35.0}
_CHIP_VOLTS["H"] = 50.0


def _chip_volts(match: re.Match[str]) -> Iterator[Piece]:
    """Read one letter in front of three digits, as on chip electrolytics: A475."""
    size = _CHIP_VOLTS[match[0]]
    why = f"letter {match[0]} in front, as on chip electrolytics (common practice)"
    yield _rating(Rating(volt=size, kind="dc", text=match[0]), 0.3, why)


def _dielectric(match: re.Match[str]) -> Iterator[Piece]:
    word = match[1].upper()
    found = film(word) or ceramic(word)
    if found is None:
        return
    why = found.meaning if found.meaning.startswith(word) else f"{word}: {found.meaning}"
    if len(match[0]) > len(match[1]):
        why += " (the number behind the letters is a maker's type)"
    yield Piece(role="D", text=match[0], content=found, weight=3, why=why, kind="capacitor")


def _safety(match: re.Match[str]) -> Iterator[Piece]:
    text = match[0].upper()
    why = f"{text}: interference-suppression class (IEC 60384-14), rated for mains frequency only"
    yield Piece(role="X", text=match[0], content=text, weight=3, why=why, kind="capacitor")


def _note(match: re.Match[str]) -> Iterator[Piece]:
    kind: Kind = "capacitor"
    why = f"{match[0]}: climatic category (IEC 60068-1: lowest and highest °C, days of damp heat)"
    if match[0][-1] in "Ww":
        kind, why = "resistor", f"{match[0]}: power rating"
    yield Piece(role="N", text=match[0], content=match[0], weight=1, why=why, kind=kind)


_CERAMIC = (
    "[CBLAMPRSTVUcblamprstvu][0-46-8][GHJKLMNghjklmn]|[XYZxyz][2456789][A-FLPRSTUVa-flprstuv]"
    r"|[Nn][Pp][0Oo]|[Cc][Oo][Gg]|[NPnp]\d{2,4}"
)
_CURRENT = r"DC|AC|dc|ac|~|=|⎓"
_VOLTS = (
    rf"(?P<before>{_CURRENT})?(?<![\d.])(?P<volts>\d+(?:\.\d+)?)(?P<kilo>[kK])?"
    rf"(?P<unit>[Ww]?[Vv])?\.?(?P<after>{_CURRENT}|-)?(?!\d)"
)
SIGNS: tuple[tuple[str, Recogniser], ...] = (
    (r"[A-QS-Za-qs-z]|[Rr](?!\d)", _letter),
    (r"±?(\d*\.?\d+)%", _symmetric),
    (r"\+(\d*\.?\d+)%?-(\d*\.?\d+)%", _up_down),
    (r"-(\d*\.?\d+)%?\+(\d*\.?\d+)%", _down_up),
    (r"±(\d*\.?\d+)[pP][fF]?", _picofarad),
    (_VOLTS, _volts),
    (r"(?<!.)[0-3][A-Z](?=\d{3}(?!\d)|$)|(?<!.)[0-3][a-z]$|(?<=[A-Z])[0-3][A-Z]$", _voltage_code),
    (r"(?<!.)\d+(?:\.\d+)?$|(?<=[A-Za-z])\d{2,}$", _bare_volts),
    (r"(?<!.)[eGJACDEVH](?=\d{3}(?!\d))", _chip_volts),
    (r"(?<!.)([A-Za-z]{2,4})\d{0,4}(?![\d.])", _dielectric),
    (r"(?<!.)([A-Za-z]{2,4})(?=\d*\.\d)", _dielectric),
    (rf"(?<![A-Za-z\d])({_CERAMIC})(?!\d)", _dielectric),
    (r"[Xx][123](?:[Yy][1-4])?|[Yy][1-4](?:[Xx][123])?", _safety),
    (r"\d\d/\d{2,3}/\d\d|\d+(?:\.\d+)?[Ww](?![Vv])", _note),
)
"""Pattern and what it can mean, each pattern tried at every place of a word."""
