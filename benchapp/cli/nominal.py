"""``benchapp nominal``: what a nominal design asks of a part, its history, what changed in it."""

from __future__ import annotations

import argparse
from typing import Any

from benchapp.cli import ACCEPTED
from benchapp.cli.choices import print_json
from benchapp.cli.command import Command
from benchapp.cli.reporting import add_report, check_report, report_choices_from
from benchapp.jobs import OpenNominal, WriteDesignReport, not_cancelled, silent
from benchapp.nominal import Limit, Nominal, differences, form_from
from benchapp.units import format_quantity

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("design", metavar="DESIGN.toml", help="a nominal design")
    parser.add_argument(
        "--against", metavar="OTHER.toml", help="an earlier design: say what changed since"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    add_report(parser)


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    design = OpenNominal(path=options.design)(silent, not_cancelled)
    changed = None
    if options.against is not None:
        other = OpenNominal(path=options.against)(silent, not_cancelled)
        changed = differences(other, design)
    if options.report is not None:
        choices = report_choices_from(options, options.report)
        WriteDesignReport(nominal=design, choices=choices)(silent, not_cancelled)
    if options.json:
        print_json(_as_json(options.design, design, changed))
    else:
        print("\n".join(_lines(design, changed, options.against)))
    return ACCEPTED


def _as_json(path: str, design: Nominal, changed: tuple[str, ...] | None) -> dict[str, Any]:
    found = {"schema": "benchapp.nominal/1", "file": path, "sha256": design.sha256}
    return {
        **found,
        **form_from(design),
        "bounds": [
            {
                "quantity": limit.quantity,
                "unit": limit.unit,
                "at": limit.at,
                "nominal": limit.nominal,
                "lower": limit.lower,
                "upper": limit.upper,
            }
            for limit in design.limits
        ],
        "changed": None if changed is None else list(changed),
    }


def _lines(design: Nominal, changed: tuple[str, ...] | None, other: str | None) -> list[str]:
    form = form_from(design)
    lines = [f"{design.title} rev {design.revision or 'not stated'}, circuit {design.circuit}"]
    lines += [f"  {_name(limit):<18} {_bounds(limit)}" for limit in design.limits]
    stated = ", ".join(f"{key} {value}" for key, value in form["conditions"].items())
    lines.append(f"  conditions: {stated or 'none stated'}")
    decision = design.decision
    lines.append(f"  guard band {decision.guard:g} U, U = {decision.coverage:g} u")
    for entry in design.history:
        by = f" by {entry.by}" if entry.by else ""
        lines.append(f"  {entry.date} rev {entry.revision}{by}: {entry.change or 'no note'}")
    if changed is not None:
        lines.append(
            f"changed against {other}:" if changed else f"nothing changed against {other}"
        )
        lines += [f"  {entry}" for entry in changed]
    return lines


def _name(limit: Limit) -> str:
    return limit.quantity if limit.at is None else f"{limit.quantity} at {_amount(limit.at, 'Hz')}"


def _bounds(limit: Limit) -> str:
    lower, upper = (
        None if bound is None else _amount(bound, limit.unit)
        for bound in (limit.lower, limit.upper)
    )
    words = f"{lower} to {upper}"
    if lower is None or upper is None:
        words = f"at most {upper}" if lower is None else f"at least {lower}"
    nominal = "" if limit.nominal is None else f", nominal {_amount(limit.nominal, limit.unit)}"
    return words + nominal


def _amount(value: float, unit: str) -> str:
    return format_quantity(value, unit, digits=6, padded=False)


COMMAND = Command(
    summary=(
        "Say what a nominal design asks of a part and how it came to be; with --against, what "
        "changed since another one. A file that is no design is refused with the line."
    ),
    configure=_configure,
    run=_run,
)
