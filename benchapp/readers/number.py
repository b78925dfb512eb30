"""One cell to one number: decimal and thousands marks, prefixes, units, overload marks."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from math import nan

from benchapp.errors import QuantityError
from benchapp.units import parse_quantity

__all__ = ["Cell", "Marks", "proves", "read_cell", "read_plain"]

_LONGEST = 64
OVERLOAD = 9.0e36
_SIGNS = str.maketrans(
    {
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
        "\u2019": "'",
        "\u2212": "-",
        "\u2013": "-",
        "\u2014": "-",
    }
)
_NO_VALUE = re.compile(
    r"o\.?l\.?|ovl?d?|over(?:load|flow|range)?|ovr|ovf|under|unbal(?:ance)?|nanq?|ind|n\.?/?a\.?|"
    r"[+-]?inf(?:inity)?|[+-]?∞|none|null|#(?:n/a|value!|div/0!|num!|ref!)|-?1\.#(?:inf|ind|qnan)|"
    r"err(?:or)?|invalid",
    re.IGNORECASE,
)
_RULED = re.compile(r"[-*#?=_.~]+")
_SPREADSHEET = re.compile(r'=\s*"(.*)"')
_WITH_UNIT = re.compile(r"([+-]?[\d.,]+(?:[eEdD][+-]?\d+)?) ?([^\W\d_]{0,6}[%°Ω]?C?)")
_SENTINEL = re.compile(r"[+-]?9\.9\d*[eE]\+?37")
_INFIX = re.compile(r"[+-]?\d{1,6}[pnuµmkMGR]\d{1,6}")


@dataclass(frozen=True, slots=True)
class Marks:
    """The decimal mark; the other signs that numbers may hold are thousands marks."""

    decimal: str = "."


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its kind, its value (NaN without one) and, where written in it, its unit.

    Kinds: ``N`` number, ``U`` number with its own unit, ``S`` overload or no-value mark, ``B``
    blank, ``T`` text.
    """

    kind: str
    value: float = nan
    unit: str = ""


_PLAIN_SIGNS = {mark: f"0123456789eE+-\0{mark}" for mark in ".,"}
_BLANK, _MARK, _TEXT = Cell("B"), Cell("S"), Cell("T")


@cache
def _grammar(decimal: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    point = re.escape(decimal)
    other = re.escape({".": ",", ",": "."}[decimal])
    exponent = r"(?:[eEdD][+-]?\d{1,3})?"
    plain = rf"[+-]?(?:\d+{point}?\d*|{point}\d+){exponent}"
    grouped = rf"[+-]?\d{{1,3}}(?:([{other}' ])\d{{3}})(?:\1\d{{3}})*(?:{point}\d*)?{exponent}"
    return re.compile(plain), re.compile(grouped)


def read_cell(text: str, marks: Marks) -> Cell:
    """Read one cell under given marks.

    Parameters
    ----------
    text : str
    marks : Marks

    Returns
    -------
    Cell
    """
    text = text.strip()
    if len(text) > _LONGEST:
        return _TEXT
    if "\0" in text:
        return _MARK  # it may stand for a digit that was lost
    plain, grouped = _grammar(marks.decimal)
    if plain.fullmatch(text):
        return _number(text.replace(marks.decimal, "."))
    if not text:
        return _BLANK
    text = text.translate(_SIGNS)
    spreadsheet = _SPREADSHEET.fullmatch(text)
    if spreadsheet:
        text = spreadsheet[1].strip()
    if plain.fullmatch(text):
        return _number(text.replace(marks.decimal, "."))
    if grouped.fullmatch(text):
        kept = re.sub(r"[' ]|" + re.escape({".": ",", ",": "."}[marks.decimal]), "", text)
        return _number(kept.replace(marks.decimal, "."))
    if _NO_VALUE.fullmatch(text) or (_RULED.fullmatch(text) and not text.isdigit()):
        return _MARK
    return _quantity(text, marks)


def read_plain(texts: list[str], marks: Marks) -> list[float] | None:
    """Read a whole row of plain numbers quickly; None where any cell needs a closer look."""
    joined = "\0".join(texts)
    if joined.count("\0") != len(texts) - 1 or joined.strip(_PLAIN_SIGNS[marks.decimal]):
        return None
    if marks.decimal == ",":
        texts = joined.replace(",", ".").split("\0")
    try:
        values = [float(text) for text in texts]
    except ValueError:
        return None
    return values if max(values) < OVERLOAD and min(values) > -OVERLOAD else None


def _number(text: str) -> Cell:
    value = float(text.replace("D", "e").replace("d", "e"))
    return Cell("N", value) if abs(value) < OVERLOAD else _MARK


@lru_cache(maxsize=1024)  # the same facts stand above every capture of a lot
def _quantity(text: str, marks: Marks) -> Cell:
    match = _WITH_UNIT.fullmatch(text)
    plain, _ = _grammar(marks.decimal)
    if match and plain.fullmatch(match[1]):
        text = f"{match[1].replace(marks.decimal, '.')}{match[2]}"
    elif _SENTINEL.fullmatch(text):
        return _MARK
    elif not _INFIX.fullmatch(text):
        return _TEXT
    try:
        found = parse_quantity(text, mark=".")
    except QuantityError:
        return _TEXT
    return Cell("U" if found.unit else "N", found.value, found.unit)


def proves(text: str, mark: str) -> bool:
    """Tell whether a number uses ``mark`` (a comma or a point) as only a decimal mark can be.

    ``1,23`` does for a comma; ``1,234`` may be a thousand, and ``1,234,567`` is none.
    """
    whole, found, rest = text.strip().partition(mark)
    digits = rest[: len(rest) - len(rest.lstrip("0123456789"))]
    if not found or mark in rest or not re.fullmatch(r"[+-]?\d*", whole):
        return False
    if not re.fullmatch(r"\d*(?:[eEdD][+-]?\d+)?", rest):
        return False
    whole = whole.lstrip("+-")
    return len(digits) != 3 or not 1 <= len(whole) <= 3 or whole.startswith("0")
