"""Measuring for the record: one part at a time, and the lot that it belongs to."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Sweep
from benchapp.checks import Facts
from benchapp.errors import (
    BenchError,
    CancelledError,
    FileAccessError,
    RecordAwayError,
    RecordError,
)
from benchapp.jobs.lot import record_of
from benchapp.jobs.lot_facts import FactsOfGauge, examined_lot
from benchapp.jobs.lot_record import Place, basis_of, entry_of, is_running, where_met
from benchapp.jobs.part import ComparePart, Examination, JudgedPart
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.jobs.reference import RecordNotes
from benchapp.logbook import WITHDRAWN, PartRow, open_logbook
from benchapp.logbook.export import part_json, table_text
from benchapp.lot import (
    Conclusion,
    LotForm,
    LotPlan,
    LotState,
    LotSummary,
    PartRecord,
    begin,
)
from benchapp.nominal import Envelope, Nominal, Outcome, envelope

__all__ = [
    "BeginLot",
    "ConcludeLot",
    "ExportFound",
    "ExportRaw",
    "KeepPart",
    "KeepResult",
    "KeptPart",
    "OpenLot",
    "OpenedLot",
    "Overlay",
    "OverlayLot",
    "SummarizeLot",
    "TakeBack",
]

FloatArray = NDArray[np.float64]


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptPart:
    """A measurement that is in the record: ``part`` None where it could not be fitted."""

    entry: int
    record: PartRecord
    capture: Capture
    part: JudgedPart | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepPart:
    """Fit and judge a capture and keep it; a capture that cannot be fitted is kept as well.

    Raises
    ------
    RecordError
        When it cannot be kept.
    """

    record: str
    place: Place
    compare: ComparePart

    def __call__(self, progress: Progress, cancelled: Cancelled) -> KeptPart:
        """Judge and keep it."""
        part, trouble = None, ""
        job = self._examined()
        try:
            part = job(progress, cancelled)
        except CancelledError:
            raise
        except BenchError as error:
            trouble = str(error)
        entry = entry_of(part or job, self.place)
        progress("keeping", 0.9)
        with open_logbook(self.record) as book:
            number = book.add(entry)
            attempt = entry.attempt if entry.lot is None else book.attempt(number)
        serial = self.place.serial
        record = (
            PartRecord(serial=serial, outcome=Outcome.NOT_JUDGED, reason=trouble)
            if part is None
            else record_of(part, serial)
        )
        return KeptPart(
            entry=number,
            record=replace(
                record,
                position=entry.position,
                attempt=attempt,
                cause=entry.retest_reason,
                path=entry.path,
                entry=number,
                time=entry.time,
            ),
            capture=self.compare.capture,
            part=part,
        )

    def _examined(self) -> ComparePart:
        """Give the job that judges the part, with what the lot and the record know of it."""
        place, compare = self.place, self.compare
        again = place.attempt > 1 and not place.cause
        known = Facts(
            in_lot=place.lot is not None,
            attempt=place.attempt,
            unexplained_retests=place.unexplained + again,
            serial_seen=self._seen() if place.lot is not None and place.attempt == 1 else None,
        )
        examination = compare.examination
        return replace(
            compare,
            examination=replace(examination, facts=examination.facts.completed(known)),
        )

    def _seen(self) -> str | None:
        """Say where a part of this design had the same serial before; None where none had."""
        serial, design = self.place.serial, self.compare.nominal
        if is_running(serial) or design is None:
            return None
        with open_logbook(self.record) as book:
            met = book.met(design.title, serial).get(serial, ())
            others = [one for one in met if one[0] != self.place.lot]
            return where_met(book, *others[-1]) if others else None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepResult:
    """Keep another result of a stored measurement, such as one by a person's choices.

    It stands beside the first one, which goes on to count in its lot.

    Raises
    ------
    RecordError
        When there is no such measurement, or it cannot be kept.
    """

    record: str
    number: int
    part: JudgedPart

    def __call__(self, progress: Progress, cancelled: Cancelled) -> int:
        """Keep it; give the measurement."""
        stop_if(cancelled)
        progress("keeping", 0.0)
        found = self.part
        with open_logbook(self.record, create=False) as book:
            book.refit(
                self.number, found.fit, found.verdict, found.findings, basis=basis_of(found)
            )
        return self.number


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenedLot:
    """A lot of the record as far as it is inspected."""

    key: str
    state: LotState
    nominal: Nominal


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginLot:
    """Begin a lot in the record; where to draw the parts from follows from ``seed``.

    Raises
    ------
    RecordError
        When it cannot be kept.
    """

    record: str
    form: LotForm
    plan: LotPlan
    nominal: Nominal
    seed: int

    def __call__(self, progress: Progress, cancelled: Cancelled) -> OpenedLot:
        """Begin it."""
        stop_if(cancelled)
        progress("beginning the lot", 0.0)
        state = begin(self.form, self.plan, np.random.default_rng(self.seed))
        with open_logbook(self.record) as book:
            key = book.begin_lot(self.form, self.plan, state.positions, self.nominal)
        return OpenedLot(key=key, state=state, nominal=self.nominal)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenLot:
    """Open a lot of the record where it was left.

    Raises
    ------
    RecordError
        When it is not there, or was begun without a design.
    """

    record: str
    key: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> OpenedLot:
        """Open it."""
        stop_if(cancelled)
        progress("opening the lot", 0.0)
        with open_logbook(self.record, create=False) as book:
            lot, state = book.lot(self.key), book.lot_state(self.key)
        if lot.nominal is None:
            raise RecordError(
                "lot: must have a nominal design to be gone on with (got none).",
                hint="Begin a new lot with a design; what was measured stays in the record.",
            )
        return OpenedLot(key=lot.key, state=state, nominal=lot.nominal)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcludeLot:
    """Keep how a lot ended.

    Raises
    ------
    RecordError
        When it cannot be kept.
    """

    record: str
    key: str
    conclusion: Conclusion

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Conclusion:
        """Keep it; give it with its time."""
        stop_if(cancelled)
        progress("keeping the conclusion", 0.0)
        dated = replace(self.conclusion, time=self.conclusion.time or _now())
        with open_logbook(self.record, create=False) as book:
            book.conclude(self.key, dated)
        return dated


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeBack:
    """Take a measurement out of the count of its lot; it stays in the record.

    Raises
    ------
    RecordError
        When it is not there, or the name or the reason is missing.
    """

    record: str
    entry: int
    name: str
    reason: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> int:
        """Note it; give the entry."""
        stop_if(cancelled)
        progress("taking back", 0.0)
        with open_logbook(self.record, create=False) as book:
            book.correct(self.entry, WITHDRAWN, self.name, self.reason)
        return self.entry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SummarizeLot:
    """Work out what the parts of a lot say together, and examine the lot as a whole.

    ``examination`` holds what is known beside the parts, and changed thresholds; ``record`` is
    asked for a gauge study of the part, unless it is empty or its server away.
    """

    state: LotState
    nominal: Nominal
    examination: Examination = field(default_factory=Examination)
    record: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> LotSummary:
        """Summarize it."""
        stop_if(cancelled)
        progress("lot figures", 0.0)
        looked = self.examination
        facts = looked.facts.completed(self._gauge(progress, cancelled))
        return examined_lot(self.state, self.nominal, facts, looked.thresholds)

    def _gauge(self, progress: Progress, cancelled: Cancelled) -> Facts:
        if not self.record:
            return Facts()
        notes = RecordNotes(address=self.record)
        try:
            return FactsOfGauge(nominal=self.nominal, notes=notes)(progress, cancelled)
        except RecordAwayError:
            return Facts()  # the figures of the lot do without


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overlay:
    """Sweeps of many parts over each other, and what the design allows them.

    ``sweeps`` gives frequency in Hz and impedance in ohm by serial.
    """

    sweeps: Mapping[str, tuple[FloatArray, NDArray[np.complex128]]]
    envelope: Envelope | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverlayLot:
    """Fetch the sweeps of parts from the record; ``entries`` are their ids by serial.

    Raises
    ------
    RecordError
        When one is not there.
    """

    record: str
    entries: Mapping[str, int]
    nominal: Nominal | None = None
    known: Mapping[str, tuple[FloatArray, NDArray[np.complex128]]] = field(
        default_factory=lambda: MappingProxyType({})
    )

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Overlay:
        """Fetch them."""
        found = {serial: self.known[serial] for serial in self.entries if serial in self.known}
        wanted = [(serial, at) for serial, at in self.entries.items() if serial not in found]
        if wanted:
            with open_logbook(self.record, create=False) as book:
                for done, (serial, number) in enumerate(wanted):
                    stop_if(cancelled)
                    progress("fetching sweeps", done / len(wanted))
                    capture = book.entry(number).entry.capture
                    if isinstance(capture, Sweep):
                        found[serial] = (capture.frequency, capture.impedance)
        return Overlay(sweeps=MappingProxyType(found), envelope=self._envelope(found))

    def _envelope(
        self, sweeps: Mapping[str, tuple[FloatArray, NDArray[np.complex128]]]
    ) -> Envelope | None:
        if self.nominal is None or not sweeps:
            return None
        low = min(float(frequency[0]) for frequency, _ in sweeps.values())
        high = max(float(frequency[-1]) for frequency, _ in sweeps.values())
        return envelope(self.nominal, np.linspace(low, high, 200))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportFound:
    """Write measurements to a file: ``.json`` as values, anything else as a table.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """

    path: str
    rows: tuple[PartRow, ...]

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write the file; give its path."""
        stop_if(cancelled)
        progress(f"saving {self.path}", 0.0)
        if self.path.lower().endswith(".json"):
            words = json.dumps([part_json(row) for row in self.rows], ensure_ascii=False, indent=1)
        else:
            words = table_text(self.rows)
        _write(self.path, words.encode("utf-8"))
        return self.path


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportRaw:
    """Write the file of a measurement as it was read, byte by byte.

    Raises
    ------
    RecordError
        When the measurement is not there, or came from no file.
    FileAccessError
        When the file cannot be written.
    """

    record: str
    number: int
    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write the file; give its path."""
        stop_if(cancelled)
        progress(f"saving {self.path}", 0.0)
        with open_logbook(self.record, create=False) as book:
            raw = book.entry(self.number).entry.raw
        if not raw:
            raise RecordError(
                f"entry {self.number}: must have come from a file (got one measured here).",
                hint="Open it and save the capture instead.",
            )
        _write(self.path, raw)
        return self.path


def _write(path: str, content: bytes) -> None:
    try:
        Path(path).write_bytes(content)
    except OSError as cause:
        raise FileAccessError(
            f"{path}: must be a file that can be written (got {cause.strerror}).",
            hint="Choose another folder or name.",
        ) from cause
