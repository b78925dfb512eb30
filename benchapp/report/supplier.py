"""The complaint to a supplier: what failed, against what, how measured, how to see it again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchapp.capture import Transient
from benchapp.errors import UsageError
from benchapp.nominal import Outcome
from benchapp.report.document import Block, Document, Facts, Heading, Paragraph, Table
from benchapp.report.issue import Issue, issued
from benchapp.report.part import (
    PartFile,
    condition_rows,
    decision_rule,
    limit_name,
    limit_words,
    sweep_figure,
)
from benchapp.report.words import Words
from benchapp.units import format_estimate, format_quantity

__all__ = ["complaint"]

_FAILED = (Outcome.FAIL, Outcome.CONDITIONAL_FAIL)
_ASKED = (
    "the cause, and since which batch it is there;",
    "what was done at once with parts in stock and on the way;",
    "what prevents it from now on, and when it takes effect.",
)


def complaint(
    parts: Sequence[PartFile],
    issue: Issue,
    lot: tuple[tuple[str, str], ...] = (),
    shown: int = 6,
) -> Document:
    """Write the complaint on parts that failed.

    Parameters
    ----------
    parts : sequence of PartFile
        Those that failed are taken from them, the worst first.
    issue : Issue
    lot : tuple of (str, str)
        What is known of the delivery: order, date code, plan, count.
    shown : int
        How many of the parts are shown with their sweep.

    Raises
    ------
    UsageError
        When none of the parts failed.
    """
    words = issue.template.words
    parts = _worst_first(parts)
    first = parts[0]
    blocks: list[Block] = []
    if lot:
        blocks += [Heading(text=words("Lot")), Facts(rows=lot)]
    blocks += [
        Heading(text=words("What failed")),
        Table(
            header=tuple(words(name) for name in ("Part", "Quantity", "Measured ± U", "Limits")),
            rows=tuple(row for part in parts for row in _failed(part)),
            widths=(0.28, 0.2, 0.27, 0.25),
        ),
        *_method(first, words),
        *_again(first, words),
        *(sweep_figure(part, words) for part in parts[:shown]),
        Heading(text=words("Please state")),
        *(Paragraph(text=f"– {words(text)}") for text in _ASKED),
        Heading(text=words("Traceable digests")),
        Table(
            header=(words("File"), "SHA-256"),
            rows=tuple((part.path or part.name, part.sha256) for part in parts),
            widths=(0.4, 0.6),
        ),
    ]
    return issued(issue, "Complaint to the supplier", tuple(blocks))


def _worst_first(parts: Sequence[PartFile]) -> list[PartFile]:
    failed = [
        part for part in parts if part.verdict is not None and part.verdict.outcome in _FAILED
    ]
    if not failed:
        raise UsageError(
            f"complaint: must have a part that failed (got {len(parts)} parts, none failed).",
            hint="Write a report on the part instead.",
        )

    def rank(part: PartFile) -> tuple[int, float]:
        verdict = part.verdict
        deciding = None if verdict is None else verdict.deciding
        margin = None if deciding is None else deciding.margin_percent
        place = 0 if verdict is None else _FAILED.index(verdict.outcome)
        return place, 0.0 if margin is None else margin

    return sorted(failed, key=rank)


def _failed(part: PartFile) -> Iterator[tuple[str, ...]]:
    verdict = part.verdict
    if verdict is None or not verdict.limits:
        yield part.name, "", "" if verdict is None else verdict.reason, ""
        return
    worst = [entry for entry in verdict.limits if entry.outcome == verdict.outcome]
    for entry in worst:
        found = entry.measured
        shown = entry.reason if found is None else format_estimate(found, part.coverage)
        outcome = f"{shown}\n{entry.outcome.words}"
        yield part.name, limit_name(entry.limit), outcome, limit_words(entry.limit)


def _method(part: PartFile, words: Words) -> Iterator[Block]:
    yield Heading(text=words("How it was measured"))
    stated = condition_rows(part.capture.conditions)
    steps = "; ".join(step.name for step in part.capture.history)
    rows = [*stated, (words("Steps applied"), steps or words("none"))]
    if part.nominal is not None:
        rows.insert(0, (words("Design"), f"{part.nominal.title} {part.nominal.revision}".strip()))
        rows.append((words("Decision rule"), decision_rule(part.nominal)))
    rows.append((words("Measured on"), part.capture.origin.taken or words("not stated")))
    yield Facts(rows=tuple(rows))


def _again(part: PartFile, words: Words) -> Iterator[Block]:
    yield Heading(text=words("How to reproduce it"))
    yield Paragraph(
        text=words("Measure at the conditions named above, with the fixture compensated.")
    )
    capture = part.capture
    if not isinstance(capture, Transient):
        low, high = (
            format_quantity(float(capture.frequency[end]), "Hz", digits=5, padded=False)
            for end in (0, -1)
        )
        yield Paragraph(
            text=words(
                "Sweep from {low} to {high} with at least {points} points, and fit the circuit "
                "{circuit} to it.",
                low=low,
                high=high,
                points=capture.frequency.size,
                circuit=part.fit.circuit,
            )
        )
    yield Paragraph(
        text=words(
            "Judge by the limits and the decision rule above; the digests below name the files."
        )
    )
