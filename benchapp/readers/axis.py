"""Rows in any order to runs that rise strictly: restarts, turning points, strays, repeats."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.readers.notes import Notes

__all__ = ["Run", "arrange", "take"]

_AGREEMENT = 0.1
_MOST_FOR_STRAYS = 100_000
_SHORTEST_RUN = 3
_FEWEST_TURNED = 16
_NEAR = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Rows of one sweep: axis (N,), values (N, K), and the line of each row."""

    axis: NDArray[np.float64]
    values: NDArray[Any]
    lines: NDArray[np.int64]
    label: str = ""


def arrange(run: Run, notes: Notes, *, subject: str = "frequency") -> list[Run]:
    """Split rows at restarts and turning points and put each part in rising order.

    Points that are not finite or not above zero are set aside, so are strays from the order and
    repeated points that contradict each other; other repeats are averaged. All of it is noted.

    Parameters
    ----------
    run : Run
        Rows in the file's order.
    notes : Notes
    subject : {'frequency', 'time'}
        A frequency must be above zero.

    Returns
    -------
    list of Run
        Empty when no point is usable.
    """
    run = _usable(run, notes, subject)
    if run.axis.size < 2:
        return [run] if run.axis.size else []
    step = np.diff(run.axis)
    if not (np.all(step >= 0) or np.all(step <= 0)):
        run = _without_strays(run, notes, subject)
        run = _with_stretches_turned(run, notes, subject)
    parts = _parts(run.axis)
    if len(parts) > 1 and min(map(len, parts)) < _SHORTEST_RUN and len(parts) * 4 > run.axis.size:
        notes.assume("order", "sorted", f"the rows follow no order of {subject}", 0.5)
        parts = [np.argsort(run.axis, kind="stable")]
    if len(parts) > 1:
        found = f"the {subject} starts again or turns round {len(parts) - 1} times"
        notes.assume("sweeps", str(len(parts)), found, 0.9)
    return [
        part
        for number, rows in enumerate(parts, start=1)
        if (part := _rising(run, rows, number if len(parts) > 1 else 0, notes)).axis.size
    ]


def take(run: Run, rows: NDArray[np.int64] | NDArray[np.bool_], label: str | None = None) -> Run:
    """Give some rows of a run, in the order of ``rows``."""
    return Run(
        axis=run.axis[rows],
        values=run.values[rows],
        lines=run.lines[rows],
        label=run.label if label is None else label,
    )


def _usable(run: Run, notes: Notes, subject: str) -> Run:
    finite = np.isfinite(run.axis) & np.all(np.isfinite(run.values), axis=1)
    positive = (run.axis > 0) | (subject != "frequency")
    for line in run.lines[~finite]:
        notes.drop(line, "a value is missing or no number")
    for line, value in zip(
        run.lines[finite & ~positive], run.axis[finite & ~positive], strict=True
    ):
        notes.drop(line, f"the frequency is not above zero ({value:g})")
    return take(run, finite & positive)


