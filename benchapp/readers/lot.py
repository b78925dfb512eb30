"""Logs of single readings: one part for each row, all at one frequency."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from benchapp.capture import Capture, Origin
from benchapp.errors import QuantityError, ReadError
from benchapp.readers.columns import AXES, Columns
from benchapp.readers.facts import Facts
from benchapp.readers.frame import frames
from benchapp.readers.sweep import impedance_captures
from benchapp.units import parse_quantity

__all__ = ["is_lot_log", "lot_captures"]

_PARTS = ("L", "Ls", "Lp", "C", "Cs", "Cp", "|Z|", "R", "X")


def is_lot_log(columns: Columns, facts: Facts) -> bool:
    """Tell whether each row is another part: a serial number, and no sweep of frequency."""
    named = columns.places("serial") or columns.places("point")
    if not named or not columns.places(*_PARTS) or "start" in facts.texts:
        return False
    axes = columns.places(*AXES)
    if not columns.places("serial") and not columns.places("verdict"):
        return False
    frequency = columns.table.values[:, axes[0]] if axes else np.zeros(1)
    return bool(np.unique(frequency[np.isfinite(frequency)]).size <= 1)


def lot_captures(columns: Columns, facts: Facts, origin: Origin) -> list[Capture]:
    """Give one sweep of one point for each part.

    Raises
    ------
    ReadError
        When the columns do not fix an impedance.
    """
    known = _with_frequency(columns, facts, origin.source)
    if known is None:
        return []
    named = (columns.places("serial") or columns.places("point"))[0]
    captures: list[Capture] = []
    for row in range(columns.table.values.shape[0]):
        chosen = np.arange(columns.table.values.shape[0]) == row
        part = columns.rows(chosen)
        serial = part.table.marks.get((0, named), f"{part.table.values[0, named]:g}")
        place = replace(origin, part=serial.strip())
        for frame in frames(part, known, place):
            made = impedance_captures(frame)
            if made is None:
                raise ReadError(
                    f"{columns.where}: must give the loss of each part beside L or C (got "
                    f"{', '.join(m.role for m in columns.meanings if m.role)}).",
                    hint="Save Q, D, Rs or Rp too.",
                )
            captures += made
    return captures


def _with_frequency(columns: Columns, facts: Facts, name: str) -> Facts | None:
    """Put the answered frequency to the facts; ask where none is stated anywhere."""
    answered = columns.notes.answers.frequency
    if answered is not None:
        try:
            parse_quantity(answered, "Hz")
        except QuantityError as cause:
            raise ReadError(
                f"{columns.where}: the answer frequency must be one frequency (got {answered!r}).",
                hint="Answer for example frequency='100 kHz'.",
            ) from cause
        return replace(facts, texts={**facts.texts, "f": answered})
    if columns.places(*AXES) or facts.number("f", "Hz") is not None:
        return facts
    one = columns.rows(np.arange(columns.table.values.shape[0]) == 0)
    if frames(one, facts, Origin(source=name)):
        return facts
    columns.notes.ask(
        "frequency",
        "At which frequency were the parts measured? The file does not say.",
        required=True,
    )
    return None
