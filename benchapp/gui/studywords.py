"""A gauge study in words and rows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from PySide6.QtCore import QT_TR_NOOP

from benchapp.gui.axis import prefixed
from benchapp.gui.words import number, plural, quantity, tr
from benchapp.jobs import AnalysedStudy
from benchapp.lot import GaugeStudy, Share
from benchapp.units import unit_symbol

__all__ = [
    "JUDGEMENTS",
    "METHODS",
    "advice_words",
    "bias_rows",
    "finding_words",
    "method_of",
    "share_rows",
    "size_words",
    "source_rows",
    "verdict_words",
]

JUDGEMENTS = {
    "suitable": ("good", QT_TR_NOOP("The gauge is suitable")),
    "conditionally suitable": ("doubt", QT_TR_NOOP("The gauge is conditionally suitable")),
    "not suitable": ("stop", QT_TR_NOOP("The gauge is not suitable")),
}
"""Mark and words of each judgement."""

METHODS = (
    ("variance", QT_TR_NOOP("analysis of variance, as it decides")),
    ("kept", QT_TR_NOOP("analysis of variance with the interaction")),
    ("pooled", QT_TR_NOOP("analysis of variance without the interaction")),
    ("ranges", QT_TR_NOOP("average and range")),
)
"""Where an `AnalysedStudy` has the result of each method, and what to call it."""

_SHARES = (
    (
        "repeatability",
        QT_TR_NOOP("EV, repeatability"),
        QT_TR_NOOP("Scatter of one person who measures one part again, placed anew each time."),
    ),
    (
        "reproducibility",
        QT_TR_NOOP("AV, reproducibility"),
        QT_TR_NOOP("Scatter from person to person in the mean of all parts."),
    ),
    (
        "interaction",
        QT_TR_NOOP("persons by parts"),
        QT_TR_NOOP("Scatter that comes from persons measuring some parts differently."),
    ),
    (
        "gauge",
        QT_TR_NOOP("GRR, the gauge"),
        QT_TR_NOOP("Repeatability and reproducibility together: all that comes from measuring."),
    ),
    ("parts", QT_TR_NOOP("PV, parts"), QT_TR_NOOP("True scatter from part to part.")),
    ("total", QT_TR_NOOP("TV, total"), QT_TR_NOOP("The gauge and the parts together.")),
)
_SOURCES = {
    "parts": QT_TR_NOOP("parts"),
    "persons": QT_TR_NOOP("persons"),
    "interaction": QT_TR_NOOP("persons by parts"),
    "trials": QT_TR_NOOP("repeatability"),
    "repeatability": QT_TR_NOOP("repeatability"),
}
_LEVEL = 0.05
_FEWEST_CLASSES = 5
_LEAST_P = 1e-3


def method_of(found: AnalysedStudy, name: str) -> GaugeStudy | None:
    """Give what one of `METHODS` found, None where it does not hold for the study."""
    study: GaugeStudy | None = getattr(found, name)
    return study


def size_words(found: AnalysedStudy) -> str:
    """Say what was studied, and how large the study was."""
    parts, persons, trials = found.table.values.shape
    words = tr("{name}{parts}, {persons}, {trials} each").format(
        name=f"{found.table.quantity}: " if found.table.quantity else "",
        parts=plural(parts, tr("1 part"), tr("%n parts")),
        persons=plural(persons, tr("1 person"), tr("%n persons")),
        trials=plural(trials, tr("1 trial"), tr("%n trials")),
    )
    tolerance = found.table.tolerance
    if tolerance is not None:
        width = tr("tolerance {width}, upper less lower limit")
        words += "; " + width.format(width=quantity(tolerance, found.table.unit, digits=4))
    return words


def verdict_words(study: GaugeStudy) -> str:
    """Say how much of what is measured comes from measuring."""
    gauge = study.gauge
    of_study = number(f"{gauge.percent_study:.1f}")
    if gauge.percent_tolerance is None:
        words = tr("GRR takes {study} % of the study; no tolerance is stated.")
        return words.format(study=of_study)
    words = tr(
        "GRR takes {tolerance} % of the tolerance, by which it is judged, and {study} % of the "
        "study."
    )
    return words.format(tolerance=number(f"{gauge.percent_tolerance:.1f}"), study=of_study)


def advice_words(study: GaugeStudy) -> str:
    """Say where most of it comes from, and what to look at."""
    persons = study.reproducibility
    if study.judgement == "suitable":
        return tr("Below 10 % is called suitable, above 30 % not: common practice.")
    if persons is not None and persons.sigma > study.repeatability.sigma:
        return tr(
            "Most comes from the persons: let them agree on how a part is placed and connected, "
            "and write it down."
        )
    return tr("Most is repeatability: look at the fixture, the contacts and how the part lies.")


def finding_words(found: AnalysedStudy) -> list[str]:
    """Say how many classes of parts can be told apart, what became of the interaction, and lines.

    Linearity is said where true values are known.
    """
    study = found.variance
    words = []
    if study.ndc is not None:
        said = tr(
            "ndc {n}: the gauge tells {n} classes of these parts apart; {most} or more are wanted."
        )
        words.append(said.format(n=study.ndc, most=_FEWEST_CLASSES))
    row = next((row for row in study.table if row.name == "interaction"), None)
    if row is not None and row.p is not None:
        pooled = tr("Persons by parts: p {p}, counted as repeatability (above 0.25).")
        kept = tr("Persons by parts: p {p}, counted for itself (0.25 or less).")
        words.append(number((pooled if study.pooled else kept).format(p=_chance(row.p))))
    line = found.linearity
    if line is not None:
        slope = tr("Linearity: the bias changes by {slope} % of the value (p {p}, {shown}).")
        shown = tr("significant") if line.slope_p < _LEVEL else tr("none shown")
        text = slope.format(slope=f"{100 * line.slope:+.3g}", p=_chance(line.slope_p), shown=shown)
        words.append(number(text).replace("-", "−"))
    return words


def _chance(p: float) -> str:
    return f"{p:.3f}" if p >= _LEAST_P else "< 0.001"


def _figure(value: float | None) -> str:
    """Write a plain number with four digits, without a power of ten where it is not huge."""
    if value is None:
        return ""
    return number(f"{value:.0f}" if 1000 <= abs(value) < 1e6 else f"{value:.4g}")


def share_rows(study: GaugeStudy, unit: str) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Give the heads and rows of the standard deviations; each row ends with what it means.

    Standard deviations stand in one prefixed unit, with as many decimals as the smallest needs.
    """
    named = [
        (words, tip, share)
        for name, words, tip in _SHARES
        if (share := getattr(study, name)) is not None
    ]
    scale, prefix = prefixed(study.total.sigma)
    written = f"{prefix}{unit_symbol(unit)}" if unit else ""
    if not unit:
        scale = 1.0
    places = _places([share.sigma / scale for _, _, share in named])
    sigma = tr("standard\ndeviation")
    heads = (
        tr("what"),
        f"{sigma}, {written}" if written else sigma,
        tr("% of\nstudy"),
        tr("% of\ntolerance"),
    )
    rows = [
        (tr(words), number(f"{share.sigma / scale:.{places}f}"), *_percents(share), tr(tip))
        for words, tip, share in named
    ]
    return heads, rows


