"""What a lot knows of itself, and what a study says of its gauge, as facts for the checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from benchapp.checks import Facts, examine_lot
from benchapp.errors import UsageError
from benchapp.jobs.gauge import AnalysedStudy
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.jobs.reference import Notes
from benchapp.lot import LotState, LotSummary, key_of, summarize
from benchapp.nominal import Nominal

__all__ = ["STUDY", "FactsOfGauge", "KeepStudy", "examined_lot", "facts_of_lot"]

STUDY = "gauge-study"
"""Kind of note in the record."""

_SIX = 6.0  # standard deviations that a gauge takes of a tolerance (AIAG, MSA, 4th edition)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepStudy:
    """Keep what a gauge study found about the measurement of a part, for the lots that follow.

    Raises
    ------
    UsageError
        When the study states no quantity.
    RecordError
        When it cannot be kept.
    """

    notes: Notes
    part: str
    study: AnalysedStudy

    def __call__(self, progress: Progress, cancelled: Cancelled) -> None:
        """Keep it."""
        stop_if(cancelled)
        progress("keeping the study", 0.0)
        self.notes.add_note(STUDY, _as_note(self.part, self.study))


def _as_note(part: str, study: AnalysedStudy) -> dict[str, Any]:
    table = study.table
    if not table.quantity:
        raise UsageError(
            "gauge study: must state its quantity to be kept for a part (got none).",
            hint="Name it in the column 'quantity' of the table: L, or Q at 134.2 kHz.",
        )
    return {
        "part": part,
        "quantity": table.quantity,
        "unit": table.unit,
        "sigma": study.variance.gauge.sigma,
        "sha256": study.sha256,
        "time": datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class FactsOfGauge:
    """Say what the gauge takes of the tolerances of a design.

    ``study`` comes before those of the record; of the record the latest of each quantity counts.
    Without one the gauge is not known.

    Raises
    ------
    UsageError
        When the study neither states a quantity that the design limits on both sides, nor its
        own tolerance.
    RecordError
        When the record cannot be read.
    """

    nominal: Nominal
    notes: Notes | None = None
    study: AnalysedStudy | None = None

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Facts:
        """Look them up."""
        stop_if(cancelled)
        progress("looking for a gauge study", 0.0)
        if self.study is not None:
            return Facts(gauge_percent=self._of_study(self.study))
        kept = () if self.notes is None else self.notes.notes(STUDY)
        latest = {each["quantity"]: each for each in kept if each["part"] == self.nominal.title}
        shares = [share for each in latest.values() if (share := self._share(each)) is not None]
        return Facts(gauge_percent=max(shares, default=None))

    def _of_study(self, study: AnalysedStudy) -> float:
        table, gauge = study.table, study.variance.gauge
        stated = {"quantity": table.quantity, "unit": table.unit, "sigma": gauge.sigma}
        share = self._share(stated)
        share = gauge.percent_tolerance if share is None else share
        if share is None:
            limited = [name for name, width in self._widths.items() if width is not None]
            raise UsageError(
                "gauge study: must state a tolerance, or a quantity that the design limits on "
                f"both sides (got {table.quantity or 'none'}).",
                hint=f"Name it in the column 'quantity': {', '.join(limited) or 'the design has'}"
                f"{'' if limited else ' none'}.",
            )
        return share

    def _share(self, stated: Mapping[str, Any]) -> float | None:
        width = self._widths.get(stated["quantity"])
        units = {key_of(limit): limit.unit for limit in self.nominal.limits}
        if width is None or units[stated["quantity"]] != (stated["unit"] or "1"):
            return None
        return float(100 * _SIX * stated["sigma"] / width)

    @property
    def _widths(self) -> dict[str, float | None]:
        return {
            key_of(limit): None
            if limit.lower is None or limit.upper is None
            else limit.upper - limit.lower
            for limit in self.nominal.limits
        }


def facts_of_lot(state: LotState, summary: LotSummary) -> Facts:
    """Give what the parts of a lot say beside their captures.

    Parameters
    ----------
    state : LotState
    summary : LotSummary

    Returns
    -------
    Facts
        The fewest parts that a capability is stated from; that the sample was picked at random,
        where its places were drawn; and what looks uneven, in words.
    """
    counts = [
        entry.values.size
        for entry in summary.quantities
        if entry.capability is not None and entry.capability.ppk is not None
    ]
    return Facts(
        in_lot=True,
        capability_parts=min(counts, default=None),
        random_sample=True if state.positions and state.parts else None,
        sample_patterns=tuple(
            f"{entry.name}: {hint.text}" for entry in summary.quantities for hint in entry.hints
        ),
    )


def examined_lot(
    state: LotState,
    nominal: Nominal,
    facts: Facts,
    thresholds: Mapping[str, Mapping[str, float]] | None = None,
) -> LotSummary:
    """Work out what the parts of a lot say together, and examine it as a whole.

    Parameters
    ----------
    state : LotState
    nominal : Nominal
    facts : Facts
        What is known beside the parts, and stated by a person: it comes first.
    thresholds : mapping, optional
        Thresholds of checks that differ from the usual.
    """
    summary = summarize(state, nominal)
    known = facts.completed(facts_of_lot(state, summary))
    return replace(summary, findings=examine_lot(known, thresholds))
