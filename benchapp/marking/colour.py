"""Colour bands on resistors, and on axial inductors that follow the same code."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType

from benchapp.marking.preferred import series_of
from benchapp.marking.value import UNIT_OF, Kind, Reading

__all__ = ["COLOURS", "band_readings", "colour_of_tolerance", "is_colour"]

COLOURS = (
    *("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"),
    *("gold", "silver", "pink"),
)
_LETTERS = "bkbnrdogyegnbuvtgywhgdsrpk"  # IEC 60757, two letters each, in the order of COLOURS
_OTHER_NAMES = {
    "gray": "grey",
    "purple": "violet",
    "golden": "gold",
    **{_LETTERS[2 * place : 2 * place + 2]: name for place, name in enumerate(COLOURS)},
}
_POWER = {"gold": -1, "silver": -2, "pink": -3}
_PERCENT: Mapping[str, str] = MappingProxyType(
    {
        "brown": "1",
        "red": "2",
        "orange": "0.05",
        "yellow": "0.02",
        "green": "0.5",
        "blue": "0.25",
        "violet": "0.1",
        "grey": "0.01",
        "gold": "5",
        "silver": "10",
    }
)
_OLDER_PERCENT = {"orange": "3", "yellow": "4", "grey": "0.05"}
_PPM = dict(zip(COLOURS, (250, 100, 50, 15, 25, 20, 10, 5, 1), strict=False))
_SERIES_WEIGHT = {"E3": 1.0, "E6": 1.0, "E12": 1.0, "E24": 0.9}


def is_colour(word: str) -> bool:
    """Tell whether ``word`` names a colour band (full name, or two letters of IEC 60757)."""
    name = word.lower()
    return name in COLOURS or name in _OTHER_NAMES


def colour_of_tolerance(fraction: float) -> str | None:
    """Name the tolerance band of ±``fraction``, None where there is none.

    Bands whose meaning changed between editions of the standard are not used.
    """
    settled = {name: text for name, text in _PERCENT.items() if name not in _OLDER_PERCENT}
    return next((name for name, text in settled.items() if float(text) / 100 == fraction), None)


def band_readings(words: Sequence[str]) -> tuple[Reading, ...]:
    """Read three to six colour bands from both ends.

    Parameters
    ----------
    words : sequence of str
        Colour names in the order seen.

    Returns
    -------
    tuple of Reading
        For resistors, and for three and four bands also for inductors in µH; empty when the
        colours make no code. The likelihood is a weight.

    Notes
    -----
    Source: IEC 60062:2016 (from secondary sources and memory); two and three significant digits,
    power of ten, tolerance, temperature coefficient. Earlier editions gave orange, yellow and grey
    other tolerances: both are listed. Inductors: common practice.
    """
    bands = [_OTHER_NAMES.get(word.lower(), word.lower()) for word in words]
    if not 3 <= len(bands) <= 6:
        return ()
    found = list(_one_direction(bands, 1.0, "read from the first band named"))
    if bands != bands[::-1]:
        found += _one_direction(bands[::-1], 0.4, "read from the other end")
    return tuple(found)


def _one_direction(bands: list[str], weight: float, direction: str) -> Iterator[Reading]:
    digits = 2 if len(bands) < 5 else 3
    try:
        mantissa = "".join(str(_digit(band)) for band in bands[:digits])
        power = _POWER.get(bands[digits], COLOURS.index(bands[digits]))
    except ValueError:
        return
    ppm = _PPM.get(bands[5]) if len(bands) == 6 else None
    if mantissa.startswith("0") or (len(bands) == 6 and ppm is None):
        return
    why = f"{mantissa} x 10^{power}, {direction} (IEC 60062)"
    if ppm is not None:
        why += f", {ppm} ppm/K"
    for percent, likely, note in _tolerances(bands, digits):
        for kind, unit_power, share in _kinds(bands):
            value = float(Decimal(mantissa).scaleb(power + unit_power))
            series = series_of(value)
            tight = float(percent) <= 2
            plausible = _SERIES_WEIGHT.get(series or "", 0.6 if series and tight else 0.03)
            yield Reading(
                kind=kind,
                unit=UNIT_OF[kind],
                value=value,
                tolerance_low=-float(percent) / 100,
                tolerance_high=float(percent) / 100,
                series=series,
                likelihood=weight * likely * share * plausible,
                why=f"{why}; ±{percent} %{note}; "
                + (f"a value of {series}" if series else "a value of no preferred series"),
            )


def _digit(band: str) -> int:
    place = COLOURS.index(band)
    if place > 9:
        raise ValueError(band)
    return place


def _kinds(bands: list[str]) -> tuple[tuple[Kind, int, float], ...]:
    if len(bands) < 5:
        return (("resistor", 0, 1.0), ("inductor", -6, 0.15))
    return (("resistor", 0, 1.0),)


def _tolerances(bands: list[str], digits: int) -> Iterator[tuple[str, float, str]]:
    if len(bands) == 3:
        yield "20", 1.0, " (no tolerance band)"
        return
    band = bands[digits + 1]
    if band in _PERCENT:
        yield _PERCENT[band], 1.0, ""
    if band in _OLDER_PERCENT:
        yield _OLDER_PERCENT[band], 0.5, " (before the 2016 edition)"
