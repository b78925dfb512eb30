"""``benchapp lot``: a whole lot of saved captures against a nominal design and a sampling plan."""

from __future__ import annotations

import argparse
import os
import sys
import threading
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from benchapp.checks import Facts
from benchapp.checks.value import counted
from benchapp.cli import ACCEPTED, REJECTED, UNDECIDED
from benchapp.cli.choices import (
    add_answers,
    add_examination,
    add_fit_choices,
    answers_from,
    examination_from,
    fit_choices_from,
    print_json,
)
from benchapp.cli.command import Command
from benchapp.cli.interrupt import on_interrupt
from benchapp.cli.progress import shown_progress
from benchapp.cli.reference import is_locked, standing_of
from benchapp.cli.reporting import add_report, check_report, report_choices_from
from benchapp.csv_table import csv_text
from benchapp.errors import CancelledError, UsageError
from benchapp.jobs import (
    AnalyseStudy,
    AwaitFiles,
    FactsOfGauge,
    JudgedLot,
    JudgeLot,
    KeepStudy,
    LotFile,
    LotRecipe,
    OpenNominal,
    RecordNotes,
    Stamp,
    WriteLotReport,
    answer_book,
    judge_file,
    not_cancelled,
    record_of,
    silent,
)
from benchapp.jobs.report import refuse_existing
from benchapp.lot import KINDS, LotForm, LotPlan, PartRecord, PlanChoice, QuantitySummary
from benchapp.nominal import Nominal, Outcome
from benchapp.report.files import write_bytes
from benchapp.sampling import LEVELS, SEVERITIES
from benchapp.units import format_quantity, parse_number

__all__ = ["COMMAND"]

_STATUS = {"accept": ACCEPTED, "reject": REJECTED, "open": UNDECIDED, "undecided": UNDECIDED}
_ACCEPTED = {"accept": True, "reject": False}
_FORM = {
    "part": "number of the part",
    "supplier": "who delivered it",
    "order": "number of the order",
    "date-code": "date code on the parts",
    "operator": "who inspects",
}
_PICKED = {"at-random": True, "as-it-came": False}
_UNEVEN = "lot-not-even"  # the hints of each quantity say it with its name
_LISTED = 20


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="FOLDER", help="every capture below it is one part")
    parser.add_argument(
        "--nominal", required=True, metavar="DESIGN.toml", help="the nominal design"
    )
    _add_plan(parser.add_argument_group("how it is sampled"))
    form = parser.add_argument_group("what is written on the delivery")
    for name, words in _FORM.items():
        form.add_argument(f"--{name}", default="", help=words)
    add_fit_choices(parser)
    add_answers(parser)
    add_examination(parser)
    parser.add_argument(
        "--watch",
        action="store_true",
        help="tell the verdict on every capture as it arrives in FOLDER; Ctrl+C ends the wait, "
        "and the lot is judged",
    )
    parser.add_argument("--record", metavar="ADDRESS", help="keep every part in this record")
    parser.add_argument(
        "--reference-coil",
        metavar="COIL.toml",
        help="judge nothing while this reference coil locks the station",
    )
    parser.add_argument(
        "--gauge",
        metavar="STUDY.csv",
        help="a gauge study of this measurement; with --record it is kept for the lots that "
        "follow, without it the latest one in the record counts",
    )
    parser.add_argument("--csv", metavar="OUT.csv", help="write one row for each part")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    add_report(parser, measured=False)


def _add_plan(group: argparse._ArgumentGroup) -> None:
    kinds = "; ".join(f"{name}: {words}" for name, words in KINDS.items())
    group.add_argument("--plan", choices=list(KINDS), help=f"{kinds}; as a rule attributes")
    group.add_argument("--aql", type=float, help="acceptable quality level in percent: 1.0")
    group.add_argument("--level", choices=LEVELS, help="inspection level; II is usual")
    group.add_argument("--severity", choices=SEVERITIES, help="normal is usual")
    group.add_argument(
        "--fraction",
        metavar="PERCENT",
        help="for --plan zero: a lot with so many nonconforming parts is kept out (5 %%)",
    )
    group.add_argument(
        "--risk",
        metavar="PERCENT",
        help="for --plan zero: how often such a lot may pass all the same (10 %%)",
    )
    group.add_argument(
        "--size",
        type=int,
        metavar="N",
        help="parts in the whole lot; without it the captures that are there are all of it",
    )
    group.add_argument(
        "--picked",
        choices=_PICKED,
        help="how the sample was drawn; acceptance plans speak of random samples only",
    )


