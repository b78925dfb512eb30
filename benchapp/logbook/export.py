"""Stored measurements as a table for spreadsheets, and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from benchapp.csv_table import csv_text
from benchapp.logbook.value import LotRow, PartRow

__all__ = ["lot_json", "part_json", "table_text"]

_TEXTS = (
    *("key", "lot", "serial"),
    *("time", "operator", "part", "outcome", "deciding", "reason", "path", "retest_reason"),
)
_NUMBERS = ("id", "attempt", "position")


def table_text(rows: Sequence[PartRow]) -> str:
    """Write measurements as a table: comma-separated, a heading, each quantity with its u.

    Numbers are in SI units, with all their digits; no text is taken for a formula.
    """
    units = {name: part.unit for row in rows for name, part in row.estimates.items()}
    quantities = [heading for name, unit in units.items() for heading in _headings(name, unit)]
    header = (*_NUMBERS, *_TEXTS, "withdrawn", *quantities)
    return csv_text(header, (_cells(row, units) for row in rows))


def part_json(row: PartRow) -> dict[str, Any]:
    """Give one measurement as plain values."""
    return {
        "schema": "benchapp.record.part/1",
        **{name: getattr(row, name) for name in (*_NUMBERS, *_TEXTS)},
        "outcome": row.outcome.value,
        "withdrawn": row.withdrawn,
        "estimates": {
            name: {"value": part.value, "u": part.u, "unit": part.unit}
            for name, part in row.estimates.items()
        },
    }


def lot_json(row: LotRow) -> dict[str, Any]:
    """Give one lot as plain values."""
    return {
        "schema": "benchapp.record.lot/1",
        **{name: getattr(row, name) for name in ("id", "key", "time", "bench", "measurements")},
        "nominal": None if row.nominal is None else row.nominal.title,
        "revision": None if row.nominal is None else row.nominal.revision,
        "positions": list(row.positions),
        "form": asdict(row.form),
        "plan": asdict(row.plan),
        "conclusion": None if row.conclusion is None else asdict(row.conclusion),
    }


def _headings(name: str, unit: str) -> Iterable[str]:
    suffix = "" if unit == "1" else f" / {unit}"
    return f"{name}{suffix}", f"u({name}){suffix}"


def _cells(row: PartRow, units: Mapping[str, str]) -> list[str | float | None]:
    cells: list[str | float | None] = [getattr(row, name) for name in _NUMBERS]
    cells += [str(getattr(row, name) or "") for name in _TEXTS]
    cells.append("yes" if row.withdrawn else "")
    for name in units:
        found = row.estimates.get(name)
        cells += [None, None] if found is None else [found.value, found.u]
    return cells
