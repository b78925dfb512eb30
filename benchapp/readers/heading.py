"""One heading to its meaning: which quantity, in which unit, of which port or channel."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache
from math import pi

from benchapp.errors import QuantityError
from benchapp.readers.vocabulary import COMBINED, DIMENSIONS, FILLERS, WORDS
from benchapp.units import canonical_unit

__all__ = ["Meaning", "is_units_row", "meaning_of", "named_in_volts", "normal", "unit_of"]

_ANGLES = {
    "deg": pi / 180,
    "degree": pi / 180,
    "degrees": pi / 180,
    "degs": pi / 180,
    **dict.fromkeys(("°", "º", "˚", "deg.", "degr.", "grd"), pi / 180),
    "grad": pi / 180,
    **dict.fromkeys(("degré", "degrés", "degres", "grados", "gradi", "graus"), pi / 180),
    **dict.fromkeys(("radians", "radianes", "radianti", "弧度"), 1.0),
    "度": pi / 180,
    "rad": 1.0,
    "radian": 1.0,
    "radiant": 1.0,
}
_RATIOS = {
    **dict.fromkeys(("db", "dbohm", "dbω"), "dB"),
    "%": "%",
    "u": "",
    "lin": "",
    "1": "",
    "-": "",
    "v/v": "",
    "": "",
}
_BORDER = re.compile(r"(?<=[\u4e00-\u9fff])(?=[A-Za-z])|(?<=[A-Za-z])(?=[\u4e00-\u9fff])")
"""Where Chinese words and Latin symbols meet without a blank."""
_LONGEST = 100
_MOST_WORDS = 4
_SHORTEST_UNIT = 2
_PART_IN_UNIT = {
    ("re", "ohm"): "R",
    ("im", "ohm"): "X",
    ("mag", "ohm"): "|Z|",
    ("re", "S"): "G",
    ("im", "S"): "B",
    ("mag", "S"): "|Y|",
}
"""What a part of a complex value is, told by its unit."""
_SAID_BY_UNIT = {"s": "time", "V": "voltage", "Hz": "f"}
_NO_UNITS = {"", "sequence", "none", "n/a"}
_GREEK = str.maketrans(
    {
        "θ": " theta ",
        "ϑ": " theta ",
        "Θ": " theta ",
        "φ": " phi ",
        "ϕ": " phi ",
        "Φ": " phi ",
        "ω": " omega ",
        "δ": " delta ",
        "∠": " phase ",
        "∅": " phi ",
    }
)
_BRACKETS = re.compile(r"^(.*?)[(\[{<]\s*([^()\[\]{}<>]*?)\s*[)\]}>]\s*$")
_TAILS = (
    re.compile(r"^(.+?)\s+in\s+(\S+)$", re.IGNORECASE),
    re.compile(r"^(.+?)\s*[,;:]\s*(\S+)$"),
    re.compile(r"^(.+?)\s*/\s*(\S+)$"),
    re.compile(r"^(.+)[_\s]+([^_\s]+)$"),
    re.compile(r"^(.+?)\.(\S+)$"),
)
_SCATTER = re.compile(
    r"(?P<before>[a-z ]*?) ?[sn] ?(?P<row>[1-4]) ?(?P<column>[1-4])(?P<xy>[xy]?)"
    r"(?: (?P<after>[a-z ]+))?"
)
_PARTS = {
    "re": "re",
    "real": "re",
    "r": "re",
    "im": "im",
    "imag": "im",
    "i": "im",
    "imaginary": "im",
    "mag": "mag",
    "magnitude": "mag",
    "abs": "mag",
    "lin": "mag",
    "linmag": "mag",
    "lin mag": "mag",
    "db": "db",
    "logmag": "db",
    "log mag": "db",
    "mag db": "db",
    "ang": "phase",
    "angle": "phase",
    "arg": "phase",
    **dict.fromkeys(("phase", "unwrapped phase", "phase unwrapped", "uphase"), "phase"),
    "phi": "phase",
    "deg": "phase",
    "theta": "phase",
    "": "",
}
_CHANNEL = re.compile(
    r"(?:(?:ch|chan|channel|kanal|canal|voie|canale|trace|通道|input) ?([1-8a-d])|([1-8]))"
    r"(?: (voltage|volt|volts|v|signal|waveform|data|counts?|adc|raw|spannung|current|math))?"
)
_OF_CHANNELS = re.compile(
    r"(phase|angle|gain|phase angle|winkel|fase) ch ?\d ?/? ?ch ?\d|"
    r"ch ?\d ?/? ?ch ?\d (phase|angle|gain|phase angle|winkel|fase)"
)
_TIME_OF_CHANNEL = re.compile(
    r"(?:ch|channel|kanal|canal|voie|canale|通道) ?[1-8a-d] (?:time|zeit|temps|tiempo|tempo|t)"
    r"|(?:time|zeit|temps|tiempo|tempo|t) (?:ch|channel|kanal|canal|voie|canale|通道) ?[1-8a-d]"
)
_CHANNEL_ROLES = {
    **dict.fromkeys(("count", "counts", "adc", "raw"), "counts"),
    "current": "current",
}
_MATH = re.compile(r"math ?([1-8]?)(?: .*)?")
_AT = re.compile(
    r"(.+?)\s*(?:@|\bat\b|\bbei\b|\bfor\b)\s*(.+?)\s*([(\[][^()\[\]]*[)\]])?", re.IGNORECASE
)
_AT_BRACKET = re.compile(r"(.+?)\s*[(\[]\s*([+-]?\d[\d.,]*\s*[^\W\d_]+)\s*[)\]]\s*(.*)")
_NUMBERED = re.compile(r"(.*?[^\W\d])[ _.#]*(\d{1,2})(\s*[(\[].*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a column holds.

    ``factor`` times the number in the file is the value in SI units (radian for angles, a plain
    ratio for percent); ``stated`` tells whether a unit stands in the file, ``unit`` is ``?`` where
    it does not fit. ``part`` is re, im, mag, db or phase of an S-parameter, whose name is then
    the role. ``variant`` tells apart columns of one role, such as ``1 V`` of ``Ls @ 1 V``.
    """

    role: str = ""
    unit: str = ""
    factor: float = 1.0
    stated: bool = False
    part: str = ""
    channel: str = ""
    variant: str = ""


