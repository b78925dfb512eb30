"""Records over time: time columns and intervals, channels, counts, segments, envelopes."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Origin, Transient
from benchapp.errors import QuantityError, ReadError
from benchapp.readers.axis import Run, arrange, take
from benchapp.readers.columns import AXES, Columns
from benchapp.readers.cut import SENTINELS
from benchapp.readers.facts import Facts
from benchapp.readers.heading import Meaning, unit_of
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks, read_plain
from benchapp.units import parse_quantity

__all__ = ["is_record", "record_captures"]

_TRACES = ("voltage", "counts", "current", "low", "high")
_COUNTS_PER_DIVISION = 25
_PREAMBLE = 10
_BARE = (
    Meaning(role="time", unit="s", stated=True),
    Meaning(role="voltage", unit="V", stated=True),
)
_FEWEST_PAIRED = 8
_FEW_DOUBLED = 2
_MANY_SAMPLES = 50
_LEAP = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Counts to volts: (count - reference) step + origin."""

    step: float = 1.0
    origin: float = 0.0
    reference: float = 0.0


def is_record(columns: Columns, facts: Facts) -> bool:
    """Tell whether a table is a record over time."""
    if columns.places(*AXES) or columns.places("trigger"):
        return False
    if columns.places("time"):
        return True
    if facts.number("start", "Hz") is not None and facts.states_unit("start"):
        return False
    timed = bool({"interval", "rate", "preamble"} & facts.texts.keys())
    return bool(columns.places(*_TRACES) or (timed and columns.table.width <= 2))


def record_captures(columns: Columns, facts: Facts, origin: Origin) -> list[Capture]:
    """Give a record for each channel, segment and envelope.

    Raises
    ------
    ReadError
        When no column holds a voltage, or an answer does not fit.
    """
    columns = _with_time(_with_units(columns, facts), facts)
    traces = columns.places(*_TRACES) or _only_column(columns)
    if not traces:
        known = ", ".join(meaning.role for meaning in columns.meanings if meaning.role)
        raise ReadError(
            f"{columns.where}: must have a voltage beside the time (got {known or 'no heading'}).",
            hint="Name the columns: columns='t/s, CH1/V'.",
        )
    captures: list[Capture] = []
    for part, label in _segments(columns):
        place = replace(origin, label=" ".join(filter(None, (origin.label, label))))
        for at in _chosen(columns, traces):
            time = _time(part, at, facts)
            if time is None:
                return []
            captures += _transients(part, at, time, facts, place)
    return captures


def _with_units(columns: Columns, facts: Facts) -> Columns:
    """Fill in the units that stand above the table for the whole record."""
    stated = {
        "time": columns.notes.answers.time_unit or facts.texts.get("x unit", "?"),
        "voltage": facts.texts.get("y unit", "?"),
    }
    wanted = {"time": "s", "voltage": "V"}
    filled = list(columns.meanings)
    for at, meaning in enumerate(filled):
        known = unit_of(stated.get(meaning.role, "?"))
        if not meaning.stated and known is not None and known[1] == wanted[meaning.role]:
            filled[at] = replace(meaning, factor=known[0], unit=known[1], stated=True)
    return replace(columns, meanings=tuple(filled))


def _with_time(columns: Columns, facts: Facts) -> Columns:
    """Take the first of two unnamed columns for the time where it rises by the stated interval."""
    interval = facts.number("interval", "s")
    bare = not any(meaning.role for meaning in columns.meanings)
    if interval is None or not bare or columns.table.width != len(_BARE):
        return columns
    steps = np.diff(columns.table.values[:, 0])
    if not steps.size or not np.allclose(np.nanmedian(steps), interval, rtol=1e-3):
        return columns
    reason = f"the first column rises by the stated interval of {interval:g} s"
    columns.notes.assume("columns", "time and voltage", reason, 0.8)
    return replace(columns, meanings=_BARE)


def _only_column(columns: Columns) -> list[int]:
    """Give the one column that is left when index and time are known; else none."""
    left = [
        at
        for at, meaning in enumerate(columns.meanings)
        if meaning.role not in {"time", "point", "segment"}
    ]
    return left if len(left) == 1 else []


