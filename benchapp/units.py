"""Text to number and back, as a bench writes it: prefixes, units, tolerances, uncertainties.

Nothing is guessed: a text with two readings is refused, and the refusal names both.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from types import MappingProxyType

from benchapp.errors import QuantityError

__all__ = [
    "UNITS",
    "Estimate",
    "Quantity",
    "Unit",
    "canonical_unit",
    "format_estimate",
    "format_quantity",
    "parse_number",
    "parse_quantity",
    "parse_tolerance",
    "unit_symbol",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A measured value with its standard uncertainty ``u`` (k = 1), None where unknown."""

    name: str
    value: float
    u: float | None
    unit: str

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise QuantityError(
                f"{self.name}: value must be finite (got {self.value!r}).",
                hint="Leave out what the data do not determine.",
            )
        if self.u is not None and not 0 <= self.u < math.inf:
            raise QuantityError(
                f"{self.name}: uncertainty must be zero or more and finite (got {self.u!r}).",
                hint="Use None where it is unknown.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A value as typed, with its tolerance where one was given.

    ``low`` and ``high`` are the signed deviations, both None without a tolerance: fractions of
    the value where ``relative``, else in ``unit``.
    """

    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    relative: bool = True

    @property
    def lower(self) -> float | None:
        """Lowest value that the tolerance allows, in ``unit``."""
        return self._bound(self.low)

    @property
    def upper(self) -> float | None:
        """Highest value that the tolerance allows, in ``unit``."""
        return self._bound(self.high)

    def _bound(self, deviation: float | None) -> float | None:
        if deviation is None:
            return None
        return self.value + deviation * (abs(self.value) if self.relative else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """How a unit is written, how people spell it, and the prefixes that make sense with it.

    ``lowest`` and ``highest`` are powers of ten. A prefix outside them is taken for a slip:
    nobody has a coil of one megahenry, but many write MH for mH.
    """

    symbol: str
    spellings: tuple[str, ...]
    lowest: int = 0
    highest: int = 0


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        "H": Unit(symbol="H", spellings=("H", "henry", "henries"), lowest=-15),
        "F": Unit(symbol="F", spellings=("F", "farad", "farads"), lowest=-15),
        "ohm": Unit(symbol="Ω", spellings=("Ω", "ohm", "ohms", "R"), lowest=-9, highest=12),
        "Hz": Unit(symbol="Hz", spellings=("Hz", "hertz"), lowest=-3, highest=12),
        "s": Unit(symbol="s", spellings=("s", "sec", "second", "seconds"), lowest=-15),
        "V": Unit(symbol="V", spellings=("V", "volt", "volts"), lowest=-9, highest=6),
        "A": Unit(symbol="A", spellings=("A", "amp", "ampere"), lowest=-12, highest=6),
        "S": Unit(symbol="S", spellings=("S", "siemens"), lowest=-12, highest=6),
        "W": Unit(symbol="W", spellings=("W", "watt", "watts"), lowest=-12, highest=9),
        "m": Unit(symbol="m", spellings=("m", "metre", "meter"), lowest=-9, highest=3),
        "K": Unit(symbol="K", spellings=("K", "kelvin"), lowest=-3),
        "degC": Unit(symbol="°C", spellings=("°C", "degC", "℃", "celsius")),
        "deg": Unit(symbol="°", spellings=("°", "deg", "degree", "degrees")),
        "dB": Unit(symbol="dB", spellings=("dB",)),
        "ohm/sqrt(Hz)": Unit(
            symbol="Ω/√Hz", spellings=("Ω/√Hz", "ohm/sqrt(Hz)"), lowest=-9, highest=6
        ),
        "1": Unit(symbol="", spellings=("1",)),
    }
)

_PREFIXES = {"f": -15, "p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9, "T": 12}
_TYPED_PREFIXES = {**_PREFIXES, "u": -6, "K": 3, "meg": 6, "Meg": 6, "MEG": 6}
_SLOPPY_PREFIXES = {"P": -12, "N": -9, "U": -6}
_EXACT = {spelling: name for name, unit in UNITS.items() for spelling in unit.spellings}
_ONLY_EXACT = ("S", "s", "K", "R", "m")
_FOLDED = {word.lower(): name for word, name in _EXACT.items() if word not in _ONLY_EXACT}
_RELATIVE = {"%": -2, "ppm": -6}
_CONVERTED = {"rad": (180 / math.pi, "deg"), "rad/s": (0.5 / math.pi, "Hz"), "cm": (0.01, "m")}
_SLIPS = {
    "MH": "mH (millihenry) or µH (microhenry)",
    "MF": "µF (microfarad) or mF (millifarad)",
    "mhz": "MHz (megahertz) or mHz (millihertz)",
}
_EXAMPLES = {
    "H": "1.62 mH",
    "F": "868 pF",
    "ohm": "22 ohm",
    "Hz": "134.2 kHz",
    "V": "1 V",
    "degC": "23 degC",
    "deg": "5 deg",
    "1": "60",
}

_DIGITS = r"(?:\d{1,3}(?:[ ']\d{3})+(?!\d)(?:[.,]\d+)?|\d+(?:[.,]\d+)*[.,]?|[.,]\d+)"
_UNSIGNED = rf"{_DIGITS}(?:[eEdD][+-]?\d+)?"
_WORD = r"(?:(?:[^\W\d_]|[%°℃√])+(?:/(?:√Hz|sqrt\(Hz\)|s))?)?"
_NUMBER = re.compile(rf"[+-]?{_UNSIGNED}")
_TYPED = re.compile(rf"([+-]?{_UNSIGNED}) ?({_WORD}) ?(.*)")
_INFIX = re.compile(
    rf"(?=[+-]?[\dRpnµum])([+-]?\d*)([fpnµumkKMGTRV])(\d+)(?![\d.,]) ?({_WORD}) ?(.*)"
)
_DEVIATION = rf"([±+-]?) ?({_UNSIGNED}) ?({_WORD})"
_TOLERANCE = re.compile(rf"{_DEVIATION}(?:[ /]*{_DEVIATION})?")
_PEAK = re.compile(r"[VA] ?(pp|pk|p-p|peak)\b", re.IGNORECASE)
_PLAIN = str.maketrans(
    "\u2212\u2012\u2013\ufe63\uff0d\uff0b\u03bc\u2126\u00ba\u2019", "-----+µΩ°'"
)


@dataclass(frozen=True, slots=True)
class _Scale:
    """What a typed unit stands for: value in ``unit`` = number * 10**exponent * factor."""

    exponent: int
    unit: str
    factor: float = 1.0

    def apply(self, number: Decimal) -> float:
        return float(number.scaleb(self.exponent)) * self.factor


@dataclass(frozen=True, slots=True)
class _Deviations:
    """A tolerance as typed, its unit not yet resolved."""

    low: Decimal
    high: Decimal
    word: str

    def resolve(self, unit: str | None, shown: str) -> tuple[float, float, bool]:
        """Give (low, high, relative), absolute deviations in ``unit``."""
        if relative := self.word in _RELATIVE:
            scale = _Scale(_RELATIVE[self.word], "1")
        elif self.word and unit:
            kelvin = unit == "degC" and self.word == "K"  # a step of one degree, no kilo
            scale = _Scale(0, unit) if kelvin else _resolve(self.word, unit)
            _must_be(scale.unit, unit, shown)
        elif unit == "1":
            scale = _Scale(0, "1")
        else:
            raise QuantityError(
                f"tolerance: must be in % or in the unit of the value (got {_quote(shown)}).",
                hint="Type for example 1.62 mH ±3 % or 1.62 mH ±0.05 mH.",
            )
        low, high = scale.apply(self.low), scale.apply(self.high)
        if relative and low < -1:
            raise QuantityError(
                f"tolerance: must not go below -100 % (got {_quote(shown)}).",
                hint="Check the sign and the unit of the tolerance.",
            )
        return low, high, relative


def _tidy(text: str) -> str:
    """Give ``text`` with one spelling of blanks, minus, micro, ohm, plus-minus and rms."""
    text = " ".join(text.translate(_PLAIN).split())
    text = re.sub(r"\+ ?/ ?-|\+-|-\+", "±", text)
    text = re.sub(r"([VA]) ?rms\b", r"\1", text, flags=re.IGNORECASE)
    return text.replace("deg C", "degC").replace("° C", "°C")


def _quote(text: str) -> str:
    return f"'{text if len(text) <= 40 else text[:37] + '...'}'"


def _decimal(typed: str, mark: str | None, shown: str) -> Decimal:
    sign, digits, exponent = re.fullmatch(r"([+-]?)([^eEdD]*)(.*)", typed).groups()  # type: ignore[union-attr]
    known = "," if exponent and mark is None else mark
    plain = _without_groups(digits, known, shown)
    value = Decimal(f"{sign}{plain}{exponent.upper().replace('D', 'E')}")
    if math.isinf(float(value)):
        raise QuantityError(
            f"number: must be finite (got {_quote(shown)}).", hint="Check the exponent."
        )
    return value


def _without_groups(digits: str, mark: str | None, shown: str) -> str:
    """Give unsigned ``digits`` with a point as decimal mark and no other separator."""
    if " " in digits or "'" in digits:
        return re.sub("[ ']", "", digits).replace(",", ".")
    separators = re.sub(r"\d", "", digits)
    if len(separators) == 1:
        return _one_separator(digits, mark, shown)
    whole, fraction = digits, ""
    if len(set(separators)) == 2:
        whole, _, fraction = digits.rpartition(separators[-1])
    first, *groups = re.split("[.,]", whole)
    regular = not groups or (1 <= len(first) <= 3 and all(len(group) == 3 for group in groups))
    if regular and len(set(re.sub(r"\d", "", whole))) <= 1:
        return re.sub("[.,]", "", whole) + ("." + fraction if fraction else "")
    raise QuantityError(
        f"number: must have one decimal mark and groups of three digits (got {_quote(shown)}).",
        hint="Type it with a point and without separators, for example 1234.5.",
    )


def _one_separator(digits: str, mark: str | None, shown: str) -> str:
    whole, fraction = re.split("[.,]", digits)
    grouped = len(fraction) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")
    if "." in digits or not grouped or mark == ",":
        return f"{whole}.{fraction}"
    if mark == ".":
        return whole + fraction
    raise QuantityError(
        f"number: must have one reading (got {_quote(shown)}, "
        f"which is {whole}.{fraction} or {whole}{fraction}).",
        hint=f"Type {whole}.{fraction} or {whole}{fraction}.",
    )


def parse_number(text: str, *, mark: str | None = None) -> float:
    """Read a number with either decimal mark, any usual grouping, and an exponent.

    Parameters
    ----------
    text : str
        For example ``2,2``, ``1.234,56``, ``1 234.5``, ``1.0D+05``, ``−3e-6``. A single point is
        always the decimal mark; a single comma too, unless exactly three digits follow it.
    mark : {',', '.'}, optional
        The decimal mark where it is known: settles ``1,234``.

    Returns
    -------
    float

    Raises
    ------
    QuantityError
        When it is no number, is not finite, or has two readings (both are named).
    """
    tidy = _tidy(text)
    if not _NUMBER.fullmatch(tidy):
        raise QuantityError(
            f"number: must be digits with one decimal mark (got {_quote(text)}).",
            hint="Type for example 2.2 or 2.2e-6.",
        )
    return float(_decimal(tidy, mark, text))


def canonical_unit(text: str) -> tuple[float, str]:
    """Split a unit as written into a factor and the plain unit.

    Parameters
    ----------
    text : str
        For example ``µH``, ``kΩ``, ``Ohm``, ``MHz``, ``%``, ``rad``.

    Returns
    -------
    factor : float
    unit : str
        A key of `UNITS`.

    Raises
    ------
    QuantityError
        When the unit is unknown or has two readings.
    """
    word = _tidy(text)
    scale = _resolve(word, _EXACT.get(word))
    if not scale.unit:
        raise _unknown_unit(text)
    return float(f"1e{scale.exponent}") * scale.factor, scale.unit


def _unknown_unit(word: str) -> QuantityError:
    return QuantityError(
        "unit: must be H, F, ohm, Hz, s, V, A, S, W, m, K, degC, deg, % or one of these with a "
        f"usual prefix (got {_quote(word)}).",
        hint="Type for example mH, pF, kOhm or MHz.",
    )


def _resolve(word: str, expected: str | None) -> _Scale:
    """Give what ``word`` stands for; the unit is '' for a prefix alone with none expected."""
    if word in _CONVERTED:
        factor, base = _CONVERTED[word]
        return _Scale(0, base, factor)
    if word in _RELATIVE:
        return _Scale(_RELATIVE[word], "1")
    if word in _SLIPS:
        raise QuantityError(
            f"unit: must have one reading (got {_quote(word)}).", hint=f"Type {_SLIPS[word]}."
        )
    if word == "C" and expected == "degC":
        return _Scale(0, "degC")
    prefix, unit = _TYPED_PREFIXES.get(word), _EXACT.get(word)
    if prefix is not None and unit is not None and expected is None:
        raise QuantityError(
            f"unit: must have one reading (got {_quote(word)}, "
            f"which is a prefix or the {UNITS[unit].spellings[1]}).",
            hint="Type the unit in full, for example mH or kOhm.",
        )
    if prefix is not None and (unit is None or unit != expected):
        return _Scale(prefix, expected or "")
    return _spelled(word)


def _spelled(word: str) -> _Scale:
    prefixes = {**_TYPED_PREFIXES, **_SLOPPY_PREFIXES}
    for spellings in (_EXACT, _FOLDED):
        for prefix, exponent in prefixes.items():
            stem = word[len(prefix) :] if word.startswith(prefix) else ""
            unit = spellings.get(stem if spellings is _EXACT else stem.lower())
            if unit and UNITS[unit].lowest <= exponent <= UNITS[unit].highest:
                return _Scale(exponent, unit)
    raise _unknown_unit(word)


def parse_quantity(text: str, unit: str | None = None, *, mark: str | None = None) -> Quantity:
    """Read a value with prefix, unit and tolerance as a bench writes it.

    Parameters
    ----------
    text : str
        For example ``5n6``, ``4R7``, ``5,6 µH``, ``1.62mH ±3 %``, ``868pF -2 % +5 %``,
        ``1.62 mH ±0.05 mH``, ``134.2kHz``.
    unit : str, optional
        The unit that is expected (a key of `UNITS`). A missing unit is then taken for it, and a
        different one is refused. Without it a missing unit gives unit ''.
    mark : {',', '.'}, optional
        The decimal mark where it is known.

    Returns
    -------
    Quantity

    Raises
    ------
    QuantityError
        When the text is not understood, has two readings, or has another unit than expected.
    """
    tidy = _tidy(text)
    if _PEAK.search(tidy):
        raise QuantityError(
            f"level: must be an rms value (got {_quote(text)}).",
            hint="For a sine divide peak-to-peak by 2.83 or peak by 1.41, then type V or A.",
        )
    number, scale, rest = _read_value(tidy, unit, mark, text)
    tolerance = _read_tolerance(rest, mark, text) if rest else None
    if scale is None:
        borrowed = tolerance.word if tolerance and tolerance.word not in _RELATIVE else ""
        scale = _resolve(borrowed, unit) if borrowed else _Scale(0, unit or "")
    _must_be(scale.unit, unit, text)
    value = scale.apply(number)
    if tolerance is None:
        return Quantity(value=value, unit=scale.unit)
    low, high, relative = tolerance.resolve(scale.unit, text)
    return Quantity(value=value, unit=scale.unit, low=low, high=high, relative=relative)


def _read_value(
    tidy: str, unit: str | None, mark: str | None, shown: str
) -> tuple[Decimal, _Scale | None, str]:
    """Give the number, what its unit stands for (None without one), and the text after it."""
    if infix := _INFIX.fullmatch(tidy):
        whole, letter, fraction, word, rest = infix.groups()
        number = Decimal(f"{whole}.{fraction}")
        if letter in "RV":
            known = _EXACT.get(word) or _FOLDED.get(word.lower())
            unprefixed = word if known == _EXACT[letter] else letter + word
            return number, _resolve(unprefixed, unit), rest
        scale = (
            _resolve(letter + word, unit) if word else _Scale(_TYPED_PREFIXES[letter], unit or "")
        )
        return number, scale, rest
    typed = _TYPED.fullmatch(tidy)
    if typed is None:
        raise QuantityError(
            f"quantity: must be a number with a unit (got {_quote(shown)}).",
            hint=f"Type for example {_EXAMPLES.get(unit or 'H', '1.62 mH')}.",
        )
    digits, word, rest = typed.groups()
    return _decimal(digits, mark, shown), _resolve(word, unit) if word else None, rest


def _must_be(found: str, expected: str | None, shown: str) -> None:
    if expected is not None and found != expected:
        wanted = UNITS[expected].symbol or "a plain number"
        raise QuantityError(
            f"quantity: must be in {wanted} (got {_quote(shown)}).",
            hint=f"Type for example {_EXAMPLES.get(expected, '1 ' + wanted)}.",
        )


def parse_tolerance(
    text: str, unit: str | None = None, *, mark: str | None = None
) -> tuple[float, float, bool]:
    """Read a tolerance: ``±3 %``, ``-2 % +5 %``, ``+/-3%``, ``±100 ppm``, ``±0.5 pF``.

    Parameters
    ----------
    text : str
    unit : str, optional
        Unit of the value, needed for a tolerance that is not in percent or ppm.
    mark : {',', '.'}, optional
        The decimal mark where it is known.

    Returns
    -------
    low, high : float
        Signed deviations: fractions where ``relative``, else in ``unit``.
    relative : bool

    Raises
    ------
    QuantityError
        When it is not understood, one-sided, or in another unit.
    """
    return _read_tolerance(_tidy(text), mark, text).resolve(unit, text)


def _read_tolerance(tidy: str, mark: str | None, shown: str) -> _Deviations:
    match = _TOLERANCE.fullmatch(tidy)
    sign, digits, word, other_sign, other_digits, other_word = (
        match.groups() if match else [""] * 6
    )
    if match and other_digits is None and sign in ("", "±"):
        size = _decimal(digits, mark, shown)
        return _Deviations(-size, size, word)
    if match and other_digits and {sign, other_sign} == {"+", "-"} and word in ("", other_word):
        ends = (
            _decimal(sign + digits, mark, shown),
            _decimal(other_sign + other_digits, mark, shown),
        )
        return _Deviations(min(ends), max(ends), other_word)
    raise QuantityError(
        f"tolerance: must be one ± value, or one down and one up (got {_quote(shown)}).",
        hint="Type for example ±3 % or -2 % +5 %.",
    )


def unit_symbol(unit: str) -> str:
    """Give the sign of a unit as it is printed: ``ohm`` gives Ω, ``degC`` °C, ``1`` nothing.

    Raises
    ------
    QuantityError
        When ``unit`` is no key of `UNITS`.
    """
    if unit not in UNITS:
        raise _unknown_unit(unit)
    return UNITS[unit].symbol


def format_quantity(
    value: float,
    unit: str,
    u: float | None = None,
    digits: int = 4,
    *,
    mark: str = ".",
    padded: bool = True,
) -> str:
    """Write a value with prefix and unit, rounded to what its uncertainty supports.

    Parameters
    ----------
    value : float
    unit : str
        A key of `UNITS`, or '' for none.
    u : float, optional
        Standard uncertainty in ``unit``: the value is rounded to two significant digits of it.
    digits : int
        Significant digits where ``u`` is None or zero.
    mark : {'.', ','}
        The decimal mark to write.
    padded : bool
        Whether zeros at the end of a decimal are written; a nominal or an axis needs none.

    Returns
    -------
    str

    Raises
    ------
    QuantityError
        When a number is not finite or the unit unknown.
    """
    written, _, sign = _rounded(value, unit or "1", u, digits)
    if not padded and "." in written:
        written = written.rstrip("0").rstrip(".")
    return _join(written.replace(".", mark), sign)


def format_estimate(estimate: Estimate, coverage: float = 1, *, mark: str = ".") -> str:
    """Write ``value ± coverage*u unit``, both to two significant digits of the uncertainty.

    Parameters
    ----------
    estimate : Estimate
    coverage : float
        Factor k of the expanded uncertainty that is printed.
    mark : {'.', ','}
        The decimal mark to write.

    Returns
    -------
    str
        Without an uncertainty the value alone.
    """
    u = None if estimate.u is None else coverage * estimate.u
    written, uncertainty, sign = _rounded(estimate.value, estimate.unit or "1", u, 4)
    both = f"{written} ± {uncertainty}" if uncertainty else written
    return _join(both.replace(".", mark), sign)


def _join(number: str, sign: str) -> str:
    return number + sign if sign in ("", "°") else f"{number} {sign}"


def _rounded(value: float, unit: str, u: float | None, digits: int) -> tuple[str, str, str]:
    """Give the value, the uncertainty ('' without one) and the unit sign, rounded together."""
    symbol = unit_symbol(unit)
    if not math.isfinite(value) or (u is not None and not 0 <= u < math.inf):
        raise QuantityError(
            f"quantity to write: must be finite (got {value!r} with uncertainty {u!r}).",
            hint="Write nothing where nothing is known.",
        )
    exact, deviation = Decimal(repr(float(value))), Decimal(repr(float(u or 0)))
    place = _last_place(deviation, 2) if deviation else _last_place(exact, digits)
    exact, deviation = _round(exact, place) + 0, _round(deviation, place)
    largest = max(abs(exact), deviation)
    prefix, exponent = _prefix(largest, unit)
    places = max(exponent - place, 0)
    written = f"{exact.scaleb(-exponent):.{places}f}"
    uncertainty = f"{deviation.scaleb(-exponent):.{places}f}" if deviation else ""
    return written, uncertainty, prefix + symbol


def _last_place(number: Decimal, digits: int) -> int:
    """Give the power of ten of the last of ``digits`` significant digits of ``number``."""
    if not number:
        return 1 - digits
    place = number.adjusted() + 1 - digits
    return place + (_round(number, place).adjusted() > number.adjusted())


def _round(number: Decimal, place: int) -> Decimal:
    return number.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)


def _prefix(size: Decimal, unit: str) -> tuple[str, int]:
    """Give the prefix, and its power of ten, that puts ``size`` between 1 and 1000."""
    wanted = 3 * (size.adjusted() // 3) if size else 0
    exponent = min(max(wanted, UNITS[unit].lowest), UNITS[unit].highest)
    return next((name, power) for name, power in _PREFIXES.items() if power == exponent)