def _without_strays(run: Run, notes: Notes, subject: str) -> Run:
    if run.axis.size > _MOST_FOR_STRAYS or run.axis.size < 5:
        return run
    kept = max((_longest_rise(run.axis), _longest_rise(-run.axis)), key=len)
    strays = np.setdiff1d(np.arange(run.axis.size), kept)
    together = np.any(np.diff(strays, 2) == 0) and np.any(
        (np.diff(strays)[:-1] == 1) & (np.diff(strays)[1:] == 1)
    )
    if strays.size > max(1, run.axis.size // 20) or together:
        return run
    wild = [row for row in strays if not _fills_a_gap(run.axis[row], np.sort(run.axis[kept]))]
    if len(wild) < strays.size:
        seen = "rows stand out of order, and each fills a gap in the sweep"
        notes.assume("order", f"{strays.size - len(wild)} rows moved", seen, 0.8)
        order = np.argsort(run.axis, kind="stable")
        kept = order[~np.isin(order, wild)]
    for row in wild:
        notes.drop(run.lines[row], f"the {subject} is out of order ({run.axis[row]:g})")
    return take(run, kept)


def _with_stretches_turned(run: Run, notes: Notes, subject: str) -> Run:
    """Sort rows that stand a few places from where they belong: they are no sweep of their own."""
    size = run.axis.size
    if size < _FEWEST_TURNED:
        return run
    for sign in (1, -1):
        order = np.argsort(sign * run.axis, kind="stable")
        moved = np.abs(order - np.arange(size))
        if 0 < moved.max() <= max(_NEAR, size // 20):
            seen = f"they stand at most {moved.max()} places from their order of {subject}"
            notes.assume("order", f"{np.count_nonzero(moved)} rows moved", seen, 0.8)
            return take(run, order)
    return run


def _fills_a_gap(value: float, axis: NDArray[np.float64]) -> bool:
    """Tell whether a value sits near the middle of a gap twice as wide as those beside it."""
    above = int(np.searchsorted(axis, value))
    if not 2 <= above <= axis.size - 2:
        return False
    before, low, high, after = axis[above - 2 : above + 2]
    beside = max(low - before, after - high)
    return bool(high - low > 1.4 * beside and 0.25 < (value - low) / (high - low) < 0.75)


def _longest_rise(axis: NDArray[np.float64]) -> NDArray[np.int64]:
    """Give the rows of the longest subsequence that never falls (patience sorting)."""
    tails: list[float] = []
    rows: list[int] = []
    before = np.full(axis.size, -1)
    for row, value in enumerate(axis.tolist()):
        place = bisect_right(tails, value)
        before[row] = rows[place - 1] if place else -1
        if place == len(tails):
            tails.append(value)
            rows.append(row)
        else:
            tails[place], rows[place] = value, row
    chain = []
    row = rows[-1]
    while row >= 0:
        chain.append(row)
        row = int(before[row])
    return np.array(chain[::-1], dtype=np.int64)


def _parts(axis: NDArray[np.float64]) -> list[NDArray[np.int64]]:
    """Give the rows of each stretch that only rises or only falls."""
    signs = np.sign(np.diff(axis))
    if np.all(signs >= 0) or np.all(signs <= 0):
        return [np.arange(axis.size)]
    moves = [(row + 1, sign) for row, sign in enumerate(signs.tolist()) if sign]
    starts, direction, last = [0], 0.0, 0
    following = [sign for _, sign in moves[1:]] + [0.0]
    for (row, sign), later in zip(moves, following, strict=True):
        if not direction or sign == direction:
            direction = sign
        elif later == sign and last + 1 < row:
            starts.append(last + 1)
            direction = sign
        else:
            starts.append(row)
            direction = 0.0
        last = row
    return [np.arange(a, b) for a, b in zip(starts, [*starts[1:], axis.size], strict=True)]


def _rising(run: Run, rows: NDArray[np.int64], number: int, notes: Notes) -> Run:
    falling = rows.size > 1 and run.axis[rows[0]] > run.axis[rows[-1]]
    if falling:
        rows = rows[::-1]
        if not number:
            notes.assume("order", "falling", "each row lies below the one before", 1.0)
    label = f"sweep {number}{', falling' if falling else ''}" if number else run.label
    if np.any(np.diff(run.axis[rows]) < 0):
        rows = rows[np.argsort(run.axis[rows], kind="stable")]
    part = take(run, rows, " ".join(filter(None, (run.label, label))) if number else run.label)
    return part if np.all(np.diff(part.axis) > 0) else _without_repeats(part, notes)


def _without_repeats(run: Run, notes: Notes) -> Run:
    first = np.flatnonzero(np.diff(run.axis, prepend=-np.inf) != 0)
    axis, values, lines = [], [], []
    averaged = 0
    for start, stop in zip(first, [*first[1:], run.axis.size], strict=True):
        group = run.values[start:stop]
        mean = group.mean(axis=0)
        spread = np.abs(group - mean).max(initial=0.0)
        if spread == 0.0:
            mean = group[0]
        for line in run.lines[start + 1 : stop][: 0 if spread else None]:
            notes.drop(line, "the row repeats the one before it")
        if spread > _AGREEMENT * np.abs(mean).max():
            for line in run.lines[start:stop]:
                notes.drop(line, f"{run.axis[start]:g} stands twice with different values")
            continue
        averaged += spread > 0
        axis.append(run.axis[start])
        values.append(mean)
        lines.append(run.lines[start])
    if averaged:
        seen = f"{averaged} of them stand more than once with nearly the same values"
        notes.assume("repeated rows", "averaged", seen, 0.8 if 8 * averaged < first.size else 0.6)
    return Run(
        axis=np.array(axis, dtype=np.float64),
        values=np.array(values, dtype=run.values.dtype).reshape(len(axis), run.values.shape[1]),
        lines=np.array(lines, dtype=np.int64),
        label=run.label,
    )
