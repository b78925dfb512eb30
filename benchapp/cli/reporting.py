"""The options that put a result on paper, the same for every command that can."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path

from benchapp.jobs import ReportChoices

__all__ = [
    "add_issue",
    "add_report",
    "issue_choices_from",
    "numbered",
    "report_choices_from",
]


def add_report(parser: argparse.ArgumentParser) -> None:
    """Add the options of a report."""
    parser.add_argument("--report", metavar="OUT.pdf|.html", help="write a report to this file")
    add_issue(parser)


def add_issue(parser: argparse.ArgumentParser) -> None:
    """Add the options that say what stands on a report."""
    group = parser.add_argument_group("what stands on the report")
    group.add_argument("--number", default="", help="of the report; else made of time and data")
    group.add_argument(
        "--time", default="", metavar="ISO", help="of issue: 2026-03-01T10:00:00Z; default now"
    )
    group.add_argument("--operator", default="", metavar="NAME", help="who measured")
    group.add_argument("--authorised-by", default="", metavar="NAME", help="who will sign")
    group.add_argument("--customer", default="", metavar="NAME", help="for whom it is")
    group.add_argument("--place", default="", metavar="NAME", help="where it was measured")
    group.add_argument("--paper", choices=("A4", "Letter"), help="default A4, or the settings'")
    group.add_argument(
        "--report-settings",
        default="",
        metavar="FILE.toml",
        help="house name, logo, paper and texts of your reports",
    )


def report_choices_from(options: argparse.Namespace, path: str) -> ReportChoices:
    """Make the choices of a report from the options.

    Raises
    ------
    UsageError
        When the ending of ``path`` is not one of a report.
    """
    return issue_choices_from(options, path).checked()


def issue_choices_from(options: argparse.Namespace, path: str) -> ReportChoices:
    """Make the choices from the options; the time is now where none is given."""
    now = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    return ReportChoices(
        path=path,
        time=options.time or now,
        number=options.number,
        operator=options.operator,
        authoriser=options.authorised_by,
        customer=options.customer,
        place=options.place,
        settings=options.report_settings,
        paper=options.paper or "",
    )


def numbered(path: str, place: int, count: int) -> str:
    """Give the name of one of several files: ``report.pdf`` alone, else ``report-2.pdf``."""
    name = Path(path)
    return path if count == 1 else str(name.with_name(f"{name.stem}-{place}{name.suffix}"))
