"""Finding stored entries again."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import sqlalchemy as sa

from benchapp.errors import RecordError
from benchapp.logbook.codec import decode
from benchapp.logbook.rows import entry_of, part_record, part_row, value_of
from benchapp.logbook.schema import blob, chain, entry
from benchapp.logbook.value import (
    WITHDRAWN,
    Correction,
    LotRow,
    Note,
    PartRow,
    Refit,
    Search,
    StoredEntry,
)
from benchapp.lot import LotState

__all__ = [
    "attempt",
    "entry_of_id",
    "key",
    "lot",
    "lot_state",
    "lots",
    "met",
    "notes",
    "parts",
    "refit_counts",
]

_ESCAPE = "\\"
_LIGHT = ("id", "counter", "time", "lot", "serial", "part", "attempt", "outcome", "light")


def key(connection: sa.Connection, number: int) -> str:
    """Give the key of a row.

    Raises
    ------
    RecordError
        When there is no such row.
    """
    row = connection.execute(_rows(entry.c.counter).where(entry.c.id == number)).first()
    if row is None:
        raise _missing(number)
    return f"{row.chain}-{row.counter}"


def parts(connection: sa.Connection, wanted: Search) -> tuple[PartRow, ...]:
    """List measurements in the order in which they were kept."""
    query = _shown(_rows(*(entry.c[name] for name in _LIGHT))).where(entry.c.kind == "part")
    for condition in _conditions(wanted):
        query = query.where(condition)
    withdrawn = _withdrawn(connection)
    columns = (entry.c.time, entry.c.id)
    order = [column.desc() if wanted.newest_first else column.asc() for column in columns]
    found = connection.execute(query.order_by(*order).limit(wanted.limit)).all()
    return tuple(part_row(row, withdrawn) for row in found)


def attempt(connection: sa.Connection, number: int) -> int:
    """Give which attempt a measurement is.

    Raises
    ------
    RecordError
        When there is no such row.
    """
    found = connection.execute(sa.select(entry.c.attempt).where(entry.c.id == number)).scalar()
    if found is None:
        raise _missing(number)
    return int(found)


def met(
    connection: sa.Connection, part: str, serial: str | None = None
) -> dict[str, list[tuple[str, str]]]:
    """Say in which lots serials of a part were measured, and when, the oldest first.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    part : str
        Title of the design.
    serial : str, optional
        Only this one.

    Returns
    -------
    dict
        Key of the lot, "" outside of one, and time, for each measurement that counts.
    """
    query = _rows(entry.c.serial, entry.c.lot, entry.c.time, entry.c.counter)
    query = query.where(entry.c.kind == "part", entry.c.part == part)
    if serial is not None:
        query = query.where(entry.c.serial == serial)
    withdrawn = _withdrawn(connection)
    found: dict[str, list[tuple[str, str]]] = {}
    for row in connection.execute(query.order_by(entry.c.time, entry.c.id)):
        if f"{row.chain}-{row.counter}" not in withdrawn:
            found.setdefault(row.serial, []).append((row.lot, row.time))
    return found


def lots(connection: sa.Connection) -> tuple[LotRow, ...]:
    """List the lots, the newest first."""
    counts = _counts(connection)
    query = _shown(_rows(entry)).where(entry.c.kind == "lot")
    rows = connection.execute(query.order_by(entry.c.time.desc(), entry.c.id.desc())).all()
    return tuple(_lot_row(connection, row, counts) for row in rows)


def lot(connection: sa.Connection, name: str) -> LotRow:
    """Give one lot by its key.

    Raises
    ------
    RecordError
        When there is none.
    """
    row = _by_key(connection, name)
    if row is None or row.kind != "lot":
        raise RecordError(
            f"lot: must be one of the record (got {name!r}).",
            hint="'benchapp logbook list --lots' lists them.",
        )
    return _lot_row(connection, row, _counts(connection))


def lot_state(connection: sa.Connection, name: str) -> LotState:
    """Give a lot as far as it is inspected.

    Raises
    ------
    RecordError
        When there is none of this key.
    """
    row = lot(connection, name)
    measured = parts(connection, Search(lot=name))
    return LotState(
        form=row.form,
        plan=row.plan,
        positions=row.positions,
        parts=tuple(part_record(each) for each in measured if not each.withdrawn),
        undone=tuple(part_record(each) for each in measured if each.withdrawn),
        conclusion=row.conclusion,
    )


def entry_of_id(connection: sa.Connection, number: int) -> StoredEntry:
    """Open a measurement with everything that was added since.

    Raises
    ------
    RecordError
        When there is no measurement of this id.
    """
    row = connection.execute(_rows(entry).where(entry.c.id == number)).first()
    if row is None or row.kind != "part":
        raise _missing(number)
    reader = _blob_reader(connection)
    name = f"{row.chain}-{row.counter}"
    later = connection.execute(
        _shown(_rows(entry)).where(entry.c.subject == name).order_by(entry.c.time, entry.c.id)
    ).all()
    return StoredEntry(
        id=row.id,
        key=name,
        bench=row.bench,
        digest=row.digest,
        entry=entry_of(dict(row._mapping), reader),  # noqa: SLF001 - its public name
        refits=tuple(_refit(each, reader) for each in later if each.kind == "refit"),
        corrections=tuple(_correction(each) for each in later if each.kind == "correction"),
    )


def refit_counts(connection: sa.Connection) -> dict[str, int]:
    """Give how many newer results stand beside measurements that have any, by their keys."""
    query = _shown(sa.select(entry.c.subject, sa.func.count()).where(entry.c.kind == "refit"))
    rows = connection.execute(query.group_by(entry.c.subject))
    return {row[0]: row[1] for row in rows}


def notes(connection: sa.Connection, kind: str) -> tuple[Note, ...]:
    """List the notes of one kind, the oldest first."""
    query = _shown(_rows(entry)).where(entry.c.kind == "note", entry.c.topic == kind)
    reader = _blob_reader(connection)
    return tuple(
        Note(
            id=row.id,
            key=f"{row.chain}-{row.counter}",
            time=row.time,
            kind=kind,
            content=value_of(row.content, reader),
        )
        for row in connection.execute(query.order_by(entry.c.time, entry.c.id))
    )


def _rows(*columns: Any) -> sa.Select[Any]:
    joined = entry.join(chain, chain.c.number == entry.c.number)
    return sa.select(*columns, chain.c.chain, chain.c.bench).select_from(joined)


def _shown(query: sa.Select[Any]) -> sa.Select[Any]:
    """Leave out the second of two rows that say the same, kept here and on another bench."""
    twin = entry.alias()
    earlier = sa.exists().where(twin.c.identity == entry.c.identity, twin.c.id < entry.c.id)
    return query.where(~earlier)


def _conditions(wanted: Search) -> Iterator[sa.ColumnElement[bool]]:
    for name in ("serial", "part", "lot", "outcome"):
        value = getattr(wanted, name)
        if value is not None:
            yield entry.c[name] == str(value)
    for name, pattern in (("serial", wanted.serial_like), ("part", wanted.part_like)):
        if pattern is not None:
            yield entry.c[name].ilike(_like(pattern), escape=_ESCAPE)
    if wanted.lots is not None:
        yield entry.c.lot.in_(wanted.lots)
    if wanted.since is not None:
        yield entry.c.time >= wanted.since
    if wanted.until is not None:
        yield entry.c.time < wanted.until


def _like(pattern: str) -> str:
    """Write a pattern with ``*`` as the database writes it."""
    for sign in (_ESCAPE, "%", "_"):
        pattern = pattern.replace(sign, _ESCAPE + sign)
    return pattern.replace("*", "%")


def _withdrawn(connection: sa.Connection) -> frozenset[str]:
    query = sa.select(entry.c.subject)
    found = query.where(entry.c.kind == "correction", entry.c.topic == WITHDRAWN)
    return frozenset(connection.execute(found).scalars())


def _counts(connection: sa.Connection) -> dict[str, int]:
    query = _shown(sa.select(entry.c.lot, sa.func.count()).where(entry.c.kind == "part"))
    rows = connection.execute(query.group_by(entry.c.lot))
    return {row[0]: row[1] for row in rows}


def _by_key(connection: sa.Connection, name: str) -> Any:
    stem, _, counter = name.rpartition("-")
    if not counter.isdigit():
        return None
    query = _rows(entry).where(chain.c.chain == stem, entry.c.counter == int(counter))
    return connection.execute(query).first()


def _lot_row(connection: sa.Connection, row: Any, counts: dict[str, int]) -> LotRow:
    reader = _blob_reader(connection)
    name = f"{row.chain}-{row.counter}"
    ended = connection.execute(
        sa.select(entry.c.content)
        .where(entry.c.subject == name, entry.c.kind == "conclusion")
        .order_by(entry.c.time.desc(), entry.c.id.desc())
        .limit(1)
    ).scalar()
    content = value_of(row.content, reader)
    return LotRow(
        id=row.id,
        key=name,
        time=row.time,
        bench=row.bench,
        form=content["form"],
        plan=content["plan"],
        positions=content["positions"],
        nominal=content["nominal"],
        measurements=counts.get(name, 0),
        conclusion=None if ended is None else value_of(ended, reader),
    )


def _refit(row: Any, reader: Callable[[str], bytes]) -> Refit:
    content = value_of(row.content, reader)
    return Refit(id=row.id, key=f"{row.chain}-{row.counter}", time=row.time, **content)


def _correction(row: Any) -> Correction:
    content = decode(json.loads(row.content), lambda _: b"")
    return Correction(id=row.id, key=f"{row.chain}-{row.counter}", time=row.time, **content)


def _blob_reader(connection: sa.Connection) -> Callable[[str], bytes]:
    def read(digest: str) -> bytes:
        content = connection.execute(
            sa.select(blob.c.content).where(blob.c.sha256 == digest)
        ).scalar()
        if content is None:
            raise RecordError(
                f"record: must hold what its entries name (got no blob {digest}).",
                hint="Run 'benchapp logbook verify', and take the last backup.",
            )
        return bytes(content)

    return read


def _missing(number: int) -> RecordError:
    return RecordError(
        f"entry: must be a measurement of the record (got {number}).",
        hint="'benchapp logbook list' lists them.",
    )
