"""Logs of single readings: one part for each row, all at one frequency."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from benchapp.capture import Capture, Origin, Sweep
from benchapp.errors import QuantityError, ReadError
from benchapp.readers.columns import AXES, Columns
from benchapp.readers.facts import Facts
from benchapp.readers.frame import Frame, frequency_of, single_frequency
from benchapp.readers.quantity import find_recipes
from benchapp.readers.sweep import families_of, solve, with_model
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
        When the columns do not fix an impedance, or the answered frequency is none.
    """
    frame = _frame(columns, facts, origin)
    if frame is None:
        return []
    places = with_model(frame, families_of(frame)[0].places)
    if not find_recipes(places):
        raise ReadError(
            f"{columns.where}: must give the loss of each part beside L or C (got "
            f"{', '.join(meaning.role for meaning in columns.meanings if meaning.role)}).",
            hint="Save Q, D, Rs or Rp too.",
        )
    solved = solve(frame, "", places)
    if solved is None:
        return []
    captures: list[Capture] = []
    for row in range(frame.frequency.size):
        if np.isfinite(solved.impedance[row]) and frame.frequency[row] > 0:
            captures.append(
                Sweep(
                    frequency=frame.frequency[row : row + 1],
                    impedance=solved.impedance[row : row + 1],
                    conditions=solved.conditions,
                    origin=replace(origin, part=_serial(columns, row)),
                )
            )
        else:
            columns.notes.drop(int(columns.table.lines[row]), "a value is missing or no number")
    return captures


def _serial(columns: Columns, row: int) -> str:
    at = (columns.places("serial") or columns.places("point"))[0]
    text = columns.table.marks.get((row, at), f"{columns.table.values[row, at]:.15g}")
    return text.replace("\0", "").strip()


def _frame(columns: Columns, facts: Facts, origin: Origin) -> Frame | None:
    """Give all rows with their frequency; None where it must be asked for."""
    axis = next(iter(columns.places(*AXES)), None)
    frequency = None if axis is None else frequency_of(columns, axis, facts)
    if frequency is None:
        single = _answered_frequency(columns) or single_frequency(columns, facts)
        if single is None:
            columns.notes.ask(
                "frequency",
                "At which frequency were the parts measured? The file does not say.",
                required=True,
            )
            return None
        frequency = np.full(columns.table.values.shape[0], single)
    return Frame(
        columns=columns,
        members=tuple(at for at in range(columns.table.width) if at != axis),
        axis=axis,
        frequency=frequency,
        facts=facts,
        origin=origin,
        conditions=facts.conditions(),
    )


def _answered_frequency(columns: Columns) -> float | None:
    answered = columns.notes.answers.frequency
    if answered is None:
        return None
    try:
        return parse_quantity(answered, "Hz").value
    except QuantityError as cause:
        raise ReadError(
            f"{columns.where}: the answer frequency must be one frequency (got {answered!r}).",
            hint="Answer for example frequency='100 kHz'.",
        ) from cause
