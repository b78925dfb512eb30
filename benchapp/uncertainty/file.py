"""The accuracy of an instrument as a TOML file: bounds as they are stated, with their units."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from benchapp.errors import UsageError
from benchapp.readers.settings import KeyPath, Settings, Subject, load_settings, near
from benchapp.uncertainty.accuracy import DIVISORS, Accuracy, Stated

__all__ = ["ENTRIES", "Entry", "accuracy_from", "load_accuracy"]

_SUBJECT = Subject(
    title="an accuracy file",
    short="the accuracy",
    error=UsageError,
    example='reading = "±0.1 %"',
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One key of an accuracy file: its unit, the field of `Accuracy` it fills, and a factor."""

    field: str
    unit: str
    factor: float = 1.0


ENTRIES: Mapping[str, Mapping[str, Entry]] = MappingProxyType(
    {
        "instrument": {
            "reading": Entry(field="reading", unit="1"),
            "phase": Entry(field="phase", unit="deg", factor=math.pi / 180),
            "series": Entry(field="series", unit="ohm"),
            "parallel": Entry(field="parallel", unit="S"),
            "delay": Entry(field="delay", unit="s"),
            "frequency": Entry(field="frequency", unit="1"),
        },
        "reference": {"value": Entry(field="reference", unit="1")},
        "fixture": {
            "series_resistance": Entry(field="fixture_ohm", unit="ohm"),
            "series_inductance": Entry(field="fixture_henry", unit="H"),
            "parallel_capacitance": Entry(field="fixture_farad", unit="F"),
            "parallel_conductance": Entry(field="fixture_siemens", unit="S"),
        },
        "temperature": {
            "reading_per_kelvin": Entry(field="drift", unit="1"),
            "part": Entry(field="part_kelvin", unit="K"),
        },
    }
)
"""Table and key of each bound that can be stated."""

_PLAIN = {"instrument": ("ranges",), "temperature": ("instrument", "L", "C", "R")}
_BOUND = ("bound", "distribution", "coverage", "dof")
_TOP = ("title", "distribution", *ENTRIES)


def load_accuracy(path: str | Path) -> Accuracy:
    """Read the accuracy of an instrument from a TOML file.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Accuracy

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    UsageError
        When it breaks a rule of the format; the message names the line and what was expected.
    """
    return accuracy_from(load_settings(path, _SUBJECT))


def accuracy_from(source: Settings | Mapping[str, Any]) -> Accuracy:
    """Make an accuracy from settings, or from nested mappings laid out as in the file.

    Raises
    ------
    UsageError
        When it breaks a rule of the format.
    """
    settings = source
    if not isinstance(settings, Settings):
        settings = Settings(name="accuracy", subject=_SUBJECT, data=settings)
    data = settings.data
    settings.only(data, _TOP, ())
    usual = _distribution(settings, data, ("distribution",), "rectangular")
    values: dict[str, Any] = {}
    for title, entries in ENTRIES.items():
        table = settings.table(data.get(title, {}), (title,))
        settings.only(table, (*entries, *_PLAIN.get(title, ())), (title,))
        for key, entry in entries.items():
            if key in table:
                values[entry.field] = _bound(settings, table[key], (title, key), entry, usual)
    values |= _temperature(settings, data.get("temperature", {}))
    _whole(settings, values)
    return Accuracy(
        title=settings.text(data, ("title",), ""),
        ranges=_ranges(settings, data.get("instrument", {}).get("ranges", [])),
        source=settings.source,
        sha256=settings.sha256,
        **values,
    )


def _distribution(settings: Settings, data: Mapping[str, Any], path: KeyPath, usual: str) -> str:
    found = settings.text(data, path, usual)
    known = (*DIVISORS, "normal")
    if found not in known:
        raise settings.refusal(
            path, f"be one of {', '.join(known)}", repr(found), near(found, known)
        )
    return found


def _bound(settings: Settings, value: object, path: KeyPath, entry: Entry, usual: str) -> Stated:
    table: Mapping[str, Any] = value if isinstance(value, Mapping) else {"bound": value}
    settings.only(table, _BOUND, path)
    if "bound" not in table:
        raise settings.refusal(path, "have a bound", "none", 'Write { bound = "±0.1 %" }.')
    where = (*path, "bound") if isinstance(value, Mapping) else path
    size = entry.factor * _half_width(settings, table["bound"], where, entry.unit)
    numbers = {"coverage": 2.0, "dof": math.inf}
    for key in set(numbers) & set(table):
        number = settings.number(table, (*path, key), 0.0)
        if number <= 0:
            raise settings.refusal(
                (*path, key), "be above zero", number, "2 is the usual coverage."
            )
        numbers[key] = number
    return Stated(
        bound=size,
        distribution=_distribution(settings, table, (*path, "distribution"), usual),  # type: ignore[arg-type]
        **numbers,
    )


def _half_width(settings: Settings, value: object, path: KeyPath, unit: str) -> float:
    """Read ``±0.1 %``, or the same without its sign."""
    text = value
    if isinstance(text, str):
        text = re.sub(r"^\s*(±|\+/-|\+-)\s*", "", text)
        if unit == "1" and not text.rstrip().endswith(("%", "ppm")):
            raise settings.refusal(
                path, "be a fraction in % or ppm", repr(value), 'Write for example "±0.1 %".'
            )
    size, _ = settings.quantity(text, path, (unit,))
    if size < 0:
        raise settings.refusal(
            path, "be half the width of an interval around zero", repr(value), "Remove the sign."
        )
    return size


def _ranges(settings: Settings, value: object) -> tuple[float, ...]:
    path = ("instrument", "ranges")
    if not isinstance(value, list):
        raise settings.refusal(
            path, "be a list of resistances", repr(value), 'Write ["100 ohm", "1 kohm"].'
        )
    found = tuple(settings.quantity(entry, path, ("ohm",))[0] for entry in value)
    if list(found) != sorted(set(found)) or any(end <= 0 for end in found):
        raise settings.refusal(
            path, "rise and lie above zero", repr(value), "Give the upper end of each range."
        )
    return found


def _temperature(settings: Settings, table: Mapping[str, Any]) -> dict[str, Any]:
    slopes = tuple(
        (name, _signed(settings, table[name], ("temperature", name)))
        for name in ("L", "C", "R")
        if name in table
    )
    found: dict[str, Any] = {"part_per_kelvin": slopes}
    if "instrument" in table:
        path = ("temperature", "instrument")
        found["drift_kelvin"] = _half_width(settings, table["instrument"], path, "K")
    return found


def _signed(settings: Settings, value: object, path: KeyPath) -> float:
    if isinstance(value, str) and not value.rstrip().endswith(("%", "ppm")):
        raise settings.refusal(
            path, "be a change per kelvin in % or ppm", repr(value), 'Write "-250 ppm".'
        )
    return settings.quantity(value, path, ("1",))[0]


def _whole(settings: Settings, values: Mapping[str, Any]) -> None:
    """Refuse halves: a drift without its span of temperature, and the other way round."""
    drift = ("drift" in values, "drift_kelvin" in values)
    part = ("part_kelvin" in values, bool(values["part_per_kelvin"]))
    for pair, both in ((drift, "reading_per_kelvin and instrument"), (part, "part and L, C or R")):
        if pair[0] != pair[1]:
            raise settings.refusal(
                ("temperature",), f"have {both} together", "one of them", "Add the other."
            )
