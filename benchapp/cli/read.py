"""``benchapp read``: what was recognised in a file, what was assumed, what it could not know."""

from __future__ import annotations

import argparse
from typing import Any

from benchapp.capture import Capture, Transient
from benchapp.cli import ACCEPTED
from benchapp.cli.choices import add_answers, print_json, reading_of
from benchapp.cli.command import Command
from benchapp.jobs import part_name
from benchapp.readers import Reading
from benchapp.units import format_quantity

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a saved capture")
    add_answers(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _run(options: argparse.Namespace) -> int:
    reading = reading_of(options.file, options)
    if options.json:
        print_json(_as_json(options.file, reading))
    else:
        print("\n".join(_lines(options.file, reading)))
    return ACCEPTED


def _kind(capture: Capture) -> str:
    return type(capture).__name__.lower()


def _axis(capture: Capture) -> tuple[float, float, int, str]:
    if isinstance(capture, Transient):
        return float(capture.time[0]), float(capture.time[-1]), capture.time.size, "s"
    return (
        float(capture.frequency[0]),
        float(capture.frequency[-1]),
        capture.frequency.size,
        "Hz",
    )


def _written(value: float, unit: str) -> str:
    return format_quantity(value, unit, digits=6, padded=False)


def _as_json(path: str, reading: Reading) -> dict[str, Any]:
    captures = []
    for capture in reading.captures:
        first, last, points, unit = _axis(capture)
        captures.append(
            {
                "kind": _kind(capture),
                "label": capture.origin.label,
                "part": capture.origin.part,
                "points": points,
                "first": first,
                "last": last,
                "unit": unit,
                "digest": capture.digest,
            }
        )
    return {
        "schema": "benchapp.reading/1",
        "file": path,
        "sha256": reading.sha256,
        "reader": reading.reader,
        "captures": captures,
        "assumptions": [
            {
                "subject": entry.subject,
                "value": entry.value,
                "reason": entry.reason,
                "confidence": entry.confidence,
            }
            for entry in reading.assumptions
        ],
        "questions": [
            {
                "name": entry.name,
                "text": entry.text,
                "proposed": entry.proposed,
                "choices": list(entry.choices),
            }
            for entry in reading.questions
        ],
        "set_aside": [{"line": row.line, "why": row.why} for row in reading.set_aside],
    }


def _lines(path: str, reading: Reading) -> list[str]:
    lines = [f"{path}: read as {reading.reader}"]
    for capture in reading.captures:
        first, last, points, unit = _axis(capture)
        lines.append(
            f"  {part_name(capture, path)}: {_kind(capture)}, {points} points, "
            f"{_written(first, unit)} to {_written(last, unit)}"
        )
    lines += [
        f"  assumed {entry.subject}: {entry.value} ({entry.reason}; {entry.confidence})"
        for entry in reading.assumptions
    ]
    for entry in reading.questions:
        choices = f" [{', '.join(entry.choices)}]" if entry.choices else ""
        lines.append(
            f"  asked {entry.name}: {entry.text}{choices} Taken for now: {entry.proposed}. "
            f"Answer with --answer {entry.name}=VALUE"
        )
    lines += [f"  set aside line {row.line}: {row.why}" for row in reading.set_aside]
    return lines


COMMAND = Command(
    summary=(
        "Say what was recognised in a capture file, every assumption with its reason, what the "
        "file could not tell, and which rows were set aside."
    ),
    configure=_configure,
    run=_run,
)
