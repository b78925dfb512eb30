"""The logbook: what is put in is durable when the call returns, and is never changed after."""

from __future__ import annotations

import platform
import sqlite3
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from benchapp import __version__
from benchapp.checks import Finding
from benchapp.errors import RecordError
from benchapp.fit import Fit
from benchapp.logbook import finding, merging, verifying
from benchapp.logbook.address import Address, Choices, parse_address
from benchapp.logbook.chain import Row
from benchapp.logbook.codec import Blobs
from benchapp.logbook.engine import Store
from benchapp.logbook.keeping import Keeper
from benchapp.logbook.making import copy_file
from benchapp.logbook.rows import plain_row, row_of
from benchapp.logbook.value import (
    Basis,
    Broken,
    LotRow,
    Merged,
    Note,
    PartEntry,
    PartRow,
    Search,
    Standing,
    StoredEntry,
)
from benchapp.lot import Conclusion, LotForm, LotPlan, LotState
from benchapp.nominal import Nominal, Verdict

__all__ = ["Logbook"]


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


class Logbook:
    """An open record. Use `benchapp.logbook.open_logbook` to get one.

    Safe to use from several threads: each has its own connection.
    """

    def __init__(
        self,
        address: Address,
        *,
        choices: Choices,
        clock: Callable[[], str] = _now,
    ) -> None:
        self.address = address.text
        self.bench = choices.bench or platform.node() or "bench"
        self._clock = clock
        standby = choices.standby or address.standby
        self._store = Store(address, create=choices.create)
        self._keeper = Keeper(
            self._store,
            self.bench,
            clock,
            standby=parse_address(standby) if standby else None,
            patience=choices.patience,
            watch=choices.watch,
        )

    def __repr__(self) -> str:
        return f"Logbook({self.address!r}, bench={self.bench!r})"

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close every connection."""
        self._keeper.close()

    @property
    def standing(self) -> Standing:
        """Where new entries go now."""
        return self._keeper.standing

    def catch_up(self) -> Standing:
        """Ask the server again; once it answers, bring over what was kept locally."""
        return self._keeper.catch_up()

    def add(self, entry: PartEntry) -> int:
        """Keep one measurement; it is durable when this returns.

        In a lot it has the attempt that the entry states, or the next where that is taken:
        `attempt` tells.

        Returns
        -------
        int
            The id of the entry. The same entry given twice is kept once.

        Raises
        ------
        RecordError
            When it could not be kept; nothing of it is stored then.
        """
        return self.add_all((entry,))[0]

    def add_all(self, entries: Sequence[PartEntry]) -> tuple[int, ...]:
        """Keep several measurements in one transaction: all of them, or none.

        Raises
        ------
        RecordError
            When they could not be kept.
        """
        blobs: Blobs = {}
        return self._append([row_of(entry, blobs) for entry in entries], blobs)

    def begin_lot(
        self,
        form: LotForm,
        plan: LotPlan,
        positions: Sequence[int] = (),
        nominal: Nominal | None = None,
    ) -> str:
        """Begin a lot.

        Parameters
        ----------
        form : LotForm
        plan : LotPlan
        positions : sequence of int
            The places in the lot that are to be drawn.
        nominal : Nominal, optional

        Returns
        -------
        str
            The key of the lot: the same in every record that it is copied to.
        """
        blobs: Blobs = {}
        content = {
            "form": form,
            "plan": plan,
            "positions": tuple(int(position) for position in positions),
            "nominal": nominal,
        }
        row = plain_row("lot", self._clock(), content, blobs)
        return self._key(self._append([row], blobs)[0])

    def conclude(self, lot: str, conclusion: Conclusion) -> int:
        """Keep how a lot ended; a later conclusion stands beside the earlier one.

        Raises
        ------
        RecordError
            When it could not be kept.
        """
        blobs: Blobs = {}
        row = plain_row("conclusion", self._clock(), conclusion, blobs, subject=lot, lot=lot)
        return self._append([row], blobs)[0]

    def lots(self, *, supplier: str | None = None, part: str | None = None) -> tuple[LotRow, ...]:
        """List the lots, the newest first: all, or those of a supplier or a part."""
        return tuple(
            row
            for row in self._keeper.read(finding.lots)
            if supplier in (None, row.form.supplier) and part in (None, row.form.part)
        )

    def lot(self, key: str) -> LotRow:
        """Give one lot.

        Raises
        ------
        RecordError
            When there is none of this key.
        """
        return self._keeper.read(lambda connection: finding.lot(connection, key))

    def lot_state(self, key: str) -> LotState:
        """Give a lot as far as it is inspected, to go on with.

        Measurements that were withdrawn stand under those taken back.

        Raises
        ------
        RecordError
            When there is none of this key.
        """
        return self._keeper.read(lambda connection: finding.lot_state(connection, key))

    def parts(self, lot: str) -> tuple[PartRow, ...]:
        """List the measurements of a lot in the order in which they were kept."""
        return self.search(Search(lot=lot))

    def search(self, wanted: Search) -> tuple[PartRow, ...]:
        """List measurements, the few values of each."""
        return self._keeper.read(lambda connection: finding.parts(connection, wanted))

    def attempt(self, number: int) -> int:
        """Say which attempt a stored measurement is.

        Raises
        ------
        RecordError
            When there is none of this id.
        """
        if number < 0:
            return self._keeper.read_local(lambda connection: finding.attempt(connection, -number))
        return self._keeper.read(lambda connection: finding.attempt(connection, number))

    def met(self, part: str, serial: str | None = None) -> dict[str, list[tuple[str, str]]]:
        """Say in which lots serials of a part were measured, and when (`finding.met`)."""
        return self._keeper.read(lambda connection: finding.met(connection, part, serial))

    def entry(self, number: int) -> StoredEntry:
        """Open a stored measurement: the same numbers, bit for bit.

        Raises
        ------
        RecordError
            When there is none of this id, or it was written by a newer version.
        """
        if number < 0:
            look = self._keeper.read_local
            return look(lambda connection: finding.entry_of_id(connection, -number))
        return self._keeper.read(lambda connection: finding.entry_of_id(connection, number))

    def refit(
        self,
        number: int,
        fit: Fit,
        verdict: Verdict | None = None,
        findings: Sequence[Finding] = (),
        version: str = __version__,
        *,
        basis: Basis | None = None,
    ) -> int:
        """Keep a newer result of a stored measurement beside the old one.

        Raises
        ------
        RecordError
            When there is no such measurement.
        """
        blobs: Blobs = {}
        content = {
            "fit": fit,
            "verdict": verdict,
            "findings": tuple(findings),
            "software": version,
            "basis": basis,
        }
        subject = self._key(number)
        row = plain_row("refit", self._clock(), content, blobs, subject=subject)
        return self._append([row], blobs)[0]

    def refit_counts(self) -> dict[str, int]:
        """Give how many newer results stand beside measurements that have any, by their keys."""
        return self._keeper.read(finding.refit_counts)

    def correct(self, number: int, what: str, name: str, reason: str) -> int:
        """Keep what a person says about a stored entry; the entry itself stays as it is.

        ``what`` of `WITHDRAWN` takes a measurement out of the count of its lot.

        Raises
        ------
        RecordError
            When there is no such entry, or the name or the reason is missing.
        """
        if not (what.strip() and name.strip() and reason.strip()):
            raise RecordError(
                "correction: must say what, by whom and why (got an empty text).",
                hint="Give your name and the reason.",
            )
        blobs: Blobs = {}
        content = {"what": what, "name": name, "reason": reason}
        subject = self._key(number)
        row = plain_row("correction", self._clock(), content, blobs, subject=subject, topic=what)
        return self._append([row], blobs)[0]

    def add_note(self, kind: str, content: Any) -> int:
        """Keep something else, as plain values: a gauge study, a reading of the reference coil."""
        blobs: Blobs = {}
        return self._append([plain_row("note", self._clock(), content, blobs, topic=kind)], blobs)[
            0
        ]

    def notes(self, kind: str) -> tuple[Note, ...]:
        """List the notes of one kind, the oldest first."""
        return self._keeper.read(lambda connection: finding.notes(connection, kind))

    def verify(self) -> tuple[Broken, ...]:
        """Look through everything that is stored; give what is wrong, nothing where all holds."""
        return verifying.verify(self._store)

    def backup(self, path: str | Path) -> str:
        """Copy the record to a file while it stays in use; give the path.

        Raises
        ------
        RecordError
            When the record is on a server, or the file is there already or cannot be written.
        """
        if self._store.dialect != "sqlite":
            raise RecordError(
                f"{self.address}: must be a file to be copied like this (got a server).",
                hint="Merge it into a file instead: 'benchapp logbook merge', or use the backup "
                "of the server.",
            )
        with self._store.bare() as connection:
            assert isinstance(connection, sqlite3.Connection)  # noqa: S101 - for the type checker
            copy_file(connection, Path(path))
        return str(path)

    def merge(self, other: Logbook) -> Merged:
        """Copy what another record holds and this one does not; doing it again changes nothing.

        Raises
        ------
        RecordError
            When both records continue one chain differently.
        """
        return merging.merge(other._store, self._store)

    def _append(self, rows: Sequence[Row], blobs: Blobs) -> tuple[int, ...]:
        return tuple(self._keeper.append(rows, blobs))

    def _key(self, number: int) -> str:
        if number < 0:
            return self._keeper.read_local(lambda connection: finding.key(connection, -number))
        return self._keeper.read(lambda connection: finding.key(connection, number))
