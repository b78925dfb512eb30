"""``benchapp fit``: L, C, Q and ESR of the captures of one file, with uncertainty."""

from __future__ import annotations

import argparse
from typing import Any

from benchapp.capture import Transient
from benchapp.checks import Finding
from benchapp.cli import ACCEPTED, UNDECIDED, UNREADABLE
from benchapp.cli.choices import (
    add_answers,
    add_examination,
    add_fit_choices,
    answers_from,
    examination_from,
    fit_choices_from,
    print_json,
    reading_of,
)
from benchapp.cli.command import Command
from benchapp.cli.correction import (
    add_corrections,
    corrected_by,
    correction_json,
    correction_lines,
    corrections,
)
from benchapp.cli.reporting import numbered
from benchapp.errors import UsageError
from benchapp.fit import Fit, quantity
from benchapp.jobs import (
    ComparePart,
    JudgedPart,
    not_cancelled,
    part_name,
    silent,
)
from benchapp.jobs.report import refuse_existing
from benchapp.uncertainty import Accuracy, combine, holds
from benchapp.units import Estimate, format_estimate, format_quantity, parse_quantity

__all__ = ["COMMAND", "U_HOLDS", "findings_json", "findings_text", "fit_json", "fit_lines"]

_COVERAGE = 2.0
U_HOLDS = {
    "scatter": "the scatter of this capture only",
    "scatter and instrument": "scatter and the stated accuracy of the instrument",
}
"""What an uncertainty counts, in words."""


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a saved capture")
    add_fit_choices(parser)
    parser.add_argument(
        "--at", metavar="FREQ", help="also give Q and ESR at this frequency: 134.2kHz"
    )
    add_answers(parser)
    add_corrections(parser)
    add_examination(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object per capture")
    parser.add_argument("--plot", metavar="OUT.png", help="draw the capture and its fit")
    parser.add_argument(
        "--force", action="store_true", help="write over a picture that is there already"
    )


def _run(options: argparse.Namespace) -> int:
    _check_picture(options)
    at = None if options.at is None else parse_quantity(options.at, "Hz").value
    choices = fit_choices_from(options)
    examination = examination_from(options)
    answers = answers_from(options)
    known = corrections(options, answers)
    reading = reading_of(options.file, options)
    whole = [corrected_by(capture, known, options, answers) for capture in reading.captures]
    parts = [
        ComparePart(
            capture=done.capture,
            path=options.file,
            reading=reading,
            choices=choices,
            examination=examination,
        )(silent, not_cancelled)
        for done in whole
    ]
    for part, done in zip(parts, whole, strict=True):
        if options.json:
            print_json(fit_json(part, at) | {"corrections": correction_json(done)})
        else:
            print("\n".join([*fit_lines(part, at), *correction_lines(done, choices)]))
    if options.plot is not None:
        _draw(parts, options)
    if not any(part.fit.results for part in parts):
        return UNREADABLE
    return ACCEPTED if all(part.fit.describes for part in parts) else UNDECIDED


def _check_picture(options: argparse.Namespace) -> None:
    path = options.plot
    if path is None:
        return
    if not path.lower().endswith(".png"):
        raise UsageError(f"--plot: must end in .png (got {path!r}).", hint="Use fit.png.")
    refuse_existing(path, overwrite=options.force)


def _draw(parts: list[JudgedPart], options: argparse.Namespace) -> None:
    from benchapp.report.drawing import save_png  # start-up: Qt only for a picture

    paths = [numbered(options.plot, place, len(parts)) for place in range(1, len(parts) + 1)]
    for path in paths:
        refuse_existing(path, overwrite=options.force)
    for part, path in zip(parts, paths, strict=True):
        save_png(part.capture, part.fit, part_name(part.capture), path)


def _estimates(
    part: JudgedPart, at: float | None, accuracy: Accuracy | None = None
) -> tuple[Estimate, ...]:
    whole = combine(part.fit, part.capture, accuracy)
    if at is None:
        return whole.results
    extra = (quantity(whole, name, at) for name in ("Q", "ESR"))
    found = {estimate.name: estimate for estimate in whole.results}
    found.update({estimate.name: estimate for estimate in extra if estimate is not None})
    return tuple(found.values())


def findings_json(part: JudgedPart) -> list[dict[str, Any]]:
    """Give the findings on a part in the form of the JSON outputs."""
    return [
        {
            "id": finding.id,
            "level": finding.level,
            "text": finding.text,
            "advice": finding.advice,
            "points": list(finding.points),
            "acknowledged": None
            if finding.acknowledged is None
            else {"name": finding.acknowledged.name, "reason": finding.acknowledged.reason},
        }
        for finding in part.findings
    ]


def fit_json(part: JudgedPart, at: float | None = None) -> dict[str, Any]:
    """Give the fit of a part in the form of the JSON output."""
    fit = part.fit
    return {
        "schema": "benchapp.fit/1",
        "file": part.path,
        "sha256": part.sha256,
        "label": part.capture.origin.label,
        "kind": fit.kind,
        "circuit": fit.circuit,
        "estimates": {
            estimate.name: {"value": estimate.value, "u": estimate.u, "unit": estimate.unit}
            for estimate in _estimates(part, at)
        },
        "combined": _combined(part, at),
        "undetermined": list(fit.undetermined),
        "describes": fit.describes,
        "converged": fit.converged,
        "noise": fit.noise,
        "points": {
            "read": int(fit.used.size),
            "used": int(fit.used.sum()),
            "set_aside": int(fit.used.size - fit.used.sum()),
        },
        "alternatives": [
            {"circuit": other.circuit, "bic_difference": other.bic_difference}
            for other in fit.alternatives
        ],
        "opinions": [
            {
                "method": opinion.method,
                "quantity": opinion.estimate.name,
                "value": opinion.estimate.value,
                "u": opinion.estimate.u,
                "unit": opinion.estimate.unit,
                "agrees": opinion.agrees,
            }
            for opinion in fit.opinions
        ],
        "remarks": [remark.text for remark in fit.remarks],
        "checks": findings_json(part),
    }


def _combined(part: JudgedPart, at: float | None) -> dict[str, Any] | None:
    """Give the uncertainties that hold the instrument's part; None where it is not stated."""
    if part.accuracy is None:
        return None
    return {
        "holds": holds(part.fit, part.accuracy),
        "accuracy": {"title": part.accuracy.title, "sha256": part.accuracy.sha256},
        "u": {estimate.name: estimate.u for estimate in _estimates(part, at, part.accuracy)},
    }


def fit_lines(part: JudgedPart, at: float | None = None) -> list[str]:
    """Say in plain lines what a fit found."""
    fit = part.fit
    used = int(fit.used.sum())
    lines = [
        f"{part_name(part.capture, part.path)}: {used} of {fit.used.size} points, {_range(part)}",
        f"  circuit {fit.circuit}"
        + ("" if fit.noise is None else f", noise {100 * fit.noise:.2g} % of the value"),
    ]
    estimates = _estimates(part, at, part.accuracy)
    for estimate in estimates:
        where = "" if at is None or estimate.name not in ("Q", "ESR") else f" at {_hertz(at)}"
        lines.append(f"  {estimate.name:<4} {format_estimate(estimate, _COVERAGE)}{where}")
    if estimates:
        what = holds(fit, part.accuracy)
        lines.append(f"  (value ± U, U = {_COVERAGE:g} u, holding {U_HOLDS[what]})")
    if fit.undetermined:
        lines.append(f"  not determined by these data: {', '.join(fit.undetermined)}")
    lines += _opinion_lines(fit)
    if not fit.describes:
        lines.append("  the circuit does not describe the data: do not use these values")
    lines += [f"  note: {remark.text}" for remark in fit.remarks]
    return lines + findings_text(part)


def _opinion_lines(fit: Fit) -> list[str]:
    """Say what each other method found, on one line."""
    lines = []
    for method in dict.fromkeys(opinion.method for opinion in fit.opinions):
        said = [opinion for opinion in fit.opinions if opinion.method == method]
        values = ", ".join(
            f"{one.estimate.name} {format_estimate(one.estimate, _COVERAGE)}" for one in said
        )
        agrees = all(one.agrees for one in said)
        lines.append(f"  by {method}: {values} ({'agrees' if agrees else 'does not agree'})")
    return lines


def findings_text(part: JudgedPart) -> list[str]:
    """Say the findings on a part, one line each."""
    return [line for entry in part.findings for line in _finding_lines(entry)]


def _finding_lines(entry: Finding) -> list[str]:
    lines = [f"  {entry.level}: {entry.text} {entry.advice}".rstrip()]
    if entry.acknowledged is not None:
        who = entry.acknowledged
        lines.append(f"      acknowledged by {who.name}: {who.reason}")
    return lines


def _hertz(frequency: float) -> str:
    return format_quantity(frequency, "Hz", digits=6, padded=False)


def _range(part: JudgedPart) -> str:
    capture = part.capture
    if isinstance(capture, Transient):
        span = float(capture.time[-1] - capture.time[0])
        return f"{format_quantity(span, 's')} long"
    return f"{_hertz(float(capture.frequency[0]))} to {_hertz(float(capture.frequency[-1]))}"


COMMAND = Command(
    summary=(
        "Fit the captures of one file and print L, C, Q, ESR and the resonance with their "
        "uncertainty, and what the data do not determine."
    ),
    configure=_configure,
    run=_run,
)
