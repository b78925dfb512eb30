"""Adding rows at the end of a chain."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from benchapp.logbook.chain import (
    Row,
    chain_digest,
    key_of,
    place_digest,
    row_digest,
    row_identity,
)
from benchapp.logbook.schema import blob, chain, entry, head
from benchapp.logbook.value import WITHDRAWN

__all__ = ["PER_CHAIN", "Chain", "add_chain", "append", "hold_chains", "put_blobs"]

PER_CHAIN = 1_000_000_000
"""The id of a row is the number of its chain times this, plus its counter."""

_AT_ONCE = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The end of a chain: where the next row goes."""

    number: int
    chain: str
    counter: int
    digest: str


def append(
    connection: sa.Connection,
    bench: str,
    rows: Sequence[Row],
    blobs: Mapping[str, bytes],
    clock: Callable[[], str],
) -> list[int]:
    """Add rows to the bench's own chain; a row that is there already is not added again.

    A measurement whose attempt is taken, because another one of the part was kept meanwhile, has
    the next that is free.

    Returns
    -------
    list of int
        The ids, in the order of ``rows``.
    """
    end = _own_chain(connection, bench, clock)
    values = [asdict(row) for row in rows]
    measured = [value for value in values if value["kind"] == "part" and value["lot"]]
    if measured:
        _number(connection, measured)
    for value in values:
        value["identity"] = row_identity(value)
    ids = _present(connection, [value["identity"] for value in values])
    fresh: list[dict[str, Any]] = []
    counter, digest = end.counter, end.digest
    for value in values:
        if value["identity"] in ids:
            continue
        counter += 1
        digest = row_digest(digest, end.chain, counter, value["identity"])
        ids[value["identity"]] = end.number * PER_CHAIN + counter
        fresh.append(
            value
            | {"id": ids[value["identity"]], "number": end.number}
            | {"counter": counter, "digest": digest}
        )
    if fresh:
        put_blobs(connection, blobs)
        connection.execute(sa.insert(entry), fresh)
        connection.execute(
            sa.update(head).where(head.c.number == end.number),
            {"counter": counter, "digest": digest},
        )
    return [ids[value["identity"]] for value in values]


@dataclass(frozen=True, slots=True)
class _Kept:
    """A measurement of a part that is in the record: ``counts`` unless it was withdrawn."""

    attempt: int
    identity: str
    counts: bool = True


def _number(connection: sa.Connection, values: Sequence[dict[str, Any]]) -> None:
    """Give measurements of a lot their attempts; what is there already keeps its own."""
    if connection.dialect.name == "postgresql":
        for lot in sorted({value["lot"] for value in values}):
            key = sa.func.hashtextextended(lot, 0)
            connection.execute(sa.select(sa.func.pg_advisory_xact_lock(key)))
    earlier = _earlier(connection, values)
    for value in values:
        before = earlier.setdefault((value["lot"], value["serial"]), [])
        value["attempt"] = _attempt(value, before)
        before.append(_Kept(value["attempt"], row_identity(value)))


def _attempt(value: Mapping[str, Any], before: Sequence[_Kept]) -> int:
    wanted: int = value["attempt"]
    for one in before:
        given = {**value, "attempt": one.attempt}
        if one.attempt >= wanted and row_identity(given) == one.identity:
            return one.attempt  # the same measurement, sent again
    taken = [one.attempt for one in before if one.counts]
    return max(taken) + 1 if wanted in taken else wanted