def _choice(options: argparse.Namespace) -> PlanChoice | None:
    """Make the plan's choice; None where nothing was chosen and every part is there."""
    wanted = {
        "kind": options.plan,
        "aql": options.aql,
        "level": options.level,
        "severity": options.severity,
        "fraction": _share("--fraction", options.fraction),
        "risk": _share("--risk", options.risk),
    }
    chosen = {name: value for name, value in wanted.items() if value is not None}
    if options.plan != "zero" and not chosen.keys().isdisjoint(("fraction", "risk")):
        raise UsageError(
            f"--fraction, --risk: must come with --plan zero (got {options.plan or 'no plan'}).",
            hint="A plan by attributes or by variables is chosen by --aql and --level.",
        )
    return PlanChoice(**chosen) if chosen or options.size is not None else None


def _share(name: str, text: str | None) -> float | None:
    """Read a percentage: a number without the sign is one too, as with --aql."""
    if text is None:
        return None
    bare = text.replace("%", "").strip()
    share = parse_number(bare) / 100
    if not 0 < share < 1:
        raise UsageError(
            f"{name}: must be between 0 and 100 % (got {text!r}).", hint=f"For example {name} 5"
        )
    return share


def _facts(options: argparse.Namespace, nominal: Nominal) -> Facts:
    """Give what is known of the lot as a whole: how it was picked, and of its gauge."""
    study = None
    if options.gauge is not None:
        study = AnalyseStudy(path=options.gauge)(silent, not_cancelled)
    notes = RecordNotes(address=options.record) if options.record else None
    gauge = FactsOfGauge(nominal=nominal, notes=notes, study=study)(silent, not_cancelled)
    if study is not None and notes is not None and study.table.quantity:
        KeepStudy(notes=notes, part=nominal.title, study=study)(silent, not_cancelled)
    picked = None if options.picked is None else _PICKED[options.picked]
    return replace(gauge, random_sample=picked)


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    if options.csv is not None:
        refuse_existing(options.csv, overwrite=options.force)
    nominal = OpenNominal(path=options.nominal)(silent, not_cancelled)
    if options.reference_coil and is_locked(options.reference_coil, options.record or ""):
        return UNDECIDED
    keys = [name.replace("-", "_") for name in _FORM]
    form = {key: getattr(options, key) for key in keys}
    form["part"] = form["part"] or nominal.title
    job = JudgeLot(
        folder=options.folder,
        recipe=LotRecipe(
            nominal=nominal,
            answers=answers_from(options),
            book=None if options.as_new else answer_book(os.environ),
            choices=fit_choices_from(options),
            examination=examination_from(options),
        ),
        form=LotForm(
            **form | {"part": form["part"] or nominal.title, "revision": nominal.revision}
        ),
        choice=_choice(options),
        quantity=options.size,
        record=options.record,
        facts=_facts(options, nominal),
    )
    if options.watch:
        _watch(job)
    stopped = threading.Event()
    with on_interrupt(stopped.set):
        found = job(shown_progress(patience=1.0), stopped.is_set)
    if sys.stderr.isatty():
        print(file=sys.stderr)
    if options.csv:
        _write_csv(options.csv, found)
    if options.report is not None:
        _write_report(options, found, nominal)
    if options.json:
        print_json(_as_json(found))
    else:
        print("\n".join(_lines(found)))
    return _STATUS[found.decision]


def _write_report(options: argparse.Namespace, found: JudgedLot, nominal: Nominal) -> None:
    coil = options.reference_coil
    WriteLotReport(
        lot=found,
        nominal=nominal,
        choices=report_choices_from(options, options.report),
        reference=standing_of(coil, options.record or "") if coil else "",
    )(silent, not_cancelled)


