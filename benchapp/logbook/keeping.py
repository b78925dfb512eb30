"""Where new rows go: to the record, after waiting for its server, or to a local file meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

import sqlalchemy as sa

from benchapp.errors import RecordAwayError
from benchapp.logbook.address import Address
from benchapp.logbook.chain import Row
from benchapp.logbook.engine import Store
from benchapp.logbook.making import Clock, prepare
from benchapp.logbook.merging import merge
from benchapp.logbook.schema import entry
from benchapp.logbook.value import Standing
from benchapp.logbook.writing import append

__all__ = ["Keeper"]

Result = TypeVar("Result")
Watch = Callable[[Standing], None]

_FIRST_PAUSE, _LONGEST_PAUSE = 0.05, 1.0
_ASK_AGAIN = 30.0


class Keeper:
    """Writes rows and reads them, through outages of the server.

    Rows that were sent when the server went away are sent again; a row that had arrived all the
    same is known by its identity and not kept twice.

    Parameters
    ----------
    store : Store
    bench : str
    clock : callable
    standby : Address, optional
        The local file that takes rows while the server is away.
    patience : float, s
        How long to wait for the server before using the standby, or giving up without one.
    watch : callable, optional
        Told each change of the standing.
    """

    def __init__(
        self,
        store: Store,
        bench: str,
        clock: Clock,
        *,
        standby: Address | None = None,
        patience: float,
        watch: Watch | None = None,
    ) -> None:
        self.store = store
        self.local = None if standby is None else Store(standby)
        self.standing = Standing(state="kept")
        self._bench = bench
        self._clock = clock
        self._patience = patience
        self._watch = watch
        self._lock = threading.RLock()
        self._prepared = False
        self._ask_at = 0.0
        self._brought = 0
        if self.local is not None:
            prepare(self.local, clock)
        self._open()

    def append(self, rows: Sequence[Row], blobs: Mapping[str, bytes]) -> list[int]:
        """Keep rows durably; give their ids, negative for those in the local file.

        Raises
        ------
        RecordAwayError
            When the server stays away and there is no local file.
        RecordError
            When the database refuses.
        """
        if self._is_local() and not self._back():
            return self._append_locally(rows, blobs)
        deadline = time.monotonic() + self._patience
        pause = _FIRST_PAUSE
        while True:
            try:
                self._prepare()
                with self.store.writing() as connection:
                    ids = append(connection, self._bench, rows, blobs, self._clock)
            except RecordAwayError as error:
                if time.monotonic() + pause > deadline:
                    if self.local is None:
                        raise
                    self._go_local(error)
                    return self._append_locally(rows, blobs)
                self._stand(Standing(state="waiting", reason=error.message))
                time.sleep(pause)
                pause = min(2 * pause, _LONGEST_PAUSE)
            else:
                self._stand(Standing(state="kept"))
                return ids

    def read(self, look: Callable[[sa.Connection], Result]) -> Result:
        """Read from the record; while its server is away, from the local file.

        Raises
        ------
        RecordAwayError
            When the server is away and there is no local file.
        """
        if not self._is_local():
            try:
                return self._read_record(look)
            except RecordAwayError as error:
                if self.local is None:
                    raise
                self._go_local(error)
        return self.read_local(look)

    def read_local(self, look: Callable[[sa.Connection], Result]) -> Result:
        """Read from the local file."""
        store = self.local or self.store
        with store.reading() as connection:
            return look(connection)

    def catch_up(self) -> Standing:
        """Ask the server again; once it answers, bring over what was kept locally."""
        if self.local is not None:
            try:
                self._prepare()
                merge(self.local, self.store)
                self._brought = self._count_local()
            except RecordAwayError as error:
                self._go_local(error)
            else:
                self._stand(Standing(state="kept"))
        return self.standing

    def close(self) -> None:
        """Close the connections."""
        self.store.close()
        if self.local is not None:
            self.local.close()

    def _open(self) -> None:
        if self.local is not None:
            self.catch_up()
            return
        self._prepare()

    def _prepare(self) -> None:
        with self._lock:
            if not self._prepared:
                prepare(self.store, self._clock)
                self._prepared = True

    def _read_record(self, look: Callable[[sa.Connection], Result]) -> Result:
        try:
            with self.store.reading() as connection:
                return look(connection)
        except RecordAwayError:
            # The connection may have died long ago: a fresh one tells.
            with self.store.reading() as connection:
                return look(connection)

    def _is_local(self) -> bool:
        return self.standing.state == "kept locally"

    def _back(self) -> bool:
        return time.monotonic() >= self._ask_at and self.catch_up().state == "kept"

    def _go_local(self, error: RecordAwayError) -> None:
        self._ask_at = time.monotonic() + _ASK_AGAIN
        waiting = self._count_local() - self._brought
        self._stand(Standing(state="kept locally", waiting=waiting, reason=error.message))

    def _count_local(self) -> int:
        count = sa.select(sa.func.count(entry.c.id))
        return self.read_local(lambda connection: int(connection.execute(count).scalar_one()))

    def _append_locally(self, rows: Sequence[Row], blobs: Mapping[str, bytes]) -> list[int]:
        store = self.local or self.store
        with store.writing() as connection:
            ids = append(connection, self._bench, rows, blobs, self._clock)
        now = self.standing
        self._stand(Standing(state=now.state, waiting=now.waiting + len(ids), reason=now.reason))
        return [-number for number in ids]

    def _stand(self, standing: Standing) -> None:
        with self._lock:
            changed = standing != self.standing
            self.standing = standing
        if changed and self._watch is not None:
            self._watch(standing)
