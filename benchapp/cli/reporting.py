"""The options that put a result on paper, the same for every command that can."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchapp.jobs import ReportChoices

__all__ = [
    "add_issue",
    "add_report",
    "check_report",
    "issue_choices_from",
    "numbered",
    "report_choices_from",
    "write_calculation",
]

_NOT_GIVEN = frozenset(
    {
        *("command", "json", "report", "force", "number", "time", "operator"),
        *("authorised_by", "customer", "place", "paper", "report_settings"),
    }
)


def add_report(parser: argparse.ArgumentParser, *, measured: bool = True) -> None:
    """Add the options of a report; ``measured`` False where --operator is there already."""
    parser.add_argument("--report", metavar="OUT.pdf|.html", help="write a report to this file")
    add_issue(parser, measured=measured)


def add_issue(parser: argparse.ArgumentParser, *, measured: bool = True) -> None:
    """Add the options that say what stands on a report."""
    parser.add_argument(
        "--force", action="store_true", help="write over a file that is there already"
    )
    group = parser.add_argument_group("what stands on the report")
    group.add_argument("--number", default="", help="of the report; else made of time and data")
    group.add_argument(
        "--time", default="", metavar="ISO", help="of issue: 2026-03-01T10:00:00Z; default now"
    )
    if measured:
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


def check_report(options: argparse.Namespace) -> None:
    """Refuse a report that cannot be written before the work for it is done.

    Raises
    ------
    UsageError
        When its ending is not one of a report, or the file is there already.
    """
    if options.report is not None:
        report_choices_from(options, options.report)


def report_choices_from(options: argparse.Namespace, path: str) -> ReportChoices:
    """Make the choices of a report from the options.

    Raises
    ------
    UsageError
        When the ending of ``path`` is not one of a report, or the file is there already.
    """
    return issue_choices_from(options, path).checked()


def issue_choices_from(options: argparse.Namespace, path: str) -> ReportChoices:
    """Make the choices from the options; the time is now where none is given."""
    from benchapp.jobs import ReportChoices  # start-up: sums on markings need no numpy

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
        overwrite=options.force,
    )


def write_calculation(
    options: argparse.Namespace, title: str, lines: Sequence[str], cautions: tuple[str, ...] = ()
) -> None:
    """Write the report of a calculator where one is asked for: what it was given, what it found.

    Raises
    ------
    UsageError, FileAccessError
        When a file is in the way, or it cannot be written.
    """
    if options.report is None:
        return
    from benchapp.jobs import WriteCalculation, not_cancelled, silent  # start-up: when needed
    from benchapp.report.design import Calculation  # start-up: the same

    given = tuple(
        (name.replace("_", " "), _said(value))
        for name, value in vars(options).items()
        if name not in _NOT_GIVEN and value not in (None, False, "", [])
    )
    found = Calculation(title=title, lines=tuple(lines), given=given, cautions=cautions)
    WriteCalculation(found=found, choices=report_choices_from(options, options.report))(
        silent, not_cancelled
    )


def _said(value: object) -> str:
    return "; ".join(str(one) for one in value) if isinstance(value, list) else str(value)


def numbered(path: str, place: int, count: int) -> str:
    """Give the name of one of several files: ``report.pdf`` alone, else ``report-2.pdf``."""
    name = Path(path)
    return path if count == 1 else str(name.with_name(f"{name.stem}-{place}{name.suffix}"))
