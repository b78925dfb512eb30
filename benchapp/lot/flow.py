"""A lot on its way through inspection: part by part, with retests, undo and a conclusion."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from benchapp.errors import UsageError
from benchapp.lot.inspection import LotPlan
from benchapp.nominal import Outcome
from benchapp.sampling import LotResult, State, pick, switch
from benchapp.units import Estimate

__all__ = [
    "CONCLUSIONS",
    "REJECTING",
    "Conclusion",
    "Decision",
    "LotForm",
    "LotState",
    "PartRecord",
    "begin",
    "next_severity",
]

Decision = Literal["open", "accept", "reject", "undecided"]
"""What the plan says: go on; accept; reject; all are inspected, but some could not be judged."""

REJECTING = (Outcome.FAIL, Outcome.CONDITIONAL_FAIL)
"""Outcomes that make a part nonconforming."""

CONCLUSIONS = ("accept", "reject", "hold", "concession")
"""What a person may conclude about a lot; a concession takes it in spite of what was found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotForm:
    """What is written on the delivery; an empty text is not stated."""

    part: str = ""
    revision: str = ""
    supplier: str = ""
    order: str = ""
    date_code: str = ""
    quantity: int = 0
    operator: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRecord:
    """One measurement of one part, as the lot sees it.

    ``attempt`` counts from 1; ``cause`` says why a part was measured again. ``estimates`` are by
    the name of the limit. ``entry`` is its place in the stored record, ``time`` in ISO 8601, UTC.
    """

    serial: str
    outcome: Outcome
    position: int | None = None
    attempt: int = 1
    cause: str = ""
    estimates: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    deciding: str = ""
    reason: str = ""
    path: str = ""
    entry: int | None = None
    time: str = ""

    @property
    def is_rejected(self) -> bool:
        """Whether the part is nonconforming."""
        return self.outcome in REJECTING

    @property
    def is_judged(self) -> bool:
        """Whether it was decided at all."""
        return self.outcome is not Outcome.NOT_JUDGED


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusion:
    """What a person decided about a lot, and why."""

    outcome: str
    name: str
    reason: str = ""
    time: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotState:
    """A lot as far as it is inspected. Every act gives a new state; nothing measured is lost.

    ``parts`` holds every measurement in the order taken, ``undone`` those taken back.
    ``positions`` are the places in the delivery to draw from, empty where all are inspected.
    """

    form: LotForm
    plan: LotPlan
    positions: tuple[int, ...] = ()
    parts: tuple[PartRecord, ...] = ()
    undone: tuple[PartRecord, ...] = ()
    conclusion: Conclusion | None = None

    @property
    def latest(self) -> Mapping[str, PartRecord]:
        """The last measurement of each part by its serial, in the order first taken."""
        return MappingProxyType({record.serial: record for record in self.parts})

    @property
    def sample(self) -> tuple[PartRecord, ...]:
        """The parts that the plan counts: the first ``n`` in the order taken."""
        return tuple(self.latest.values())[: self.plan.n]

    @property
    def counted(self) -> int:
        """How many parts of the sample are judged."""
        return sum(record.is_judged for record in self.sample)

    @property
    def rejected(self) -> int:
        """How many parts of the sample are nonconforming."""
        return sum(record.is_rejected for record in self.sample)

    @property
    def not_judged(self) -> tuple[PartRecord, ...]:
        """The parts of the sample that could not be judged: they never count as good."""
        return tuple(record for record in self.sample if not record.is_judged)

    @property
    def quarantined(self) -> tuple[PartRecord, ...]:
        """Every part to be kept apart: nonconforming or not judged, in the sample or beyond."""
        kept = self.latest.values()
        return tuple(record for record in kept if record.is_rejected or not record.is_judged)

    @property
    def remaining(self) -> int:
        """How many parts of the sample are still to be measured or judged."""
        return self.plan.n - self.counted

    @property
    def decision(self) -> Decision:
        """What the count says. A plan by variables is decided by `summarize`, not here."""
        if self.plan.kind != "variables" and self.rejected >= self.plan.reject:
            return "reject"
        if len(self.sample) < self.plan.n:
            return "open"
        if self.not_judged:
            return "undecided"
        return "undecided" if self.plan.kind == "variables" else "accept"

    @property
    def in_gap(self) -> bool:
        """Whether a reduced plan accepted more than Ac; the next lot is inspected normally."""
        return self.decision == "accept" and self.rejected > self.plan.accept

    @property
    def next_position(self) -> int | None:
        """Where in the delivery the next part is drawn; None where that is free."""
        place = len(self.latest)
        return self.positions[place] if place < len(self.positions) else None

    @property
    def next_serial(self) -> str:
        """A serial for the next part where nobody types or scans one: counted from 0001."""
        place = len(self.latest) + 1
        while (serial := f"{place:04d}") in self.latest:
            place += 1
        return serial

    @property
    def unlogged_retests(self) -> tuple[str, ...]:
        """Serials retested more than once without a stated cause: testing into compliance."""
        without: dict[str, int] = {}
        for record in self.parts:
            if record.attempt > 1 and not record.cause:
                without[record.serial] = without.get(record.serial, 0) + 1
        return tuple(serial for serial, count in without.items() if count > 1)

    def add(self, record: PartRecord) -> LotState:
        """Add the measurement of a part that was not measured before.

        Raises
        ------
        UsageError
            When the serial is empty or was measured already, or the lot is concluded.
        """
        self._must_be_open()
        if not record.serial.strip():
            raise UsageError(
                "serial: must not be empty (got '').",
                hint="Type or scan it, or let the parts be counted.",
            )
        if record.serial in self.latest:
            raise UsageError(
                f"serial: must be new in this lot (got '{record.serial}', measured already).",
                hint="Measure it again as a retest with its reason, or correct the serial.",
            )
        position = self.next_position if record.position is None else record.position
        return replace(self, parts=(*self.parts, replace(record, attempt=1, position=position)))

    def retest(self, record: PartRecord) -> LotState:
        """Add a further measurement of a part; the earlier ones stay, the last one counts.

        Raises
        ------
        UsageError
            When the part was not measured before, or the lot is concluded.
        """
        self._must_be_open()
        before = self.latest.get(record.serial)
        if before is None:
            raise UsageError(
                f"serial: must have been measured before (got '{record.serial}').",
                hint="Measure it as a new part.",
            )
        attempt = max(before.attempt + 1, record.attempt)
        again = replace(record, attempt=attempt, position=before.position)
        return replace(self, parts=(*self.parts, again))

    def undo(self) -> LotState:
        """Take the last measurement back; it stays on record as taken back.

        Raises
        ------
        UsageError
            When there is none, or the lot is concluded.
        """
        self._must_be_open()
        if not self.parts:
            raise UsageError("lot: must have a measurement to take back (got none).")
        return replace(self, parts=self.parts[:-1], undone=(*self.undone, self.parts[-1]))

    def conclude(self, conclusion: Conclusion) -> LotState:
        """Close the lot.

        Raises
        ------
        UsageError
            When the outcome is unknown, a name is missing, or the outcome goes beyond what the
            plan says without a reason; a lot that the plan does not accept can only be taken by
            concession.
        """
        self._must_be_open()
        if conclusion.outcome not in CONCLUSIONS:
            raise UsageError(
                f"conclusion: must be one of {', '.join(CONCLUSIONS)} "
                f"(got '{conclusion.outcome}').",
                hint="hold keeps the lot until it is clear.",
            )
        if not conclusion.name.strip():
            raise UsageError(
                "conclusion: must have the name of who decides (got none).",
                hint="Type your name.",
            )
        if conclusion.outcome == "accept" and self.decision == "reject":
            raise UsageError(
                "conclusion: must not be accept where the plan rejects the lot "
                f"(got {self.rejected} nonconforming, Re {self.plan.reject}).",
                hint="Reject it, hold it, or take it by concession with the reason.",
            )
        expected = {"accept": "accept", "reject": "reject"}.get(self.decision)
        if conclusion.outcome != expected and not conclusion.reason.strip():
            raise UsageError(
                f"conclusion: must have a reason for {conclusion.outcome} while the plan says "
                f"{self.decision} (got none).",
                hint="Type why; it goes into the record.",
            )
        return replace(self, conclusion=conclusion)

    def _must_be_open(self) -> None:
        if self.conclusion is not None:
            raise UsageError(
                f"lot: must be open (got concluded as {self.conclusion.outcome}).",
                hint="Begin a new lot; what was concluded stays as it is.",
            )


def begin(form: LotForm, plan: LotPlan, generator: np.random.Generator) -> LotState:
    """Begin a lot: where not everything is inspected, draw the positions at random.

    Parameters
    ----------
    form : LotForm
    plan : LotPlan
    generator : numpy.random.Generator
    """
    drawn = () if plan.everything else pick(plan.quantity, plan.n, generator)
    return LotState(form=form, plan=plan, positions=drawn)


def next_severity(
    lots: Sequence[LotState], *, limit_number: int | None = None, reduced_agreed: bool = False
) -> State:
    """Say how the next lot of one supplier and part is inspected (`benchapp.sampling.switch`).

    Parameters
    ----------
    lots : sequence of LotState
        Earlier lots of this supplier and part, oldest first. Those without a decision by
        attributes do not count.
    limit_number : int, optional
    reduced_agreed : bool

    Returns
    -------
    State
    """
    results = [
        LotResult(accepted=lot.decision == "accept", nonconforming=lot.rejected, in_gap=lot.in_gap)
        for lot in lots
        if lot.plan.kind == "attributes" and lot.decision in ("accept", "reject")
    ]
    return switch(results, limit_number=limit_number, reduced_agreed=reduced_agreed)
