"""A gauge study: its plan written for the bench, and its results worked out."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from benchapp.errors import CaptureError, FileAccessError, UsageError
from benchapp.fit import quantity
from benchapp.jobs.part import ComparePart
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.lot import (
    Bias,
    GaugeStudy,
    Linearity,
    StudyPlan,
    StudySheet,
    StudyTable,
    analysis_of_variance,
    average_and_range,
    bias_of,
    crossed,
    draw_sheet,
    linearity_of,
    read_sheet,
    study_table,
)
from benchapp.lot.gauge import Interaction
from benchapp.nominal import Limit
from benchapp.nominal.file import LIMIT_UNITS
from benchapp.units import parse_quantity

__all__ = [
    "AnalyseSheet",
    "AnalyseStudy",
    "AnalysedStudy",
    "MeasureStudied",
    "OpenStudy",
    "PlanStudy",
    "SaveStudy",
    "analysed",
    "studied",
]

_RATIO = "1"
_MOST_PARTS, _SIZES = 10, (2, 3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnalysedStudy:
    """A gauge study worked out.

    ``variance`` is the analysis that decides; ``kept`` and ``pooled`` are those with and without
    the interaction, None for one person. ``ranges`` is None where the study is larger than the
    tables of average and range. ``bias`` is that of each part and ``linearity`` that over all,
    where references are stated. ``sha256`` is the digest of the table.
    """

    table: StudyTable
    variance: GaugeStudy
    ranges: GaugeStudy | None
    bias: tuple[Bias, ...]
    linearity: Linearity | None
    kept: GaugeStudy | None = None
    pooled: GaugeStudy | None = None
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyseStudy:
    """Read a gauge study from a table and work it out by both methods.

    ``tolerance`` is the upper less the lower limit of the part, as typed; its unit is that of the
    values. Without it the one that the table states holds.

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    ReadError
        When the table is not a complete study.
    CaptureError
        When the values do not vary at all, or are too few.
    UsageError, QuantityError
        When the tolerance is none, or has another unit.
    """

    path: str
    tolerance: str | None = None
    interaction: Interaction = "auto"

    def __call__(self, progress: Progress, cancelled: Cancelled) -> AnalysedStudy:
        """Work the study out."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        text = _text(self.path)
        table = study_table(text, self.path)
        if self.tolerance is not None:
            table = replace(table, tolerance=_width(self.tolerance, table.unit))
        digest = hashlib.sha256(text.encode("utf-8")).hexdigest()
        return replace(analysed(table, self.interaction), sha256=digest)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyseSheet:
    """Work a study out that was measured value by value; ``name`` is what to call it in an error.

    Raises
    ------
    ReadError
        When it is not complete.
    CaptureError
        When the values do not vary at all, or are too few.
    """

    sheet: StudySheet
    name: str = "study"

    def __call__(self, progress: Progress, cancelled: Cancelled) -> AnalysedStudy:
        """Work the study out."""
        stop_if(cancelled)
        progress("working the study out", 0.0)
        digest = hashlib.sha256(self.sheet.text().encode("utf-8")).hexdigest()
        return replace(analysed(crossed(self.sheet, self.name)), sha256=digest)


def analysed(table: StudyTable, interaction: Interaction = "auto") -> AnalysedStudy:
    """Work a complete study out by every method that holds for its size.

    Parameters
    ----------
    table : StudyTable
    interaction : {'auto', 'keep', 'pool'}

    Raises
    ------
    CaptureError
        When the values do not vary at all, or are too few.
    """
    parts, persons, trials = table.values.shape
    tabled = parts <= _MOST_PARTS and persons in _SIZES and trials in _SIZES
    by_variance = partial(analysis_of_variance, table.values, tolerance=table.tolerance)
    several = persons > 1
    return AnalysedStudy(
        table=table,
        variance=by_variance(interaction=interaction),
        kept=by_variance(interaction="keep") if several else None,
        pooled=by_variance(interaction="pool") if several else None,
        ranges=average_and_range(table.values, tolerance=table.tolerance) if tabled else None,
        bias=bias_of(table),
        linearity=linearity_of(table),
    )


