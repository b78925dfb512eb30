"""What changed from one design to another, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchapp.nominal.value import Nominal
from benchapp.nominal.writing import form_from

__all__ = ["differences"]

_NOT_COMPARED = ("revision", "history")
_WORDS = {"lower": "at least", "upper": "at most", "at": "at frequency", "guard": "guard band"}


def differences(before: Nominal, after: Nominal) -> tuple[str, ...]:
    """Say what differs between two designs; revision and history do not count.

    Returns
    -------
    tuple of str
        One entry for each difference, such as ``L, tolerance: ±3 % -> ±2 %``.
    """
    old, new = (dict(_entries(form_from(design))) for design in (before, after))
    names = [*old, *(name for name in new if name not in old)]
    return tuple(
        f"{name}: {old.get(name, 'not stated')} -> {new.get(name, 'not stated')}"
        for name in names
        if old.get(name) != new.get(name)
    )


def _entries(form: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Give every text of a form with its name in words."""
    for key, value in form.items():
        if key in _NOT_COMPARED:
            continue
        if not isinstance(value, Mapping):
            yield key, str(value)
            continue
        for name, entry in value.items():
            several = entry if isinstance(entry, list) else [entry]
            for number, each in enumerate(several):
                label = name if number == 0 else f"{name} ({number + 1})"
                yield from _texts(label, each)


def _texts(label: str, entry: object) -> Iterator[tuple[str, str]]:
    if not isinstance(entry, Mapping):
        yield _WORDS.get(label, label), f"{entry:g}" if isinstance(entry, float) else str(entry)
        return
    for key, value in entry.items():
        yield f"{label}, {_WORDS.get(key, key)}", str(value)
