"""``benchapp compare``: judge captures against a nominal design."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from benchapp.cli import ACCEPTED, REJECTED, UNDECIDED, UNREADABLE
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
from benchapp.cli.fit import U_HOLDS, findings_json, findings_text
from benchapp.cli.reporting import add_report, check_report, numbered, report_choices_from
from benchapp.diagnosis import Diagnosis
from benchapp.errors import BenchError, UsageError
from benchapp.fixture import Corrected, Corrections
from benchapp.jobs import (
    ComparePart,
    Examination,
    JudgedPart,
    OpenNominal,
    WriteComplaint,
    WritePartReport,
    not_cancelled,
    part_name,
    silent,
)
from benchapp.nominal import LimitVerdict, Nominal, Outcome, Verdict
from benchapp.nominal.plain import limit_values
from benchapp.uncertainty import Budget
from benchapp.units import format_estimate, format_quantity

__all__ = ["COMMAND", "show_verdict"]

_STATUS = {
    Outcome.PASS: ACCEPTED,
    Outcome.CONDITIONAL_PASS: ACCEPTED,
    Outcome.CONDITIONAL_FAIL: REJECTED,
    Outcome.FAIL: REJECTED,
    Outcome.NOT_JUDGED: UNDECIDED,
}
_GRAVEST_FIRST = (UNREADABLE, REJECTED, UNDECIDED, ACCEPTED)


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="saved captures")
    parser.add_argument(
        "--nominal", required=True, metavar="DESIGN.toml", help="the nominal design"
    )
    add_fit_choices(parser)
    add_answers(parser)
    add_corrections(parser)
    add_examination(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object per part")
    add_report(parser)
    parser.add_argument(
        "--complaint", metavar="OUT.pdf|.html", help="write the failed parts up for the supplier"
    )


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    if options.complaint is not None:
        report_choices_from(options, options.complaint)
    nominal = OpenNominal(path=options.nominal)(silent, not_cancelled)
    examination = examination_from(options)
    known = corrections(options, answers_from(options))
    parts: list[JudgedPart] = []
    statuses = {
        _compare(path, nominal, examination, known, options, parts) for path in options.files
    }
    _write(parts, options)
    return next(status for status in _GRAVEST_FIRST if status in statuses)


def _write(parts: list[JudgedPart], options: argparse.Namespace) -> None:
    """Write the reports that were asked for; several parts have a report each."""
    if options.report is not None:
        for place, part in enumerate(parts, 1):
            path = numbered(options.report, place, len(parts))
            choices = report_choices_from(options, path)
            WritePartReport(part=part, choices=choices)(silent, not_cancelled)
    if options.complaint is not None:
        choices = report_choices_from(options, options.complaint)
        WriteComplaint(parts=tuple(parts), choices=choices)(silent, not_cancelled)


def _compare(
    path: str,
    nominal: Nominal,
    examination: Examination,
    known: Corrections,
    options: argparse.Namespace,
    judged: list[JudgedPart],
) -> int:
    answers = answers_from(options)
    try:
        reading = reading_of(path, options)
        whole = [corrected_by(capture, known, options, answers) for capture in reading.captures]
        parts = [
            ComparePart(
                capture=done.capture,
                path=path,
                nominal=nominal,
                reading=reading,
                choices=fit_choices_from(options),
                examination=examination,
            )(silent, not_cancelled)
            for done in whole
        ]
    except UsageError:
        raise
    except BenchError as error:
        # One bad file does not lose the verdicts on the others.
        print(f"benchapp: {error}", file=sys.stderr)
        return UNREADABLE
    judged += parts
    statuses = {
        show_verdict(part, json=options.json, done=done)
        for part, done in zip(parts, whole, strict=True)
    }
    return next(status for status in _GRAVEST_FIRST if status in statuses)


def show_verdict(part: JudgedPart, *, json: bool, done: Corrected | None = None) -> int:
    """Print the verdict on a part and give the exit status that goes with it.

    ``done`` tells what was taken away before the part was judged.
    """
    verdict = part.verdict
    assert verdict is not None  # noqa: S101 - a part compared with a nominal has a verdict
    if json:
        more = {} if done is None else {"corrections": correction_json(done)}
        print_json(_as_json(part, verdict) | more)
    else:
        steps = [] if done is None else correction_lines(done)
        print("\n".join([*_lines(part, verdict), *steps]))
    return _STATUS[verdict.outcome]


def _as_json(part: JudgedPart, verdict: Verdict) -> dict[str, Any]:
    return {
        "schema": "benchapp.verdict/1",
        "file": part.path,
        "sha256": part.sha256,
        "label": part.capture.origin.label,
        "outcome": verdict.outcome.value,
        "reason": verdict.reason,
        "U_holds": verdict.U_holds,
        "limits": [limit_values(entry) for entry in verdict.limits],
        "checks": findings_json(part),
        "hypotheses": None if part.diagnosis is None else _diagnosis_json(part.diagnosis),
    }


def _diagnosis_json(diagnosis: Diagnosis) -> dict[str, Any]:
    return {
        "found": list(diagnosis.found),
        "reason": diagnosis.reason,
        "ranked": [
            {
                "id": entry.id,
                "title": entry.title,
                "share": entry.share,
                "as_if": entry.as_if,
                "evidence": list(entry.evidence),
                "next_test": entry.next_test,
            }
            for entry in diagnosis.hypotheses
        ],
    }


def _diagnosis_lines(diagnosis: Diagnosis | None) -> list[str]:
    """Say what may be wrong with the part, the likeliest first."""
    if diagnosis is None:
        return []
    if diagnosis.best is None:
        return [f"  no fault is named: {diagnosis.reason}"]
    lines = [f"  what may be wrong ({'; '.join(diagnosis.best.evidence)}):"]
    for entry in diagnosis.hypotheses:
        lines.append(f"    {100 * entry.share:3.0f} %  {entry.title}: as if {entry.as_if}")
        lines.append(f"           {entry.next_test}")
    return lines


def _lines(part: JudgedPart, verdict: Verdict) -> list[str]:
    title = "" if part.nominal is None else f"{part.nominal.title} rev {part.nominal.revision}"
    lines = [f"{part_name(part.capture, part.path)}: {verdict.outcome.words.upper()} ({title})"]
    if verdict.reason:
        lines.append(f"  {verdict.reason}")
    coverage = 2.0 if part.nominal is None else part.nominal.decision.coverage
    for entry in verdict.limits:
        measured = (
            "not determined"
            if entry.measured is None
            else format_estimate(entry.measured, coverage)
        )
        at = "" if entry.limit.at is None else f" at {_amount(entry.limit.at, 'Hz')}"
        name = f"{entry.limit.quantity}{at}"
        lines.append(
            f"  {name:<18} {measured:<26} {_bounds(entry):<28} {entry.outcome.words}"
            + ("" if entry.margin_percent is None else f", margin {entry.margin_percent:+.2g} %")
        )
        if entry.reason and entry.outcome is not Outcome.PASS:
            lines.append(f"      {entry.reason}")
        lines += _budget_lines(entry.budget)
    lines.append(f"  (value ± U, U = {coverage:g} u, holding {U_HOLDS[verdict.U_holds]})")
    return lines + findings_text(part) + _diagnosis_lines(part.diagnosis)


def _budget_lines(budget: Budget | None) -> list[str]:
    """Say what most of U comes from, where more than the scatter is known."""
    if budget is None or len(budget.terms) < 2 or budget.dominant is None:
        return []
    share = 100 * max(budget.shares)
    return [f"      {share:.0f} % of the variance: {budget.dominant.name}. {budget.halving}"]


def _amount(value: float, unit: str) -> str:
    return format_quantity(value, unit, digits=5, padded=False)


def _bounds(entry: LimitVerdict) -> str:
    limit = entry.limit
    if limit.lower is None and limit.upper is None:
        return ""
    if limit.lower is None:
        return f"at most {_amount(limit.upper or 0.0, limit.unit)}"
    if limit.upper is None:
        return f"at least {_amount(limit.lower, limit.unit)}"
    return f"{_amount(limit.lower, limit.unit)} to {_amount(limit.upper, limit.unit)}"


COMMAND = Command(
    summary=(
        "Fit captures and judge them against the limits of a nominal design, with guard bands. "
        "Exit status: 0 accepted, 1 rejected, 3 not judged, 4 unreadable."
    ),
    configure=_configure,
    run=_run,
)