def _width(text: str, unit: str) -> float:
    width = parse_quantity(text)
    if not width.value > 0:
        raise UsageError(
            f"tolerance: must be above zero (got {text!r}).",
            hint="It is the upper limit less the lower one, such as 97.2uH.",
        )
    if width.unit != unit:
        raise UsageError(
            f"tolerance: must have the unit of the values, {unit or 'none'} (got {text!r}).",
            hint="Write it as the values of the study are written.",
        )
    return width.value


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStudy:
    """Draw the order of a study.

    The person at the bench sees ``blind``, the label on the part in that trial. ``seed`` makes
    the order one that can be drawn again.
    """

    study: StudyPlan
    seed: int

    def __call__(self, progress: Progress, cancelled: Cancelled) -> StudySheet:
        """Draw the order; give the sheet without values.

        Raises
        ------
        CaptureError
            When there are fewer than two parts or trials, or no person.
        """
        stop_if(cancelled)
        progress("drawing the order", 0.0)
        return draw_sheet(self.study, np.random.default_rng(self.seed))


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenStudy:
    """Read the sheet of a study, complete or not; an empty one has the unit of its quantity.

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    ReadError
        When it is no sheet of a study.
    """

    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> StudySheet:
        """Read it."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        sheet = read_sheet(_text(self.path), self.path)
        named = sheet.quantity.partition(" at ")[0]
        if sheet.unit or sheet.taken or named not in LIMIT_UNITS:
            return sheet
        unit = LIMIT_UNITS[named]
        return replace(sheet, unit="" if unit == _RATIO else unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class SaveStudy:
    """Write the sheet of a study in place of what is in that file.

    Raises
    ------
    FileAccessError
        When it cannot be written; the file is then as it was.
    """

    path: str
    sheet: StudySheet

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.files import write_bytes  # start-up: reports only when needed

        stop_if(cancelled)
        progress(f"saving {self.path}", 0.0)
        write_bytes(self.path, self.sheet.text().encode("utf-8"))
        return self.path


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasureStudied:
    """Find the quantity of a study in a capture.

    ``quantity`` is named as a limit is: ``L``, or ``Q at 134.2 kHz``. ``unit`` is that of the
    values so far, "" for none.

    Raises
    ------
    UsageError
        When there is no such quantity, or the study has it in another unit.
    FitError
        When the capture cannot be fitted.
    CaptureError
        When a check stops the use of the capture, or it does not determine the quantity.
    """

    compare: ComparePart
    quantity: str
    unit: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> float:
        """Fit and examine the capture, give the value."""
        limit = studied(self.quantity)
        if limit.unit != (self.unit or _RATIO):
            raise UsageError(
                f"gauge study: its values must be in {limit.unit} to take those of captures (got "
                f"{self.unit or 'no unit'}).",
                hint="Write every value in the file with its unit, or type the values.",
            )
        part = self.compare(progress, cancelled)
        stop = next((one for one in part.findings if one.level == "stop"), None)
        if stop is not None:
            raise CaptureError(
                "gauge study: the capture must be one that can be judged (got a stop: "
                f"{stop.text})",
                hint=f"{stop.advice} The measurement is still to be made.",
            )
        found = quantity(part.fit, limit.quantity, limit.at)
        if found is None:
            raise CaptureError(
                f"gauge study: the capture must determine {self.quantity} (got a fit of "
                f"{part.fit.circuit} that does not).",
                hint="Measure once more, or type the value.",
            )
        return found.value


def studied(text: str) -> Limit:
    """Give the quantity that is studied, from its name, as a limit without bounds.

    Parameters
    ----------
    text : str
        As `key_of` names it: ``L``, or ``Q at 134.2 kHz``.

    Raises
    ------
    UsageError
        When there is no such quantity.
    QuantityError
        When the frequency cannot be read.
    """
    name, _, at = (part.strip() for part in text.partition(" at "))
    if name not in LIMIT_UNITS:
        raise UsageError(
            f"quantity: must be one that a design can limit (got {text!r}).",
            hint=f"They are {', '.join(LIMIT_UNITS)}; with a frequency: Q at 134.2kHz.",
        )
    where = parse_quantity(at, "Hz").value if at else None
    return Limit(quantity=name, unit=LIMIT_UNITS[name], at=where)


def _text(path: str) -> str:
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as cause:
        raise FileAccessError(
            f"{path}: must be a table that can be read (got {cause}).",
            hint="Save it as CSV, UTF-8.",
        ) from cause
