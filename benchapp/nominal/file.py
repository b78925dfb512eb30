"""The nominal design as a TOML file: every refusal names the line and what was expected."""

from __future__ import annotations

import difflib
import hashlib
import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchapp.capture import Conditions
from benchapp.circuit import CIRCUITS
from benchapp.errors import NominalError, QuantityError, ReadError
from benchapp.nominal.value import Accepted, Decision, Limit, Nominal
from benchapp.readers.source import HEAD, open_source
from benchapp.units import format_quantity, parse_quantity, parse_tolerance

__all__ = ["CONDITION_SPANS", "LIMIT_UNITS", "load_nominal", "nominal_from"]

LIMIT_UNITS: Mapping[str, str] = {
    "L": "H",
    "C": "F",
    "R": "ohm",
    "Q": "1",
    "D": "1",
    "ESR": "ohm",
    "DCR": "ohm",
    "f0": "Hz",
    "SRF": "Hz",
    "Z_tank": "ohm",
    "BW": "Hz",
    "|Z|": "ohm",
    "theta": "deg",
}
"""Every quantity that can be limited, and the unit of its limits."""

CONDITION_SPANS: Mapping[str, tuple[float, bool]] = {
    "level": (0.20, True),
    "bias": (0.20, True),
    "temperature": (5.0, False),
}
"""How far a capture may stray from a condition stated without a tolerance (common practice):
a fraction where True, else in the unit of the condition. 5 K change copper by 2 %."""

_FREQUENCY_NEEDED = ("|Z|", "theta")
_CAPTURE_CIRCUITS = ("resonance", "ring-down")
_TOP = ("title", "revision", "circuit", "conditions", "limits", "decision")
_LIMIT = ("nominal", "tolerance", "lower", "upper", "at")
_DECISION = ("guard", "coverage")
_TEXTS = ("fixture", "surroundings", "equivalent_circuit")
_MEASURES: Mapping[str, Mapping[str, str]] = {
    "level": {"V": "level_volt", "A": "level_ampere"},
    "bias": {"V": "bias_volt", "A": "bias_ampere"},
    "temperature": {"degC": "temperature_celsius"},
}
_CONDITIONS = ("frequency", *_MEASURES, *_TEXTS)

_Path = tuple[str, ...]


def load_nominal(path: str | Path) -> Nominal:
    """Read a nominal design from a TOML file.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Nominal

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    NominalError
        When it breaks a rule of the format; the message names the line and what was expected.
    """
    try:
        source = open_source(path)
        text = source.head.decode("utf-8-sig")
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as cause:
        raise _syntax(Path(path).name, text, cause) from cause
    except (ReadError, UnicodeDecodeError) as cause:
        raise _no_design(path) from cause
    if source.size > HEAD:
        raise _no_design(path)
    document = _Document(name=source.name, lines=_lines(text))
    digest = hashlib.sha256(source.head).hexdigest()
    return _design(document, data, source=source.path, sha256=digest)


def _no_design(path: str | Path) -> NominalError:
    return NominalError(
        f"{path}: must be a nominal design, a short UTF-8 text file in TOML (got something else).",
        hint="Choose the design file, or save it again as UTF-8 text.",
    )


