"""A gauge study of what the lots of the record already hold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchapp.errors import ReadError, UsageError
from benchapp.jobs.gauge import AnalysedStudy, analysed, studied
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.logbook import Choices, PartRow, open_logbook
from benchapp.lot import Reading, StudySheet, crossed, key_of
from benchapp.lot.gauge import Interaction
from benchapp.nominal import Limit, Nominal

__all__ = ["AnalyseStored", "width_of"]

_THERE = Choices(create=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyseStored:
    """Work a study out from lots of the record: serials are parts, operators persons.

    Every operator must have measured every serial equally often, in one lot or in several; the
    measurements of one serial by one operator are the trials, in the order in which they were
    taken. What was taken back does not count. The tolerance is that of the design.

    Raises
    ------
    UsageError
        When no lot is named, or the design of the lots does not limit the quantity.
    RecordError
        When the record or a lot cannot be found.
    ReadError
        When the measurements are no complete crossed study.
    CaptureError
        When the values do not vary at all.
    """

    record: str
    lots: tuple[str, ...]
    quantity: str
    interaction: Interaction = "auto"

    def __call__(self, progress: Progress, cancelled: Cancelled) -> AnalysedStudy:
        """Read the lots, work the study out."""
        stop_if(cancelled)
        if not self.lots:
            raise UsageError(
                "gauge study: must be on one lot of the record at least (got none).",
                hint="benchapp logbook lots names them.",
            )
        progress("reading the record", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            limits = [_limit(book.lot(lot).nominal, self.quantity, lot) for lot in self.lots]
            rows = [row for lot in self.lots for row in book.parts(lot) if not row.withdrawn]
        first = limits[0]
        if any(one != first for one in limits):
            raise UsageError(
                f"gauge study: the lots must have the same limits of {self.quantity} (got others "
                "in a later lot).",
                hint="Study lots that were judged by one revision of the design.",
            )
        sheet = StudySheet(
            readings=tuple(_readings(rows, key_of(first))),
            unit="" if first.unit == "1" else first.unit,
            quantity=key_of(first),
            tolerance=width_of(first),
        )
        return analysed(crossed(sheet, "record"), self.interaction)


def width_of(limit: Limit) -> float | None:
    """Give the upper less the lower side of a limit; None where it has one side only."""
    if limit.lower is None or limit.upper is None:
        return None
    return limit.upper - limit.lower


def _limit(nominal: Nominal | None, quantity: str, lot: str) -> Limit:
    """Give the limit that a design has for the quantity that is studied."""
    key = key_of(studied(quantity))
    limits = () if nominal is None else nominal.limits
    found = next((one for one in limits if key_of(one) == key), None)
    if found is None:
        named = ", ".join(key_of(one) for one in limits) or "none"
        raise UsageError(
            f"lot {lot}: its design must limit {key} (got {named}).",
            hint="Only limited quantities are kept with the parts of a lot.",
        )
    return found


def _readings(rows: Iterable[PartRow], key: str) -> Iterable[Reading]:
    """Give each measurement as one of a study, numbered by serial and operator."""
    counts: dict[tuple[str, str], int] = {}
    for row in sorted(rows, key=lambda row: (row.time, row.id)):
        person = row.operator or "not stated"
        count = counts[row.serial, person] = counts.get((row.serial, person), 0) + 1
        found = row.estimates.get(key)
        if found is None:
            raise ReadError(
                f"record: the measurement of {row.serial} at {row.time} must have a value of "
                f"{key} (got none).",
                hint="Measure it once more in its lot and take this one back.",
            )
        yield Reading(part=row.serial, person=person, trial=str(count), value=found.value)
