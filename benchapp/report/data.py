"""Results as CSV and JSON for other programs: documented columns, units in the heading."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from benchapp.capture import Capture, Sweep, Transient
from benchapp.csv_table import csv_text
from benchapp.nominal.plain import limit_values
from benchapp.report.part import PartFile, limit_name
from benchapp.uncertainty import combine, holds

__all__ = ["results_csv", "results_json", "sweep_csv"]

_HEADER = (
    *("part", "file", "sha256", "circuit", "quantity", "value (unit)", "u (unit)", "unit"),
    *("lower (unit)", "upper (unit)", "outcome", "verdict"),
)


def results_csv(parts: Sequence[PartFile]) -> str:
    """Write one row for each quantity of each part, values in the SI unit of the row."""
    return csv_text(_HEADER, [row for part in parts for row in _rows(part)])


def _rows(part: PartFile) -> list[tuple[str | float | None, ...]]:
    verdict = "" if part.verdict is None else part.verdict.outcome.value
    head = (part.name, part.path, part.sha256, part.fit.circuit)
    whole = combine(part.fit, part.capture, part.accuracy)
    rows: list[tuple[str | float | None, ...]] = [
        (*head, one.name, one.value, one.u, one.unit, None, None, "", verdict)
        for one in whole.results
    ]
    for entry in () if part.verdict is None else part.verdict.limits:
        found, limit = entry.measured, entry.limit
        value = None if found is None else found.value
        u = None if found is None else found.u
        outcome = entry.outcome.value
        name = f"limit of {limit_name(limit)}"
        rows.append(
            (*head, name, value, u, limit.unit, limit.lower, limit.upper, outcome, verdict)
        )
    return rows


def results_json(parts: Sequence[PartFile]) -> str:
    """Write everything known about parts as one JSON object; infinite numbers are null."""
    answer = {"schema": "benchapp.results/1", "parts": [_part(part) for part in parts]}
    return json.dumps(_finite(answer), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _part(part: PartFile) -> dict[str, Any]:
    fit, origin, verdict = part.fit, part.capture.origin, part.verdict
    whole = combine(fit, part.capture, part.accuracy)
    return {
        "part": part.name,
        "file": part.path,
        "sha256": part.sha256,
        "capture_sha256": part.capture.digest,
        "taken": origin.taken,
        "steps": [{"name": step.name, "detail": step.detail} for step in part.capture.history],
        "circuit": fit.circuit,
        "describes": fit.describes,
        "estimates": {
            one.name: {"value": one.value, "u": one.u, "unit": one.unit} for one in whole.results
        },
        "u_holds": holds(fit, part.accuracy),
        "undetermined": list(fit.undetermined),
        "design": None
        if part.nominal is None
        else {
            "title": part.nominal.title,
            "revision": part.nominal.revision,
            "sha256": part.nominal.sha256,
        },
        "outcome": None if verdict is None else verdict.outcome.value,
        "reason": "" if verdict is None else verdict.reason,
        "limits": [limit_values(entry) for entry in (() if verdict is None else verdict.limits)],
        "checks": [
            {"id": one.id, "level": one.level, "text": one.text, "advice": one.advice}
            for one in part.findings
        ],
    }


def _finite(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    return [_finite(each) for each in value] if isinstance(value, list) else value


def sweep_csv(capture: Capture) -> str:
    """Write the points of a capture, numbers as they are, units in the heading."""
    if isinstance(capture, Transient):
        columns = {"time (s)": capture.time, "voltage (V)": capture.voltage}
    elif isinstance(capture, Sweep):
        z = capture.impedance
        columns = {"frequency (Hz)": capture.frequency, "R (ohm)": z.real, "X (ohm)": z.imag}
    else:
        ratio = capture.ratio
        columns = {
            "frequency (Hz)": capture.frequency,
            "real (1)": ratio.real,
            "imaginary (1)": ratio.imag,
        }
    return csv_text(
        tuple(columns), zip(*(each.tolist() for each in columns.values()), strict=True)
    )
