"""The tables of the record, the same on SQLite and on PostgreSQL, and how old ones are brought up.

Rows are only ever added. Triggers refuse to change or remove one; the head of a chain is the one
row that moves, and only forward.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import sqlalchemy as sa

__all__ = [
    "APPLICATION_ID",
    "FIRST",
    "MIGRATIONS",
    "VERSION",
    "Migration",
    "blob",
    "chain",
    "entry",
    "guards",
    "head",
    "metadata",
    "step",
]

APPLICATION_ID = 0x42434C42
"""Stands in the header of the SQLite file: 'BCLB'."""

metadata = sa.MetaData()

chain = sa.Table(
    "chain",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("chain", sa.Text, nullable=False, unique=True),
    sa.Column("bench", sa.Text, nullable=False),
    sa.Column("started", sa.Text, nullable=False),
    sa.Column("own", sa.Integer, nullable=False),
    sa.Column("digest", sa.Text, nullable=False),
    sqlite_strict=True,
)
"""One chain for each bench that writes; ``own`` is 1 where it was begun in this very record."""

head = sa.Table(
    "head",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("counter", sa.Integer, nullable=False),
    sa.Column("digest", sa.Text, nullable=False),
    sqlite_strict=True,
)
"""The end of each chain: how many rows it has, and the digest of the last."""

entry = sa.Table(
    "entry",
    metadata,
    sa.Column(
        "id",
        sa.BigInteger().with_variant(sa.Integer, "sqlite"),
        primary_key=True,
        autoincrement=False,
    ),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("counter", sa.Integer, nullable=False),
    *(
        sa.Column(name, sa.Integer if name == "attempt" else sa.Text, nullable=False)
        for name in (
            *("kind", "time", "lot", "subject", "serial", "part", "attempt"),
            *("outcome", "topic", "light", "content", "identity", "digest"),
        )
    ),
    sqlite_strict=True,
)
"""Every measurement, lot, conclusion, newer result, correction and note."""

sa.Index("entry_lot", entry.c.lot, entry.c.kind)
sa.Index("entry_serial", entry.c.serial)
sa.Index("entry_subject", entry.c.subject)
sa.Index("entry_kind", entry.c.kind, entry.c.time)
sa.Index("entry_identity", entry.c.identity)

blob = sa.Table(
    "blob",
    metadata,
    sa.Column("sha256", sa.Text, primary_key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sqlite_strict=True,
)
"""Raw files, arrays and texts, each once, by its SHA-256."""

step = sa.Table(
    "step",
    metadata,
    sa.Column("version", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("time", sa.Text, nullable=False),
    sa.Column("software", sa.Text, nullable=False),
    sa.Column("digest", sa.Text, nullable=False),
    sqlite_strict=True,
)
"""The versions of the tables that this record has had."""

_KEPT = "the record only grows: a stored row is never changed or removed"


_KEYS = {"chain": "number", "entry": "id", "blob": "sha256", "step": "version", "head": "number"}


def guards(dialect: str) -> tuple[str, ...]:
    """Give the statements that make the tables append-only.

    Parameters
    ----------
    dialect : {'sqlite', 'postgresql'}
    """
    return _GUARDS[dialect]()


def _guards_sqlite() -> tuple[str, ...]:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{_KEPT}'); END"
    made = [
        f"CREATE TRIGGER {table}_{act.lower()} BEFORE {act} ON {table} {refuse}"
        for table in ("chain", "entry", "blob", "step")
        for act in ("UPDATE", "DELETE")
    ]
    forward = "NEW.counter <= OLD.counter OR NEW.number <> OLD.number"
    made += [
        f"CREATE TRIGGER head_update BEFORE UPDATE ON head WHEN {forward} {refuse}",
        f"CREATE TRIGGER head_delete BEFORE DELETE ON head {refuse}",
    ]
    # INSERT OR REPLACE removes a row without asking the guard against removal.
    for table, key in _KEYS.items():
        there = f"NEW.{key} IN (SELECT {key} FROM {table})"  # noqa: S608 - names of this module
        act = "BEGIN SELECT RAISE(IGNORE); END" if table == "blob" else refuse
        made.append(f"CREATE TRIGGER {table}_insert BEFORE INSERT ON {table} WHEN {there} {act}")
    return tuple(made)


def _guards_postgresql() -> tuple[str, ...]:
    made = [
        (
            "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{_KEPT}'; END $$"
        )
    ]
    call = "EXECUTE FUNCTION refuse_change()"
    for table in ("chain", "entry", "blob", "step"):
        made += [
            f"CREATE TRIGGER {table}_change BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW {call}"
        ]
    forward = "NEW.counter <= OLD.counter OR NEW.number <> OLD.number"
    made += [
        f"CREATE TRIGGER head_update BEFORE UPDATE ON head FOR EACH ROW WHEN ({forward}) {call}",
        f"CREATE TRIGGER head_delete BEFORE DELETE ON head FOR EACH ROW {call}",
    ]
    for table in ("chain", "entry", "blob", "step", "head"):
        made += [
            f"CREATE TRIGGER {table}_empty BEFORE TRUNCATE ON {table} FOR EACH STATEMENT {call}"
        ]
    return tuple(made)


_GUARDS: Mapping[str, Callable[[], tuple[str, ...]]] = MappingProxyType(
    {"sqlite": _guards_sqlite, "postgresql": _guards_postgresql}
)

FIRST = 1
VERSION = 2
"""The version of the tables that this program writes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One step from a version of the tables to the next: what it does, and its statements."""

    version: int
    title: str
    statements: tuple[str, ...]


MIGRATIONS: tuple[Migration, ...] = (
    Migration(
        version=2,
        title="lists by time are found without reading everything",
        statements=("CREATE INDEX entry_kind ON entry (kind, time)",),
    ),
)
"""The steps in their order; the last leads to `VERSION`."""
