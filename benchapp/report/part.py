"""The report on one part: what it is, how it was measured, what was found, what was decided."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from benchapp.capture import Capture, Conditions, Transient
from benchapp.checks import Finding
from benchapp.diagnosis import Diagnosis
from benchapp.fit import Fit
from benchapp.nominal import Envelope, Limit, LimitVerdict, Nominal, Outcome, Verdict
from benchapp.readers import Reading
from benchapp.report.curves import fit_plot
from benchapp.report.document import (
    Block,
    Document,
    Facts,
    Figure,
    Heading,
    Paragraph,
    Table,
    Tone,
)
from benchapp.report.issue import Issue, issued
from benchapp.report.plot import scene_of
from benchapp.report.words import Words
from benchapp.tank import DEFERRING
from benchapp.uncertainty import Accuracy, combine, holds
from benchapp.units import format_estimate, format_quantity

__all__ = [
    "CAUTION",
    "PartFile",
    "condition_rows",
    "decision_rule",
    "limit_name",
    "limit_words",
    "part_report",
    "sweep_figure",
    "verdict_blocks",
]

CAUTION = (
    "A tank that is driven near its resonance carries many times the voltage of its source, and a "
    "capacitor may hold its charge: switch off and discharge before touching. "
)
_TONES: dict[Outcome, Tone] = {
    Outcome.PASS: "good",
    Outcome.CONDITIONAL_PASS: "good",
    Outcome.CONDITIONAL_FAIL: "bad",
    Outcome.FAIL: "bad",
    Outcome.NOT_JUDGED: "doubt",
}
_CONDITIONS = (
    ("level_volt", "level", "V"),
    ("level_ampere", "level", "A"),
    ("bias_volt", "bias", "V"),
    ("bias_ampere", "bias", "A"),
)
_PLAIN_COVERAGE = 2.0
_HEIGHT = 420.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartFile:
    """One judged part as its report needs it; ``sha256`` is that of the file as read."""

    name: str
    path: str
    sha256: str
    capture: Capture
    fit: Fit
    findings: tuple[Finding, ...] = ()
    nominal: Nominal | None = None
    verdict: Verdict | None = None
    envelope: Envelope | None = None
    reading: Reading | None = None
    accuracy: Accuracy | None = None
    diagnosis: Diagnosis | None = None

    @property
    def coverage(self) -> float:
        """What U is of u."""
        return _PLAIN_COVERAGE if self.nominal is None else self.nominal.decision.coverage


def part_report(part: PartFile, issue: Issue) -> Document:
    """Write the report on one part.

    Notes
    -----
    Source: ISO/IEC 17025:2017, 7.8.2 and 7.8.3 (content), 7.8.6 (decision rule); clauses from
    memory.
    """
    words = issue.template.words
    blocks: list[Block] = [
        *verdict_blocks(part, words),
        Heading(text=words("Item")),
        Facts(rows=tuple(_item(part, words))),
        Heading(text=words("Results")),
        *_results(part, words),
        sweep_figure(part, words),
        Heading(text=words("Conditions")),
        Facts(rows=tuple(_conditions(part, words))),
        Heading(text=words("Method")),
        Facts(rows=tuple(_method(part, words))),
        *_checks(part.findings, words),
        *_diagnosis(part.diagnosis, words),
        *_budget(part.verdict, words),
        *_assumptions(part.reading, words),
        Heading(text=words("Traceable digests")),
        Facts(rows=tuple(_digests(part))),
    ]
    return issued(issue, "Part report", tuple(blocks), (CAUTION + DEFERRING,))


def verdict_blocks(part: PartFile, words: Words) -> Iterator[Block]:
    """Say the verdict on a part, and why."""
    if part.verdict is None:
        yield Paragraph(text=words("No design was given: nothing is judged."), tone="doubt")
        return
    outcome = part.verdict.outcome
    yield Paragraph(
        text=f"{words('Verdict')}: {outcome.words.upper()}  ({part.name})", tone=_TONES[outcome]
    )
    if part.verdict.reason:
        yield Paragraph(text=part.verdict.reason)


def _item(part: PartFile, words: Words) -> Iterator[tuple[str, str]]:
    yield words("Serial or name"), part.name
    if part.nominal is not None:
        yield words("Design"), f"{part.nominal.title} {part.nominal.revision}".strip()
    yield words("File"), part.path or part.capture.origin.source
    yield words("Measured on"), part.capture.origin.taken or words("not stated")


def limit_name(limit: Limit) -> str:
    """Name a limited quantity, with its frequency where it has one."""
    at = "" if limit.at is None else f" at {format_quantity(limit.at, 'Hz', padded=False)}"
    return f"{limit.quantity}{at}"


def limit_words(limit: Limit) -> str:
    """Say the limits of a quantity."""
    low, high = (
        None if side is None else format_quantity(side, limit.unit, digits=5, padded=False)
        for side in (limit.lower, limit.upper)
    )
    if low is None:
        return f"≤ {high}"
    return f"≥ {low}" if high is None else f"{low} … {high}"


def _results(part: PartFile, words: Words) -> Iterator[Block]:
    if not part.fit.describes:
        text = words("The circuit does not describe the data: do not use these values.")
        yield Paragraph(text=text, tone="doubt")
    if part.verdict is not None and part.verdict.limits:
        yield _limits(part.verdict, part.coverage, words)
    whole = combine(part.fit, part.capture, part.accuracy)
    rows = tuple((one.name, format_estimate(one, part.coverage)) for one in whole.results)
    if rows:
        header = (words("Quantity"), words("Measured ± U"))
        yield Table(header=header, rows=rows, widths=(0.3, 0.7))
    if part.fit.undetermined:
        label = words("Not determined by these data")
        yield Paragraph(text=f"{label}: {', '.join(part.fit.undetermined)}")
    yield Paragraph(
        text=words(
            "U = {coverage} u, about 95 % where the distribution is near normal; u counts {what}.",
            coverage=f"{part.coverage:g}",
            what=holds(part.fit, part.accuracy),
        ),
        tone="small",
    )


def _limits(verdict: Verdict, coverage: float, words: Words) -> Table:
    header = ("Quantity", "Measured ± U", "Limits", "Guard band", "Margin", "Outcome")
    return Table(
        header=tuple(words(name) for name in header),
        rows=tuple(_limit(entry, coverage, words) for entry in verdict.limits),
        widths=(0.17, 0.25, 0.23, 0.11, 0.09, 0.15),
    )


def _limit(entry: LimitVerdict, coverage: float, words: Words) -> tuple[str, ...]:
    measured = entry.measured
    unit = entry.limit.unit
    outcome = entry.outcome.words
    if entry.reason and entry.outcome is Outcome.NOT_JUDGED:
        outcome = f"{outcome}: {entry.reason}"
    return (
        limit_name(entry.limit),
        words("Not determined by these data")
        if measured is None
        else format_estimate(measured, coverage),
        limit_words(entry.limit),
        "" if entry.guard is None else format_quantity(entry.guard, unit, digits=2),
        "" if entry.margin_percent is None else f"{entry.margin_percent:+.2g} %",
        outcome,
    )


def sweep_figure(part: PartFile, words: Words, said: str = "", height: float = _HEIGHT) -> Figure:
    """Show the capture of a part with its fit, envelope and residuals.

    ``said`` stands in the place of its name.
    """
    caption = words(
        "Points: measured; line: fit; shaded: where every part within its limits lies; below: "
        "residuals in standard uncertainties."
    )
    scene = scene_of(fit_plot(part.capture, part.fit, part.envelope), height=height)
    return Figure(scene=scene, caption=f"{said or part.name + '.'} {caption}")


def condition_rows(conditions: Conditions) -> tuple[tuple[str, str], ...]:
    """Say the conditions that are stated."""
    rows = []
    for name, label, unit in _CONDITIONS:
        value = getattr(conditions, name)
        if value is not None:
            rows.append((label, format_quantity(value, unit, padded=False)))
    if conditions.temperature_celsius is not None:
        rows.append(("temperature", f"{conditions.temperature_celsius:g} °C"))
    if conditions.equivalent_circuit is not None:
        rows.append(("equivalent circuit", conditions.equivalent_circuit))
    for label, text in (
        ("fixture", conditions.fixture),
        ("surroundings", conditions.surroundings),
    ):
        if text:
            rows.append((label, text))
    return tuple(rows)


def _stated(conditions: Conditions, words: Words) -> str:
    rows = condition_rows(conditions)
    return "; ".join(f"{name} {value}" for name, value in rows) or words("not stated")


def _conditions(part: PartFile, words: Words) -> Iterator[tuple[str, str]]:
    yield words("Conditions"), _stated(part.capture.conditions, words)
    if part.nominal is not None:
        yield words("Limits hold at"), _stated(part.nominal.conditions, words)
    capture = part.capture
    if not isinstance(capture, Transient):
        low, high = (
            format_quantity(float(capture.frequency[end]), "Hz", digits=6, padded=False)
            for end in (0, -1)
        )
        yield words("Frequency range"), f"{low} … {high}"
    used, read = int(part.fit.used.sum()), int(part.fit.used.size)
    yield words("Points"), words("{used} used of {read} read", used=used, read=read)
    steps = "; ".join(
        f"{step.name} ({step.detail})" if step.detail else step.name for step in capture.history
    )
    yield words("Steps applied"), steps or words("none")


def _method(part: PartFile, words: Words) -> Iterator[tuple[str, str]]:
    fit = part.fit
    yield (
        words("Circuit"),
        (
            f"{fit.circuit}: weighted least squares over the whole {fit.kind}; "
            f"{fit.dof} degrees of freedom"
        ),
    )
    if fit.fixed:
        yield words("Given"), ", ".join(fit.fixed)
    if part.accuracy is not None:
        yield words("Uncertainty budget"), part.accuracy.title
    if part.nominal is not None:
        yield words("Decision rule"), decision_rule(part.nominal)


def decision_rule(nominal: Nominal) -> str:
    """Say how a limit is decided.

    Notes
    -----
    Source: JCGM 106:2012, 8.3 (guard bands).
    """
    guard, coverage = nominal.decision.guard, nominal.decision.coverage
    if guard == 0:
        return "simple acceptance: a value is accepted inside its limits and rejected outside."
    return (
        f"guard band w = {guard:g} U, U = {coverage:g} u (JCGM 106:2012, 8.3). Inside the limits "
        "by at least w: pass; inside by less: conditional pass; outside by less than w: "
        "conditional fail; further outside: fail. The worst limit decides."
    )


def _checks(findings: tuple[Finding, ...], words: Words) -> Iterator[Block]:
    yield Heading(text=words("Checks"))
    if not findings:
        yield Paragraph(text=words("none"))
        return
    rows = []
    for found in findings:
        who = found.acknowledged
        seen = (
            ""
            if who is None
            else " " + words("accepted by {name}: {reason}", name=who.name, reason=who.reason)
        )
        rows.append((found.level, found.text + seen, found.advice))
    header = (words("Level"), words("Seen"), words("To do"))
    yield Table(header=header, rows=tuple(rows), widths=(0.1, 0.5, 0.4))


def _diagnosis(diagnosis: Diagnosis | None, words: Words) -> Iterator[Block]:
    if diagnosis is None:
        return
    yield Heading(text=words("What may be wrong"))
    if diagnosis.best is None:
        yield Paragraph(text=diagnosis.reason)
        return
    yield Table(
        header=(words("Likelihood"), words("As if"), words("Next test")),
        rows=tuple(
            (f"{100 * one.share:.0f} %", f"{one.title}: {one.as_if}", one.next_test)
            for one in diagnosis.hypotheses
        ),
        widths=(0.12, 0.48, 0.4),
    )


def _budget(verdict: Verdict | None, words: Words) -> Iterator[Block]:
    rows = [row for entry in (() if verdict is None else verdict.limits) for row in _terms(entry)]
    if not rows:
        return
    yield Heading(text=words("Uncertainty budget"))
    header = ("Quantity", "Contribution", "Standard uncertainty", "Share", "Evaluation")
    yield Table(
        header=tuple(words(name) for name in header),
        rows=tuple(rows),
        widths=(0.18, 0.4, 0.18, 0.1, 0.14),
    )


def _terms(entry: LimitVerdict) -> Iterator[tuple[str, ...]]:
    budget = entry.budget
    if budget is None:
        return
    for term, share in zip(budget.terms, budget.shares, strict=True):
        size = term.contribution
        shown = format_quantity(size, budget.unit, digits=2) if math.isfinite(size) else "∞"
        yield limit_name(entry.limit), term.name, shown, f"{100 * share:.0f} %", term.evaluation


def _assumptions(reading: Reading | None, words: Words) -> Iterator[Block]:
    if reading is None or not reading.assumptions:
        return
    yield Heading(text=words("Understood from the file"))
    yield Table(
        header=(words("Subject"), words("Taken as"), words("Why")),
        rows=tuple((one.subject, one.value, one.reason) for one in reading.assumptions),
        widths=(0.2, 0.3, 0.5),
    )


def _digests(part: PartFile) -> Iterator[tuple[str, str]]:
    for label, digest in (
        ("file SHA-256", part.sha256),
        ("capture SHA-256", part.capture.digest),
        ("design SHA-256", "" if part.nominal is None else part.nominal.sha256),
        ("accuracy SHA-256", "" if part.accuracy is None else part.accuracy.sha256),
    ):
        if digest:
            yield label, digest
