"""A nominal design as the texts of a form, and as the text of its file.

The form holds what a person types, laid out as the file is: nested mappings of texts and numbers.
Only `benchapp.nominal.nominal_from` decides whether they make a design.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from benchapp.nominal.file import CONDITION_SPANS
from benchapp.nominal.value import Accepted, Construction, Limit, Nominal, Revision
from benchapp.units import format_quantity, unit_symbol

__all__ = ["form_from", "toml_text"]

_TEXTS = ("fixture", "surroundings", "equivalent_circuit")
_DIGITS = 9


def _written(value: float, unit: str) -> str:
    """Write a value with its unit and without needless zeros, so that it reads back the same."""
    words = format_quantity(value, unit, digits=_DIGITS)
    digits, _, prefixed = words.partition(" ")
    if not prefixed and digits.endswith(unit_symbol(unit)) and unit_symbol(unit):
        digits, prefixed = digits.removesuffix(unit_symbol(unit)), unit_symbol(unit)
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return f"{digits} {prefixed}".strip()


def _limit_form(limit: Limit) -> dict[str, Any]:
    unit = limit.unit
    form: dict[str, Any] = {} if limit.at is None else {"at": _written(limit.at, "Hz")}
    if limit.nominal is not None:
        form["nominal"] = _written(limit.nominal, unit)
        if limit.lower is not None and limit.upper is not None and limit.nominal:
            form["tolerance"] = _tolerance(limit.nominal, limit.lower, limit.upper)
            return form
    for key in ("lower", "upper"):
        value = getattr(limit, key)
        if value is not None:
            form[key] = _written(value, unit)
    return form


def _tolerance(nominal: float, lower: float, upper: float) -> str:
    low, high = (100 * (edge - nominal) / abs(nominal) for edge in (lower, upper))
    if abs(low + high) < 1e-9 * (high - low):
        return f"±{high:.9g} %"
    return f"{low:+.9g} % {high:+.9g} %"


def form_from(nominal: Nominal) -> dict[str, Any]:
    """Give a design as nested mappings, laid out as in its file.

    A quantity with several limits has a list of them.
    """
    limits: dict[str, Any] = {}
    for limit in nominal.limits:
        limits.setdefault(limit.quantity, []).append(_limit_form(limit))
    conditions = _conditions_form(nominal)
    return {
        "title": nominal.title,
        "revision": nominal.revision,
        "circuit": nominal.circuit,
        "conditions": conditions,
        "limits": {name: each[0] if len(each) == 1 else each for name, each in limits.items()},
        "decision": {"guard": nominal.decision.guard, "coverage": nominal.decision.coverage},
        "construction": _stated(nominal.construction),
        "history": [_stated(entry) for entry in nominal.history],
    }


def _stated(value: Construction | Revision) -> dict[str, Any]:
    """Give the fields that are stated."""
    return {key: entry for key, entry in asdict(value).items() if entry not in (None, "")}


def _conditions_form(nominal: Nominal) -> dict[str, Any]:
    form: dict[str, Any] = {}
    if nominal.frequency is not None:
        form["frequency"] = _written(nominal.frequency, "Hz")
    for entry in nominal.accepted:
        key = entry.condition.partition("_")[0]
        form[key] = _written(entry.stated, entry.unit) + _stray(entry, key)
    for key in _TEXTS:
        value = getattr(nominal.conditions, key)
        if value is not None:
            form[key] = value
    return form


def _stray(entry: Accepted, key: str) -> str:
    """Write how far a capture may stray, where it is not what every design allows."""
    span, relative = CONDITION_SPANS[key]
    usual = span * abs(entry.stated) if relative else span
    below, above = entry.stated - entry.lower, entry.upper - entry.stated
    if max(abs(below - usual), abs(above - usual)) <= 1e-9 * max(abs(entry.stated), usual):
        return ""
    if abs(below - above) <= 1e-9 * max(abs(entry.stated), above):
        return f" ±{_written(above, entry.unit)}"
    return f" -{_written(below, entry.unit)} +{_written(above, entry.unit)}"


def toml_text(form: Mapping[str, Any]) -> str:
    """Write a form as the text of a design file."""
    lines = [_line(key, form[key]) for key in ("title", "revision", "circuit") if key in form]
    lines += _table("conditions", form.get("conditions", {}))
    for name, entry in form.get("limits", {}).items():
        several = isinstance(entry, list)
        for each in entry if several else [entry]:
            lines += _table(f"limits.{_key(name)}", each, several=several)
    for name in ("decision", "construction"):
        lines += _table(name, form.get(name, {}))
    for entry in form.get("history", []):
        lines += _table("history", entry, several=True)
    return "\n".join(lines) + "\n"


def _table(name: str, entries: Mapping[str, Any], *, several: bool = False) -> list[str]:
    if not entries:
        return []
    head = f"[[{name}]]" if several else f"[{name}]"
    return ["", head, *(_line(key, value) for key, value in entries.items())]


def _key(name: str) -> str:
    plain = name.replace("_", "").replace("-", "").isalnum() and name.isascii()
    return name if plain else json.dumps(name, ensure_ascii=False)


def _line(key: str, value: object) -> str:
    return f"{_key(key)} = {json.dumps(value, ensure_ascii=False)}"
