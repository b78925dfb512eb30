"""The chain of digests: how a silent change of the record becomes visible.

Each row has an *identity*, the SHA-256 of everything it says, and a *digest*, the SHA-256 of its
identity, its place and the digest of the row before. The first row follows the digest of the
chain's own description. A changed, removed, inserted or moved row therefore breaks the chain at
that place, and the head, which holds the number of rows and the last digest, shows a cut end.

What a chain cannot show: that a person with the right to write computed all digests anew, head
included. Against that, keep the head's digest elsewhere: on a printed report, or in a backup.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchapp.logbook.codec import canonical, sha256

__all__ = ["SAID", "Row", "chain_digest", "key_of", "place_digest", "row_digest", "row_identity"]

SAID = (
    "kind",
    "time",
    "lot",
    "subject",
    "serial",
    "part",
    "attempt",
    "outcome",
    "topic",
    "light",
)
"""The columns that a row's identity covers, beside the content."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row as it is stored, without its place. "" stands for nothing.

    ``lot`` and ``subject`` name other rows by their key; ``light`` and ``content`` are canonical
    JSON, the first with the few values that lists show.
    """

    kind: str
    time: str
    lot: str = ""
    subject: str = ""
    serial: str = ""
    part: str = ""
    attempt: int = 0
    outcome: str = ""
    topic: str = ""
    light: str = "{}"
    content: str = "{}"


def key_of(chain: str, counter: int) -> str:
    """Name a row so that every record it is copied to knows it by the same name."""
    return f"{chain}-{counter}"


def chain_digest(chain: str, bench: str, started: str) -> str:
    """Give the digest that the first row of a chain follows."""
    return sha256(canonical([chain, bench, started]).encode())


def place_digest(values: Mapping[str, Any]) -> str:
    """Give the digest that the line about a chain carries in one record."""
    names = ("number", "chain", "bench", "started", "own")
    return sha256(canonical([values[name] for name in names]).encode())


def row_identity(row: Mapping[str, Any]) -> str:
    """Give the SHA-256 of everything a row says, wherever it stands."""
    content = sha256(row["content"].encode("utf-8", "surrogateescape"))
    return sha256(canonical([*(row[name] for name in SAID), content]).encode())


def row_digest(previous: str, chain: str, counter: int, identity: str) -> str:
    """Give the digest of a row at its place."""
    return sha256(canonical([previous, chain, counter, identity]).encode())
