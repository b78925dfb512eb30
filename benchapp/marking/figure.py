"""The ways in which a value is written on a part: digits, letters for the point, chip codes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from types import MappingProxyType

from benchapp.marking.code import CHIP_MANTISSA, CHIP_MULTIPLIER
from benchapp.marking.piece import Piece, Recogniser, Value
from benchapp.marking.preferred import SERIES
from benchapp.marking.value import Kind

__all__ = ["FIGURES"]

_SMALLEST: Mapping[Kind, tuple[int, str]] = MappingProxyType(
    {"capacitor": (-12, "pF"), "resistor": (0, "Ω"), "inductor": (-6, "µH")}
)
_CODE_WEIGHT: Mapping[Kind, tuple[float, float]] = MappingProxyType(
    {"capacitor": (6, 1.5), "resistor": (3, 5), "inductor": (2, 0.5)}
)
_PLAIN_WEIGHT: Mapping[Kind, tuple[float, ...]] = MappingProxyType(
    {
        "capacitor": (2, 4, 1.5, 3, 1),
        "resistor": (1, 1.5, 0.4, 0.3, 0.2),
        "inductor": (1, 1.5, 0.4, 0.3, 0.1),
    }
)


def _scaled(digits: str, power: int) -> float:
    return float(Decimal(digits).scaleb(power))


def _piece(text: str, value: Value, weight: float, why: str) -> Piece:
    return Piece(role="V", text=text, content=value, weight=weight, why=why, kind=value.kind)


def _code(match: re.Match[str]) -> Iterator[Piece]:
    """Read digits whose last one is a power of ten: 104, 1002."""
    text = match[0]
    mantissa, last = text[:-1], int(text[-1])
    if int(mantissa) == 0 or (text[0] == "0" and last != 0):
        return
    for kind, (unit_power, unit) in _SMALLEST.items():
        small = {8: -2, 9: -1}.get(last) if kind == "capacitor" else None
        power = last if small is None else small
        weight = _CODE_WEIGHT[kind][len(text) - 3]
        value = Value(kind=kind, value=_scaled(mantissa, power + unit_power), style="code")
        why = f"{mantissa} x 10^{power} {unit} ({len(text)}-digit code)"
        yield _piece(text, value, weight, why)
        if small is not None:
            value = Value(kind=kind, value=_scaled(mantissa, last + unit_power), style="code")
            why = f"{mantissa} x 10^{last} {unit} (some makers; the rule is x 10^{small})"
            yield _piece(text, value, 0.3, why)


def _plain(match: re.Match[str]) -> Iterator[Piece]:
    """Read digits that are the value itself: 47, 100, 4700."""
    text = match[0]
    ends_in_zero = text.endswith("0")
    for kind, (unit_power, unit) in _SMALLEST.items():
        usual = 1.0 if len(text) < 3 or ends_in_zero else 0.02
        value = Value(kind=kind, value=_scaled(text, unit_power), style="plain")
        why = f"the plain value in {unit} (common practice)"
        yield _piece(text, value, _PLAIN_WEIGHT[kind][len(text) - 1] * usual, why)
    if len(text) < 5 and (len(text) < 3 or ends_in_zero):
        value = Value(kind="capacitor", value=_scaled(text, -6), style="plain µF")
        why = "the plain value in µF, as on larger capacitors (common practice)"
        yield _piece(text, value, 0.3, why)


def _leading_zero(match: re.Match[str]) -> Iterator[Piece]:
    """Read digits that begin with 0: a link, or a fraction without its point."""
    text = match[0]
    if not text.strip("0"):
        link = Value(kind="resistor", value=0.0, style="link")
        yield _piece(text, link, 1.0, "a zero-ohm link")
        return
    value = Value(kind="capacitor", value=_scaled(f"0.{text}", -6), style="plain µF")
    why = f".{text} µF, the point in front worn off or not printed (common practice)"
    yield _piece(text, value, 0.5, why)


def _fraction(match: re.Match[str]) -> Iterator[Piece]:
    """Read a number with a decimal point and nothing else: 0.1, 4.7."""
    text = match[0]
    if float(text) == 0:
        return
    micro, pico = (8.0, 0.3) if float(text) < 1 else (2.0, 2.0)
    smaller = "below one " if float(text) < 1 else ""
    value = Value(kind="capacitor", value=_scaled(text, -6), style="plain µF")
    yield _piece(text, value, micro, f"a bare number {smaller}in µF (common practice)")
    for kind, (power, unit) in _SMALLEST.items():
        value = Value(kind=kind, value=_scaled(text, power), style="plain")
        weight = pico if kind == "capacitor" else 1.0
        yield _piece(text, value, weight, f"a bare number in {unit} (common practice)")


_POINTS: dict[str, tuple[tuple[Kind, int, float, str], ...]] = {
    "R": (
        ("resistor", 0, 6, "R is the point in Ω (IEC 60062)"),
        ("inductor", -6, 3, "R is the point in µH (common practice)"),
        ("capacitor", -12, 2, "R is the point in pF (common practice)"),
    ),
    "K": (
        ("resistor", 3, 8, "K is kΩ (IEC 60062)"),
        ("capacitor", -9, 0.1, "k is 1000 pF, on older European capacitors (common practice)"),
    ),
    "M": (("resistor", 6, 8, "M is MΩ (IEC 60062)"),),
    "G": (("resistor", 9, 4, "G is GΩ (IEC 60062)"),),
    "T": (("resistor", 12, 1, "T is TΩ (IEC 60062)"),),
    "L": (("resistor", -3, 2, "L is the point in mΩ (IEC 60062)"),),
    "p": (("capacitor", -12, 9, "p is pF (IEC 60062)"),),
    "n": (
        ("capacitor", -9, 9, "n is nF (IEC 60062)"),
        ("inductor", -9, 1, "n is nH (common practice)"),
    ),
    "µ": (
        ("capacitor", -6, 9, "µ is µF (IEC 60062)"),
        ("inductor", -6, 1, "µ is µH (common practice)"),
    ),
    "m": (
        ("capacitor", -3, 3, "m is mF (IEC 60062)"),
        ("inductor", -3, 1, "m is mH (common practice)"),
        ("resistor", -3, 0.7, "m is mΩ (common practice)"),
        ("resistor", 6, 0.5, "M written small: MΩ"),
    ),
    "F": (("capacitor", 0, 0.3, "F is farad (IEC 60062)"),),
    "N": (
        ("inductor", -9, 5, "N is the point in nH (common practice)"),
        ("capacitor", -9, 2, "n written large: nF"),
    ),
    "P": (("capacitor", -12, 3, "p written large: pF"),),
    "U": (
        ("capacitor", -6, 3, "u written large: µF"),
        ("inductor", -6, 0.7, "u written large: µH"),
    ),
}
_POINTS |= {"u": _POINTS["µ"], "k": _POINTS["K"], "r": _POINTS["R"]}


def _point(match: re.Match[str]) -> Iterator[Piece]:
    """Read a letter in place of the decimal point: 4R7, n47, 47K3."""
    text, whole, letter, fraction = match[0], match[1], match[2], match[3]
    digits = Decimal(f"{whole or 0}.{fraction or 0}")
    if digits == 0:
        if letter in "Rr" and (whole or fraction):
            link = Value(kind="resistor", value=0.0, style="link")
            yield _piece(text, link, 1.0, "a zero-ohm link")
        return
    for kind, power, weight, why in _POINTS[letter]:
        if kind != "resistor" and letter in "Rr" and not fraction:
            continue
        value = Value(kind=kind, value=_scaled(str(digits), power), style="letter")
        yield _piece(text, value, weight, why)


_MICRO = ("µF", "UF", "µf", "MFD", "mfd", "Mfd")
_PICO = ("pF", "PF", "pf", "MMF", "mmF", "mmf", "MMFD", "mmfd", "µµF", "µµf")
_OHM = ("Ω", "ohm", "Ohm", "OHM", "ohms", "OHMS")
_KILO = ("kΩ", "KΩ", "kohm", "Kohm", "kOhm", "KOHM")
_MEGA = ("MΩ", "Mohm", "MOhm", "MOHM", "MEG", "Meg", "meg")
_OLD_MICRO = "old markings write MF or mF for µF; by the letters mF is millifarad"
_WRITTEN_OUT: tuple[tuple[tuple[str, ...], Kind, int, str], ...] = (
    (_PICO, "capacitor", -12, "pF"),
    (("nF", "NF", "nf"), "capacitor", -9, "nF"),
    (_MICRO, "capacitor", -6, "µF"),
    (("F",), "capacitor", 0, "F"),
    (("nH", "NH", "nh"), "inductor", -9, "nH"),
    (("µH", "UH", "µh"), "inductor", -6, "µH"),
    (("mH", "mh"), "inductor", -3, "mH"),
    (("H",), "inductor", 0, "H"),
    (("mΩ",), "resistor", -3, "mΩ"),
    (_OHM, "resistor", 0, "Ω"),
    (_KILO, "resistor", 3, "kΩ"),
    (_MEGA, "resistor", 6, "MΩ"),
)
_UNITS: dict[str, tuple[tuple[Kind, int, float, str], ...]] = {
    "p": (("capacitor", -12, 9, "p is pF"),),
    "n": (("capacitor", -9, 9, "n is nF"), ("inductor", -9, 1, "n is nH")),
    "µ": (("capacitor", -6, 9, "µ is µF"), ("inductor", -6, 1, "µ is µH")),
    "k": (("resistor", 3, 8, "k is kΩ"),),
    "K": (("resistor", 3, 8, "K is kΩ"),),
    "R": (("resistor", 0, 9, "R is Ω"),),
    "M": (("resistor", 6, 5, "M is MΩ"),),
    "mF": (("capacitor", -3, 6, _OLD_MICRO), ("capacitor", -6, 3, _OLD_MICRO)),
    "MF": (("capacitor", -6, 8, _OLD_MICRO), ("capacitor", -3, 1, _OLD_MICRO)),
    **{
        name: ((kind, power, 9 if power else 3, f"{unit}, written out"),)
        for names, kind, power, unit in _WRITTEN_OUT
        for name in names
    },
}


def _unit(match: re.Match[str]) -> Iterator[Piece]:
    """Read a number with its unit, or a decimal fraction with a prefix: 100nF, 0.1µ."""
    text, digits, unit = match[0], match[1], match[2]
    if Decimal(digits) == 0:
        return
    for kind, power, weight, why in _UNITS[unit]:
        value = Value(kind=kind, value=_scaled(digits, power), style="unit")
        yield _piece(text, value, weight, why)


def _chip_resistor(match: re.Match[str]) -> Iterator[Piece]:
    """Read two digits that count into E96 and a multiplier letter (EIA-96): 68X."""
    index, letter = int(match[1]), match[2]
    if not 1 <= index <= 96:
        return
    hundreds, power = SERIES["E96"][index - 1], CHIP_MULTIPLIER[letter]
    value = Value(
        kind="resistor", value=_scaled(str(hundreds), power), style="chip", tolerance=0.01
    )
    why = f"EIA-96 chip code: value {index} of E96 is {hundreds}, {letter} is x 10^{power}"
    yield _piece(match[0], value, 1.5, why)


def _chip_capacitor(match: re.Match[str]) -> Iterator[Piece]:
    """Read a mantissa letter and the power of ten in pF (EIA-198): A5."""
    letter, digit = match[1], match[2]
    power = -1 if digit == "9" else int(digit)
    mantissas = CHIP_MANTISSA[letter]
    for mantissa in mantissas:
        why = f"EIA-198 chip code: {letter} is {mantissa}, x 10^{power} pF"
        if len(mantissas) > 1:
            why += " (published tables disagree about this letter)"
        value = Value(kind="capacitor", value=_scaled(mantissa, power - 12), style="chip")
        yield _piece(match[0], value, 1 / len(mantissas), why)


_DECIMALS = r"(?:\d+\.\d+|\.\d+)"
_WORDS = "|".join(
    re.escape(name) for name in sorted(_UNITS, key=len, reverse=True) if len(name) > 1
)
_LETTER = "[RKMGTLpnµumFNPUkr]"
_WHOLE = r"(?:0|[1-9]\d{0,3})"
_START = r"(?<![\d.])"
FIGURES: tuple[tuple[str, Recogniser], ...] = (
    (_START + r"\d{3,4}(?![\d.])", _code),
    (_START + r"[1-9]\d{0,4}(?![\d.])", _plain),
    (_START + r"0\d{0,3}(?![\d.])", _leading_zero),
    (_START + _DECIMALS + r"(?![\d.])", _fraction),
    (_START + rf"({_WHOLE}|)({_LETTER})(\d{{0,4}})(?![\d.])", _point),
    (_START + rf"({_WHOLE})({_LETTER})()", _point),
    (_START + rf"(\d+(?:\.\d+)?|\.\d+)({_WORDS}|[FHΩ])", _unit),
    (_START + rf"({_DECIMALS})([pnµkRKM])", _unit),
    (r"(?<!.)(\d\d)([A-FHRSXYZ])(?!.)", _chip_resistor),
    (r"(?<!.)([A-HJ-NP-Zabdefmnt])(\d)(?!.)", _chip_capacitor),
)
"""Pattern and what it can mean, each pattern tried at every place of a word."""