def _watch(job: JudgeLot) -> None:
    """Tell each capture that arrives, on standard error, until the person ends the wait."""
    stopped = threading.Event()
    seen: Mapping[str, Stamp] = {}
    print(f"waiting for captures in {job.folder}; Ctrl+C judges the lot", file=sys.stderr)
    with on_interrupt(stopped.set):
        while True:
            try:
                arrived = AwaitFiles(folder=job.folder, seen=seen)(silent, stopped.is_set)
            except CancelledError:
                return
            seen = arrived.seen
            for path in arrived.paths:
                for line in _arrival(judge_file(path, job.recipe)):
                    print(line, file=sys.stderr, flush=True)


def _arrival(found: LotFile) -> list[str]:
    if found.error is not None:
        return [f"NOT READ: {found.error}"]
    records = [record_of(part, part.name) for part in found.parts]
    return [
        f"{record.serial}: {record.outcome.words.upper()}"
        + ("" if record.outcome is Outcome.PASS else f" ({record.reason})")
        for record in records
    ]


def _as_json(found: JudgedLot) -> dict[str, Any]:
    state, summary = found.state, found.summary
    plan = state.plan
    return {
        "schema": "benchapp.lot/1",
        "parts": summary.parts,
        "outcomes": dict(summary.outcomes),
        "plan": {
            "letter": plan.letter or None,
            "n": plan.n,
            "Ac": plan.accept,
            "Re": plan.reject,
            "kind": plan.kind,
            "size": plan.quantity,
            "aql": plan.aql,
            "level": plan.level or None,
            "severity": plan.severity,
            "k": plan.k,
            "M": plan.most,
            "fraction": plan.fraction,
            "risk": plan.risk,
            "source": plan.source,
        },
        "accepted": _ACCEPTED.get(found.decision),
        "why": summary.why,
        "rejected": state.rejected,
        "statistics": {
            entry.name: _statistics_json(entry)
            for entry in summary.quantities
            if entry.figures is not None
        },
        "quarantine": [_part_json(record) for record in state.quarantined],
        "unreadable": [{"file": one.path, "why": str(one.error)} for one in found.unreadable],
        "checks": [
            {"id": each.id, "level": each.level, "text": each.text, "advice": each.advice}
            for each in summary.findings
        ],
        "remarks": list(found.remarks),
        "lot": found.lot or None,
        "seconds": found.seconds,
    }


def _statistics_json(entry: QuantitySummary) -> dict[str, Any]:
    figures, capability = entry.figures, entry.capability
    assert figures is not None  # noqa: S101 - only those with figures are shown
    pp, ppk, cp, cpk = (
        None if capability is None else getattr(capability, name)
        for name in ("pp", "ppk", "cp", "cpk")
    )
    return {
        "n": figures.n,
        "mean": figures.mean,
        "sd": figures.sd,
        "min": figures.minimum,
        "max": figures.maximum,
        "cp": None if pp is None else pp.value,
        "cpk": None if ppk is None else ppk.value,
        "cpk_lower95": None if ppk is None else ppk.lower_bound,
        "cp_short_term": None if cp is None else cp.value,
        "cpk_short_term": None if cpk is None else cpk.value,
        "unit": entry.limit.unit,
        "missing": entry.missing,
        "normality_p": None if entry.normality is None else entry.normality.p,
        "outliers": [entry.serials[one.index] for one in entry.outliers],
        "hints": [
            {"id": hint.id, "text": hint.text, "advice": hint.advice} for hint in entry.hints
        ],
    }


def _part_json(record: PartRecord) -> dict[str, Any]:
    return {
        "serial": record.serial,
        "file": record.path,
        "outcome": record.outcome.value,
        "deciding": record.deciding or None,
        "reason": record.reason,
    }


