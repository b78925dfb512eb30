"""Looking through a whole record: what is changed, missing, added or cut off."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from benchapp.errors import RecordAwayError, RecordError
from benchapp.logbook.chain import chain_digest, place_digest, row_digest, row_identity
from benchapp.logbook.codec import named_blobs, sha256
from benchapp.logbook.engine import Store
from benchapp.logbook.making import expected_schema, schema_of, step_digest, version_of
from benchapp.logbook.schema import VERSION, blob, chain, entry, head
from benchapp.logbook.schema import step as steps
from benchapp.logbook.value import Broken
from benchapp.logbook.writing import PER_CHAIN

__all__ = ["verify"]

_STREAM = 200


@dataclass(kw_only=True)
class _Look:
    """What was seen so far: the ends of the chains, and which entry names which blob."""

    chains: dict[int, Any] = field(default_factory=dict)
    ends: dict[int, tuple[int, str]] = field(default_factory=dict)
    named: dict[bytes, str] = field(default_factory=dict)


Looking = Callable[[Store, sa.Connection, _Look], Iterator[Broken]]


def verify(store: Store) -> tuple[Broken, ...]:
    """Look through everything that is stored.

    Returns
    -------
    tuple of Broken
        Each names the entry or the place; empty where all holds.

    Raises
    ------
    RecordAwayError
        When the server does not answer.
    """
    look = _Look()
    found: list[Broken] = []
    for place, looking in _LOOKS:
        try:
            with store.reading() as connection:
                found += looking(store, connection, look)
        except RecordAwayError:
            raise
        except RecordError as error:
            found.append(Broken(where=place, what=f"cannot be read: {error.message}"))
    return tuple(found)


def _file(store: Store, connection: sa.Connection, _look: _Look) -> Iterator[Broken]:
    """Ask the database itself whether its pages and indexes hold together."""
    if store.dialect == "sqlite":
        for (line,) in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
            if line != "ok":
                yield Broken(where="file", what=" ".join(str(line).split()))


def _schema(store: Store, connection: sa.Connection, _look: _Look) -> Iterator[Broken]:
    """Compare the tables and their guards with what they must be."""
    present, expected = schema_of(connection), expected_schema(store.dialect)
    for name in sorted(expected.keys() - present.keys()):
        yield Broken(where=name, what="is missing: changes may have gone unhindered")
    for name in sorted(present.keys() - expected.keys()):
        yield Broken(where=name, what="is no part of a record")
    for name in sorted(expected.keys() & present.keys()):
        if expected[name] != present[name]:
            yield Broken(where=name, what="is not as it was made")


def _steps(store: Store, connection: sa.Connection, _look: _Look) -> Iterator[Broken]:
    versions = []
    for row in connection.execute(sa.select(steps).order_by(steps.c.version)):
        versions.append(row.version)
        if row.digest != step_digest(row.version, row.time, row.software):
            yield Broken(where=f"version {row.version}", what="its line was changed")
    if versions != list(range(1, VERSION + 1)) or version_of(store, connection) != VERSION:
        yield Broken(where="version", what=f"must be {VERSION}, reached step by step")


def _chains(_store: Store, connection: sa.Connection, look: _Look) -> Iterator[Broken]:
    for row in connection.execute(sa.select(chain).order_by(chain.c.number)):
        look.chains[row.number] = row
        look.ends[row.number] = (0, chain_digest(row.chain, row.bench, row.started))
        if row.digest != place_digest(dict(row._mapping)):  # noqa: SLF001 - its public name
            yield Broken(where=f"chain {row.chain}", what="its line was changed")


def _entries(_store: Store, connection: sa.Connection, look: _Look) -> Iterator[Broken]:
    query = sa.select(entry).order_by(entry.c.id).execution_options(yield_per=_STREAM)
    for row in connection.execute(query):
        known = look.chains.get(row.number)
        if known is None:
            yield Broken(where=f"entry {row.id}", what="belongs to no chain")
            continue
        name = f"{known.chain}-{row.counter}"
        yield from _entry(row, name, known.chain, look)
        for digest in named_blobs(row.content):
            look.named.setdefault(bytes.fromhex(digest), f"entry {row.id} ({name})")


def _entry(row: Any, name: str, called: str, look: _Look) -> Iterator[Broken]:
    where = f"entry {row.id} ({name})"
    counter, previous = look.ends[row.number]
    try:
        identity = row_identity(dict(row._mapping))  # noqa: SLF001 - its public name
    except (TypeError, ValueError, AttributeError):
        identity = ""
    if row.counter != counter + 1:
        yield Broken(where=where, what=f"must be number {counter + 1} of its chain")
    if row.id != row.number * PER_CHAIN + row.counter:
        yield Broken(where=where, what="stands under an id that is not its own")
    if identity != row.identity:
        yield Broken(where=where, what="was changed: it does not say what it said when kept")
    elif row.digest != row_digest(previous, called, row.counter, identity):
        yield Broken(where=where, what="does not follow the entry before it")
    # Going on from what is stored names the place of a break once, not at every later entry.
    look.ends[row.number] = (row.counter, row.digest)


def _heads(_store: Store, connection: sa.Connection, look: _Look) -> Iterator[Broken]:
    missing = set(look.ends)
    for row in connection.execute(sa.select(head)):
        end = look.ends.get(row.number)
        missing.discard(row.number)
        if end is None:
            yield Broken(where=f"head {row.number}", what="belongs to no chain")
        elif end != (row.counter, row.digest):
            yield Broken(
                where=f"chain {look.chains[row.number].chain}",
                what=f"must end with number {row.counter} (it ends with {end[0]}, or another "
                "digest): its end was cut off, added to or changed",
            )
    for number in sorted(missing):
        yield Broken(where=f"chain {look.chains[number].chain}", what="its head is missing")


def _blobs(_store: Store, connection: sa.Connection, look: _Look) -> Iterator[Broken]:
    unseen = dict(look.named)
    query = sa.select(blob.c.sha256, blob.c.content).execution_options(yield_per=_STREAM)
    for digest, content in connection.execute(query):
        try:
            key = bytes.fromhex(digest)
        except (TypeError, ValueError):
            yield Broken(where=f"blob {digest!r}", what="stands under no digest")
            continue
        where = look.named.get(key)
        if where is None:
            yield Broken(where=f"blob {digest}", what="is named by no entry")
        elif sha256(bytes(content)) != digest:
            yield Broken(where=where, what=f"its bytes {digest} were changed")
        unseen.pop(key, None)
    for key, where in unseen.items():
        yield Broken(where=where, what=f"its bytes {key.hex()} are missing")


_LOOKS: tuple[tuple[str, Looking], ...] = (
    ("file", _file),
    ("schema", _schema),
    ("versions", _steps),
    ("chains", _chains),
    ("entries", _entries),
    ("heads", _heads),
    ("bytes", _blobs),
)