def nominal_from(data: Mapping[str, Any], source: str = "nominal design") -> Nominal:
    """Make a nominal design from nested mappings, laid out as in the file.

    Parameters
    ----------
    data : mapping
        The keys of the file.
    source : str
        What to call it in a refusal.

    Raises
    ------
    NominalError
        When it breaks a rule of the format.
    """
    return _design(_Document(name=source), data, source=source)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Document:
    """Where each key stands, and how a refusal is worded."""

    name: str
    lines: Mapping[_Path, int] = field(default_factory=dict)

    def where(self, path: Sequence[str]) -> str:
        for length in range(len(path), 0, -1):
            line = self.lines.get(tuple(path[:length]))
            if line is not None:
                return f"{self.name}, line {line}: {'.'.join(path)}"
        return f"{self.name}: {'.'.join(path)}"

    def refusal(self, path: Sequence[str], rule: str, got: object, hint: str) -> NominalError:
        return NominalError(f"{self.where(path)} must {rule} (got {got}).", hint=hint)

    def table(self, data: object, path: _Path) -> Mapping[str, Any]:
        if not isinstance(data, Mapping):
            raise self.refusal(
                path, "be a table", repr(data), f"Write [{'.'.join(path)}] on a line of its own."
            )
        return data

    def only(self, data: Mapping[str, Any], known: Sequence[str], path: _Path) -> None:
        for key in data:
            if key in known:
                continue
            inside = f"[{'.'.join(path)}]" if path else "the design"
            raise self.refusal(
                (*path, key),
                f"be a known key of {inside}: {', '.join(known)}",
                repr(key),
                _near(key, known),
            )

    def text(self, data: Mapping[str, Any], path: _Path, default: str | None = None) -> str:
        value = data.get(path[-1], default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            got = "nothing" if value is None else repr(value)
            raise self.refusal(path, "be a text in quotes", got, f'Write {path[-1]} = "...".')
        return value.strip()

    def number(self, data: Mapping[str, Any], path: _Path, default: float) -> float:
        value = data.get(path[-1], default)
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not math.isfinite(value)
        ):
            raise self.refusal(
                path, "be a number", repr(value), f"Write for example {path[-1]} = 1.0."
            )
        return float(value)

    def quantity(self, value: object, path: _Path, units: Sequence[str]) -> tuple[float, str]:
        found, lower, _, unit = self.with_tolerance(value, path, units)
        if lower is not None:
            raise self.refusal(
                path, "be one value, without a tolerance", repr(value), "Remove it."
            )
        return found, unit

    def with_tolerance(
        self, value: object, path: _Path, units: Sequence[str]
    ) -> tuple[float, float | None, float | None, str]:
        """Give value, lower, upper and unit of a text such as ``1.62 mH ±3 %``."""
        text = self._with_unit(value, path, units)
        refusal = None
        for unit in units:
            try:
                found = parse_quantity(text, unit)
            except QuantityError as error:
                refusal = refusal or error
            else:
                return found.value, found.lower, found.upper, unit
        assert refusal is not None  # noqa: S101 - there is at least one unit
        rule, _, got = refusal.message.partition(": must ")[2].rpartition(" (got ")
        raise self.refusal(path, rule, got.removesuffix(")."), refusal.hint) from refusal

    def _with_unit(self, value: object, path: _Path, units: Sequence[str]) -> str:
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if plain and units == ("1",):
            return repr(value)
        if plain or (isinstance(value, str) and not _has_unit(value, units)):
            example = format_quantity(1.5, units[0], digits=2)
            raise self.refusal(
                path, "have a unit", repr(value), f'Write it in quotes, for example "{example}".'
            )
        if not isinstance(value, str):
            raise self.refusal(
                path, "be a value in quotes", repr(value), 'Write for example "1.62 mH".'
            )
        return value


def _has_unit(text: str, units: Sequence[str]) -> bool:
    if units[0] == "1":
        return True
    if units[0] == "degC":
        return re.search(r"[^\d\s.,±+-]", text) is not None
    try:
        return parse_quantity(text).unit != ""
    except QuantityError:
        return re.search(r"\d\s*[mK]$", text.strip()) is None


def _design(
    document: _Document, data: Mapping[str, Any], *, source: str, sha256: str = ""
) -> Nominal:
    document.only(data, _TOP, ())
    circuit = document.text(data, ("circuit",), "auto")
    known = ("auto", *CIRCUITS, *_CAPTURE_CIRCUITS)
    if circuit not in known:
        raise document.refusal(
            ("circuit",), f"be one of {', '.join(known)}", repr(circuit), _near(circuit, known)
        )
    conditions = document.table(data.get("conditions", {}), ("conditions",))
    stated, accepted, frequency = _conditions(document, conditions)
    return Nominal(
        title=document.text(data, ("title",)),
        revision=document.text(data, ("revision",), ""),
        circuit=circuit,
        limits=_limits(document, data.get("limits", {}), frequency),
        frequency=frequency,
        conditions=stated,
        accepted=accepted,
        decision=_decision(document, document.table(data.get("decision", {}), ("decision",))),
        source=source,
        sha256=sha256,
    )


def _near(word: str, known: Sequence[str]) -> str:
    folded = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word.casefold(), folded, n=1)
    return f"Did you mean {folded[near[0]]}?" if near else "Check its spelling."


