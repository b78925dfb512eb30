"""Copying the chains of one record into another, row by row as they stand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from benchapp.errors import RecordError
from benchapp.logbook.chain import chain_digest, row_digest, row_identity
from benchapp.logbook.codec import named_blobs, sha256
from benchapp.logbook.engine import Store
from benchapp.logbook.schema import blob, chain, entry, head
from benchapp.logbook.value import Merged
from benchapp.logbook.writing import PER_CHAIN, add_chain, hold_chains, put_blobs

__all__ = ["merge"]

_AT_ONCE = 200


def merge(source: Store, target: Store) -> Merged:
    """Copy every row of ``source`` that ``target`` does not have.

    Each piece is one transaction: a merge that was interrupted is done again and goes on.

    Raises
    ------
    RecordError
        When both continue one chain differently, or a row of ``source`` is damaged.
    """
    if source.address == target.address:
        raise RecordError(
            f"merge: must be of two records (got {source.address.text} twice).",
            hint="Name the record to take from and the one to bring it to.",
        )
    with source.reading() as connection:
        chains = connection.execute(sa.select(chain).order_by(chain.c.number)).all()
    copied = present = 0
    for each in chains:
        while True:
            pieces, had = _piece(source, target, each)
            copied += pieces
            if not pieces:
                present += had
                break
    return Merged(copied=copied, present=present - copied)


def _piece(source: Store, target: Store, each: Any) -> tuple[int, int]:
    """Copy the next rows of one chain; give how many, and how many the target had before."""
    with target.writing() as into:
        number, counter, digest = _end(into, each)
        with source.reading() as out:
            rows = _next_rows(out, each.number, counter)
            _agree(out, each, counter, digest)
            fresh = _checked(rows, each, number, digest)
            blobs = _blobs_of(out, fresh)
        if fresh:
            put_blobs(into, blobs)
            into.execute(sa.insert(entry), fresh)
            last = {"counter": fresh[-1]["counter"], "digest": fresh[-1]["digest"]}
            into.execute(sa.update(head).where(head.c.number == number), last)
    return len(fresh), counter


def _end(into: sa.Connection, each: Any) -> tuple[int, int, str]:
    """Give number, counter and digest of a chain in the target; note the chain if it is new."""
    hold_chains(into)
    number = into.execute(sa.select(chain.c.number).where(chain.c.chain == each.chain)).scalar()
    if number is None:
        number = add_chain(into, each.chain, each.bench, each.started, own=0)
        digest = chain_digest(each.chain, each.bench, each.started)
        into.execute(sa.insert(head), {"number": number, "counter": 0, "digest": digest})
        return number, 0, digest
    where = head.c.number == number
    found = into.execute(sa.select(head.c.counter, head.c.digest).where(where).with_for_update())
    counter, digest = found.one()
    return int(number), int(counter), str(digest)


def _next_rows(out: sa.Connection, number: int, counter: int) -> Sequence[Any]:
    first = number * PER_CHAIN + counter
    query = sa.select(entry).where(entry.c.id > first, entry.c.id <= first + _AT_ONCE)
    return out.execute(query.order_by(entry.c.id)).all()


def _agree(out: sa.Connection, each: Any, counter: int, digest: str) -> None:
    """Refuse where the target's last row of the chain is another one in the source."""
    number = each.number * PER_CHAIN + counter
    found = out.execute(sa.select(entry.c.digest).where(entry.c.id == number)).scalar()
    if found is not None and found != digest:
        raise RecordError(
            f"merge: both records must hold the same entry {each.chain}-{counter} "
            "(got two that differ).",
            hint="Either one file was copied and the same bench wrote to both copies: go on with "
            "one, keep the other as it is, and bring its parts over by their files "
            "('benchapp logbook export FILE --raw ID'), judged again. Or one was changed: "
            "'benchapp logbook verify' on both tells. Nothing more was copied.",
        )


def _checked(rows: Sequence[Any], each: Any, number: int, digest: str) -> list[dict[str, Any]]:
    fresh = []
    for row in rows:
        values = dict(row._mapping)  # noqa: SLF001 - its public name
        identity = row_identity(values)
        digest = row_digest(digest, each.chain, row.counter, identity)
        if (identity, digest) != (row.identity, row.digest):
            raise _damaged(f"{each.chain}-{row.counter}")
        fresh.append(values | {"number": number, "id": number * PER_CHAIN + row.counter})
    return fresh


def _blobs_of(out: sa.Connection, rows: Sequence[dict[str, Any]]) -> dict[str, bytes]:
    names = {digest: row for row in rows for digest in named_blobs(row["content"])}
    wanted, found = sorted(names), {}
    for start in range(0, len(wanted), _AT_ONCE):
        some = blob.c.sha256.in_(wanted[start : start + _AT_ONCE])
        for digest, content in out.execute(sa.select(blob.c.sha256, blob.c.content).where(some)):
            found[digest] = bytes(content)
    for digest in wanted:
        if digest not in found or sha256(found[digest]) != digest:
            raise _damaged(f"of id {names[digest]['id']}")
    return found


def _damaged(which: str) -> RecordError:
    return RecordError(
        f"merge: every entry must be whole (got a damaged entry {which}).",
        hint="Run 'benchapp logbook verify' on the record it comes from. Nothing more was copied.",
    )
