"""From a value back to the marking that a part would carry."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from benchapp.errors import QuantityError
from benchapp.marking.code import (
    ASYMMETRIC,
    CHIP_MULTIPLIER,
    INDUCTOR_PERCENT,
    PICOFARAD,
    SYMMETRIC_PERCENT,
    UNSETTLED,
    VOLT_LETTERS,
    volts,
)
from benchapp.marking.colour import COLOURS, colour_of_tolerance
from benchapp.marking.preferred import SERIES
from benchapp.marking.value import Kind, Rating, Reading

__all__ = ["Written", "write_marking"]

_UNIT_POWER: dict[Kind, int] = {"capacitor": -12, "resistor": 0, "inductor": -6}
_POINTS: dict[Kind, tuple[tuple[int, str], ...]] = {
    "capacitor": ((-12, "p"), (-9, "n"), (-6, "µ"), (-3, "m")),
    "resistor": ((0, "R"), (3, "K"), (6, "M"), (9, "G")),
    "inductor": ((-9, "N"), (-6, "R")),
}
_BAND_POWER = {-3: "pink", -2: "silver", -1: "gold"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One way to mark a part: ``style`` in words, ``text`` as it would stand on the part."""

    style: str
    text: str


def write_marking(reading: Reading) -> tuple[Written, ...]:
    """Give every marking that says exactly what ``reading`` says.

    Parameters
    ----------
    reading : Reading
        Needs a value; tolerance and first rating are written where there are any. Dielectric and
        safety class are not.

    Returns
    -------
    tuple of Written
        A style that cannot express the value without rounding is left out.

    Raises
    ------
    QuantityError
        When the value is missing, not positive, or has more than three significant digits.
    """
    if reading.value is None or not 0 < reading.value < float("inf"):
        raise QuantityError(
            f"value to mark: must be above zero and finite (got {reading.value!r}).",
            hint="Give for example 100nF ±10 %.",
        )
    digits = Decimal(f"{reading.value:.9e}").normalize()
    if len(digits.as_tuple().digits) > 3:
        raise QuantityError(
            f"value to mark: must have at most three significant digits (got {digits:g}).",
            hint="Marking codes carry two or three digits: round to a preferred value first.",
        )
    behind = _tolerance(reading)
    volt = _volt_word(reading.rating)
    found = [
        Written(style=style, text=f"{text}{behind}{volt}")
        for style, text in _figures(digits, reading.kind)
    ]
    if reading.kind == "resistor":
        found += _chip(digits, reading)
        found += _bands(digits, reading)
    return tuple(found)


def _figures(value: Decimal, kind: Kind) -> Iterator[tuple[str, str]]:
    digits, exponent = _significant(value.scaleb(-_UNIT_POWER[kind]))
    for style, count in (("three-digit code", 2), ("four-digit code", 3)):
        text = _digit_code(digits, exponent, count, kind)
        if text:
            yield style, text
    for power, letter in _POINTS[kind]:
        text = _point(value.scaleb(-power), letter)
        if text and (letter != "R" or kind == "resistor" or not text.endswith("R")):
            yield "letter for the point", text


def _significant(value: Decimal) -> tuple[str, int]:
    """Give the digits of ``value`` without trailing zeros, and the power of ten of the last."""
    _, digits, exponent = value.normalize().as_tuple()
    return "".join(map(str, digits)), int(exponent)


def _digit_code(digits: str, exponent: int, count: int, kind: Kind) -> str:
    if len(digits) > count or (count == 3 and len(digits) < 3):
        return ""
    padded = digits.ljust(count, "0")
    power = exponent - (count - len(digits))
    if 0 <= power <= (7 if kind == "capacitor" else 9):
        return f"{padded}{power}"
    if -count <= power < 0:
        return f"{padded[: count + power]}R{padded[count + power :]}"
    return ""


def _point(value: Decimal, letter: str) -> str:
    if not Decimal("0.1") <= value < 1000:
        return ""
    whole, _, fraction = f"{value.normalize():f}".partition(".")
    if not fraction and len(whole) == 1:
        fraction = "0"
    return f"{whole.lstrip('0')}{letter}{fraction}"


def _tolerance(reading: Reading) -> str:
    """Give the tolerance letter, or the tolerance printed out where no letter is safe."""
    low, high, absolute = reading.tolerance_low, reading.tolerance_high, reading.absolute_tolerance
    if absolute is not None:
        return _absolute_letter(absolute, reading)
    if low is None or high is None:
        return ""
    for letter, pair in ASYMMETRIC.items():
        if reading.kind == "capacitor" and (low, high) == pair:
            return letter
    if low != -high:
        return f" {100 * low:+g}{100 * high:+g}%"
    table = INDUCTOR_PERCENT if reading.kind == "inductor" else SYMMETRIC_PERCENT
    small = reading.kind == "capacitor" and reading.value is not None and reading.value < 10.5e-12
    for letter, percent in table.items():
        taken = reading.kind == "capacitor" and (letter in UNSETTLED or letter == "L")
        if float(percent) / 100 == high and not taken and not (small and letter in PICOFARAD):
            return letter
    return f" ±{100 * high:g}%"


def _absolute_letter(absolute: float, reading: Reading) -> str:
    if reading.kind == "capacitor" and reading.value is not None and reading.value < 10e-12:
        for letter, picofarad in PICOFARAD.items():
            if abs(absolute * 1e12 - float(picofarad)) < 1e-9:
                return letter
    if reading.kind == "capacitor":
        return f" ±{absolute * 1e12:g}pF"
    raise QuantityError(
        f"tolerance to mark: must be a percentage for this kind of part (got ±{absolute:g} "
        f"{reading.unit}).",
        hint="Give for example 1 kΩ ±5 %.",
    )


def _volt_word(rating: Rating | None) -> str:
    if rating is None:
        return ""
    if rating.kind == "ac":
        return f" {rating.volt:g}V~"
    for power in "0123":
        for letter in VOLT_LETTERS:
            decoded = volts(power + letter)
            if decoded is not None and decoded == (rating.volt, True):
                return f" {power}{letter}"
    return f" {rating.volt:g}VDC"


def _chip(value: Decimal, reading: Reading) -> Iterator[Written]:
    digits, exponent = _significant(value)
    hundreds, power = int(digits.ljust(3, "0")), exponent - (3 - len(digits))
    if hundreds not in SERIES["E96"] or reading.tolerance_high not in (None, 0.01):
        return
    index = SERIES["E96"].index(hundreds) + 1
    for letter, multiplier in CHIP_MULTIPLIER.items():
        if multiplier == power and letter not in "RSH":
            yield Written(style="chip code (EIA-96, ±1 %)", text=f"{index:02d}{letter}")


def _bands(value: Decimal, reading: Reading) -> Iterator[Written]:
    high, low = reading.tolerance_high, reading.tolerance_low
    band = colour_of_tolerance(high) if high is not None and low == -high else None
    if band is None:
        return
    digits, exponent = _significant(value)
    for count in (2, 3):
        power = exponent - (count - len(digits))
        if len(digits) > count or not -3 <= power <= 9:
            continue
        multiplier = _BAND_POWER.get(power, COLOURS[power])
        names = [COLOURS[int(digit)] for digit in digits.ljust(count, "0")]
        yield Written(
            style=f"{count + 2} colour bands", text=" ".join([*names, multiplier, band]).strip()
        )
