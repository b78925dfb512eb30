"""The code tables: tolerance letters, voltage codes, dielectrics.

Sources: IEC 60062 (letter codes; from secondary sources and memory, the text was not at hand), EIA
RS-198 (ceramic dielectrics), EIA-96 and EIA-198 (chip codes); film letters after DIN 41379 as used
in the trade. Where makers contradict the standard the letter stands in `UNSETTLED` instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from benchapp.marking.value import Dielectric

__all__ = [
    "ASYMMETRIC",
    "CHIP_MANTISSA",
    "CHIP_MULTIPLIER",
    "INDUCTOR_NANOHENRY",
    "INDUCTOR_PERCENT",
    "PICOFARAD",
    "STANDARD_VOLTS",
    "SYMMETRIC_PERCENT",
    "UNSETTLED",
    "VOLT_LETTERS",
    "ceramic",
    "film",
    "volts",
]

SYMMETRIC_PERCENT: Mapping[str, str] = MappingProxyType(
    {
        "E": "0.005",
        "L": "0.01",
        "P": "0.02",
        "W": "0.05",
        "B": "0.1",
        "C": "0.25",
        "D": "0.5",
        "F": "1",
        "G": "2",
        "H": "3",
        "J": "5",
        "K": "10",
        "M": "20",
        "N": "30",
    }
)
ASYMMETRIC: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"Q": (-0.1, 0.3), "T": (-0.1, 0.5), "S": (-0.2, 0.5), "Z": (-0.2, 0.8)}
)
PICOFARAD: Mapping[str, str] = MappingProxyType(
    {"B": "0.1", "C": "0.25", "D": "0.5", "F": "1", "G": "2"}
)
INDUCTOR_PERCENT: Mapping[str, str] = MappingProxyType(
    {"F": "1", "G": "2", "H": "3", "J": "5", "K": "10", "L": "15", "M": "20", "V": "25", "N": "30"}
)
INDUCTOR_NANOHENRY: Mapping[str, str] = MappingProxyType(
    {"B": "0.1", "C": "0.25", "S": "0.3", "D": "0.5"}
)
UNSETTLED: Mapping[str, str] = MappingProxyType(
    {
        "A": "makers use it for ±0.05 pF or for a special tolerance",
        "E": "makers print ±0.5 %, IEC 60062 says ±0.005 %",
        "I": "one maker's ±10 %, not in IEC 60062",
        "P": "makers print +80/-0 % or +100/-0 %, IEC 60062 says ±0.02 %",
        "R": "makers print +30/-20 %, not in IEC 60062",
        "V": "makers print +100/-10 %, not in IEC 60062",
        "W": "makers print -20/+40 %, IEC 60062 says ±0.05 %",
        "Y": "makers print +50/-0 % or +50/-20 %, not in IEC 60062",
    }
)
"""Letters whose meaning on a capacitor differs between makers: read as *tolerance not known*."""

VOLT_LETTERS: Mapping[str, str] = MappingProxyType(
    {
        "A": "1",
        "B": "1.25",
        "C": "1.6",
        "D": "2",
        "E": "2.5",
        "F": "3.15",
        "V": "3.5",
        "G": "4",
        "W": "4.5",
        "H": "5",
        "J": "6.3",
        "N": "7.5",
        "K": "8",
    }
)
_LISTED_CODES = "0G 0J 1A 1C 1E 1V 1H 1N 2A 2D 2E 2W 2H 2J 3A"
STANDARD_VOLTS = frozenset(
    (
        *(2.5, 4, 6.3, 10, 16, 20, 25, 35, 40, 50, 63, 80, 100, 125, 160, 200, 220, 250, 275, 300),
        *(
            305,
            310,
            315,
            330,
            350,
            400,
            440,
            450,
            480,
            500,
            600,
            630,
            700,
            750,
            760,
            800,
            850,
            900,
        ),
        *(1000, 1100, 1200, 1250, 1500, 1600, 2000, 2500, 3000, 3150, 4000, 5000, 6300, 10000),
    )
)
"""Rated voltages that are common enough to be recognised when no V stands beside them."""

CHIP_MANTISSA: Mapping[str, tuple[str, ...]] = MappingProxyType(
    dict(
        zip(
            "ABCDEFGHJKLMNPQRSTUVWXYZ",
            [
                (f"{tenths / 10:.1f}",)
                for tenths in (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30)
            ]
            + [
                (f"{tenths / 10:.1f}",)
                for tenths in (33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
            ],
            strict=True,
        )
    )
    | {"a": ("2.5",), "b": ("3.5", "3.0"), "d": ("4.0",), "e": ("4.5",), "f": ("5.0",)}
    | {"m": ("6.0",), "n": ("7.0",), "t": ("8.0",)}
)
"""EIA-198 chip capacitors: letter to mantissa in pF; published tables disagree about ``b``."""

CHIP_MULTIPLIER: Mapping[str, int] = MappingProxyType(
    {"Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1}
    | {"C": 2, "D": 3, "E": 4, "F": 5}
)
"""EIA-96 chip resistors: letter to the power of ten of the three-digit E96 value."""


def volts(code: str) -> tuple[float, bool] | None:
    """Decode a two-character voltage code.

    Parameters
    ----------
    code : str
        A digit (power of ten) and a letter (mantissa), such as ``2A``.

    Returns
    -------
    (float, bool) or None
        Volts DC, and whether the code is one of those seen in makers' tables (the others follow
        from the rule only); None when it is no such code.

    Notes
    -----
    Source: makers' tables; the rule is common practice and reproduces them.
    """
    power, letter = code[0], code[1:]
    if power not in "01234" or letter not in VOLT_LETTERS:
        return None
    return float(f"{VOLT_LETTERS[letter]}e{power}"), code in _LISTED_CODES.split()


_CLASS_1_PPM = dict(
    zip("CBLAMPRSTVU", (0.0, 0.3, 0.8, 0.9, 1.0, 1.5, 2.2, 3.3, 4.7, 5.6, 7.5), strict=True)
)
_CLASS_1_TIMES = {"0": -1, "1": -10, "2": -100, "3": -1000, "4": 1, "6": 10, "7": 100, "8": 1000}
_CLASS_1_BAND = {"G": 30, "H": 60, "J": 120, "K": 250, "L": 500, "M": 1000, "N": 2500}
_CLASS_2_LOW = {"X": -55, "Y": -30, "Z": 10}
_CLASS_2_HIGH = {"2": 45, "4": 65, "5": 85, "6": 105, "7": 125, "8": 150, "9": 200}
_CLASS_2_CHANGE = {
    "A": (-1.0, 1.0),
    "B": (-1.5, 1.5),
    "C": (-2.2, 2.2),
    "D": (-3.3, 3.3),
    "E": (-4.7, 4.7),
    "F": (-7.5, 7.5),
    "P": (-10.0, 10.0),
    "R": (-15.0, 15.0),
    "L": (-40.0, 15.0),
    "S": (-22.0, 22.0),
    "T": (-33.0, 22.0),
    "U": (-56.0, 22.0),
    "V": (-82.0, 22.0),
}
_PPM_NAMES = {
    "NP0": "C0G",
    "NPO": "C0G",
    "COG": "C0G",
    "N30": "B2G",
    "N75": "U1G",
    "N150": "P2G",
    "N220": "R2G",
    "N330": "S2H",
    "N470": "T2H",
    "N750": "U2J",
    "N1500": "P3K",
    "N2200": "R3L",
    "P100": "M7G",
}


def ceramic(code: str) -> Dielectric | None:
    """Decode a ceramic dielectric, class 1 or class 2.

    Parameters
    ----------
    code : str
        Three characters such as ``C0G`` or ``X7R``, or an older name such as ``NP0`` or ``N750``.

    Returns
    -------
    Dielectric or None
        None when it is no such code.

    Notes
    -----
    Source: EIA RS-198 (tables seen in three agreeing secondary sources).
    """
    name = _PPM_NAMES.get(code, code)
    if len(name) != 3:
        return None
    first, middle, last = name[0], name[1], name[2]
    if first in _CLASS_1_PPM and middle in _CLASS_1_TIMES and last in _CLASS_1_BAND:
        return _class_1(name, _CLASS_1_PPM[first] * _CLASS_1_TIMES[middle], _CLASS_1_BAND[last])
    if first in _CLASS_2_LOW and middle in _CLASS_2_HIGH and last in _CLASS_2_CHANGE:
        span = (_CLASS_2_LOW[first], _CLASS_2_HIGH[middle])
        return _class_2(name, span, _CLASS_2_CHANGE[last])
    return None


def _class_1(name: str, centre: float, band: float) -> Dielectric:
    centre = round(centre, 6) + 0.0
    return Dielectric(
        name=name,
        meaning=f"class 1 ceramic, {centre:+g} ±{band:g} ppm/K (EIA RS-198)".replace("+0 ", "0 "),
        drift=((centre - band) * 1e-6, (centre + band) * 1e-6),
    )


def _class_2(name: str, span: tuple[int, int], change: tuple[float, float]) -> Dielectric:
    low, high = change
    moves = f"±{high:g} %" if low == -high else f"{low:+g}/{high:+g} %"
    return Dielectric(
        name=name,
        meaning=(
            f"class 2 ceramic, {moves} from {span[0]} to {span[1]} °C (EIA RS-198); its "
            "capacitance also falls with voltage and it has high loss: not for a tank"
        ),
        class_2=True,
        change=(low / 100, high / 100),
        range_celsius=(float(span[0]), float(span[1])),
    )


_FILMS = {
    "polyester": (
        "MKT KT PET PETP MPET CL",
        "polyester (PET): tan delta about 1 % at 10 kHz, rising",
    ),
    "polypropylene": (
        "MKP KP MMKP PP MPP CBB",
        "polypropylene: tan delta about 2e-4, about -250 ppm/K; the usual film for a tank",
    ),
    "polycarbonate": ("MKC KC PC", "polycarbonate, no longer made"),
    "polystyrene": ("KS PS", "polystyrene: low loss, damaged above about 70 °C"),
    "polyphenylene sulphide": ("MKI PPS", "polyphenylene sulphide: low loss, stable"),
    "polyethylene naphthalate": ("MKN PEN", "polyethylene naphthalate: losses like polyester"),
}
_FILM_OF = {word: name for name, (words, _) in _FILMS.items() for word in words.split()}


def film(word: str) -> Dielectric | None:
    """Decode the letters of a film capacitor, such as ``MKP`` (M: metallised, K: plastic).

    Returns
    -------
    Dielectric or None
        None when the word is no film known here.

    Notes
    -----
    Source: letters after DIN 41379 and GB/T 2470 (CBB, CL) as the trade uses them, from memory and
    a trade page; loss figures are typical, common practice.
    """
    name = _FILM_OF.get(word)
    if name is None:
        return None
    metal = "metallised " if word.startswith("M") else ""
    return Dielectric(name=name, meaning=f"{word}: {metal}{_FILMS[name][1]}")
