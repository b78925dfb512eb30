"""The file of a reference coil: a nominal design with a table that says how it is used."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchapp.errors import NominalError, QuantityError
from benchapp.lot.reference import DAY, FEWEST, HOUR, Reference, key_of
from benchapp.nominal import Nominal, design_of
from benchapp.readers.settings import Settings, Subject, load_settings
from benchapp.units import parse_tolerance

__all__ = ["load_reference"]

_SUBJECT = Subject(
    title="the file of a reference coil",
    short="the reference",
    error=NominalError,
    example='nominal = "1.620 mH"',
)
_KEYS = ("serial", "certificate", "due", "every_hours", "control", "first_readings", "U")
_TABLE = ("reference",)


def load_reference(path: str | Path) -> Reference:
    """Read a reference coil from a TOML file.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Reference

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    NominalError
        When it breaks a rule of the format; the message names the line and what was expected.
    """
    settings = load_settings(path, _SUBJECT)
    design = {key: value for key, value in settings.data.items() if key != "reference"}
    nominal = design_of(replace(settings, data=design))
    if "reference" not in settings.data:
        raise settings.refusal(
            _TABLE, "say which coil it is", "nothing", 'Write [reference] with serial = "RC-1".'
        )
    table = settings.table(settings.data["reference"], _TABLE)
    settings.only(table, _KEYS, _TABLE)
    every = settings.number(table, ("reference", "every_hours"), DAY / HOUR)
    if every <= 0:
        raise settings.refusal(
            ("reference", "every_hours"), "be above zero", every, "24 is once a day."
        )
    return Reference(
        nominal=nominal,
        serial=settings.text(table, ("reference", "serial")),
        U=_stated(settings, table.get("U", {}), nominal),
        certificate=settings.text(table, ("reference", "certificate"), ""),
        due=_due(settings, table),
        every=every * HOUR,
        first_readings=_first(settings, table),
    )


def _due(settings: Settings, table: Mapping[str, Any]) -> str | None:
    found = table.get("due")
    if found is None:
        return None
    if not isinstance(found, dt.date) or isinstance(found, dt.datetime):
        raise settings.refusal(
            ("reference", "due"), "be a date", repr(found), "Write due = 2027-03-01, no quotes."
        )
    return found.isoformat()


def _first(settings: Settings, table: Mapping[str, Any]) -> int | None:
    control = settings.text(table, ("reference", "control"), "first readings")
    if control not in ("first readings", "stated limits"):
        raise settings.refusal(
            ("reference", "control"),
            "be 'first readings' or 'stated limits'",
            repr(control),
            "Say where the limits of the control chart come from.",
        )
    path = ("reference", "first_readings")
    if control == "stated limits":
        if "first_readings" in table:
            raise settings.refusal(
                path, "stand without stated limits", "both", "Keep one of the two."
            )
        return None
    number = settings.number(table, path, 10.0)
    if number < FEWEST or number != int(number):
        raise settings.refusal(
            path, f"be a whole number of {FEWEST} at least", number, "10 to 25 are usual."
        )
    return int(number)


def _stated(settings: Settings, value: object, nominal: Nominal) -> dict[str, float]:
    """Read the expanded uncertainties of the stated values, by the key of their limits."""
    path = ("reference", "U")
    table = settings.table(value, path)
    limits = {key_of(limit): limit for limit in nominal.limits}
    settings.only(table, tuple(limits), path)
    found = {}
    for key, text in table.items():
        limit = limits[key]
        if limit.nominal is None:
            raise settings.refusal(
                (*path, key), "belong to a stated value", "a limit without nominal", "Add nominal."
            )
        try:
            _, high, relative = parse_tolerance(
                text if isinstance(text, str) else repr(text), limit.unit
            )
        except QuantityError as cause:
            raise settings.refusal(
                (*path, key), "be a size with % or a unit", repr(text), cause.hint
            ) from cause
        found[key] = high * (abs(limit.nominal) if relative else 1.0)
    return found
