"""``benchapp supplier``: the lots of a supplier in the record, the next plan, what drifts."""

from __future__ import annotations

import argparse
import os
from typing import Any

from benchapp.checks.value import counted
from benchapp.cli import ACCEPTED
from benchapp.cli.choices import print_json
from benchapp.cli.command import Command
from benchapp.jobs.progress import not_cancelled, silent
from benchapp.jobs.supplier import ReviewSupplier, SupplierLot, SupplierLots
from benchapp.logbook import default_address
from benchapp.lot import Trend
from benchapp.units import format_quantity

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--record",
        metavar="ADDRESS",
        help="file, or postgresql+psycopg://user@host/database (default: BENCHAPP_RECORD, or the "
        "record in your data folder)",
    )
    parser.add_argument("--supplier", metavar="NAME", help="of this supplier only")
    parser.add_argument("--part", metavar="PART", help="of this part only")
    parser.add_argument(
        "--limit-number",
        type=int,
        metavar="N",
        help="from Table VIII of the standard for the last ten samples together; without it "
        "reduced inspection is never proposed",
    )
    parser.add_argument(
        "--reduced-agreed",
        action="store_true",
        help="production is steady and the responsible person wants reduced inspection",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object per part")


def _run(options: argparse.Namespace) -> int:
    groups = ReviewSupplier(
        record=options.record or default_address(os.environ),
        supplier=options.supplier,
        part=options.part,
        limit_number=options.limit_number,
        reduced_agreed=options.reduced_agreed,
    )(silent, not_cancelled)
    for group in groups:
        if options.json:
            print_json(_as_json(group))
        else:
            print("\n".join(_lines(group)))
    return ACCEPTED


def _lines(group: SupplierLots) -> list[str]:
    supplier = group.supplier or "supplier not stated"
    lines = [f"{supplier}, {group.part or 'part not stated'}: {counted(len(group.lots), 'lot')}"]
    lines += [_lot_line(lot) for lot in group.lots]
    lines += [
        f"    {lot.name}: {serial} measured again more than once without a reason"
        for lot in group.lots
        for serial in lot.state.unlogged_retests
    ]
    following = group.following
    lines.append(f"  the next lot: {following.severity} inspection ({following.why})")
    if following.reduced_possible:
        lines.append("  reduced inspection is possible, if production is steady and it is agreed")
    for trend in group.trends:
        lines += _trend_lines(trend)
    return lines


def _lot_line(lot: SupplierLot) -> str:
    state = lot.state
    ended = "" if state.conclusion is None else f", concluded: {state.conclusion.outcome}"
    counts = f"{state.rejected} of {state.counted} nonconforming"
    unsure = f", {len(state.not_judged)} not judged" if state.not_judged else ""
    when = lot.row.time[:10]
    plan = f"{state.plan.kind}, {state.plan.severity}"
    return f"  {when} UTC  {lot.name:<16} {state.decision:<9} {counts}{unsure} ({plan}){ended}"


def _trend_lines(trend: Trend) -> list[str]:
    means = [
        format_quantity(figures.mean, trend.limit.unit, digits=5) for figures in trend.figures
    ]
    shown = means if len(means) <= 6 else ["…", *means[-5:]]
    lines = [f"  {trend.name:<18} mean of the lots: {', '.join(shown)}"]
    if trend.charts is None:
        return lines
    for signal in trend.charts.location.signals:
        where = ", ".join(trend.lots[place] for place in signal.points)
        lines.append(f"    {signal.text}: {where}")
    return lines


def _as_json(group: SupplierLots) -> dict[str, Any]:
    return {
        "schema": "benchapp.supplier/1",
        "supplier": group.supplier,
        "part": group.part,
        "next": {
            "severity": group.following.severity,
            "why": group.following.why,
            "reduced_possible": group.following.reduced_possible,
        },
        "lots": [_lot_json(lot) for lot in group.lots],
        "trends": [_trend_json(trend) for trend in group.trends],
    }


def _lot_json(lot: SupplierLot) -> dict[str, Any]:
    state = lot.state
    return {
        "key": lot.row.key,
        "name": lot.name,
        "time": lot.row.time,
        "decision": state.decision,
        "n": state.plan.n,
        "Ac": state.plan.accept,
        "Re": state.plan.reject,
        "kind": state.plan.kind,
        "severity": state.plan.severity,
        "counted": state.counted,
        "rejected": state.rejected,
        "not_judged": len(state.not_judged),
        "unlogged_retests": list(state.unlogged_retests),
        "conclusion": None if state.conclusion is None else state.conclusion.outcome,
    }


def _trend_json(trend: Trend) -> dict[str, Any]:
    chart = None if trend.charts is None else trend.charts.location
    return {
        "quantity": trend.name,
        "unit": trend.limit.unit,
        "lots": list(trend.lots),
        "mean": [figures.mean for figures in trend.figures],
        "sd": [figures.sd for figures in trend.figures],
        "n": [figures.n for figures in trend.figures],
        "centre": None if chart is None else chart.centre,
        "lower": None if chart is None else chart.lower,
        "upper": None if chart is None else chart.upper,
        "signals": []
        if chart is None
        else [
            {"rule": signal.rule, "lots": [trend.lots[place] for place in signal.points]}
            for signal in chart.signals
        ],
    }


COMMAND = Command(
    summary=(
        "Show the lots of each supplier and part in the record: how they were decided, how the "
        "next lot is inspected by the switching rules, and how each quantity moves from lot to "
        "lot."
    ),
    configure=_configure,
    run=_run,
)