def _segments(columns: Columns) -> list[tuple[Columns, str]]:
    places = columns.places("segment")
    if not places:
        return [(columns, "")]
    number = columns.table.values[:, places[0]]
    columns.drop_marked(places)
    return [
        (columns.rows(number == value), f"segment {value:g}")
        for value in np.unique(number[np.isfinite(number)])
    ]


def _chosen(columns: Columns, traces: list[int]) -> list[int]:
    names = [_name(columns, at) for at in traces]
    answer = columns.notes.answers.channel
    if answer not in {None, "all"}:
        fitting = [at for at, name in zip(traces, names, strict=True) if name == answer]
        if not fitting:
            raise ReadError(
                f"{columns.where}: the answer channel must be one of {', '.join(names)} "
                f"(got {answer!r}).",
                hint="Answer channel=all for every one.",
            )
        return fitting
    if len(traces) > 1 and answer is None:
        columns.notes.ask(
            "channel",
            "Which channel shows the part?",
            proposed="all",
            choices=("all", *names),
        )
    return traces


def _name(columns: Columns, at: int) -> str:
    meaning = columns.meanings[at]
    words = {"low": "lowest", "high": "highest"}
    return meaning.channel or words.get(meaning.role) or columns.table.headings[at] or "record"


def _time(columns: Columns, at: int, facts: Facts) -> NDArray[np.float64] | None:
    """Give the time of each row; None where a question is open."""
    places = columns.places("time")
    if places:
        place = max((time for time in places if time < at), default=places[0])
        if not columns.settle_units([place]):
            return None
        columns.drop_marked([place, at])
        return columns.plain(place)
    columns.drop_marked([at])
    interval = _interval(columns, facts)
    if interval is None:
        columns.notes.ask(
            "interval",
            "How long is the time from one sample to the next? The file does not say.",
            required=True,
        )
        return None
    _doubt_places(columns)
    return _first(facts) + columns.numbering() * interval


def _doubt_places(columns: Columns) -> None:
    """Say where the place in time of the samples rests on lines that may have been samples."""
    steps = np.diff(columns.table.lines)
    if not steps.size:
        return
    unsure = np.flatnonzero((steps > np.median(steps)) & (np.diff(columns.table.order) == 1))
    if unsure.size:
        line = columns.table.lines[unsure[0]] + 1
        reason = "the rows have no time of their own; if it was a sample, all later ones are late"
        columns.notes.assume("line among the samples", f"line {line:g} is none", reason, 0.5)


def _without_leaps(values: NDArray[np.float64], columns: Columns) -> NDArray[np.float64]:
    """Say where one count of a smooth record stands alone; -999 there stands for no value."""
    good = np.flatnonzero(np.isfinite(values))
    if good.size < _MANY_SAMPLES:
        return values
    whole = np.interp(np.arange(values.size), good, values[good])
    bend = np.abs(whole[1:-1] - (whole[:-2] + whole[2:]) / 2)
    at = int(np.argmax(bend))
    others = np.delete(bend, slice(max(at - 1, 0), at + 2))
    if bend[at] > _LEAP * max(others.max(), 1.0):
        line = columns.table.lines[at + 1]
        if values[at + 1] in SENTINELS:
            columns.notes.drop(int(line), f"{values[at + 1]:g} stands for no value")
            return np.where(np.arange(values.size) == at + 1, np.nan, values)
        reason = "it leaps from a record that is smooth elsewhere; it may have lost a digit"
        columns.notes.assume("count", f"line {line:g} kept as written", reason, 0.5)
    return values


def _interval(columns: Columns, facts: Facts) -> float | None:
    answered = columns.notes.answers.interval
    if answered is not None:
        try:
            return parse_quantity(answered, "s").value
        except QuantityError as cause:
            raise ReadError(
                f"{columns.where}: the answer interval must be a time (got {answered!r}).",
                hint="Answer for example interval='1 us'.",
            ) from cause
    stated = facts.number("interval", "s")
    if stated is not None and stated > 0:
        if not facts.states_unit("interval"):
            reason = "the sample interval has no unit beside it"
            columns.notes.assume("sample interval", f"{stated:g} s", reason, 0.7)
        return stated
    rate = facts.number("rate", "Hz")
    if rate is not None and rate > 0:
        return 1 / rate
    preamble = _preamble(facts)
    return preamble[4] if preamble else None