def _conditions(
    document: _Document, data: Mapping[str, Any]
) -> tuple[Conditions, tuple[Accepted, ...], float | None]:
    document.only(data, _CONDITIONS, ("conditions",))
    values: dict[str, Any] = {}
    accepted = []
    for key, targets in _MEASURES.items():
        if key in data:
            entry = _condition(document, data[key], key, targets)
            values[entry.condition] = entry.stated
            accepted.append(entry)
    for key in _TEXTS:
        if key in data:
            values[key] = document.text(data, ("conditions", key))
    pair = values.get("equivalent_circuit", "series")
    if pair not in ("series", "parallel"):
        raise document.refusal(
            ("conditions", "equivalent_circuit"),
            "be series or parallel",
            repr(pair),
            "Leave it out when it is not stated.",
        )
    frequency = None
    if "frequency" in data:
        frequency = _positive(document, data["frequency"], ("conditions", "frequency"), ("Hz",))
    return Conditions(**values), tuple(accepted), frequency


def _condition(
    document: _Document, value: object, key: str, targets: Mapping[str, str]
) -> Accepted:
    path = ("conditions", key)
    stated, lower, upper, unit = document.with_tolerance(value, path, tuple(targets))
    span, relative = CONDITION_SPANS[key]
    reach = span * abs(stated) if relative else span
    return Accepted(
        condition=targets[unit],
        unit=unit,
        stated=stated,
        lower=stated - reach if lower is None else lower,
        upper=stated + reach if upper is None else upper,
    )


def _positive(document: _Document, value: object, path: _Path, units: Sequence[str]) -> float:
    number, _ = document.quantity(value, path, units)
    if number <= 0:
        raise document.refusal(path, "be above zero", repr(value), "Check the sign.")
    return number


def _limits(document: _Document, data: object, frequency: float | None) -> tuple[Limit, ...]:
    table = document.table(data, ("limits",))
    document.only(table, tuple(LIMIT_UNITS), ("limits",))
    limits: list[Limit] = []
    for name, entry in table.items():
        several = entry if isinstance(entry, list) else [entry]
        for number, each in enumerate(several):
            path = ("limits", name) if number == 0 else ("limits", name, f"{number + 1}")
            limits.append(_limit(document, document.table(each, path), path, frequency))
    if not limits:
        raise document.refusal(
            ("limits",),
            "hold at least one limit",
            "none",
            'Write for example [limits.L] with nominal = "1.62 mH" and tolerance = "±3 %".',
        )
    _consistent(document, {limit.quantity: limit for limit in limits})
    return tuple(limits)


def _limit(
    document: _Document, data: Mapping[str, Any], path: _Path, frequency: float | None
) -> Limit:
    document.only(data, _LIMIT, path)
    name = path[1]
    at = _positive(document, data["at"], (*path, "at"), ("Hz",)) if "at" in data else None
    if at is None and frequency is None and name in _FREQUENCY_NEEDED:
        raise document.refusal(
            path, "say at which frequency", "no 'at'", 'Write for example at = "134.2 kHz".'
        )
    nominal, lower, upper = _range(document, data, path, LIMIT_UNITS[name])
    limit = Limit(
        quantity=name, unit=LIMIT_UNITS[name], lower=lower, upper=upper, nominal=nominal, at=at
    )
    _possible(document, limit, path)
    return limit


def _range(
    document: _Document, data: Mapping[str, Any], path: _Path, unit: str
) -> tuple[float | None, float | None, float | None]:
    nominal = lower = upper = None
    if "nominal" in data:
        nominal, lower, upper, _ = document.with_tolerance(
            data["nominal"], (*path, "nominal"), (unit,)
        )
    typed = {key: data[key] for key in ("lower", "upper") if key in data}
    if lower is not None and ("tolerance" in data or typed):
        raise document.refusal(
            path, "state its range once", "two of them", "Keep one and remove the other."
        )
    if "tolerance" in data:
        if nominal is None or typed:
            raise document.refusal(
                (*path, "tolerance"),
                "stand beside nominal, without lower or upper",
                ", ".join(data),
                "Give nominal and tolerance, or lower and upper.",
            )
        lower, upper = _around(document, data["tolerance"], (*path, "tolerance"), nominal, unit)
    bounds = {
        key: document.quantity(value, (*path, key), (unit,))[0] for key, value in typed.items()
    }
    return nominal, bounds.get("lower", lower), bounds.get("upper", upper)


def _around(
    document: _Document, value: object, path: _Path, nominal: float, unit: str
) -> tuple[float, float]:
    try:
        low, high, relative = parse_tolerance(
            value if isinstance(value, str) else repr(value), unit
        )
    except QuantityError as cause:
        raise document.refusal(
            path, "be a tolerance with % or a unit", repr(value), cause.hint
        ) from cause
    size = abs(nominal) if relative else 1.0
    return nominal + low * size, nominal + high * size


