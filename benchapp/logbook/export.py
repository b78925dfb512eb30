"""Stored measurements as a table for spreadsheets, and as JSON."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from benchapp.logbook.value import LotRow, PartRow

__all__ = ["guarded", "lot_json", "part_json", "table_text"]

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_TEXTS = (
    *("key", "lot", "serial"),
    *("time", "operator", "part", "outcome", "deciding", "reason", "path", "retest_reason"),
)
_NUMBERS = ("id", "attempt", "position")


def guarded(text: str) -> str:
    """Give text for a cell that no spreadsheet takes for a formula.

    A text that begins with one of the signs that start a formula gets an apostrophe before it,
    the sign by which spreadsheets mark text (common practice against formula injection).
    """
    return f"'{text}" if text.lstrip(" ").startswith(_STARTS_A_FORMULA) else text


def table_text(rows: Sequence[PartRow]) -> str:
    """Write measurements as a table: comma-separated, a heading, each quantity with its u.

    Numbers are written in SI units so that reading them gives the very same ones (RFC 4180).
    """
    units = {name: part.unit for row in rows for name, part in row.estimates.items()}
    out = io.StringIO()
    writer = csv.writer(out)
    quantities = [heading for name, unit in units.items() for heading in _headings(name, unit)]
    writer.writerow([*_NUMBERS, *_TEXTS, "withdrawn", *map(guarded, quantities)])
    writer.writerows(_cells(row, units) for row in rows)
    return out.getvalue()


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


def _cells(row: PartRow, units: dict[str, str]) -> list[str]:
    cells = [_number(getattr(row, name)) for name in _NUMBERS]
    cells += [guarded(str(getattr(row, name) or "")) for name in _TEXTS]
    cells.append("yes" if row.withdrawn else "")
    for name in units:
        found = row.estimates.get(name)
        cells += ["", ""] if found is None else [_number(found.value), _number(found.u)]
    return cells


def _number(value: float | None) -> str:
    return "" if value is None else repr(value)