def _places(values: Sequence[float]) -> int:
    """Give the decimals that leave the smallest value two digits and the largest four."""
    above = [value for value in values if value > 0]
    if not above:
        return 0
    least = 1 - math.floor(math.log10(min(above)))
    most = 3 - math.floor(math.log10(max(above)))
    return min(max(least, most, 0), 9)


def _percents(share: Share) -> Iterator[str]:
    yield number(f"{share.percent_study:.1f}")
    yield "" if share.percent_tolerance is None else number(f"{share.percent_tolerance:.1f}")


def source_rows(found: AnalysedStudy) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Give the heads and rows of the analysis of variance, with and without the interaction."""
    unit = found.table.unit
    scale, prefix = prefixed(found.variance.total.sigma) if unit else (1.0, "")
    square = f",\n{prefix}{unit_symbol(unit)}²" if unit else ""
    heads = (
        tr("source of scatter"),
        tr("degrees of\nfreedom"),
        tr("sum of squares") + square,
        tr("mean square") + square,
        "F",
        "p",
    )
    rows: list[tuple[str, ...]] = []
    tables = [(tr("with the interaction"), found.variance.table)]
    if found.pooled is not None:
        tables.append((tr("without the interaction"), found.pooled.pooled))
    for title, table in tables:
        if len(tables) > 1:
            rows.append((title, "", "", "", "", ""))
        rows += [
            (
                tr(_SOURCES[row.name]),
                str(row.dof),
                _figure(row.sum_of_squares / scale**2),
                _figure(row.mean_square / scale**2),
                _figure(row.f),
                "" if row.p is None else number(_chance(row.p)),
            )
            for row in table
        ]
    return heads, rows


def bias_rows(found: AnalysedStudy) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Give the heads and rows of the bias of each part; no row where no true value is known."""
    unit = found.table.unit
    heads = (tr("part"), tr("true value"), tr("bias"), tr("interval (95 %)"), tr("significant"))
    rows = []
    for part, one in zip(found.table.parts, found.bias, strict=False):
        low, high = (quantity(end, unit, digits=3) for end in (one.low, one.high))
        rows.append(
            (
                part,
                quantity(one.reference, unit, digits=5),
                quantity(one.value, unit, digits=3).replace("-", "−"),
                tr("{low} to {high}").format(low=low, high=high).replace("-", "−"),
                tr("yes") if one.significant else tr("none shown"),
            )
        )
    return heads, rows
