"""``benchapp reference``: the daily check of the reference coil, and whether lot work is open."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from benchapp.capture import Capture
from benchapp.cli import ACCEPTED, REJECTED
from benchapp.cli.choices import (
    add_answers,
    add_examination,
    answers_from,
    examination_from,
    print_json,
)
from benchapp.cli.command import Command
from benchapp.cli.correction import add_corrections, corrected_by, corrections
from benchapp.errors import UsageError
from benchapp.jobs import (
    CheckReference,
    OpenFile,
    OpenReference,
    RecordNotes,
    ReviewReference,
    StationGate,
    not_cancelled,
    silent,
    station_words,
)
from benchapp.lot import Check, Control, Gate, Reference, normalised_error
from benchapp.units import format_estimate, format_quantity

__all__ = ["COMMAND", "is_locked", "show_gate", "standing_of"]

_COVERAGE = 2.0
_HOUR = 3600.0


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="COIL.toml", help="the file of the reference coil")
    parser.add_argument(
        "--capture",
        metavar="FILE",
        help="a saved sweep of it, to be checked; 'benchapp sweep --reference-coil COIL.toml' "
        "measures and checks in one go",
    )
    parser.add_argument("--who", default="", metavar="NAME", help="who makes the check or review")
    parser.add_argument(
        "--review",
        metavar="REASON",
        help="keep that NAME looked into what locked the station, and what was found",
    )
    parser.add_argument(
        "--record", metavar="ADDRESS", default="", help="the record; left out: the usual one"
    )
    add_answers(parser)
    add_corrections(parser)
    add_examination(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _run(options: argparse.Namespace) -> int:
    reference = OpenReference(path=options.file)(silent, not_cancelled)
    notes = RecordNotes(address=options.record)
    if options.review is not None:
        ReviewReference(reference=reference, notes=notes, who=options.who, reason=options.review)(
            silent, not_cancelled
        )
    if options.capture is not None:
        station = CheckReference(
            reference=reference,
            capture=_capture(options),
            notes=notes,
            accuracy=examination_from(options).accuracy,
            who=options.who,
        )(silent, not_cancelled).gate
    else:
        station = StationGate(reference=reference, notes=notes)(silent, not_cancelled)
    return show_gate(reference, station, json=options.json)


def _capture(options: argparse.Namespace) -> Capture:
    answers = answers_from(options)
    captures = OpenFile(path=options.capture, answers=answers)(silent, not_cancelled).captures
    if not captures:
        raise UsageError(
            f"{options.capture}: must hold a capture that needs no answers (got questions).",
            hint="'benchapp read' lists them.",
        )
    return corrected_by(captures[0], corrections(options, answers), options, answers).capture


def is_locked(path: str, record: str) -> bool:
    """Tell whether a reference coil locks lot work, and say on standard error why."""
    reference = OpenReference(path=path)(silent, not_cancelled)
    notes = RecordNotes(address=record)
    station = StationGate(reference=reference, notes=notes)(silent, not_cancelled)
    if not station.is_open:
        print(
            f"benchapp: lot work is locked: {station.reason}. Check the reference coil, and "
            "review what was measured since its last good check.",
            file=sys.stderr,
        )
    return not station.is_open


def standing_of(path: str, record: str) -> str:
    """Say in one line how the reference coil of a file stands."""
    reference = OpenReference(path=path)(silent, not_cancelled)
    job = StationGate(reference=reference, notes=RecordNotes(address=record))
    return station_words(reference, job(silent, not_cancelled))


def show_gate(reference: Reference, station: Gate, *, json: bool) -> int:
    """Print whether lot work is open, and give the exit status that goes with it."""
    if json:
        print_json(_as_json(reference, station))
    else:
        print("\n".join(_lines(reference, station)))
    return ACCEPTED if station.is_open else REJECTED


def _lines(reference: Reference, station: Gate) -> list[str]:
    state = "lot work is OPEN" if station.is_open else "lot work is LOCKED"
    lines = [f"{reference.nominal.title}: {state}", f"  {station.reason}"]
    if station.last is not None:
        age = "" if station.age is None else f", {station.age / _HOUR:.3g} h ago"
        lines.append(f"  last check {station.last.taken}{age}: {station.last.outcome.words}")
        lines += [_line(reference, control, station.last) for control in station.controls]
    if not station.is_open and station.last_good is not None:
        lines.append(f"  review what was measured after {station.last_good}, the last good check")
    return lines + [f"  note: {caution}" for caution in station.cautions]


def _line(reference: Reference, control: Control, last: Check) -> str:
    found, limit = last.value(control.key), control.limit
    if found is None:
        return f"  {control.key:<10} not determined"
    words = [f"  {control.key:<10} {format_estimate(found, _COVERAGE)}"]
    if limit.nominal is not None:
        stated = format_quantity(limit.nominal, limit.unit, digits=6, padded=False)
        words.append(f"stated {stated}, {100 * (found.value / limit.nominal - 1):+.3f} %")
    error = normalised_error(reference, limit, last)
    if error is not None:
        words.append(f"E_n {error:+.2f}")
    if control.chart is not None:
        low, high = (
            format_quantity(value, limit.unit, digits=6, padded=False)
            for value in (control.chart.lower, control.chart.upper)
        )
        words.append(f"control limits {low} to {high}, {control.points.size} readings")
    return "; ".join(words)


def _as_json(reference: Reference, station: Gate) -> dict[str, Any]:
    last = station.last
    return {
        "schema": "benchapp.reference/1",
        "serial": reference.serial,
        "open": station.is_open,
        "state": station.state,
        "reason": station.reason,
        "age_hours": None if station.age is None else station.age / _HOUR,
        "last_good": station.last_good,
        "cautions": list(station.cautions),
        "last": None if last is None else last.as_note(),
        "charts": [_chart_json(reference, control, last) for control in station.controls],
    }


def _chart_json(reference: Reference, control: Control, last: Check | None) -> dict[str, Any]:
    chart, limit = control.chart, control.limit
    return {
        "quantity": control.key,
        "unit": limit.unit,
        "stated": limit.nominal,
        "lower": limit.lower,
        "upper": limit.upper,
        "times": list(control.times),
        "points": control.points.tolist(),
        "needed": control.needed,
        "centre": None if chart is None else chart.centre,
        "control_lower": None if chart is None else chart.lower,
        "control_upper": None if chart is None else chart.upper,
        "signals": []
        if chart is None
        else [{"rule": one.rule, "points": list(one.points)} for one in chart.signals],
        "normalised_error": None if last is None else normalised_error(reference, limit, last),
    }


COMMAND = Command(
    summary=(
        "Check the reference coil of the station, or say whether lot work is open. "
        "Exit status: 0 open, 1 locked."
    ),
    configure=_configure,
    run=_run,
)
