"""Values of the logbook to rows of its tables, and back."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import fields
from typing import Any

from benchapp.errors import RecordError
from benchapp.logbook.chain import Row
from benchapp.logbook.codec import Blobs, canonical, decode, encode
from benchapp.logbook.value import PartEntry, PartRow
from benchapp.lot import PartRecord, key_of
from benchapp.nominal import Nominal, Outcome
from benchapp.units import Estimate

__all__ = [
    "entry_of",
    "estimates_of",
    "part_record",
    "part_row",
    "plain_row",
    "row_of",
    "value_of",
]

_OWN_COLUMNS = ("serial", "time", "lot", "attempt")
_TEXTS = ("raw", "nominal_text", "accuracy_text")
_ELEMENTS = ("L", "C", "R", "Q", "f0")


def row_of(entry: PartEntry, blobs: Blobs) -> Row:
    """Give the row of a measurement; its arrays and files go into ``blobs``.

    Raises
    ------
    RecordError
        When a text cannot be kept, or a value is of an unknown kind.
    """
    tree = {
        field.name: encode(getattr(entry, field.name), blobs)
        for field in fields(entry)
        if field.name not in (*_OWN_COLUMNS, *_TEXTS, "nominal")
    }
    tree["raw"] = encode(entry.raw or None, blobs)
    tree["nominal_text"] = _long(entry.nominal_text, blobs)
    tree["accuracy_text"] = _long(entry.accuracy_text, blobs)
    tree["nominal"] = _nominal(entry.nominal, blobs)
    outcome = Outcome.NOT_JUDGED if entry.verdict is None else entry.verdict.outcome
    return Row(
        kind="part",
        time=_text("time", entry.time),
        lot=entry.lot or "",
        serial=_text("serial", entry.serial),
        part="" if entry.nominal is None else _text("part", entry.nominal.title),
        attempt=entry.attempt,
        outcome=outcome.value,
        light=canonical(_light(entry)),
        content=canonical(tree),
    )


def plain_row(kind: str, time: str, content: Any, blobs: Blobs, **columns: Any) -> Row:
    """Give the row of anything else."""
    return Row(kind=kind, time=time, content=canonical(encode(content, blobs)), **columns)


def value_of(content: str, blob: Callable[[str], bytes]) -> Any:
    """Give back what `plain_row` kept."""
    return decode(json.loads(content), blob)


def entry_of(row: Mapping[str, Any], blob: Callable[[str], bytes]) -> PartEntry:
    """Give the measurement back as it was put in.

    Raises
    ------
    RecordError
        When it was written by a newer version, or a blob is missing.
    """
    tree = json.loads(row["content"])
    values = {name: decode(part, blob) for name, part in tree.items()}
    values["raw"] = values["raw"] or b""
    for name in ("nominal_text", "accuracy_text"):
        values[name] = (values[name] or b"").decode("utf-8", "surrogatepass")
    if values["nominal"] is not None:
        values["nominal"] = decode(json.loads(values["nominal"]), blob)
    known = {field.name for field in fields(PartEntry)}
    if not values.keys() <= known:
        raise RecordError(
            f"entry: must hold what this version knows (got {sorted(values.keys() - known)}).",
            hint="It was written by a newer version of benchapp: open it with that one.",
        )
    own = {name: row[name] for name in ("serial", "time", "attempt")}
    return PartEntry(**values, **own, lot=row["lot"] or None)


def estimates_of(entry: PartEntry) -> dict[str, Estimate]:
    """Give what lists show of a result: the elements, and what was judged by name of limit."""
    found: dict[str, Estimate] = {}
    if entry.fit is not None:
        found = {key: value for key, value in entry.fit.estimates.items() if key in _ELEMENTS}
    for limit in () if entry.verdict is None else entry.verdict.limits:
        if limit.measured is not None:
            found[key_of(limit.limit)] = limit.measured
    return found


class _Estimates(Mapping[str, Estimate]):
    """Estimates by name as they are stored, read when the first of them is asked for.

    A lot of thousands of parts opens at once, of which a list shows a screenful.
    """

    __slots__ = ("_read", "_text")

    def __init__(self, text: str) -> None:
        self._text = text
        self._read: dict[str, Estimate] | None = None

    @property
    def _estimates(self) -> dict[str, Estimate]:
        if self._read is None:
            self._read = {
                name: Estimate(name=called, value=float(value), u=_number(u), unit=unit)
                for name, (called, value, u, unit) in json.loads(self._text).items()
            }
        return self._read

    def __getitem__(self, name: str) -> Estimate:
        return self._estimates[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._estimates)

    def __len__(self) -> int:
        return len(self._estimates)

    def __repr__(self) -> str:
        return repr(self._estimates)


def _light_of(text: str) -> tuple[dict[str, Any], _Estimates]:
    """Give the values that lists show, the estimates among them unread."""
    # Inside a JSON string the quotes would be escaped: no typed text can look like these names.
    head, _, rest = text.partition(',"estimates":')
    estimates, found, tail = rest.partition(',"operator":')
    if found:
        return json.loads(f"{head}{found}{tail}"), _Estimates(estimates)
    light = json.loads(text)
    return light, _Estimates(canonical(light["estimates"]))


def _number(text: str | None) -> float | None:
    return None if text is None else float(text)


def part_row(row: Any, withdrawn: Collection[str]) -> PartRow:
    """Give the few values of a stored measurement that lists show."""
    light, estimates = _light_of(row.light)
    key = f"{row.chain}-{row.counter}"
    return PartRow(
        id=row.id,
        key=key,
        lot=row.lot or None,
        serial=row.serial,
        part=row.part,
        position=light["position"],
        attempt=row.attempt,
        time=row.time,
        operator=light["operator"],
        outcome=Outcome(row.outcome),
        deciding=light["deciding"],
        reason=light["reason"],
        path=light["path"],
        retest_reason=light["retest_reason"],
        estimates=estimates,
        withdrawn=key in withdrawn,
    )


def part_record(row: PartRow) -> PartRecord:
    """Give a stored measurement as its lot sees it."""
    return PartRecord(
        serial=row.serial,
        outcome=row.outcome,
        position=row.position,
        attempt=row.attempt,
        cause=row.retest_reason,
        estimates=row.estimates,
        deciding=row.deciding,
        reason=row.reason,
        path=row.path,
        entry=row.id,
        time=row.time,
    )


def _light(entry: PartEntry) -> dict[str, Any]:
    deciding = None if entry.verdict is None else entry.verdict.deciding
    reason = "" if entry.verdict is None else entry.verdict.reason
    if not reason and deciding is not None:
        reason = deciding.reason
    return {
        "position": entry.position,
        "operator": entry.operator,
        "deciding": "" if deciding is None else key_of(deciding.limit),
        "reason": reason,
        "path": entry.path,
        "retest_reason": entry.retest_reason,
        "estimates": {
            key: [
                value.name,
                repr(value.value),
                None if value.u is None else repr(value.u),
                value.unit,
            ]
            for key, value in estimates_of(entry).items()
        },
    }


def _long(text: str, blobs: Blobs) -> Any:
    return encode(text.encode("utf-8", "surrogatepass") if text else None, blobs)


def _nominal(nominal: Nominal | None, blobs: Blobs) -> Any:
    """Keep a design as a blob of its own: all parts of a lot share it."""
    if nominal is None:
        return None
    return encode(canonical(encode(nominal, blobs)).encode(), blobs)


def _text(name: str, text: str) -> str:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        text += "\0"
    if "\0" in text:
        raise RecordError(
            f"{name}: must be text that can be written down (got {text[:40]!r}).",
            hint="Type it again without unusual signs.",
        )
    return text