def _first(facts: Facts) -> float:
    preamble = _preamble(facts)
    if preamble:
        return preamble[5] - preamble[6] * preamble[4]
    start = None if "stop" in facts.texts else facts.number("start", "s")
    return facts.number("origin", "s") or start or 0.0


def _preamble(facts: Facts) -> list[float] | None:
    """Give the ten numbers before a waveform: format, type, points, count, x and y scales."""
    text = facts.texts.get("preamble")
    numbers = None if text is None else read_plain(text.split(","), Marks())
    return numbers if numbers and len(numbers) == _PREAMBLE and numbers[4] > 0 else None


def _scale(columns: Columns, at: int, facts: Facts) -> _Scale | None:
    """Find how counts become volts; None where the column holds volts."""
    meaning, notes = columns.meanings[at], columns.notes
    preamble = _preamble(facts)
    if preamble and not meaning.stated:
        text = "volt = (count - y reference) times y step + y origin"
        notes.assume("scale", f"{preamble[7]:g} V per count", f"ten numbers above: {text}", 0.7)
        return _Scale(step=preamble[7], origin=preamble[8], reference=preamble[9])
    if meaning.role != "counts":
        return None
    offset = facts.number("y origin", "V") or 0.0
    zero = facts.number("y reference") or 0.0
    if notes.answers.scale is not None:
        return _Scale(step=notes.answers.scale, origin=offset, reference=zero)
    step = facts.number("y step", "V")
    if step is not None:
        return _Scale(step=step, origin=offset, reference=zero)
    division, counts = facts.number("y division", "V"), facts.number("y counts")
    if division is not None and counts:
        return _Scale(step=division / counts, origin=offset, reference=zero)
    proposed = "1" if division is None else f"{division / _COUNTS_PER_DIVISION:g}"
    notes.ask(
        "scale",
        "How many volts is one count? The file holds counts of the converter"
        + (f" and {division:g} V per division." if division else " without a scale."),
        proposed=proposed,
    )
    return _Scale(step=float(proposed), origin=offset, reference=zero)


def _transients(
    columns: Columns, at: int, time: NDArray[np.float64], facts: Facts, origin: Origin
) -> list[Capture]:
    notes, meaning = columns.notes, columns.meanings[at]
    scale = _scale(columns, at, facts)
    values = columns.plain(at)
    if scale is not None:
        values = _without_leaps(values, columns)
        values = (values - scale.reference) * scale.step + scale.origin
    if meaning.unit not in {"V", "A", ""}:
        raise ReadError(
            f"{columns.where}: a record must be a voltage or a current (got {meaning.unit!r}).",
            hint="Save the channel itself rather than a computed one.",
        )
    if meaning.role == "current" or meaning.unit == "A":
        notes.assume("quantity", "current, shown as 1 V for 1 A", "the heading says so", 0.9)
    _ask_for_probe(facts, notes)
    values = values * (notes.answers.probe or 1.0)
    label = _name(columns, at) if len(columns.places(*_TRACES)) > 1 else ""
    run = Run(axis=time, values=values[:, None], lines=columns.table.lines, label=label)
    conditions = facts.conditions()
    return [
        Transient(
            time=part.axis,
            voltage=part.values[:, 0],
            step_volt=_step(scale, facts),
            conditions=conditions,
            origin=replace(origin, label=" ".join(filter(None, (origin.label, part.label)))),
        )
        for part in _in_time(run, notes)
    ]


def _step(scale: _Scale | None, facts: Facts) -> float | None:
    """Give the size of one converter step in volt, where the record tells it."""
    stated = facts.number("y step", "V") if scale is None else scale.step
    return abs(stated) if stated else None


