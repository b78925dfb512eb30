"""Making the tables of a new record, and bringing an old one up to this version."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

import sqlalchemy as sa

from benchapp import __version__
from benchapp.errors import RecordError
from benchapp.logbook.codec import canonical, sha256
from benchapp.logbook.engine import Store
from benchapp.logbook.schema import APPLICATION_ID, FIRST, MIGRATIONS, VERSION, guards, metadata
from benchapp.logbook.schema import step as steps

__all__ = [
    "copy_file",
    "expected_schema",
    "prepare",
    "schema_of",
    "step_digest",
    "version_of",
]

Clock = Callable[[], str]


def prepare(store: Store, clock: Clock) -> None:
    """Make the tables, or bring them up to this version after a copy was made.

    Raises
    ------
    RecordError
        When it is no record of benchapp, or was written by a newer version.
    """
    if store.dialect == "sqlite":
        _check_file(store)
    with store.writing() as connection:
        if store.dialect == "postgresql":
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({APPLICATION_ID})")
            connection.exec_driver_sql("CREATE SCHEMA IF NOT EXISTS benchapp")
        found = version_of(store, connection)
        if found == 0:
            _may_make(store)
            _make(store, connection, clock)
    if found > VERSION:
        raise RecordError(
            f"{store.address.text}: the record must have version {VERSION} or older "
            f"(got {found}).",
            hint="It was written by a newer benchapp: install that one. Nothing was changed.",
        )
    if 0 < found < VERSION:
        _bring_up(store, found, clock)


def version_of(store: Store, connection: sa.Connection) -> int:
    """Give the version of the tables, 0 where there are none."""
    if store.dialect == "sqlite":
        return int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())
    if not sa.inspect(connection).has_table(steps.name):
        return 0
    return int(connection.execute(sa.select(sa.func.max(steps.c.version))).scalar_one() or 0)


def step_digest(version: int, time: str, software: str) -> str:
    """Give the digest that a line about a version carries."""
    return sha256(canonical([version, time, software]).encode())


def schema_of(connection: sa.Connection) -> dict[str, str]:
    """Give the tables, indexes and triggers of an open record: what each is made by, by name."""
    if connection.dialect.name == "sqlite":
        rows = connection.exec_driver_sql(
            "SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_master"
        )
        # Spaces are left out: they depend on who wrote the statement, and say nothing.
        return {row[0]: "".join(row[1].split()) for row in rows}
    rows = connection.exec_driver_sql(
        "SELECT 'trigger ' || tgname, tgenabled::text FROM pg_trigger "
        "JOIN pg_class ON pg_class.oid = tgrelid WHERE NOT tgisinternal "
        "AND relnamespace = 'benchapp'::regnamespace"
    )
    return {row[0]: row[1] for row in rows}


def expected_schema(dialect: str) -> dict[str, str]:
    """Give what `schema_of` must find."""
    if dialect != "sqlite":
        made = (statement.split() for statement in guards(dialect))
        return {f"trigger {words[2]}": "O" for words in made if words[1] == "TRIGGER"}
    engine = sa.create_engine("sqlite://")
    with engine.begin() as connection:
        metadata.create_all(connection)
        for statement in guards(dialect):
            connection.exec_driver_sql(statement)
        found = schema_of(connection)
    engine.dispose()
    return found


def copy_file(source: sqlite3.Connection, path: Path) -> None:
    """Copy an open SQLite file while others may go on writing to it.

    Raises
    ------
    RecordError
        When the copy is there already or cannot be written.
    """
    if path.exists():
        raise RecordError(
            f"{path}: must be a new file (got one that is there already).",
            hint="Choose another name: a copy never replaces a file.",
        )
    fresh = path.with_name(f"{path.name}.part")
    try:
        fresh.unlink(missing_ok=True)
        with closing(sqlite3.connect(fresh)) as target:
            source.backup(target, pages=4096)
        fresh.rename(path)
    except (OSError, sqlite3.Error) as cause:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise RecordError(
            f"{path}: must be a file that can be written (got {cause}).",
            hint="Choose another place; the record itself is untouched.",
        ) from cause


def _check_file(store: Store) -> None:
    """Refuse a database of another program, and set what holds for the whole file."""
    with store.bare() as connection:
        owner = connection.execute("PRAGMA application_id").fetchone()[0]
        tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if owner != APPLICATION_ID and (owner or tables):
            raise RecordError(
                f"{store.address.text}: must be a record of benchapp (got another database).",
                hint="Choose another file.",
            )
        connection.execute("PRAGMA journal_mode = WAL")


def _may_make(store: Store) -> None:
    if not store.create:
        raise RecordError(
            f"{store.address.text}: must be a record (got none there).",
            hint="Check the address; 'benchapp lot' and the window make a record on first use.",
        )


def _make(store: Store, connection: sa.Connection, clock: Clock) -> None:
    if store.dialect == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    metadata.create_all(connection, checkfirst=False)
    for statement in guards(store.dialect):
        connection.exec_driver_sql(statement)
    for version in range(FIRST, VERSION + 1):
        _note_step(store, connection, version, clock())


def _note_step(store: Store, connection: sa.Connection, version: int, time: str) -> None:
    if store.dialect == "sqlite":
        connection.exec_driver_sql(f"PRAGMA user_version = {version}")
    digest = step_digest(version, time, __version__)
    values = {"version": version, "time": time, "software": __version__, "digest": digest}
    connection.execute(sa.insert(steps), values)


def _free(name: str) -> Path:
    """Give a name that is not taken: an act that was cut off has left its copy already."""
    path, count = Path(name), 1
    while path.exists():
        count += 1
        path = Path(f"{name}.{count}")
    return path


def _bring_up(store: Store, found: int, clock: Clock) -> None:
    if store.dialect == "sqlite":
        with store.bare() as connection:
            copy_file(connection, _free(f"{store.address.text}.version-{found}"))
    with store.writing() as connection:
        for migration in MIGRATIONS:
            if migration.version > version_of(store, connection):
                for statement in migration.statements:
                    connection.exec_driver_sql(statement)
                _note_step(store, connection, migration.version, clock())
