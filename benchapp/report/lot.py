"""The report on a lot: plan, outcome, figures, charts, capability, every part, the worst ones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchapp.capture import Sweep
from benchapp.lot import Index, LotState, LotSummary, PartRecord, QuantitySummary
from benchapp.nominal import LimitVerdict, Nominal, Outcome, envelope
from benchapp.report.curves import chart_plot, histogram_plot, overlay_plot
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
from benchapp.report.part import (
    CAUTION,
    PartFile,
    condition_rows,
    decision_rule,
    limit_name,
    limit_words,
    sweep_figure,
)
from benchapp.report.plot import scene_of
from benchapp.report.words import Words
from benchapp.tank import DEFERRING
from benchapp.units import format_estimate, format_quantity

__all__ = ["LotSubject", "lot_report"]

_TONES: dict[str, Tone] = {"accept": "good", "reject": "bad"}
_MOST_POINTS = 60_000  # of all sweeps over each other
_FEWEST_STEPS, _MOST_STEPS = 30, 200  # of one of them, two points each
_BAND_POINTS = 200
_WORST_HEIGHT = 360.0  # two of them on a page
_ABREAST = 4  # quantities beside each other in a table of all parts
_UNEVEN = "lot-not-even"
_BAD = (Outcome.FAIL, Outcome.CONDITIONAL_FAIL, Outcome.NOT_JUDGED)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LotSubject:
    """A lot as its report needs it.

    ``decision`` is that of the whole: an accepted plan with files that could not be read is not
    accepted. ``parts`` are those at hand, in the order measured; ``unreadable`` names the files
    that gave none, with the reason. ``reference`` says how the reference coil stood.
    """

    state: LotState
    summary: LotSummary
    nominal: Nominal
    decision: str
    parts: tuple[PartFile, ...] = ()
    unreadable: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = ()
    reference: str = ""


def lot_report(lot: LotSubject, issue: Issue, worst: int = 4) -> Document:
    """Write the report on a lot, with the sweeps of so many of its worst parts."""
    words = issue.template.words
    verdict = f"{words('Decision')}: {lot.decision.upper()}"
    blocks: list[Block] = [
        Paragraph(text=verdict, tone=_TONES.get(lot.decision, "doubt")),
        Paragraph(text=lot.summary.why),
        Heading(text=words("Lot")),
        Facts(rows=_delivery(lot.state, words)),
        Heading(text=words("Inspection plan")),
        Facts(rows=tuple(_plan(lot, words))),
        *_conclusion(lot.state, words),
        *_figures(lot, words),
        *(block for entry in lot.summary.quantities for block in _charts(entry, words)),
        *_overlay(lot, words),
        *_hints(lot, words),
        *_unreadable(lot, words),
        *_parts(lot, words),
        *_worst(lot, words, worst),
    ]
    return issued(issue, "Lot report", tuple(blocks), (CAUTION + DEFERRING,))


def _delivery(state: LotState, words: Words) -> tuple[tuple[str, str], ...]:
    """Say what is written on the delivery."""
    form = state.form
    stated = (
        ("Part", form.part),
        ("Revision", form.revision),
        ("Supplier", form.supplier),
        ("Order", form.order),
        ("Date code", form.date_code),
        ("Quantity delivered", str(form.quantity or state.plan.quantity)),
        ("Measured by", form.operator),
    )
    return tuple((words(name), text or words("not stated")) for name, text in stated)


def _plan(lot: LotSubject, words: Words) -> Iterator[tuple[str, str]]:
    plan, summary = lot.state.plan, lot.summary
    yield words("Kind of plan"), plan.kind
    yield words("Source of the plan"), plan.source
    details = [f"n {plan.n}", f"Ac {plan.accept}", f"Re {plan.reject}"]
    if plan.kind == "variables":
        details = [f"n {plan.n}", f"k {plan.k or 0:.4g}", f"M {100 * (plan.most or 0):.3g} %"]
    if plan.letter:
        details.insert(0, f"code letter {plan.letter}")
    if plan.aql is not None:
        details += [f"AQL {plan.aql:g} %", f"level {plan.level}", plan.severity]
    if plan.severity_why:
        details[-1] += f" ({plan.severity_why})"
    if plan.fraction is not None and plan.risk is not None:
        bad = f"{100 * plan.fraction:.3g} % nonconforming"
        details.append(f"a lot with {bad} passes with at most {100 * plan.risk:.3g} %")
    yield words("Sample"), ", ".join(details)
    counts = ", ".join(
        f"{count} {Outcome(name).words}" for name, count in summary.outcomes.items()
    )
    yield words("Parts measured"), f"{summary.parts}: {counts}"
    share = summary.conforming
    if share is not None:
        interval = f"95 %: {100 * share.low:.3g} … {100 * share.high:.3g} %"
        text = f"{share.inside} of {share.n}: {100 * share.share:.3g} % ({interval})"
        yield words("Conforming"), text
    yield words("Decision rule"), decision_rule(lot.nominal)
    stated = "; ".join(f"{name} {text}" for name, text in condition_rows(lot.nominal.conditions))
    yield words("Limits hold at"), stated or words("not stated")
    yield words("Reference coil"), lot.reference or words("not stated")


def _conclusion(state: LotState, words: Words) -> Iterator[Block]:
    done = state.conclusion
    if done is None:
        return
    yield Heading(text=words("Conclusion"))
    yield Facts(
        rows=(
            (words("Outcome"), done.outcome),
            (words("By"), done.name),
            (words("Date"), done.time or words("not stated")),
            (words("Reason"), done.reason or words("not stated")),
        )
    )


def _figures(lot: LotSubject, words: Words) -> Iterator[Block]:
    having = [entry for entry in lot.summary.quantities if entry.figures is not None]
    if not having:
        return
    yield Heading(text=words("Distribution"))
    figures = ("Quantity", "Limits", "Mean", "Standard deviation", "Lowest", "Highest")
    yield Table(
        header=(*(words(name) for name in figures), "n"),
        rows=tuple(_figure_row(entry) for entry in having),
        widths=(0.18, 0.24, 0.14, 0.13, 0.12, 0.12, 0.07),
    )
    rows = tuple(row for entry in having for row in _capability(entry))
    if rows:
        yield Heading(text=words("Capability"))
        header = ("Quantity", "Index", "Value", "Interval (95 %)", "At least (95 %)")
        yield Table(header=tuple(words(name) for name in header), rows=rows)
        text = "Capability indices assume a normal distribution; look at the histogram first."
        yield Paragraph(text=words(text), tone="small")


def _figure_row(entry: QuantitySummary) -> tuple[str, ...]:
    figures, unit = entry.figures, entry.limit.unit
    if figures is None:
        return ()
    mean, low, high = (
        format_quantity(value, unit, digits=5)
        for value in (figures.mean, figures.minimum, figures.maximum)
    )
    spread = "" if figures.sd is None else format_quantity(figures.sd, unit, digits=3)
    return entry.name, limit_words(entry.limit), mean, spread, low, high, str(figures.n)


def _capability(entry: QuantitySummary) -> Iterator[tuple[str, ...]]:
    found = entry.capability
    if found is None:
        return
    indices: tuple[tuple[str, Index | None], ...] = (
        ("Pp", found.pp),
        ("Ppk", found.ppk),
        ("Cp", found.cp),
        ("Cpk", found.cpk),
    )
    for name, index in indices:
        if index is not None:
            interval = f"{index.low:.2f} … {index.high:.2f}"
            yield entry.name, name, f"{index.value:.2f}", interval, f"{index.lower_bound:.2f}"


def _charts(entry: QuantitySummary, words: Words) -> Iterator[Block]:
    unit = entry.limit.unit
    if entry.edges is not None and entry.counts is not None and entry.counts.size > 1:
        limits = (entry.limit.lower, entry.limit.upper)
        plot = histogram_plot(entry.name, unit, entry.edges, entry.counts, limits)
        caption = words("Histogram of {name} with its limits.", name=entry.name)
        yield Figure(scene=scene_of(plot, height=220.0), caption=caption)
    if entry.charts is not None:
        plot = chart_plot(entry.name, unit, entry.charts.location, entry.charts.spread)
        caption = words(
            "Control chart of {name}: rings mark points that complete a pattern chance rarely "
            "makes.",
            name=entry.name,
        )
        yield Figure(scene=scene_of(plot, height=300.0), caption=caption)


def _overlay(lot: LotSubject, words: Words) -> Iterator[Block]:
    """Show all sweeps over each other, those of parts that are not accepted last."""
    sweeps = [(part, part.capture) for part in lot.parts if isinstance(part.capture, Sweep)]
    if not sweeps:
        return
    sweeps.sort(key=lambda one: _is_bad(one[0]))
    steps = min(_MOST_STEPS, max(_FEWEST_STEPS, _MOST_POINTS // (2 * len(sweeps))))
    shown = [_thinned(sweep, steps) for _, sweep in sweeps]
    odd = frozenset(place for place, (part, _) in enumerate(sweeps) if _is_bad(part))
    low = min(float(sweep.frequency[0]) for sweep in shown)
    high = max(float(sweep.frequency[-1]) for sweep in shown)
    band = envelope(lot.nominal, np.geomspace(low, high, _BAND_POINTS)) if low < high else None
    caption = words(
        "{count} sweeps; those of parts that are not accepted ({odd}) stand out.",
        count=len(sweeps),
        odd=len(odd),
    )
    yield Heading(text=words("Sweeps over each other"))
    yield Figure(scene=scene_of(overlay_plot(shown, band, odd), height=320.0), caption=caption)


def _thinned(sweep: Sweep, steps: int) -> Sweep:
    """Keep the highest and the lowest point of each of so many steps: no peak is lost."""
    count = sweep.frequency.size
    if count <= 2 * steps:
        return sweep
    size = np.abs(sweep.impedance)
    kept = {0, count - 1}
    for places in np.array_split(np.arange(count), steps):
        kept |= {int(places[np.argmin(size[places])]), int(places[np.argmax(size[places])])}
    order = np.array(sorted(kept))
    return Sweep(frequency=sweep.frequency[order], impedance=sweep.impedance[order])


def _is_bad(part: PartFile) -> bool:
    return part.verdict is None or part.verdict.outcome in _BAD


def _hints(lot: LotSubject, words: Words) -> Iterator[Block]:
    texts = [
        f"{entry.name}: {hint.text} {hint.advice}"
        for entry in lot.summary.quantities
        for hint in entry.hints
    ]
    said = [each for each in lot.summary.findings if each.id != _UNEVEN]  # the hints say those
    texts += [f"{each.text} {each.advice}" for each in said]
    if texts or lot.remarks:
        yield Heading(text=words("Hints"))
        yield from (Paragraph(text=text) for text in (*texts, *lot.remarks))


def _unreadable(lot: LotSubject, words: Words) -> Iterator[Block]:
    if lot.unreadable:
        yield Heading(text=words("Unreadable files"))
        header = (words("File"), words("Reason"))
        yield Table(header=header, rows=lot.unreadable, widths=(0.4, 0.6))


def _parts(lot: LotSubject, words: Words) -> Iterator[Block]:
    """List all parts; more quantities than fit beside each other come in further tables."""
    names = [entry.name for entry in lot.summary.quantities]
    coverage = lot.nominal.decision.coverage
    yield Heading(text=words("All parts"))
    for at in range(0, max(1, len(names)), _ABREAST):
        some = names[at : at + _ABREAST]
        yield Table(
            header=(words("Part"), words("Attempt"), words("Outcome"), *some),
            rows=tuple(_part_row(record, some, coverage) for record in lot.state.parts),
            widths=(0.17, 0.1, 0.17, *(0.56 / max(1, len(some)) for _ in some)),
        )


def _part_row(record: PartRecord, names: Sequence[str], coverage: float) -> tuple[str, ...]:
    cells = []
    for name in names:
        found = record.estimates.get(name)
        cells.append("–" if found is None else format_estimate(found, coverage))
    attempt = f"{record.attempt}" if not record.cause else f"{record.attempt}: {record.cause}"
    outcome = record.outcome.words
    if record.outcome in _BAD:
        why = record.reason or record.deciding
        outcome = f"{outcome}: {why}" if why else outcome
    return record.serial, attempt, outcome, *cells


def _worst(lot: LotSubject, words: Words, most: int) -> Iterator[Block]:
    chosen = sorted(lot.parts, key=_rank)[:most]
    if chosen:
        yield Heading(text=words("Worst parts"))
    for part in chosen:
        whole = _with_envelope(part, lot.nominal)
        yield sweep_figure(whole, words, _why(part), height=_WORST_HEIGHT)


def _with_envelope(part: PartFile, nominal: Nominal) -> PartFile:
    if part.envelope is not None or not isinstance(part.capture, Sweep):
        return part
    return replace(part, envelope=envelope(nominal, part.capture.frequency))


def _rank(part: PartFile) -> tuple[int, float]:
    """Put the worst first: by outcome, then by the margin of the limit that decides."""
    if part.verdict is None:
        return len(_BAD), 0.0
    outcome, deciding = part.verdict.outcome, part.verdict.deciding
    place = _BAD.index(outcome) if outcome in _BAD else len(_BAD) + 1
    share = None if deciding is None else deciding.margin_percent
    return place, 0.0 if share is None else share


def _why(part: PartFile) -> str:
    if part.verdict is None:
        return f"{part.name}: {Outcome.NOT_JUDGED.words}."
    words = [f"{part.name}: {part.verdict.outcome.words}"]
    if part.verdict.reason:
        words.append(part.verdict.reason.rstrip("."))
    elif part.verdict.deciding is not None:
        words.append(_deciding(part.verdict.deciding, part.coverage))
    return ". ".join(words) + "."


def _deciding(entry: LimitVerdict, coverage: float) -> str:
    margin = "" if entry.margin_percent is None else f", margin {entry.margin_percent:+.2g} %"
    found = "" if entry.measured is None else f" {format_estimate(entry.measured, coverage)},"
    return f"{limit_name(entry.limit)}{found} limits {limit_words(entry.limit)}{margin}"
