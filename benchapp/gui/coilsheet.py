"""What is typed about a coil, as texts, and the computation that it asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import QT_TR_NOOP

from benchapp.coil import (
    CONDUCTOR_ENTRIES,
    PLATE_ENTRIES,
    Conductor,
    Deviation,
    Entry,
    Plate,
    Shape,
)
from benchapp.errors import BenchError, QuantityError
from benchapp.gui.form import Blank
from benchapp.gui.tanksheet import Refusal
from benchapp.gui.words import number, plain, tr
from benchapp.jobs import ComputeCoil
from benchapp.units import Quantity, parse_quantity

__all__ = ["ASKED", "CONDUCTOR", "PLATE", "blanks_of", "example_of", "has_turns", "job_of"]

_FREE = (("", QT_TR_NOOP("none")),)
# What an empty blank means, where it is not that nothing is known.
_EMPTY = {
    "conductor_temperature_celsius": "20 °C",
    "conductor_leads": QT_TR_NOOP("none"),
    "conductor_strands": QT_TR_NOOP("solid wire"),
    "conductor_strand": QT_TR_NOOP("solid wire"),
    "plate_permeability": "1000",
}
ASKED = (
    Blank(
        key="frequency",
        label=QT_TR_NOOP("at frequency"),
        unit="Hz",
        empty=QT_TR_NOOP("DC only"),
        tip=QT_TR_NOOP("Frequency for AC resistance and Q: 134.2 kHz; empty for DC values only"),
    ),
    Blank(
        key="wanted",
        label=QT_TR_NOOP("wanted L"),
        unit="H",
        empty=QT_TR_NOOP("no search"),
        tip=QT_TR_NOOP("Inductance for which the number of turns is found: 1.62 mH"),
    ),
)


def _blank(entry: Entry, prefix: str = "") -> Blank:
    choices = tuple((word, word) for word in entry.choices)
    if prefix == "plate_" and choices:
        choices = (*_FREE, *choices)
    return Blank(
        key=prefix + entry.name,
        label=entry.label,
        unit=entry.unit,
        tip=f"{entry.help} ({entry.example})",
        empty="" if entry.required else _EMPTY.get(prefix + entry.name, QT_TR_NOOP("not stated")),
        choices=choices,
    )


def blanks_of(shape: Shape) -> tuple[Blank, ...]:
    """Give the blanks of a shape, made from its table."""
    return tuple(_blank(entry) for entry in shape.entries)


CONDUCTOR = tuple(_blank(entry, "conductor_") for entry in CONDUCTOR_ENTRIES)
PLATE = tuple(_blank(entry, "plate_") for entry in PLATE_ENTRIES)


def example_of(shape: Shape) -> dict[str, str]:
    """Give the texts that an untried form of a shape starts with."""
    return {entry.name: number(entry.example) for entry in shape.entries}


def has_turns(shape: Shape) -> bool:
    """Tell whether turns can be found for a wanted inductance."""
    return any(entry.name == "turns" for entry in shape.entries)


def _read(entry: Entry, words: str, key: str) -> Quantity | str | None:
    words = plain(words.strip())
    if not words:
        return None
    try:
        return entry.read(words)
    except QuantityError as error:
        label = tr(entry.label)
        message = error.message.removeprefix(f"{entry.name}: ")
        raise QuantityError(f"{label}: {message}", hint=error.hint, blank=key) from error


def _number(entry: Entry, texts: Mapping[str, str], prefix: str) -> float | str | None:
    key = prefix + entry.name
    read = _read(entry, texts.get(key, ""), key)
    return read.value if isinstance(read, Quantity) else read


def _given(entries: tuple[Entry, ...], texts: Mapping[str, str], prefix: str) -> dict[str, Any]:
    read = {entry.name: _number(entry, texts, prefix) for entry in entries}
    return {name: value for name, value in read.items() if value is not None}


def job_of(shape: Shape, texts: Mapping[str, str]) -> ComputeCoil | Refusal:
    """Give the computation that the texts ask for, or what cannot be taken."""
    try:
        return _job(shape, texts)
    except BenchError as error:
        return Refusal(key=str(error.facts.get("blank", "")), words=str(error))


def _job(shape: Shape, texts: Mapping[str, str]) -> ComputeCoil:
    values: dict[str, float | str | None] = {}
    deviations: dict[str, Deviation] = {}
    for entry in shape.entries:
        read = _read(entry, texts.get(entry.name, ""), entry.name)
        values[entry.name] = read.value if isinstance(read, Quantity) else read
        if isinstance(read, Quantity) and read.lower is not None and read.upper is not None:
            low, high = read.lower - read.value, read.upper - read.value
            deviations[entry.name] = Deviation(low=low, high=high)
    job = ComputeCoil(
        shape=shape.name,
        values=values,
        conductor=_conductor(texts),
        frequencies=_asked(texts, "frequency", "Hz"),
        plate=_plate(texts),
        deviations=deviations,
        inductance=next(iter(_asked(texts, "wanted", "H")), None) if has_turns(shape) else None,
    )
    job.build()
    return job


def _asked(texts: Mapping[str, str], key: str, unit: str) -> tuple[float, ...]:
    words = plain(texts.get(key, "").strip())
    if not words:
        return ()
    try:
        value = parse_quantity(words, unit).value
    except QuantityError as error:
        label = tr(next(blank.label for blank in ASKED if blank.key == key))
        raise QuantityError(f"{label}: {error.message}", hint=error.hint, blank=key) from error
    if value <= 0:
        raise QuantityError(
            tr("{key}: must be above zero.").format(key=key), hint=tr("Check it."), blank=key
        )
    return (value,)


def _conductor(texts: Mapping[str, str]) -> Conductor:
    given = _given(CONDUCTOR_ENTRIES, texts, "conductor_")
    if "strands" in given:
        given["strands"] = round(given["strands"])
    return Conductor(**given)


def _plate(texts: Mapping[str, str]) -> Plate | None:
    given = _given(PLATE_ENTRIES, texts, "plate_")
    if "kind" not in given:
        return None
    if "gap" not in given:
        raise QuantityError(
            tr("Gap: must be given for a plate (got nothing)."),
            hint=tr("Measure from the nearest turn to the plate, for example 2 mm."),
            blank="plate_gap",
        )
    return Plate(**given)
