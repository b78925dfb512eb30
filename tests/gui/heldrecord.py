"""A record that waits: it keeps what is handed to it until the test answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from benchapp.errors import RecordError
from benchapp.gui.session import Part
from benchapp.jobs import Examination, KeptPart, OpenedLot
from benchapp.lot import Conclusion, LotForm, LotPlan, LotState, PartRecord
from benchapp.nominal import Outcome
from tests.gui.factories import estimate, nominal, sweep

__all__ = [
    "PLAN",
    "REFUSED",
    "HeldRecord",
    "conclusion",
    "count",
    "lot",
    "measured",
    "opened",
    "part",
    "put_on",
]

PLAN = LotPlan(
    kind="attributes", quantity=150, n=3, accept=0, reject=1, letter="F", aql=1.0, level="II"
)
REFUSED = RecordError("record: must be a place that can be written (got a full disk).", hint="Go.")
FORM = LotForm(part="GA-12", supplier="Example Windings", quantity=150, operator="A. Example")


@dataclass
class Handed:
    """One act that was handed to the record."""

    job: Any
    done: Callable[[Any], None]
    failed: Callable[[Any], None]
    begun: Callable[[], None] | None = None


@dataclass
class HeldRecord:
    """Stands for the recorder of the window."""

    address: str = "bench.benchlog"
    acts: list[Handed] = field(default_factory=list)
    kept: list[Any] = field(default_factory=list)
    examination: Callable[[], Examination] = Examination

    def do(self, job, done, failed):
        self.acts.append(Handed(job, done, failed))

    def keep(self, compare, place, done, failed, begun=None):
        self.kept.append(Handed((compare, place), done, failed, begun))

    @property
    def place(self):
        """Whose measurement was handed in last."""
        return self.kept[-1].job[1]


def part(serial="", path="", seed=7, label=""):
    """A capture as it arrives at the window."""
    capture = sweep(21, part=serial, seed=seed, label=label)
    return Part(path=path, capture=capture)


def lot(*outcomes, plan=PLAN, positions=(7, 31, 99), form=FORM):
    """A lot with parts 0001, 0002 … of these outcomes."""
    state = LotState(form=form, plan=plan, positions=positions)
    for at, outcome in enumerate(outcomes, start=1):
        state = state.add(measured(f"{at:04d}", outcome, entry=100 + at))
    return state


def measured(serial, outcome=Outcome.PASS, value=1.6315e-3, **facts):
    """One measurement of a part."""
    return PartRecord(
        serial=serial,
        outcome=outcome,
        estimates={"L": estimate("L", value, 1e-6, "H")},
        deciding="L",
        time="2026-05-04T10:20:30.000Z",
        **facts,
    )


def opened(state, key="lot-1"):
    """What opening a lot of the record gives."""
    return OpenedLot(key=key, state=state, nominal=nominal())


def put_on(desk, state, key="lot-1"):
    """Put a lot on the bench as if it was in the record."""
    desk.resume(key)
    desk.recorder.acts.pop().done(opened(state, key))


def count(desk, outcome=Outcome.PASS, at=-1, **facts):
    """Let the record say that a measurement is durable."""
    handed = desk.recorder.kept.pop(at)
    compare, place = handed.job
    facts = {"attempt": place.attempt, "cause": place.cause, "position": place.position, **facts}
    record = measured(place.serial, outcome, entry=7, **facts)
    handed.done(KeptPart(entry=7, record=record, capture=compare.capture))
    return record


def conclusion(outcome="hold", name="B. Example", reason="gauge in repair"):
    """A signed end."""
    return Conclusion(outcome=outcome, name=name, reason=reason, time="2026-05-04T11:00:00.000Z")
