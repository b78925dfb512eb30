"""The stored record: everything measured is kept at once and never changed."""

from __future__ import annotations

from benchapp.logbook.address import (
    SERVER,
    Choices,
    default_address,
    open_logbook,
    parse_address,
    with_standby,
)
from benchapp.logbook.value import (
    WITHDRAWN,
    Basis,
    Broken,
    Correction,
    LotRow,
    Merged,
    Note,
    PartEntry,
    PartRow,
    Refit,
    Search,
    Standing,
    StoredEntry,
)

__all__ = [
    "SERVER",
    "WITHDRAWN",
    "Basis",
    "Broken",
    "Choices",
    "Correction",
    "LotRow",
    "Merged",
    "Note",
    "PartEntry",
    "PartRow",
    "Refit",
    "Search",
    "Standing",
    "StoredEntry",
    "default_address",
    "open_logbook",
    "parse_address",
    "with_standby",
]