def _earlier(
    connection: sa.Connection, values: Sequence[Mapping[str, Any]]
) -> dict[tuple[str, str], list[_Kept]]:
    """Give what is kept of these parts in these lots."""
    found: dict[tuple[str, str], list[_Kept]] = {}
    lots = {value["lot"] for value in values}
    serials = sorted({value["serial"] for value in values})
    # Not by the index of lots, which would go through the whole lot for every part of it.
    within = sa.func.coalesce(entry.c.lot, "").in_(lots)
    columns = (entry.c.lot, entry.c.serial, entry.c.attempt, entry.c.identity, entry.c.counter)
    joined = entry.join(chain, chain.c.number == entry.c.number)
    for start in range(0, len(serials), _AT_ONCE):
        some = entry.c.serial.in_(serials[start : start + _AT_ONCE])
        query = sa.select(*columns, chain.c.chain).select_from(joined)
        rows = connection.execute(query.where(entry.c.kind == "part", some, within)).all()
        withdrawn = _withdrawn(connection, [key_of(row.chain, row.counter) for row in rows])
        for row in rows:
            counts = key_of(row.chain, row.counter) not in withdrawn
            kept = found.setdefault((row.lot, row.serial), [])
            kept.append(_Kept(row.attempt, row.identity, counts))
    return found


def _withdrawn(connection: sa.Connection, keys: Sequence[str]) -> frozenset[str]:
    if not keys:
        return frozenset()
    query = sa.select(entry.c.subject).where(
        entry.c.subject.in_(keys), entry.c.kind == "correction", entry.c.topic == WITHDRAWN
    )
    return frozenset(connection.execute(query).scalars())


def put_blobs(connection: sa.Connection, blobs: Mapping[str, bytes]) -> None:
    """Store blobs that are not there yet."""
    if not blobs:
        return
    dialect = sqlite if connection.dialect.name == "sqlite" else postgresql
    statement = dialect.insert(blob).on_conflict_do_nothing()
    # One order for all benches: two that store the same blobs never wait for each other in a ring.
    connection.execute(
        statement, [{"sha256": key, "content": blobs[key]} for key in sorted(blobs)]
    )


def _present(connection: sa.Connection, identities: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for start in range(0, len(identities), _AT_ONCE):
        some = identities[start : start + _AT_ONCE]
        where = entry.c.identity.in_(some)
        query = sa.select(entry.c.identity, sa.func.min(entry.c.id))
        rows = connection.execute(query.where(where).group_by(entry.c.identity))
        found |= {row[0]: row[1] for row in rows}
    return found


def _own_chain(connection: sa.Connection, bench: str, clock: Callable[[], str]) -> Chain:
    """Give the end of this bench's chain, held until the transaction ends; begin it if need be."""
    # By the bench in a file too: a copy of it that another bench goes on with can be merged.
    mine = (chain.c.own == 1) & (chain.c.bench == bench)
    found = connection.execute(
        sa.select(chain.c.number, chain.c.chain).where(mine).order_by(chain.c.number).limit(1)
    ).first()
    if found is None:
        return _begin_chain(connection, bench, clock())
    counter, digest = connection.execute(
        sa.select(head.c.counter, head.c.digest)
        .where(head.c.number == found.number)
        .with_for_update()
    ).one()
    return Chain(number=found.number, chain=found.chain, counter=counter, digest=digest)


def _begin_chain(connection: sa.Connection, bench: str, started: str) -> Chain:
    if connection.dialect.name == "postgresql":
        hold_chains(connection)
        again = connection.execute(
            sa.select(chain.c.number).where((chain.c.own == 1) & (chain.c.bench == bench))
        ).first()
        if again is not None:
            return _own_chain(connection, bench, lambda: started)
    name = secrets.token_hex(6)
    digest = chain_digest(name, bench, started)
    number = add_chain(connection, name, bench, started, own=1)
    connection.execute(sa.insert(head), {"number": number, "counter": 0, "digest": digest})
    return Chain(number=number, chain=name, counter=0, digest=digest)


def hold_chains(connection: sa.Connection) -> None:
    """Let no other bench note a chain until this transaction ends."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("LOCK TABLE chain IN SHARE ROW EXCLUSIVE MODE")


def add_chain(connection: sa.Connection, name: str, bench: str, started: str, *, own: int) -> int:
    """Note a chain under the next free number."""
    number = int(
        connection.execute(
            sa.select(sa.func.coalesce(sa.func.max(chain.c.number) + 1, 0))
        ).scalar_one()
    )
    values = {"number": number, "chain": name, "bench": bench, "started": started, "own": own}
    connection.execute(sa.insert(chain), values | {"digest": place_digest(values)})
    return number
