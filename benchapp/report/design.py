"""The report on a nominal design, and on what a calculator worked out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from benchapp.nominal import Nominal
from benchapp.report.document import Block, Document, Facts, Heading, Paragraph, Table
from benchapp.report.issue import Issue, issued
from benchapp.report.part import condition_rows, decision_rule, limit_name, limit_words
from benchapp.report.words import Words
from benchapp.tank import StackResult, StressCase
from benchapp.units import format_quantity

__all__ = ["Calculation", "calculation_report", "design_report"]

_GAP = re.compile(r" {2,}|\t+")
_TITLE = 80  # letters at most
_DEEP = " " * 6  # a line set in so far goes on with the one above


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """What a calculator found, as the lines that it prints.

    A short line that is not set in is a title. A tabulator, or two blanks or more in a line that
    is set in, part a name from what it is. Set in deep, a line goes on with the one above.
    Anything else is running text.
    """

    title: str
    lines: tuple[str, ...]
    given: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()


def calculation_report(found: Calculation, issue: Issue) -> Document:
    """Write down what a calculator was given and what it found."""
    words = issue.template.words
    blocks: list[Block] = [Facts(rows=((words("Calculation"), found.title),))]
    if found.given:
        blocks += [Heading(text=words("Given")), Facts(rows=found.given)]
    blocks += [Heading(text=words("Results")), *_lines(found.lines)]
    return issued(issue, "Calculation", tuple(blocks), found.cautions)


def _lines(lines: tuple[str, ...]) -> Iterator[Block]:
    rows: list[tuple[str, str]] = []
    for line in lines:
        cells = [cell for cell in _GAP.split(line.strip()) if cell]
        if len(cells) > 1 and (line[:1].isspace() or "\t" in line):
            rows.append((cells[0], "  ".join(cells[1:])))
            continue
        if rows and cells and line.startswith(_DEEP):
            rows[-1] = (rows[-1][0], f"{rows[-1][1]}\n{cells[0]}")
            continue
        if rows:
            yield Facts(rows=tuple(rows))
            rows = []
        if cells:
            text = "  ".join(cells)
            is_title = not line[:1].isspace() and len(text) <= _TITLE and text[-1] != "."
            yield Heading(text=text) if is_title else Paragraph(text=text)
    if rows:
        yield Facts(rows=tuple(rows))


def design_report(
    nominal: Nominal,
    issue: Issue,
    stack: StackResult | None = None,
    note: str = "",
    cases: tuple[StressCase, ...] = (),
    cautions: tuple[str, ...] = (),
) -> Document:
    """Write down a nominal design.

    Parameters
    ----------
    nominal : Nominal
    issue : Issue
    stack : StackResult, optional
        How far the tolerances move the resonance.
    note : str
        What the stack-up takes for granted.
    cases : tuple of StressCase
        What the capacitor bears where the tank is driven.
    cautions : tuple of str
    """
    words = issue.template.words
    stated = "; ".join(f"{name} {text}" for name, text in condition_rows(nominal.conditions))
    blocks: list[Block] = [
        Facts(
            rows=(
                (words("Design"), f"{nominal.title} {nominal.revision}".strip()),
                (words("Circuit"), nominal.circuit),
                (words("Limits hold at"), stated or words("not stated")),
                (words("Decision rule"), decision_rule(nominal)),
                ("SHA-256", nominal.sha256 or words("not stated")),
            )
        ),
        Heading(text=words("Limits")),
        _limits(nominal, words),
        *_stack(stack, note, words),
        *_stress(cases, words),
        *_history(nominal, words),
    ]
    return issued(issue, "Nominal design", tuple(blocks), cautions)


def _limits(nominal: Nominal, words: Words) -> Table:
    rows = []
    for limit in nominal.limits:
        value = limit.nominal
        shown = "–" if value is None else format_quantity(value, limit.unit, padded=False)
        rows.append((limit_name(limit), shown, limit_words(limit)))
    header = (words("Quantity"), words("Nominal"), words("Limits"))
    return Table(header=header, rows=tuple(rows), widths=(0.3, 0.25, 0.45))


def _stack(stack: StackResult | None, note: str, words: Words) -> Iterator[Block]:
    if stack is None:
        return

    def span(low: float, high: float) -> str:
        return " … ".join(format_quantity(value, "Hz", digits=5) for value in (low, high))

    yield Heading(text=words("Tolerance stack-up"))
    yield Facts(
        rows=(
            ("f0", format_quantity(stack.frequency, "Hz", digits=5)),
            (words("Worst case"), span(stack.worst_low, stack.worst_high)),
            (words("Root sum of squares"), span(stack.rss_low, stack.rss_high)),
        )
    )
    yield Table(
        header=(words("Contribution"), words("Lowest"), words("Highest"), words("Share")),
        rows=tuple(
            (
                share.name,
                f"{100 * share.low:+.2f} %",
                f"{100 * share.high:+.2f} %",
                f"{100 * share.variance_share:.0f} %",
            )
            for share in stack.shares
        ),
    )
    if note:
        yield Paragraph(text=note, tone="small")


def _stress(cases: tuple[StressCase, ...], words: Words) -> Iterator[Block]:
    if not cases:
        return
    yield Heading(text=words("Stress on the capacitor"))
    yield Table(
        header=tuple(
            words(name) for name in ("Case", "Limit", "Seen", "Allowed", "Outcome", "Reason")
        ),
        rows=tuple(
            (
                case.name,
                limit.name,
                _amount(limit.seen, limit.unit),
                _amount(limit.allowed, limit.unit),
                limit.outcome,
                limit.reason,
            )
            for case in cases
            for limit in case.stress.limits
        ),
        widths=(0.17, 0.17, 0.11, 0.11, 0.13, 0.31),
    )


def _amount(value: float | None, unit: str) -> str:
    """Write what is seen or allowed; dV/dt as V/µs."""
    if value is None:
        return "–"
    if unit == "V/s":
        return f"{1e-6 * value:.4g} V/µs"
    return format_quantity(value, unit)


def _history(nominal: Nominal, words: Words) -> Iterator[Block]:
    if nominal.history:
        yield Heading(text=words("History"))
        yield Table(
            header=tuple(words(name) for name in ("Revision", "Date", "By", "Change")),
            rows=tuple((one.revision, one.date, one.by, one.change) for one in nominal.history),
            widths=(0.12, 0.16, 0.2, 0.52),
        )