@lru_cache(maxsize=4096)
def normal(text: str) -> str:
    """Give a heading in small letters without accents, Greek and punctuation."""
    text = re.sub(r"\|([^|]+)\|", r" abs \1 ", text.translate(_GREEK))
    text = text.replace("''", " im ").replace('"', " im ").replace("'", " re ")
    text = _BORDER.sub(" ", text)
    plain = unicodedata.normalize("NFKD", text).casefold()
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return " ".join(re.sub(r"[^\w/#]|_", " ", plain).split())


@lru_cache(maxsize=4096)
def unit_of(text: str) -> tuple[float, str] | None:
    """Give (factor, unit) of a unit as written; None where it is none.

    Angles have the unit ``rad``, decibels ``dB``, ratios an empty one.
    """
    tidy = text.strip().strip("()[]{}")
    if len(tidy) > _LONGEST:
        return None
    small = tidy.casefold()
    if small in _ANGLES:
        return _ANGLES[small], "rad"
    if small in _RATIOS:
        return (0.01, "") if small == "%" else (1.0, _RATIOS[small])
    if small in {"rad/s", "1/s", "s-1", "rad/sec"}:
        return 1.0, "rad/s"
    if small == "mhz":
        return 1e6, "Hz"
    try:
        factor, unit = canonical_unit(tidy)
    except QuantityError:
        return None
    return factor, unit


def is_units_row(cells: tuple[str, ...]) -> bool:
    """Tell whether cells read as units: most of them are, and none is a longer word."""
    filled = [cell for cell in cells if cell.strip("()[]{} -").casefold() not in _NO_UNITS]
    known = [cell for cell in filled if unit_of(cell) is not None]
    if any(cell not in known and meaning_of(cell).role for cell in filled):
        return False
    return bool(known) and len(known) * 2 > len(filled) and all(len(cell) <= 10 for cell in filled)


@lru_cache(maxsize=4096)
def meaning_of(heading: str, unit: str = "") -> Meaning:
    """Find what a heading means.

    Parameters
    ----------
    heading : str
        As written in the file, with or without a unit.
    unit : str
        The unit where it stands apart, in a units row or in the cells.

    Returns
    -------
    Meaning
        Without a role where the heading is not known.
    """
    heading = heading.strip().strip('"').strip()
    if len(heading) > _LONGEST:
        return Meaning()
    found = (
        _as_word(heading)
        or _with_tail(heading)
        or _named(heading)
        or _channel_in_volts(heading, unit)
        or _of_variant(heading)
        or Meaning()
    )
    if found.role and unit and unit_of(unit) is not None:
        found = _beside(found, unit)
    if heading.startswith(("-", "\u2212")) and found.role:
        found = replace(found, factor=-found.factor)
    return found


def _beside(found: Meaning, unit: str) -> Meaning:
    """Give the meaning with the unit that stands apart; in doubt where two units differ."""
    apart = _in_unit(found, unit)
    if not found.stated:
        return apart or replace(found, unit="?")
    if apart is None or found.part or (apart.unit, apart.factor) == (found.unit, found.factor):
        return found
    return replace(found, unit="?", stated=False)


def _as_word(heading: str) -> Meaning | None:
    """Take a heading that is one known word, or no more than a unit."""
    alone = re.fullmatch(r"in\s+(\S+)", heading, flags=re.IGNORECASE)
    heading = alone[1] if alone else heading
    role = None if _BRACKETS.match(heading) or "\u00b0" in heading else WORDS.get(normal(heading))
    if role is not None and role != "time":
        return Meaning(role=role)
    factor = _ANGLES.get(heading.casefold().strip("()[]"))
    if factor is not None:
        return Meaning(role="theta", unit="rad", factor=factor, stated=True)
    factor, unit = unit_of(heading) or (1.0, "")
    role = _SAID_BY_UNIT.get(unit)
    if role is None or (len(heading) < _SHORTEST_UNIT and not alone):
        return None
    return Meaning(role=role, unit=unit, factor=factor, stated=True)


