"""A gauge study: its plan written for the bench, and its results worked out."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchapp.csv_table import csv_text
from benchapp.errors import FileAccessError, UsageError
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.lot import (
    Bias,
    GaugeStudy,
    Linearity,
    StudyTable,
    analysis_of_variance,
    average_and_range,
    bias_of,
    linearity_of,
    plan,
    study_table,
)
from benchapp.lot.gauge import Interaction
from benchapp.units import parse_quantity

__all__ = ["AnalyseStudy", "AnalysedStudy", "PlanStudy"]

_MOST_PARTS, _SIZES = 10, (2, 3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnalysedStudy:
    """A gauge study worked out.

    ``ranges`` is None where the study is larger than the tables of average and range. ``bias`` is
    that of each part and ``linearity`` that over all, where references are stated. ``sha256``
    is the digest of the table.
    """

    table: StudyTable
    variance: GaugeStudy
    ranges: GaugeStudy | None
    bias: tuple[Bias, ...]
    linearity: Linearity | None
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyseStudy:
    """Read a gauge study from a table and work it out by both methods.

    ``tolerance`` is the upper less the lower limit of the part, as typed; its unit is that of the
    values.

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
        width = None if self.tolerance is None else _width(self.tolerance, table.unit)
        parts, persons, trials = table.values.shape
        tabled = parts <= _MOST_PARTS and persons in _SIZES and trials in _SIZES
        return AnalysedStudy(
            table=table,
            variance=analysis_of_variance(
                table.values, tolerance=width, interaction=self.interaction
            ),
            ranges=average_and_range(table.values, tolerance=width) if tabled else None,
            bias=bias_of(table),
            linearity=linearity_of(table),
            sha256=hashlib.sha256(text.encode("utf-8")).hexdigest(),
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
    """Draw the order of a study and give it as a table with room for the values.

    The person at the bench sees ``blind``, the label on the part in that trial. ``seed`` makes
    the order one that can be drawn again.
    """

    parts: int
    persons: int
    trials: int
    seed: int

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Draw the order; give the table.

        Raises
        ------
        CaptureError
            When there are fewer than two parts or trials, or no person.
        """
        stop_if(cancelled)
        progress("drawing the order", 0.0)
        acts = plan(self.parts, self.persons, self.trials, np.random.default_rng(self.seed))
        return csv_text(
            ("order", "blind", "part", "person", "trial", "value"),
            [
                (act.order + 1, act.blind, act.part + 1, act.person + 1, act.trial + 1, None)
                for act in acts
            ],
        )


def _text(path: str) -> str:
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as cause:
        raise FileAccessError(
            f"{path}: must be a table that can be read (got {cause}).",
            hint="Save it as CSV, UTF-8.",
        ) from cause