def _ask_for_probe(facts: Facts, notes: Notes) -> None:
    text = facts.texts.get("probe", "")
    found = re.search(r"\d+(?:\.\d+)?", text)
    if found and float(found[0]) not in {0.0, 1.0} and notes.answers.probe is None:
        notes.ask(
            "probe",
            f"The record states a probe of {text}. By which factor must the voltages still be "
            f"multiplied? Most scopes have applied it already.",
            proposed="1",
        )


def _in_time(run: Run, notes: Notes) -> list[Run]:
    """Put the samples in order of time: segments, envelope pairs, rounded time columns."""
    finite = np.isfinite(run.axis) & np.isfinite(run.values[:, 0])
    if finite.all() and np.all(np.diff(run.axis) > 0):
        return [run] if run.axis.size else []
    kept = take(run, finite)
    for line in run.lines[~finite]:
        notes.drop(int(line), "a value is missing or no number")
    if np.all(np.diff(kept.axis) > 0):
        return [kept] if kept.axis.size else []
    kept = _without_doubled(kept, notes)
    if np.all(np.diff(kept.axis) > 0):
        return [kept]
    pairs = _pairs(kept, notes)
    if pairs:
        return pairs
    even = _evenly(kept)
    if even is not None:
        seen = "its numbers repeat because they have few digits; the samples are evenly spaced"
        notes.assume("time column", "rounded", seen, 0.8)
        return [even]
    return arrange(kept, notes, subject="time")


def _without_doubled(run: Run, notes: Notes) -> Run:
    """Leave out a few rows that say the same as the row before; many mean a rounded time."""
    same = (np.diff(run.axis) == 0) & np.all(np.diff(run.values, axis=0) == 0, axis=1)
    repeats = np.count_nonzero(np.diff(run.axis) == 0)
    if not 0 < np.count_nonzero(same) == repeats <= max(_FEW_DOUBLED, run.axis.size // 200):
        return run
    doubled = np.concatenate([[False], same])
    for line in run.lines[doubled]:
        notes.drop(int(line), "the row repeats the one before it")
    return take(run, ~doubled)


def _pairs(run: Run, notes: Notes) -> list[Run]:
    """Part rows that give the lowest and the highest value of each interval."""
    falls = np.count_nonzero(np.diff(run.axis) < 0)
    if run.axis.size < _FEWEST_PAIRED or falls > run.axis.size // 50:
        return []
    run = take(run, np.argsort(run.axis, kind="stable")) if falls else run
    starts = np.flatnonzero(np.diff(run.axis, prepend=-np.inf))
    sizes = np.diff(starts, append=run.axis.size)
    first = starts[sizes == 2]
    rise = run.values[first + 1, 0] - run.values[first, 0]
    ordered = np.mean(rise >= 0) > 0.95 or np.mean(rise <= 0) > 0.95 if first.size else False
    if first.size < 0.9 * starts.size or not ordered:
        return []
    notes.assume(
        "samples",
        "lowest and highest of each interval",
        "each time stands twice with ordered values: this is an envelope, not the waveform; a "
        "ring-down needs the full record",
        0.6,
    )
    for row in np.setdiff1d(np.arange(run.axis.size), np.concatenate([first, first + 1])):
        notes.drop(int(run.lines[row]), "its partner of the same time is missing")
    both = np.sort(np.stack([run.values[first, 0], run.values[first + 1, 0]]), axis=0)
    return [
        Run(
            axis=run.axis[first],
            values=values[:, None],
            lines=run.lines[first],
            label=f"{run.label} {name}".strip(),
        )
        for values, name in zip(both, ("lowest", "highest"), strict=True)
    ]


def _evenly(run: Run) -> Run | None:
    """Rebuild a time column that was rounded so that neighbours are equal."""
    steps = np.diff(run.axis)
    equal = np.count_nonzero(steps == 0)
    if run.axis.size < 8 or np.any(steps < 0) or run.axis[-1] == run.axis[0]:
        return None
    if equal <= _FEW_DOUBLED and run.axis.size >= _MANY_SAMPLES:
        return None  # a repeated row rather than rounding, which would show more often
    quantum = steps[steps > 0].min()
    even = np.linspace(run.axis[0], run.axis[-1], run.axis.size)
    if np.abs(even - run.axis).max() > 1.01 * quantum:
        return None
    return replace(run, axis=even)