def _of_variant(heading: str) -> Meaning | None:
    """Part the condition or the running number from a heading that has one."""
    for pattern, with_tail in ((_AT, True), (_AT_BRACKET, True), (_NUMBERED, False)):
        match = pattern.fullmatch(heading)
        if match is None:
            continue
        name = f"{match[1]} {match[3] or ''}".strip()
        found = _with_tail(name) or _named(name)
        if found and (with_tail or not found.channel):
            return replace(found, variant=match[2].strip())
    return None


def _with_tail(heading: str) -> Meaning | None:
    """Part a unit from the end of a heading, in every usual way of writing it."""
    for pattern in (_BRACKETS, *_TAILS):
        match = pattern.match(heading)
        if match is None or unit_of(match[2]) is None or match[2] == "R":
            continue
        found = (
            _named(match[1])
            or _channel_in_volts(match[1], match[2])
            or _angular(match[1], match[2])
        )
        fitting = found and _in_unit(found, match[2])
        if found and (fitting or pattern is _BRACKETS):
            return fitting or replace(found, unit="?")
    return None


def _channel_in_volts(name: str, unit: str) -> Meaning | None:
    """Take C1 for a channel where its unit is that of a voltage; else it may be a capacitance."""
    number = re.fullmatch(r"[Cc] ?([1-8])", name.strip())
    known = unit_of(unit)
    if number is None or known is None or known[1] != "V":
        return None
    return Meaning(role="voltage", channel=f"CH{number[1]}")


def named_in_volts(heading: str, unit: str) -> Meaning | None:
    """Take a name that is not known for that of a channel where its unit is that of a voltage."""
    for pattern in (_BRACKETS, *_TAILS):
        match = pattern.match(heading)
        if match is not None and unit_of(match[2]) is not None:
            heading, unit = match[1].strip(), match[2]
            break
    known = unit_of(unit) if unit else None
    if not heading or known is None or known[1] != "V":
        return None
    return Meaning(role="voltage", unit="V", factor=known[0], stated=True, channel=heading)


def _angular(name: str, unit: str) -> Meaning | None:
    """Take a single letter in radian per second for the angular frequency."""
    stated = "rad" in unit.casefold() and (unit_of(unit) or (1.0, ""))[1] == "rad/s"
    return Meaning(role="omega") if stated and normal(name) == "w" else None


def _in_unit(found: Meaning, text: str) -> Meaning | None:
    """Give the meaning in a unit; None where the unit does not fit the quantity."""
    known = unit_of(text)
    if known is None:
        return found
    factor, unit = known
    role, part = _PART_IN_UNIT.get((found.role, unit), found.role), found.part
    expected = DIMENSIONS.get(role)
    if expected == "Hz" and unit == "rad/s":
        role, unit = "omega", "Hz"
    elif expected is not None and unit not in {expected, "dB"}:
        return None
    if unit == "dB":
        part = "db"
    elif unit == "rad" and expected != "rad":
        part = "phase"
    return replace(found, role=role, unit=unit, factor=factor, stated=True, part=part)


def _by_words(plain: str) -> str | None:
    """Find the role of a heading of several known words, such as ``inductance Ls``."""
    words = [word for word in plain.split() if word not in FILLERS]
    if not 1 <= len(words) <= _MOST_WORDS or words == plain.split()[:1] == plain.split():
        return None
    roles = {WORDS.get(word, "") for word in words}
    if "spread" in roles and "" not in roles:
        return "spread"
    return roles.pop() or None if len(roles) == 1 else COMBINED.get(frozenset(roles))


def _named(name: str) -> Meaning | None:
    plain = normal(name)
    role = WORDS.get(plain) or _by_words(plain)
    if role is not None:
        return Meaning(role=role)
    scatter = _SCATTER.fullmatch(plain)
    if scatter:
        words = [(scatter[key] or "").strip() for key in ("before", "after")]
        parts = [_PARTS.get(word) for word in words]
        part = {"x": "re", "y": "im"}.get(scatter["xy"], next(filter(None, parts), ""))
        if None not in parts:
            return Meaning(role=f"S{scatter['row']}{scatter['column']}", part=part)
    if _TIME_OF_CHANNEL.fullmatch(plain):
        return Meaning(role="time")
    channel = _CHANNEL.fullmatch(plain)
    if channel:
        role = _CHANNEL_ROLES.get(channel[3] or "", "voltage")
        return Meaning(role=role, channel=f"CH{(channel[1] or channel[2]).upper()}")
    between = _OF_CHANNELS.fullmatch(plain)
    if between:
        return _named(between[1] or between[2])
    math = _MATH.fullmatch(plain)
    if math:
        return Meaning(role="voltage", channel=f"MATH{math[1]}")
    return None