def _possible(document: _Document, limit: Limit, path: _Path) -> None:
    lower, upper, nominal = limit.lower, limit.upper, limit.nominal
    if lower is None and upper is None:
        raise document.refusal(
            path, "have a tolerance, a lower or an upper limit", "none", 'Add tolerance = "±3 %".'
        )
    order = [value for value in (lower, nominal, upper) if value is not None]
    if order != sorted(order) or (lower is not None and lower == upper):
        got = " to ".join(format_quantity(value, limit.unit) for value in order)
        raise document.refusal(
            path, "rise from lower over nominal to upper", got, "Swap or correct them."
        )
    if limit.quantity == "theta":
        if order[0] < -180 or order[-1] > 180:
            got = f"{order[0]:g} to {order[-1]:g}"
            raise document.refusal(
                path, "lie within -180 to 180 degrees", got, "Give theta in degrees."
            )
    elif order[0] < 0 or order[-1] <= 0 or (nominal is not None and nominal <= 0):
        got = format_quantity(order[0], limit.unit)
        raise document.refusal(path, "lie above zero", got, "Check sign and tolerance.")


def _consistent(document: _Document, limits: Mapping[str, Limit]) -> None:
    """Refuse limits of L, C and f0 that no tank can keep together: f0 = 1 / (2 pi sqrt(L C))."""
    three = [limits.get(name) for name in ("L", "C", "f0")]
    if any(limit is None for limit in three):
        return
    (l_low, l_high), (c_low, c_high), (f_low, f_high) = (
        (limit.lower or 0.0, limit.upper or math.inf) for limit in three if limit is not None
    )
    lowest = 0.0 if math.isinf(l_high * c_high) else 0.5 / math.pi / math.sqrt(l_high * c_high)
    highest = math.inf if l_low * c_low == 0 else 0.5 / math.pi / math.sqrt(l_low * c_low)
    if lowest > f_high or highest < f_low:
        got = " to ".join(format_quantity(f, "Hz") for f in (f_low, f_high))
        reach = " to ".join(format_quantity(f, "Hz") for f in (lowest, highest))
        raise document.refusal(
            ("limits", "f0"),
            f"overlap what L and C give, {reach}",
            got,
            "Check the unit and the decimal point of L, C and f0.",
        )


def _decision(document: _Document, data: Mapping[str, Any]) -> Decision:
    document.only(data, _DECISION, ("decision",))
    guard = document.number(data, ("decision", "guard"), 1.0)
    coverage = document.number(data, ("decision", "coverage"), 2.0)
    if guard < 0:
        raise document.refusal(
            ("decision", "guard"), "be zero or more", guard, "0 is simple acceptance, 1 is usual."
        )
    if coverage <= 0:
        raise document.refusal(("decision", "coverage"), "be above zero", coverage, "2 is usual.")
    return Decision(guard=guard, coverage=coverage)


def _syntax(name: str, text: str, cause: tomllib.TOMLDecodeError) -> NominalError:
    message = str(cause)
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)", message)
    line = place[1] if place and place[1] else str(len(text.splitlines()))
    plain = message[: place.start()] if place else message
    return NominalError(
        f"{name}, line {line}: must be TOML (got: {plain[:1].lower()}{plain[1:]}).",
        hint='Write key = value lines, texts in quotes: nominal = "1.62 mH".',
    )


def _lines(text: str) -> dict[_Path, int]:
    """Find the line of each table and key. A later table of one name gets its number."""
    found: dict[_Path, int] = {}
    counts: dict[_Path, int] = {}
    table: _Path = ()
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        if stripped.startswith("["):
            table = _key_path(stripped)
            counts[table] = counts.get(table, 0) + stripped.startswith("[[")
            if counts[table] > 1:
                table = (*table, str(counts[table]))
            found.setdefault(table, number)
        elif "=" in stripped and not stripped.startswith("#"):
            path = (*table, *_key_path(stripped.partition("=")[0] + "= 0"))
            found.setdefault(path, number)
    return found


def _key_path(statement: str) -> _Path:
    """Give the path of the one key or table that a line of TOML states."""
    try:
        node: Any = tomllib.loads(statement)
    except tomllib.TOMLDecodeError:
        return ()
    keys: list[str] = []
    while node and isinstance(node, dict | list):
        if isinstance(node, list):
            node = node[0]
            continue
        key = next(iter(node))
        keys.append(key)
        node = node[key]
    return tuple(keys)
