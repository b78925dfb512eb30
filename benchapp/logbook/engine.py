"""The connection to a record: one for each thread, opened safely, its errors in plain words."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, NoSuchModuleError, SQLAlchemyError

from benchapp.errors import RecordAwayError, RecordError
from benchapp.logbook.address import Address

__all__ = ["Store"]

_BUSY = 60.0
_PAGES = 8000  # of 4 kB: a chunk of a big lot fits between two checkpoints
_TIMEOUTS = "-c search_path=benchapp -c synchronous_commit=on -c lock_timeout=60s"
_REFUSED = ("authentication failed", "no password supplied", "does not exist", "no pg_hba.conf")
_AWAY = ("08", "57P")  # SQLSTATE classes: connection exception, operator intervention


class Store:
    """The database behind a record.

    Parameters
    ----------
    address : Address
    create : bool
        False refuses a record that does not exist.
    """

    def __init__(self, address: Address, *, create: bool = True) -> None:
        self.address = address
        self.create = create
        self._mine = threading.local()
        self._all: list[sa.Connection] = []
        self._lock = threading.Lock()
        self.engine = _server(address) if address.on_server else _file(address, create=create)
        self.dialect = self.engine.dialect.name

    def __repr__(self) -> str:
        return f"Store({self.address.text!r})"

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Open a transaction that sees one state of the record.

        Raises
        ------
        RecordError
            When the database refuses; `RecordAwayError` when the server does not answer.
        """
        with self._transaction("BEGIN") as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Open a transaction that writes: all of it is kept durably at its end, or nothing.

        Raises
        ------
        RecordError
            When the database refuses; `RecordAwayError` when the server does not answer.
        """
        with self._transaction("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def bare(self) -> Iterator[Any]:
        """Give the driver's own connection, outside a transaction."""
        with self._translated():
            connection = self._connection()
            yield connection.connection.driver_connection

    def close(self) -> None:
        """Close the connections of all threads."""
        with self._lock:
            for connection in self._all:
                try:
                    connection.close()
                except SQLAlchemyError:
                    connection.invalidate()
            self._all.clear()
        self.engine.dispose()

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[sa.Connection]:
        with self._translated():
            connection = self._connection()
            connection.info["begin"] = begin
            with connection.begin():
                yield connection

    def _connection(self) -> sa.Connection:
        connection: sa.Connection | None = getattr(self._mine, "connection", None)
        if connection is None or connection.closed:
            connection = self.engine.connect()
            self._mine.connection = connection
            with self._lock:
                self._all.append(connection)
        return connection

    def _drop(self) -> None:
        connection: sa.Connection | None = getattr(self._mine, "connection", None)
        self._mine.connection = None
        if connection is not None:
            with self._lock:
                self._all.remove(connection)
            connection.invalidate()
            connection.close()

    @contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as cause:
            if self._is_away(cause):
                self._drop()
                raise RecordAwayError(
                    f"{self.address.text}: the server must answer (got {_words(cause)}).",
                    hint="Check that it runs and that the network is up, then try again.",
                ) from cause
            raise RecordError(
                f"{self.address.text}: the record must be readable and writable "
                f"(got {_words(cause)}).",
                hint=_hint(_words(cause)),
            ) from cause
        except (sqlite3.Error, UnicodeDecodeError) as cause:
            raise RecordError(
                f"{self.address.text}: the record must be readable and writable (got {cause}).",
                hint=_hint(str(cause)),
            ) from cause

    def _is_away(self, cause: DBAPIError) -> bool:
        if self.dialect != "postgresql":
            return False
        state = getattr(cause.orig, "sqlstate", None)
        if state is None and any(sign in str(cause.orig) for sign in _REFUSED):
            return False
        return cause.connection_invalidated or state is None or state.startswith(_AWAY)


_HINTS = (
    ("full", "Nothing of this entry was kept, everything before it is safe: free some space."),
    ("readonly", "Choose a place where you may write, or ask for the right to."),
    ("unable to open", "Check the folder and your rights to it."),
    ("locked", "Another program holds the record for long: close it, then try again."),
    ("not a database", "Choose another file: this one is no record."),
    ("malformed", "Run 'benchapp logbook verify', and take the last backup."),
    ("permission denied", "Ask whoever runs the server for the right to this database."),
    (
        "password",
        "Put the right one into ~/.pgpass, the file that PGPASSFILE names, or PGPASSWORD.",
    ),
    ("does not exist", "Ask whoever runs the server to make the database and the account."),
)


def _hint(words: str) -> str:
    lowered = words.lower()
    usual = "Everything stored before is untouched. Run 'benchapp logbook verify'."
    return next((hint for sign, hint in _HINTS if sign in lowered), usual)


def _words(cause: DBAPIError) -> str:
    """Give what the database says in one line, without the statement and its values."""
    return " ".join(str(cause.orig).split())


def _server(address: Address) -> sa.Engine:
    url = sa.make_url(address.text)
    try:
        engine = sa.create_engine(
            url,
            poolclass=sa.NullPool,
            hide_parameters=True,
            connect_args={
                "connect_timeout": 5,
                "client_encoding": "utf8",
                "options": _TIMEOUTS,
                "application_name": "benchapp",
                "keepalives_idle": 10,
            },
        )
    except (ModuleNotFoundError, NoSuchModuleError) as cause:
        raise RecordError(
            f"{address.text}: the driver psycopg must be installed (got {cause}).",
            hint="Install it with: pip install 'benchapp[postgresql]'",
        ) from cause
    return engine


def _file(address: Address, *, create: bool) -> sa.Engine:
    path = Path(address.text)
    if not path.exists():
        if not create:
            raise RecordError(
                f"{path}: must be a record (got no such file).",
                hint="Check the name; 'benchapp lot' and the window make a record on first use.",
            )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as cause:
            raise RecordError(
                f"{path}: must stand in a folder that can be made (got {cause.strerror}).",
                hint="Choose another place with --record.",
            ) from cause
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=str(path)),
        poolclass=sa.NullPool,
        hide_parameters=True,
        connect_args={"timeout": _BUSY, "check_same_thread": False, "isolation_level": None},
    )
    sa.event.listen(engine, "connect", _prepare_file)
    sa.event.listen(engine, "begin", _begin)
    return engine


def _prepare_file(connection: sqlite3.Connection, _record: Any) -> None:
    connection.isolation_level = None
    # A damaged text must reach `verify` as it stands, not end in an error of the driver.
    connection.text_factory = lambda content: content.decode("utf-8", "surrogateescape")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(f"PRAGMA wal_autocheckpoint = {_PAGES}")


def _begin(connection: sa.Connection) -> None:
    connection.exec_driver_sql(connection.info.get("begin", "BEGIN"))
