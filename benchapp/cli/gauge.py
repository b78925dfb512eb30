"""``benchapp gauge``: how much of what is measured comes from measuring."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Any

from benchapp.cli import ACCEPTED, REJECTED
from benchapp.cli.choices import print_json
from benchapp.cli.command import Command
from benchapp.cli.reporting import add_report, check_report, report_choices_from
from benchapp.errors import FileAccessError, UsageError
from benchapp.jobs import (
    AnalysedStudy,
    AnalyseStored,
    AnalyseStudy,
    PlanStudy,
    WriteGaugeReport,
    not_cancelled,
    silent,
    studied,
)
from benchapp.logbook import default_address
from benchapp.lot import Bias, GaugeStudy, Linearity, Share, Source, StudyPlan, StudySheet, key_of
from benchapp.units import format_quantity, parse_quantity

__all__ = ["COMMAND"]

_FEWEST_CLASSES = 5
_LEVEL = 0.05


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "study",
        nargs="?",
        metavar="STUDY.csv",
        help="the finished study: columns part, person, trial, value, and reference where the "
        "true value of the part is known",
    )
    parser.add_argument(
        "--tolerance",
        metavar="WIDTH",
        help="upper less lower limit of the part: 97.2uH; a plan that states it needs it no more",
    )
    parser.add_argument(
        "--interaction",
        choices=("auto", "keep", "pool"),
        default="auto",
        help="whether persons and parts count together for themselves; auto pools them where "
        "nothing speaks for it",
    )
    parser.add_argument(
        "--plan",
        metavar="PARTSxPERSONSxTRIALS",
        help="draw the random, blind order of a new study instead: 10x3x3",
    )
    parser.add_argument(
        "--quantity",
        metavar="NAME",
        help="what is measured, of a plan or a lot: L (usual for a lot), or Q at 134.2kHz",
    )
    parser.add_argument(
        "--lot",
        metavar="KEY",
        action="append",
        default=[],
        help="study a lot of the record instead, by its key in logbook list --lots; several times "
        "for several lots. Serials are the parts, operators the persons",
    )
    parser.add_argument(
        "--record", metavar="ADDRESS", help="where the lots are kept; left out: the usual record"
    )
    parser.add_argument("--seed", type=int, default=1, help="of the order drawn with --plan")
    parser.add_argument("--out", metavar="FILE.csv", help="write the plan there")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    add_report(parser)


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    given = [options.study is not None, options.plan is not None, bool(options.lot)]
    if sum(given) != 1:
        raise UsageError(
            "gauge: must have either a finished study, --plan, or lots of the record "
            f"(got {'none of them' if not any(given) else 'more than one'}).",
            hint="benchapp gauge --plan 10x3x3 --out study.csv, fill in the values, then: "
            "benchapp gauge study.csv",
        )
    _check_lots(options)
    if options.plan is not None:
        if options.report is not None:
            raise UsageError(
                "--report: must be on a finished study (got --plan).",
                hint="Fill in the values first, then: benchapp gauge study.csv --report out.pdf",
            )
        return _draw(options)
    name, done = _analysed(options)
    if options.report is not None:
        WriteGaugeReport(
            study=done, path=name, choices=report_choices_from(options, options.report)
        )(silent, not_cancelled)
    if options.json:
        print_json(_as_json(name, done))
    else:
        print("\n".join(_lines(name, done)))
    return REJECTED if done.variance.judgement == "not suitable" else ACCEPTED


def _check_lots(options: argparse.Namespace) -> None:
    """Refuse options that mean nothing for what is studied."""
    if options.lot and options.tolerance is not None:
        raise UsageError(
            "--tolerance: must be left out with --lot (got both).",
            hint="The design of the lots states the limits.",
        )
    if options.study is not None and options.quantity is not None:
        raise UsageError(
            "--quantity: must go with --plan or --lot (got a finished study).",
            hint="Write it into the column quantity of the table.",
        )


def _analysed(options: argparse.Namespace) -> tuple[str, AnalysedStudy]:
    """Work out the table or the lots; give what to call it as well."""
    if options.lot:
        stored = AnalyseStored(
            record=options.record or default_address(os.environ),
            lots=tuple(options.lot),
            quantity=options.quantity or "L",
            interaction=options.interaction,
        )
        return f"lot {', '.join(options.lot)}", stored(silent, not_cancelled)
    job = AnalyseStudy(
        path=options.study, tolerance=options.tolerance, interaction=options.interaction
    )
    return options.study, job(silent, not_cancelled)


def _draw(options: argparse.Namespace) -> int:
    sheet = PlanStudy(study=_study_plan(options), seed=options.seed)(silent, not_cancelled)
    if options.out is not None:
        _write_new(options.out, sheet.text())
    if options.json:
        print_json(_plan_json(options, sheet))
    elif options.out is None:
        sys.stdout.write(sheet.text())
    else:
        acts = len(sheet.readings)
        print(f"{options.out}: {acts} measurements in random order; fill in the column value.")
        print("Place every part anew for each of them, and go by the blind label.")
    return ACCEPTED


def _study_plan(options: argparse.Namespace) -> StudyPlan:
    sizes = _sizes(options.plan)
    parts, persons = (
        tuple(str(number + 1) for number in range(sizes[name])) for name in ("parts", "persons")
    )
    limit = None if options.quantity is None else studied(options.quantity)
    unit = "" if limit is None else limit.unit
    width = None
    if options.tolerance is not None:
        stated = parse_quantity(options.tolerance, unit or None)
        width, unit = stated.value, stated.unit
    return StudyPlan(
        parts=parts,
        persons=persons,
        trials=sizes["trials"],
        quantity="" if limit is None else key_of(limit),
        unit=unit,
        tolerance=width,
    )


def _write_new(path: str, text: str) -> None:
    try:
        with Path(path).open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except OSError as cause:
        raise FileAccessError(
            f"{path}: must be a new file that can be written (got {cause.strerror}).",
            hint="Choose another name or folder: a plan with values in it is never replaced.",
        ) from cause


def _plan_json(options: argparse.Namespace, sheet: StudySheet) -> dict[str, Any]:
    return {
        "schema": "benchapp.gauge-plan/1",
        "file": options.out,
        "seed": options.seed,
        **_sizes(options.plan),
        "quantity": sheet.quantity or None,
        "unit": sheet.unit,
        "tolerance": sheet.tolerance,
        "measurements": [
            {
                "order": order,
                "blind": one.blind,
                "part": one.part,
                "person": one.person,
                "trial": one.trial,
            }
            for order, one in enumerate(sheet.readings, start=1)
        ],
    }


def _sizes(text: str) -> dict[str, int]:
    words = text.casefold().replace("×", "x").split("x")
    if len(words) != 3 or not all(word.strip().isdecimal() for word in words):
        raise UsageError(
            f"--plan: must be PARTSxPERSONSxTRIALS (got {text!r}).",
            hint="Usual are 10 parts, 3 persons and 3 trials: --plan 10x3x3",
        )
    return dict(zip(("parts", "persons", "trials"), map(int, words), strict=True))


def _lines(path: str, done: AnalysedStudy) -> list[str]:
    table, study = done.table, done.variance
    parts, persons, trials = table.values.shape
    size = f"{parts} parts, {persons} persons, {trials} trials"
    lines = [f"{path}: {size}: the gauge is {study.judgement.upper()}"]
    lines += _study_lines(study, table.unit)
    if study.ndc is not None:
        few = "" if study.ndc >= _FEWEST_CLASSES else f", {_FEWEST_CLASSES} or more are wanted"
        lines.append(f"  ndc {study.ndc}: as many classes of parts can be told apart{few}")
    lines += _table_lines(study)
    if done.ranges is not None:
        lines += _study_lines(done.ranges, table.unit)
    lines += [
        _bias_line(part, found, table.unit)
        for part, found in zip(table.parts, done.bias, strict=False)
    ]
    return lines + _linearity_lines(done.linearity, table.unit)


def _shares(study: GaugeStudy) -> list[tuple[str, str, Share]]:
    named = (
        ("EV", "repeatability", study.repeatability),
        ("AV", "reproducibility", study.reproducibility),
        ("INT", "persons by parts", study.interaction),
        ("GRR", "gauge", study.gauge),
        ("PV", "parts", study.parts),
        ("TV", "total", study.total),
    )
    return [(letter, words, share) for letter, words, share in named if share is not None]


def _study_lines(study: GaugeStudy, unit: str) -> list[str]:
    lines = [f"  {study.method}:"]
    for letter, words, share in _shares(study):
        text = f"    {letter:<4} {words:<17} {_amount(share.sigma, unit):<12}"
        text += f" {share.percent_study:5.1f} % of the study"
        if share.percent_tolerance is not None:
            text += f", {share.percent_tolerance:5.1f} % of the tolerance"
        lines.append(text)
    return lines


def _table_lines(study: GaugeStudy) -> list[str]:
    """Say what the analysis of variance found about the interaction."""
    row = next((row for row in study.table if row.name == "interaction"), None)
    if row is None or row.p is None:
        return []
    kept = "counted as repeatability" if study.pooled else "kept for itself"
    return [f"  persons by parts: F {row.f:.3g}, p {row.p:.3g}, {kept}"]


def _bias_line(part: str, found: Bias, unit: str) -> str:
    low, high = _amount(found.low, unit), _amount(found.high, unit)
    words = "significant" if found.significant else "none shown"
    return f"  bias of {part}: {_amount(found.value, unit)} ({low} to {high}), {words}"


def _linearity_lines(found: Linearity | None, unit: str) -> list[str]:
    if found is None:
        return []
    scale = "significant" if found.slope_p < _LEVEL else "none shown"
    offset = "significant" if found.intercept_p < _LEVEL else "none shown"
    at_zero = _amount(found.intercept, unit)
    return [
        f"  linearity: slope {100 * found.slope:.3g} % (p {found.slope_p:.2g}, {scale})",
        f"             offset {at_zero} (p {found.intercept_p:.2g}, {offset})",
    ]


def _amount(value: float, unit: str) -> str:
    return format_quantity(value, unit, digits=4) if value else "0"


def _as_json(path: str, done: AnalysedStudy) -> dict[str, Any]:
    table = done.table
    return {
        "schema": "benchapp.gauge/1",
        "file": path,
        "unit": table.unit,
        "parts": list(table.parts),
        "persons": list(table.persons),
        "trials": table.values.shape[2],
        "judgement": done.variance.judgement,
        "ndc": done.variance.ndc,
        "analysis_of_variance": _study_json(done.variance),
        "with_interaction": None if done.kept is None else _study_json(done.kept),
        "without_interaction": None if done.pooled is None else _study_json(done.pooled),
        "average_and_range": None if done.ranges is None else _study_json(done.ranges),
        "bias": [
            {"part": part, **_bias_json(found)}
            for part, found in zip(table.parts, done.bias, strict=False)
        ],
        "linearity": None if done.linearity is None else _linearity_json(done.linearity),
    }


def _study_json(study: GaugeStudy) -> dict[str, Any]:
    return {
        **{letter: _share_json(share) for letter, _, share in _shares(study)},
        "ndc": study.ndc,
        "table": [_row_json(row) for row in study.table],
        "pooled": [_row_json(row) for row in study.pooled],
    }


def _share_json(share: Share) -> dict[str, float | None]:
    return {
        "sigma": share.sigma,
        "percent_study": share.percent_study,
        "percent_contribution": share.percent_contribution,
        "percent_tolerance": share.percent_tolerance,
    }


def _row_json(row: Source) -> dict[str, Any]:
    return {
        "source": row.name,
        "dof": row.dof,
        "sum_of_squares": row.sum_of_squares,
        "mean_square": row.mean_square,
        "F": row.f,
        "p": row.p,
    }


def _bias_json(found: Bias) -> dict[str, Any]:
    return {
        "reference": found.reference,
        "bias": found.value,
        "u": found.u,
        "low": found.low,
        "high": found.high,
        "p": found.p,
        "significant": found.significant,
    }


def _linearity_json(found: Linearity) -> dict[str, float]:
    return {
        "slope": found.slope,
        "slope_p": found.slope_p,
        "intercept": found.intercept,
        "intercept_p": found.intercept_p,
        "sd": found.sd,
        "r_squared": found.r_squared,
    }


COMMAND = Command(
    summary=(
        "Work out a gauge study (repeatability, reproducibility, parts, classes, bias, linearity) "
        "or draw the order of a new one. Exit status: 0 suitable, with conditions or without; "
        "1 not suitable."
    ),
    configure=_configure,
    run=_run,
)
