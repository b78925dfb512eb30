"""The nominal design as a TOML file: every refusal names the line and what was expected."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from benchapp.capture import Conditions
from benchapp.circuit import CIRCUITS
from benchapp.errors import NominalError, QuantityError
from benchapp.nominal.value import Accepted, Construction, Decision, Limit, Nominal, Revision
from benchapp.readers.settings import KeyPath, Settings, Subject, load_settings, near
from benchapp.units import format_quantity, parse_tolerance

__all__ = ["CONDITION_SPANS", "LIMIT_UNITS", "design_of", "load_nominal", "nominal_from"]

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
_TOP = (
    "title",
    "revision",
    "circuit",
    "conditions",
    "limits",
    "decision",
    "construction",
    "history",
)
_CONSTRUCTION = ("turns", "strands", "core")
_HISTORY = ("revision", "date", "by", "change")
_CORES = ("air", "ferrite")
_LIMIT = ("nominal", "tolerance", "lower", "upper", "at")
_DECISION = ("guard", "coverage")
_TEXTS = ("fixture", "surroundings", "equivalent_circuit")
_MEASURES: Mapping[str, Mapping[str, str]] = {
    "level": {"V": "level_volt", "A": "level_ampere"},
    "bias": {"V": "bias_volt", "A": "bias_ampere"},
    "temperature": {"degC": "temperature_celsius"},
}
_CONDITIONS = ("frequency", *_MEASURES, *_TEXTS)

_SUBJECT = Subject(
    title="a nominal design",
    short="the design",
    error=NominalError,
    example='nominal = "1.62 mH"',
)


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
    settings = load_settings(path, _SUBJECT)
    return design_of(settings)


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
    return design_of(Settings(name=source, subject=_SUBJECT, data=data, source=source))


def design_of(settings: Settings) -> Nominal:
    """Make a nominal design of settings: of its own file, or of one that holds more.

    Raises
    ------
    BenchError
        Of the kind of the settings' subject, when it breaks a rule of the format.
    """
    data = settings.data
    settings.only(data, _TOP, ())
    circuit = settings.text(data, ("circuit",), "auto")
    known = ("auto", *CIRCUITS, *_CAPTURE_CIRCUITS)
    if circuit not in known:
        raise settings.refusal(
            ("circuit",), f"be one of {', '.join(known)}", repr(circuit), near(circuit, known)
        )
    conditions = settings.table(data.get("conditions", {}), ("conditions",))
    stated, accepted, frequency = _conditions(settings, conditions)
    return Nominal(
        title=settings.text(data, ("title",)),
        revision=settings.text(data, ("revision",), ""),
        circuit=circuit,
        limits=_limits(settings, data.get("limits", {}), frequency),
        frequency=frequency,
        conditions=stated,
        accepted=accepted,
        decision=_decision(settings, settings.table(data.get("decision", {}), ("decision",))),
        construction=_construction(settings, data.get("construction", {})),
        history=_history(settings, data.get("history", [])),
        source=settings.source,
        sha256=settings.sha256,
    )


def _construction(settings: Settings, data: object) -> Construction:
    path = ("construction",)
    table = settings.table(data, path)
    settings.only(table, _CONSTRUCTION, path)
    values: dict[str, Any] = {}
    for key in ("turns", "strands"):
        if key in table:
            number = settings.number(table, (*path, key), 0.0)
            whole = key == "turns" or number == int(number)
            if number < 1 or not whole:
                rule = "be a whole number of at least 1" if key == "strands" else "be at least 1"
                raise settings.refusal(
                    (*path, key), rule, table[key], "A solid wire has 1 strand."
                )
            values[key] = number if key == "turns" else int(number)
    if "core" in table:
        values["core"] = settings.text(table, (*path, "core"))
        if values["core"] not in _CORES:
            raise settings.refusal(
                (*path, "core"),
                f"be one of {', '.join(_CORES)}",
                repr(values["core"]),
                near(values["core"], _CORES),
            )
    return Construction(**values)


def _history(settings: Settings, data: object) -> tuple[Revision, ...]:
    if not isinstance(data, list):
        raise settings.refusal(
            ("history",),
            "be a list of entries",
            type(data).__name__,
            "Write [[history]] above each.",
        )
    found = []
    for number, entry in enumerate(data):
        path = ("history",) if number == 0 else ("history", f"{number + 1}")
        table = settings.table(entry, path)
        settings.only(table, _HISTORY, path)
        values = {key: settings.text(table, (*path, key), "") for key in _HISTORY}
        try:
            date.fromisoformat(values["date"])
        except ValueError as cause:
            raise settings.refusal(
                (*path, "date"), "be a date", repr(values["date"]), 'Write date = "2026-03-14".'
            ) from cause
        found.append(Revision(**values))
    return tuple(found)


def _conditions(
    settings: Settings, data: Mapping[str, Any]
) -> tuple[Conditions, tuple[Accepted, ...], float | None]:
    settings.only(data, _CONDITIONS, ("conditions",))
    values: dict[str, Any] = {}
    accepted = []
    for key, targets in _MEASURES.items():
        if key in data:
            entry = _condition(settings, data[key], key, targets)
            values[entry.condition] = entry.stated
            accepted.append(entry)
    for key in _TEXTS:
        if key in data:
            values[key] = settings.text(data, ("conditions", key))
    pair = values.get("equivalent_circuit", "series")
    if pair not in ("series", "parallel"):
        raise settings.refusal(
            ("conditions", "equivalent_circuit"),
            "be series or parallel",
            repr(pair),
            "Leave it out when it is not stated.",
        )
    frequency = None
    if "frequency" in data:
        frequency = _positive(settings, data["frequency"], ("conditions", "frequency"), ("Hz",))
    return Conditions(**values), tuple(accepted), frequency


def _condition(
    settings: Settings, value: object, key: str, targets: Mapping[str, str]
) -> Accepted:
    path = ("conditions", key)
    stated, lower, upper, unit = settings.with_tolerance(value, path, tuple(targets))
    span, relative = CONDITION_SPANS[key]
    reach = span * abs(stated) if relative else span
    return Accepted(
        condition=targets[unit],
        unit=unit,
        stated=stated,
        lower=stated - reach if lower is None else lower,
        upper=stated + reach if upper is None else upper,
    )


def _positive(settings: Settings, value: object, path: KeyPath, units: Sequence[str]) -> float:
    number, _ = settings.quantity(value, path, units)
    if number <= 0:
        raise settings.refusal(path, "be above zero", repr(value), "Check the sign.")
    return number


def _limits(settings: Settings, data: object, frequency: float | None) -> tuple[Limit, ...]:
    table = settings.table(data, ("limits",))
    settings.only(table, tuple(LIMIT_UNITS), ("limits",))
    limits: list[Limit] = []
    for name, entry in table.items():
        several = entry if isinstance(entry, list) else [entry]
        for number, each in enumerate(several):
            path = ("limits", name) if number == 0 else ("limits", name, f"{number + 1}")
            limits.append(_limit(settings, settings.table(each, path), path, frequency))
    if not limits:
        raise settings.refusal(
            ("limits",),
            "hold at least one limit",
            "none",
            'Write for example [limits.L] with nominal = "1.62 mH" and tolerance = "±3 %".',
        )
    _consistent(settings, {limit.quantity: limit for limit in limits})
    return tuple(limits)


def _limit(
    settings: Settings, data: Mapping[str, Any], path: KeyPath, frequency: float | None
) -> Limit:
    settings.only(data, _LIMIT, path)
    name = path[1]
    at = _positive(settings, data["at"], (*path, "at"), ("Hz",)) if "at" in data else None
    if at is None and frequency is None and name in _FREQUENCY_NEEDED:
        raise settings.refusal(
            path, "say at which frequency", "no 'at'", 'Write for example at = "134.2 kHz".'
        )
    nominal, lower, upper = _range(settings, data, path, LIMIT_UNITS[name])
    limit = Limit(
        quantity=name, unit=LIMIT_UNITS[name], lower=lower, upper=upper, nominal=nominal, at=at
    )
    _possible(settings, limit, path)
    return limit


def _range(
    settings: Settings, data: Mapping[str, Any], path: KeyPath, unit: str
) -> tuple[float | None, float | None, float | None]:
    nominal = lower = upper = None
    if "nominal" in data:
        nominal, lower, upper, _ = settings.with_tolerance(
            data["nominal"], (*path, "nominal"), (unit,)
        )
    typed = {key: data[key] for key in ("lower", "upper") if key in data}
    if lower is not None and ("tolerance" in data or typed):
        raise settings.refusal(
            path, "state its range once", "two of them", "Keep one and remove the other."
        )
    if "tolerance" in data:
        if nominal is None or typed:
            raise settings.refusal(
                (*path, "tolerance"),
                "stand beside nominal, without lower or upper",
                ", ".join(data),
                "Give nominal and tolerance, or lower and upper.",
            )
        lower, upper = _around(settings, data["tolerance"], (*path, "tolerance"), nominal, unit)
    bounds = {
        key: settings.quantity(value, (*path, key), (unit,))[0] for key, value in typed.items()
    }
    return nominal, bounds.get("lower", lower), bounds.get("upper", upper)


def _around(
    settings: Settings, value: object, path: KeyPath, nominal: float, unit: str
) -> tuple[float, float]:
    try:
        low, high, relative = parse_tolerance(
            value if isinstance(value, str) else repr(value), unit
        )
    except QuantityError as cause:
        raise settings.refusal(
            path, "be a tolerance with % or a unit", repr(value), cause.hint
        ) from cause
    size = abs(nominal) if relative else 1.0
    return nominal + low * size, nominal + high * size


def _possible(settings: Settings, limit: Limit, path: KeyPath) -> None:
    lower, upper, nominal = limit.lower, limit.upper, limit.nominal
    if lower is None and upper is None:
        raise settings.refusal(
            path, "have a tolerance, a lower or an upper limit", "none", 'Add tolerance = "±3 %".'
        )
    order = [value for value in (lower, nominal, upper) if value is not None]
    if order != sorted(order) or (lower is not None and lower == upper):
        got = " to ".join(format_quantity(value, limit.unit) for value in order)
        raise settings.refusal(
            path, "rise from lower over nominal to upper", got, "Swap or correct them."
        )
    if limit.quantity == "theta":
        if order[0] < -180 or order[-1] > 180:
            got = f"{order[0]:g} to {order[-1]:g}"
            raise settings.refusal(
                path, "lie within -180 to 180 degrees", got, "Give theta in degrees."
            )
    elif order[0] < 0 or order[-1] <= 0 or (nominal is not None and nominal <= 0):
        got = format_quantity(order[0], limit.unit)
        raise settings.refusal(path, "lie above zero", got, "Check sign and tolerance.")


def _consistent(settings: Settings, limits: Mapping[str, Limit]) -> None:
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
        raise settings.refusal(
            ("limits", "f0"),
            f"overlap what L and C give, {reach}",
            got,
            "Check the unit and the decimal point of L, C and f0.",
        )


def _decision(settings: Settings, data: Mapping[str, Any]) -> Decision:
    settings.only(data, _DECISION, ("decision",))
    guard = settings.number(data, ("decision", "guard"), 1.0)
    coverage = settings.number(data, ("decision", "coverage"), 2.0)
    if guard < 0:
        raise settings.refusal(
            ("decision", "guard"), "be zero or more", guard, "0 is simple acceptance, 1 is usual."
        )
    if coverage <= 0:
        raise settings.refusal(("decision", "coverage"), "be above zero", coverage, "2 is usual.")
    return Decision(guard=guard, coverage=coverage)
