"""Options that say what lay between instrument and part, and what taking it away changed."""

from __future__ import annotations

import argparse
import math
import sys
from typing import Any

from benchapp.capture import Capture, FloatArray, Sweep
from benchapp.errors import UsageError
from benchapp.fixture import Corrected, Corrections
from benchapp.jobs import (
    CorrectCapture,
    FitCapture,
    FitChoices,
    Nulling,
    OpenCorrections,
    Recheck,
    not_cancelled,
    silent,
)
from benchapp.readers import Answers
from benchapp.units import format_estimate, parse_quantity

__all__ = ["add_corrections", "corrected_by", "correction_json", "correction_lines", "corrections"]

_HOUR = 3600.0
_COVERAGE = 2.0
_LONGEST = 1e-5  # s: 2 km of cable
_OTHERS = (
    ("delay", "s", "delay", "one-way delay of the cable in front of the fixture: 4.9ns"),
    ("source-ohm", "ohm", "series_ohm", "source or sense resistance in line with the part"),
    ("probe-farad", "F", "probe_farad", "capacitance of a probe across the part: 10pF"),
    ("probe-ohm", "ohm", "probe_ohm", "resistance of that probe: 10Mohm"),
)
"""Option, its unit, the field of `Corrections` that it fills, and its help."""


def add_corrections(parser: argparse.ArgumentParser) -> None:
    """Add the options."""
    group = parser.add_argument_group("what lay between instrument and part")
    for name, words in (("open", "empty"), ("short", "shorted")):
        group.add_argument(
            f"--{name}", metavar="FILE", help=f"a saved reading of the {words} fixture"
        )
    group.add_argument("--load", metavar="FILE", help="a saved reading of a known load in it")
    group.add_argument("--load-value", metavar="OHM", help="true value of that load: 100ohm")
    for name, unit, _, words in _OTHERS:
        group.add_argument(f"--{name}", metavar=unit.upper(), help=words)
    group.add_argument(
        "--oldest", metavar="HOURS", help="doubt open, short and load older than this (8)"
    )
    group.add_argument(
        "--recheck",
        nargs=2,
        metavar=("OPEN", "SHORT"),
        help="the fixture read once more: say how much the part would change",
    )


def corrections(options: argparse.Namespace, answers: Answers | None = None) -> Corrections:
    """Make the corrections from the options.

    Raises
    ------
    BenchError
        When a file cannot be read, or the options do not go together.
    """
    values: dict[str, Any] = {}
    for name, unit, field, _ in _OTHERS:
        text = getattr(options, name.replace("-", "_"))
        if text is not None:
            values[field] = parse_quantity(text, unit).value
    if values.get("delay", 0.0) > _LONGEST:
        raise UsageError(
            f"--delay: must be a time below 10 µs (got {options.delay!r}).",
            hint="A metre of cable takes about 5 ns: write 4.9ns.",
        )
    if options.oldest is not None:
        values["oldest"] = parse_quantity(options.oldest, "1").value * _HOUR
    load = options.load_value
    nulling = Nulling(
        opened=options.open,
        shorted=options.short,
        load=options.load,
        load_value=None if load is None else complex(parse_quantity(load, "ohm").value),
    )
    found = _opened(nulling, Corrections(**values), answers)
    if options.recheck is not None and found.compensation is None:
        raise UsageError(
            "--recheck: must come with --open or --short (got neither).",
            hint="Name the readings that are in use as well.",
        )
    return found


def _opened(nulling: Nulling, others: Corrections, answers: Answers | None) -> Corrections:
    job = OpenCorrections(nulling=nulling, others=others, answers=answers or Answers())
    return job(silent, not_cancelled)


def corrected_by(
    capture: Capture, known: Corrections, options: argparse.Namespace, answers: Answers | None
) -> Corrected:
    """Correct one capture, and say on standard error what there is to doubt.

    Raises
    ------
    CaptureError
        When a correction cannot be made.
    """
    done = CorrectCapture(capture=capture, corrections=known)(silent, not_cancelled)
    for caution in done.cautions:
        print(f"benchapp: compensation: {caution}.", file=sys.stderr)
    compensation = known.compensation
    if options.recheck is not None and compensation is not None and isinstance(capture, Sweep):
        opened, shorted = options.recheck
        again = _opened(Nulling(opened=opened, shorted=shorted), Corrections(), answers)
        assert again.compensation is not None  # noqa: S101 - both files were read
        job = Recheck(sweep=capture, before=compensation, again=again.compensation)
        print(f"benchapp: {job(silent, not_cancelled)}.", file=sys.stderr)
    return done


def correction_lines(done: Corrected, choices: FitChoices | None = None) -> list[str]:
    """Say each correction with what it changed; with choices, what the raw capture gives as well.

    Parameters
    ----------
    done : Corrected
    choices : FitChoices, optional
        How to fit the raw capture.
    """
    lines = [f"  corrected, {step['name']}: {step['detail']}" for step in _steps(done)]
    if lines and choices is not None:
        raw = FitCapture(capture=done.raw, choices=choices)(silent, not_cancelled)
        before = ", ".join(f"{one.name} {format_estimate(one, _COVERAGE)}" for one in raw.results)
        lines.append(f"  before correction: {before or 'nothing is determined'}")
    return lines


def correction_json(done: Corrected) -> dict[str, Any]:
    """Give the corrections of a capture in the form of the JSON outputs."""
    rule = done.rule
    return {
        "steps": _steps(done),
        "cautions": list(done.cautions),
        "raw_digest": done.raw.digest,
        "rule": None
        if rule is None
        else {
            "frequency": rule.frequency.tolist(),
            "open_over_part": _ratios(rule.open_ratio),
            "part_over_short": _ratios(rule.short_ratio),
            "valid": rule.valid.tolist(),
        },
    }


def _ratios(ratio: FloatArray | None) -> list[float | None] | None:
    """Give a ratio over frequency; None at a point where it has no end."""
    if ratio is None:
        return None
    return [value if math.isfinite(value) else None for value in ratio.tolist()]


def _steps(done: Corrected) -> list[dict[str, str]]:
    new = done.capture.history[len(done.raw.history) :]
    return [{"name": step.name, "detail": step.detail} for step in new]