def _lines(found: JudgedLot) -> list[str]:
    state, summary = found.state, found.summary
    decision = found.decision
    lines = [
        f"{state.form.part}: {decision.upper()} ({summary.why})",
        f"  {_plan_words(state.plan)}",
    ]
    counts = ", ".join(f"{count} {name}" for name, count in summary.outcomes.items())
    lines.append(f"  {counted(summary.parts, 'part')}: {counts}")
    lines += [_statistics_line(entry) for entry in summary.quantities if entry.figures]
    for entry in summary.quantities:
        lines += [f"  {entry.name}: {hint.text} {hint.advice}" for hint in entry.hints]
    lines += [
        f"  {each.level} {each.id}: {each.text} {each.advice}"
        for each in summary.findings
        if each.id != _UNEVEN
    ]
    apart = state.quarantined
    lines += [
        f"  keep apart {record.serial}: {record.outcome.words}"
        + (f", {record.reason}" if record.reason else "")
        for record in apart[:_LISTED]
    ]
    if len(apart) > _LISTED:
        lines.append(f"  and {len(apart) - _LISTED} more: --csv lists all")
    lines += [f"  not read {one.path}: {one.error}" for one in found.unreadable]
    lines += [f"  {remark}" for remark in found.remarks]
    rate = summary.parts / found.seconds
    lines.append(f"  {found.seconds:.1f} s, {rate:.0f} parts a second")
    return lines


def _plan_words(plan: LotPlan) -> str:
    size = f"lot of {plan.quantity}"
    if plan.kind == "all":
        return f"{size}: {plan.source}"
    letter = f", letter {plan.letter}" if plan.letter else ""
    led = f" (its arrow leads to {plan.used_letter})" if plan.used_letter != plan.letter else ""
    aql = f", AQL {plan.aql:g} %, level {plan.level}, {plan.severity}" if plan.aql else ""
    numbers = f"n {plan.n}, Ac {plan.accept}, Re {plan.reject}"
    if plan.kind == "variables":
        numbers = f"n {plan.n}, k {plan.k:.3g}, M {100 * (plan.most or 0):.3g} %"
    if plan.fraction is not None and plan.risk is not None:
        bad = f"{100 * plan.fraction:.3g} % nonconforming"
        numbers += f", a lot with {bad} passes with at most {100 * plan.risk:.3g} %"
    return f"{size}{letter}{led}{aql}: {numbers}. {plan.source}"


def _statistics_line(entry: QuantitySummary) -> str:
    figures, limit = entry.figures, entry.limit
    assert figures is not None  # noqa: S101 - only those with figures are shown
    mean = format_quantity(figures.mean, limit.unit, digits=5)
    spread = (
        "" if figures.sd is None else f", s {format_quantity(figures.sd, limit.unit, digits=3)}"
    )
    low, high = (
        format_quantity(value, limit.unit, digits=5)
        for value in (figures.minimum, figures.maximum)
    )
    line = f"  {entry.name:<18} n {figures.n}, mean {mean}{spread}, {low} to {high}"
    if entry.capability is not None and entry.capability.ppk is not None:
        index = entry.capability.ppk
        line += f", Ppk {index.value:.2f} (at least {index.lower_bound:.2f} with 95 %)"
    return line


def _write_csv(path: str, found: JudgedLot) -> None:
    names = [(entry.name, entry.limit.unit) for entry in found.summary.quantities]
    header = ["serial", "outcome", "deciding limit", "reason", "file"]
    for name, unit in names:
        header += [f"{name} ({unit})", f"u of {name} ({unit})"]
    rows = []
    for record in found.state.parts:
        row: list[str | float | None] = [
            record.serial,
            record.outcome.value,
            record.deciding,
            record.reason,
            record.path,
        ]
        for name, _ in names:
            estimate = record.estimates.get(name)
            row += [None, None] if estimate is None else [estimate.value, estimate.u]
        rows.append(row)
    write_bytes(path, csv_text(header, rows).encode("utf-8"))


COMMAND = Command(
    summary=(
        "Judge a lot: every capture below FOLDER is one part. Without a plan every part is "
        "inspected and one nonconforming part rejects the lot; --size with --aql and --level "
        "takes a sampling plan. Exit status: 0 accepted, 1 rejected, 3 not decided, 4 nothing "
        "could be read."
    ),
    configure=_configure,
    run=_run,
)
