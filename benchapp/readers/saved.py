"""Captures as the program saves them: plain CSV whose preamble holds everything that is known.

Numbers are written so that reading gives back the very same ones; every fact of a capture has a
line of its own in the preamble. A text without those lines is left to the reader of tables.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import (
    Capture,
    Conditions,
    Noise,
    Origin,
    Response,
    Step,
    Sweep,
    Transient,
)
from benchapp.errors import CaptureError, ReadError
from benchapp.readers.document import Document, Understood
from benchapp.readers.notes import Notes
from benchapp.readers.reading import Column

__all__ = ["is_saved", "looks_saved", "saved_text", "understand_saved"]

FIRST = "# benchapp capture 1"
"""The first line of every capture; the number is that of the form."""

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """One kind of capture: its columns with units, its own facts, and the way to arrays."""

    make: type
    columns: tuple[tuple[str, str], ...]
    facts: tuple[str, ...]
    out: Callable[[Any], tuple[FloatArray, ...]]
    back: Callable[[FloatArray], dict[str, Any]]


def _complex(table: FloatArray) -> NDArray[np.complex128]:
    value = np.empty(table.shape[0], dtype=np.complex128)
    value.real, value.imag = table[:, 1], table[:, 2]  # a sum would lose the sign of a zero
    return value


_KINDS: Mapping[str, _Kind] = MappingProxyType(
    {
        "sweep": _Kind(
            make=Sweep,
            columns=(("frequency", "Hz"), ("R", "ohm"), ("X", "ohm")),
            facts=("noise",),
            out=lambda one: (one.frequency, one.impedance.real, one.impedance.imag),
            back=lambda table: {"frequency": table[:, 0], "impedance": _complex(table)},
        ),
        "response": _Kind(
            make=Response,
            columns=(("frequency", "Hz"), ("real", "1"), ("imaginary", "1")),
            facts=("kind", "has_phase", "reference", "noise_level"),
            out=lambda one: (one.frequency, one.ratio.real, one.ratio.imag),
            back=lambda table: {"frequency": table[:, 0], "ratio": _complex(table)},
        ),
        "transient": _Kind(
            make=Transient,
            columns=(("time", "s"), ("voltage", "V")),
            facts=("step_volt", "limits_volt"),
            out=lambda one: (one.time, one.voltage),
            back=lambda table: {"time": table[:, 0], "voltage": table[:, 1]},
        ),
    }
)

_NUMERIC = ("_volt", "_ampere", "_celsius")
_GROUPS: Mapping[str, type] = MappingProxyType(
    {"noise": Noise, "conditions": Conditions, "origin": Origin}
)


def saved_text(captures: Sequence[Capture]) -> str:
    """Write captures, one after the other, as the text of a file.

    Parameters
    ----------
    captures : sequence of Capture

    Returns
    -------
    str
        ASCII, lines ended by a line feed.

    Raises
    ------
    CaptureError
        When there is none.
    """
    if not captures:
        raise CaptureError(
            "saving: must have at least one capture (got none).", hint="Measure first."
        )
    return "\n".join(_block(capture) for capture in captures)


def _block(capture: Capture) -> str:
    name = type(capture).__name__.lower()
    kind = _KINDS[name]
    lines = [FIRST, f"# is: {json.dumps(name)}"]
    for fact in kind.facts:
        lines += _facts(fact, getattr(capture, fact))
    for group in ("conditions", "origin"):
        lines += _facts(group, getattr(capture, group))
    lines += [f"# step: {json.dumps([step.name, step.detail])}" for step in capture.history]
    lines.append(f"# points: {capture_size(capture)}")
    lines.append(",".join(f"{column} ({unit})" for column, unit in kind.columns))
    table = np.column_stack(kind.out(capture))
    lines += [",".join(repr(value) for value in row) for row in table.tolist()]
    return "\n".join([*lines, ""])


def capture_size(capture: Capture) -> int:
    """Give the number of points of a capture."""
    axis = capture.time if isinstance(capture, Transient) else capture.frequency
    return int(axis.size)


def _facts(name: str, value: Any) -> list[str]:
    """Write a fact on one line, or each of a group of them; what is not stated is left out."""
    if is_dataclass(value):
        return [
            line
            for entry in fields(value)
            for line in _facts(f"{name}.{entry.name}", getattr(value, entry.name))
        ]
    return [] if value is None else [f"# {name}: {json.dumps(value)}"]


def is_saved(head: bytes) -> bool:
    """Tell by its first bytes whether the program saved a file."""
    return head.lstrip().startswith(FIRST.encode("ascii") + b"\n")


def looks_saved(document: Document) -> float:
    """Tell by the first line whether the program saved this file."""
    first = next((line for line in document.lines if line.strip()), "")
    return 1.0 if first.strip() == FIRST else 0.0


def understand_saved(document: Document, notes: Notes) -> Understood:
    """Restore the captures of a saved file as they were.

    Raises
    ------
    ReadError
        When a line was changed so that it cannot be understood, or rows are missing.
    """
    del notes  # nothing is assumed: everything is stated
    starts = [at for at, line in enumerate(document.lines) if line.strip() == FIRST]
    bounds = [*starts[1:], len(document.lines)]
    captures = tuple(
        _restored(document, start + 1, end) for start, end in zip(starts, bounds, strict=True)
    )
    kind = _KINDS[type(captures[0]).__name__.lower()]
    columns = tuple(
        Column(position=place, heading=f"{name} ({unit})", meaning=name, unit=unit)
        for place, (name, unit) in enumerate(kind.columns)
    )
    return Understood(captures=captures, columns=columns, layout=(FIRST,))


def _restored(document: Document, start: int, end: int) -> Capture:
    facts, steps, row = _preamble(document, start, end)
    kind = _KINDS.get(str(facts.get("is")))
    if kind is None:
        raise _refused(document, start, f"say what the capture is: {', '.join(_KINDS)}")
    table = _table(document, row + 1, end, len(kind.columns))
    if facts.get("points") != table.shape[0]:
        raise _refused(
            document, end - 1, f"end after {facts.get('points')} points, not {table.shape[0]}"
        )
    values: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in facts.items()
        if name in kind.facts
    }
    try:
        for name, group in _GROUPS.items():
            own = {
                key.partition(".")[2]: facts[key] for key in facts if key.startswith(f"{name}.")
            }
            if own:
                values[name] = group(**own)
        made: Capture = kind.make(**values, **kind.back(table), history=steps)
    except (TypeError, CaptureError) as cause:
        raise _refused(document, start, f"hold a capture as it was saved ({cause})") from cause
    return made


def _preamble(
    document: Document, start: int, end: int
) -> tuple[dict[str, Any], tuple[Step, ...], int]:
    """Give the facts, the steps, and the line with the headings."""
    facts: dict[str, Any] = {}
    steps: list[Step] = []
    for at in range(start, end):
        line = document.lines[at].strip()
        if not line.startswith("#"):
            return facts, tuple(steps), at
        name, colon, value = line[1:].strip().partition(": ")
        try:
            found = json.loads(value) if colon else None
        except json.JSONDecodeError as cause:
            raise _refused(document, at, "be NAME: VALUE as it was saved") from cause
        if colon and not _suits(name, found):
            raise _refused(document, at, "be NAME: VALUE as it was saved")
        if name == "step" and isinstance(found, list) and len(found) == 2:
            steps.append(Step(name=str(found[0]), detail=str(found[1])))
        elif colon:
            facts[name] = found
    raise _refused(document, end - 1, "be followed by a table")


def _suits(name: str, value: Any) -> bool:
    """Tell whether a fact is a number where it must be one, and a text elsewhere."""
    if name.startswith(("conditions.", "origin.")):
        number = name.endswith(_NUMERIC)
        return isinstance(value, int | float if number else str) and not isinstance(value, bool)
    return True


def _table(document: Document, start: int, end: int, width: int) -> FloatArray:
    rows = []
    for at in range(start, end):
        line = document.lines[at].strip()
        if not line:
            continue
        try:
            row = [float(cell) for cell in line.split(",")]
        except ValueError as cause:
            raise _refused(document, at, f"hold {width} numbers with commas between") from cause
        if len(row) != width:
            raise _refused(document, at, f"hold {width} numbers with commas between")
        rows.append(row)
    return np.array(rows, dtype=np.float64).reshape(-1, width)


def _refused(document: Document, at: int, rule: str) -> ReadError:
    shown = document.lines[at][:60] if 0 <= at < len(document.lines) else ""
    return ReadError(
        f"{document.source.path}, line {at + 1}: must {rule} (got {shown!r}).",
        hint="The file was changed after it was saved. Take the copy as saved, or remove the "
        "lines that begin with # to have it read as a plain table.",
    )
