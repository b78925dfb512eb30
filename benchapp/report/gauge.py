"""The report on a gauge study: how much of what is measured comes from measuring."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchapp.lot import Bias, GaugeStudy, Linearity, Share, StudyTable
from benchapp.report.axis import Axis, linear_axis
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
from benchapp.report.plot import Panel, Plot, Trace, scene_of
from benchapp.report.scene import FITTED, INK, LIMIT, WARNING
from benchapp.report.words import Words
from benchapp.units import format_quantity

__all__ = ["GaugeSubject", "gauge_report"]

_TONES: dict[str, Tone] = {"suitable": "good", "not suitable": "bad"}
_COLOURS = (INK, FITTED, WARNING, LIMIT)
_ASIDE = 0.5  # of the place of a part, over which its persons stand beside each other


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GaugeSubject:
    """A gauge study as its report needs it; ``path`` and ``sha256`` name its table."""

    table: StudyTable
    variance: GaugeStudy
    ranges: GaugeStudy | None = None
    bias: tuple[Bias, ...] = ()
    linearity: Linearity | None = None
    path: str = ""
    sha256: str = ""


def gauge_report(gauge: GaugeSubject, issue: Issue) -> Document:
    """Write the report on a gauge study."""
    words, study, unit = issue.template.words, gauge.variance, gauge.table.unit
    tone = _TONES.get(study.judgement, "doubt")
    distinct = "–" if study.ndc is None else str(study.ndc)
    sizes = " × ".join(str(size) for size in gauge.table.values.shape)
    blocks: list[Block] = [
        Paragraph(text=f"{words('Judgement')}: {study.judgement.upper()}", tone=tone),
        Heading(text=words("Study")),
        Facts(
            rows=(
                (words("File"), gauge.path or words("not stated")),
                (words("Parts, persons, trials"), sizes),
                (words("Distinct categories"), distinct),
                ("SHA-256", gauge.sha256 or words("not stated")),
            )
        ),
        *_results(study, unit, words),
        *(() if gauge.ranges is None else _results(gauge.ranges, unit, words)),
        *_variance(study, words),
        *_bias(gauge, words),
        *_linearity(gauge.linearity, unit, words),
        _figure(gauge.table, words),
    ]
    return issued(issue, "Gauge study", tuple(blocks))


def _results(study: GaugeStudy, unit: str, words: Words) -> Iterator[Block]:
    yield Heading(text=f"{words('Results')}: {study.method}")
    yield _shares(study, unit, words)


def _figure(table: StudyTable, words: Words) -> Figure:
    """Show every value over its part, the persons beside each other."""
    values = table.values
    parts, persons, trials = values.shape
    steps = (np.arange(persons) + 0.5) / persons - 0.5
    traces = tuple(
        Trace(
            kind="dots" if person < len(_COLOURS) else "rings",
            x=np.repeat(np.arange(parts) + 1.0 + _ASIDE * steps[person], trials),
            y=values[:, person, :].ravel(),
            colour=_COLOURS[person % len(_COLOURS)],
            name=name,
        )
        for person, name in enumerate(table.persons)
    )
    every = math.ceil(parts / 20)
    ticks = tuple((place + 1.0, table.parts[place][:12]) for place in range(0, parts, every))
    low, high = float(values.min()), float(values.max())
    room = 0.05 * (high - low)
    plot = Plot(
        axis=Axis(low=0.5, high=parts + 0.5, ticks=ticks),
        label=words("Part"),
        panels=(
            Panel(
                label=words("Value"),
                axis=linear_axis(low - room, high + room, table.unit),
                traces=traces,
            ),
        ),
        words=f"gauge study: {values.size} values of {parts} parts by {persons} persons",
    )
    return Figure(
        scene=scene_of(plot, height=300.0),
        caption=words("Every value over its part; the persons stand beside each other."),
    )


def _bias(gauge: GaugeSubject, words: Words) -> Iterator[Block]:
    if not gauge.bias:
        return
    unit = gauge.table.unit
    yield Heading(text=words("Bias"))
    header = ("Part", "Reference value", "Bias", "Interval (95 %)", "Significant")
    yield Table(
        header=tuple(words(name) for name in header),
        rows=tuple(
            (
                part,
                format_quantity(found.reference, unit, digits=5),
                format_quantity(found.value, unit, digits=3),
                " … ".join(
                    format_quantity(end, unit, digits=3) for end in (found.low, found.high)
                ),
                words("yes") if found.significant else words("none shown"),
            )
            for part, found in zip(gauge.table.parts, gauge.bias, strict=False)
        ),
    )


def _linearity(found: Linearity | None, unit: str, words: Words) -> Iterator[Block]:
    if found is None:
        return
    yield Heading(text=words("Linearity"))
    offset = format_quantity(found.intercept, unit, digits=3)
    yield Facts(
        rows=(
            (words("Slope"), f"{100 * found.slope:.3g} % (p {found.slope_p:.2g})"),
            (words("Offset"), f"{offset} (p {found.intercept_p:.2g})"),
        )
    )


def _shares(study: GaugeStudy, unit: str, words: Words) -> Table:
    named: tuple[tuple[str, Share | None], ...] = (
        ("repeatability (EV)", study.repeatability),
        ("reproducibility (AV)", study.reproducibility),
        ("persons with parts", study.interaction),
        ("gauge (GRR)", study.gauge),
        ("parts (PV)", study.parts),
        ("total (TV)", study.total),
    )
    header = (
        *("Source", "Standard deviation", "Percent of study", "Percent of variance"),
        "Percent of tolerance",
    )
    return Table(
        header=tuple(words(name) for name in header),
        rows=tuple(_share(name, one, unit) for name, one in named if one is not None),
        widths=(0.28, 0.2, 0.17, 0.17, 0.18),
    )


def _share(name: str, share: Share, unit: str) -> tuple[str, ...]:
    tolerance = share.percent_tolerance
    return (
        name,
        format_quantity(share.sigma, unit, digits=3) if share.sigma else "0",
        f"{share.percent_study:.1f} %",
        f"{share.percent_contribution:.1f} %",
        "–" if tolerance is None else f"{tolerance:.1f} %",
    )


def _variance(study: GaugeStudy, words: Words) -> Iterator[Block]:
    table = study.pooled or study.table
    if not table:
        return
    yield Heading(text=words("Analysis of variance"))
    yield Table(
        header=tuple(
            words(name) for name in ("Source", "Degrees of freedom", "Mean square", "F", "p")
        ),
        rows=tuple(
            (
                row.name,
                str(row.dof),
                f"{row.mean_square:.4g}",
                "–" if row.f is None else f"{row.f:.3g}",
                "–" if row.p is None else f"{row.p:.3g}",
            )
            for row in table
        ),
    )
