"""One sweep's worth of a table: its frequency, its columns, and under what it was taken."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Conditions, Origin
from benchapp.errors import QuantityError
from benchapp.readers.columns import AXES, Columns
from benchapp.readers.facts import Facts
from benchapp.readers.heading import Meaning, meaning_of
from benchapp.readers.notes import Notes
from benchapp.readers.vocabulary import CONDITIONS
from benchapp.units import format_quantity, parse_quantity

__all__ = [
    "Frame",
    "condition",
    "frames",
    "frequency_of",
    "has_frequency",
    "single_frequency",
]

_MOST_LEVELS = 50
_IN_NAME = re.compile(r"(?<![\d.])(\d+(?:[.,p]\d+)?)[ _]?([kMG]?)Hz", re.IGNORECASE)
_UNIFORM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Rows with one frequency each and the columns that belong to them.

    ``frequency`` (N,) in Hz, in the file's order; ``members`` are the positions of the columns.
    """

    columns: Columns
    members: tuple[int, ...]
    axis: int | None
    frequency: NDArray[np.float64]
    facts: Facts
    origin: Origin
    conditions: Conditions

    @property
    def notes(self) -> Notes:
        """The notes of the reading."""
        return self.columns.notes

    def labelled(self, *labels: str) -> Origin:
        """Give the origin with more labels."""
        return replace(self.origin, label=" ".join(filter(None, (self.origin.label, *labels))))

    def settled(self, used: Sequence[int]) -> bool:
        """Tell whether the units of the used columns are known; set aside rows without values."""
        axis = [] if self.axis is None else [self.axis]
        if not self.columns.settle_units([*axis, *used]):
            return False
        self.columns.drop_marked([*axis, *used])
        self._drop_sentinels(used)
        return True

    def _drop_sentinels(self, used: Sequence[int]) -> None:
        """Say which rows hold nothing but -999 or -9999, which stands for no value."""
        for row in np.flatnonzero(self.without_value(used)):
            self.notes.drop(int(self.columns.table.lines[row]), "-999 stands for no value")

    def without_value(self, used: Sequence[int]) -> NDArray[np.bool_]:
        """Tell which rows hold -999 or -9999 in every used column."""
        raw = self.columns.table.values[:, list(used)]
        if len(used) < 2:
            return np.zeros(raw.shape[0], dtype=bool)
        return np.asarray(np.isin(raw, (-999.0, -9999.0)).all(axis=1))


def has_frequency(columns: Columns, facts: Facts) -> bool:
    """Tell whether each row has a frequency: in a column, by start and stop, or by the name."""
    if columns.places(*AXES) or ("start" in facts.texts and "stop" in facts.texts):
        return True
    return _is_one_row(columns) and single_frequency(columns, facts) is not None


def _is_one_row(columns: Columns) -> bool:
    return int(np.isfinite(columns.table.values).any(axis=1).sum()) == 1


def frames(columns: Columns, facts: Facts, origin: Origin) -> list[Frame]:
    """Part a table at its frequency columns and at the levels of its condition columns."""
    axes: list[int | None] = list(columns.places(*AXES)) or [None]
    width = columns.table.width
    bounds = [0, *(at for at in axes[1:] if at is not None), width]
    made = []
    for number, axis in enumerate(axes):
        members = tuple(at for at in range(bounds[number], bounds[number + 1]) if at != axis)
        label = f"block {number + 1}" if len(axes) > 1 else ""
        place = replace(origin, label=" ".join(filter(None, (origin.label, label))))
        for part, conditions, level in _levels(columns, members, facts.conditions()):
            frequency = frequency_of(part, axis, facts)
            if frequency is not None:
                named = replace(place, label=" ".join(filter(None, (place.label, level))))
                made.append(
                    Frame(
                        columns=part,
                        members=members,
                        axis=axis,
                        frequency=frequency,
                        facts=facts,
                        origin=named,
                        conditions=conditions,
                    )
                )
    return made


def _levels(
    columns: Columns, members: tuple[int, ...], conditions: Conditions
) -> list[tuple[Columns, Conditions, str]]:
    """Part the rows by the values of condition columns that hold a few values only."""
    values = columns.table.values
    held: list[int] = []
    for at in members:
        if columns.meanings[at].role in CONDITIONS:
            distinct = np.unique(values[:, at][np.isfinite(values[:, at])])
            if 0 < distinct.size <= min(_MOST_LEVELS, max(values.shape[0] // 3, 1)):
                held.append(at)
    if not held:
        return [(columns, conditions, "")]
    keys = np.nan_to_num(values[:, held], nan=np.inf)
    _, first, group = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    parts = []
    for number in np.argsort(first):
        chosen = group.reshape(-1) == number
        known, labels = conditions, []
        for at in held:
            meaning = columns.meanings[at]
            value = float(columns.plain(at)[first[number]])
            known = condition(known, meaning.role, value, meaning.unit)
            labels.append(_shown(value, meaning) if first.size > 1 else "")
        parts.append((columns.rows(chosen), known, " ".join(filter(None, labels))))
    return parts


def _shown(value: float, meaning: Meaning) -> str:
    if not np.isfinite(value):
        return ""
    return format_quantity(value, meaning.unit) if meaning.stated else f"{meaning.role} {value:g}"


def condition(known: Conditions, role: str, value: float, unit: str) -> Conditions:
    """Give conditions with one more value, where its unit says what it is."""
    names = {
        ("level", "V"): "level_volt",
        ("level", "A"): "level_ampere",
        ("bias", "V"): "bias_volt",
        ("bias", "A"): "bias_ampere",
        ("temperature", "degC"): "temperature_celsius",
    }
    name = names.get((role, unit))
    if name is None or not np.isfinite(value):
        return known
    changed: dict[str, Any] = {name: value}
    return replace(known, **changed)


def frequency_of(columns: Columns, axis: int | None, facts: Facts) -> NDArray[np.float64] | None:
    """Give the frequency of each row in Hz; None where no row has one.

    Parameters
    ----------
    columns : Columns
    axis : int or None
        Position of the frequency column; None to rebuild it from what stands around the table.
    facts : Facts
    """
    if axis is None:
        return _without_column(columns, facts)
    meaning, raw = columns.meanings[axis], columns.table.values[:, axis]
    if meaning.role == "omega":
        return columns.plain(axis) / (2 * np.pi)
    if meaning.role == "period":
        with np.errstate(divide="ignore"):
            return 1 / columns.plain(axis)
    factor = meaning.factor
    if not meaning.stated and columns.notes.answers.frequency_unit is not None:
        factor = meaning_of(f"f/{columns.notes.answers.frequency_unit}").factor
    if meaning.role == "log f" or _is_logarithm(raw, factor, columns.notes):
        with np.errstate(over="ignore"):
            return factor * 10**raw
    return factor * raw


def _is_logarithm(raw: NDArray[np.float64], factor: float, notes: Notes) -> bool:
    """Tell whether a column headed as a frequency holds its logarithm."""
    if notes.answers.frequency is not None:
        return notes.answers.frequency == "log10"
    good = np.sort(raw[np.isfinite(raw)])
    if good.size < 5 or factor != 1.0 or good[0] < 0 or not 2.5 <= good[-1] <= 10:
        return False
    steps = np.diff(good)
    if steps.min() <= 0 or np.ptp(steps) > _UNIFORM * steps.mean() or steps.mean() >= 1:
        return False
    notes.ask(
        "frequency",
        f"The frequencies run evenly from {good[0]:g} to {good[-1]:g} Hz. Are they logarithms, "
        f"that is 10^{good[0]:g} to 10^{good[-1]:g} Hz?",
        proposed="log10",
        choices=("log10", "as written"),
    )
    return True


def _without_column(columns: Columns, facts: Facts) -> NDArray[np.float64] | None:
    """Rebuild the frequency from start, stop and the number of each row."""
    rows, notes = columns.table.values.shape[0], columns.notes
    single = single_frequency(columns, facts)
    if single is not None and _is_one_row(columns):
        return np.full(rows, single)
    start, stop = facts.number("start", "Hz"), facts.number("stop", "Hz")
    if start is None or stop is None:
        return None
    if not (facts.states_unit("start") or facts.states_unit("stop")):
        notes.ask(
            "frequency_unit",
            "In which unit are the start and stop frequencies?",
            proposed="Hz",
            choices=("Hz", "kHz", "MHz", "GHz"),
            required=notes.answers.frequency_unit is None,
        )
        factor = meaning_of(f"f/{notes.answers.frequency_unit or 'Hz'}").factor
        start, stop = start * factor, stop * factor
    share = _share_of_sweep(columns, facts)
    shown = f"{start:g} to {stop:g} Hz"
    reason = f"{rows} rows between the start and the stop that the file states"
    if _is_geometric(facts, shown, notes) and start > 0 and stop > 0:
        notes.assume("frequency", f"equal ratios, {shown}", reason, 0.8)
        frequency: NDArray[np.float64] = start * (stop / start) ** share
    else:
        notes.assume("frequency", f"equal steps, {shown}", reason, 0.8)
        frequency = start + (stop - start) * share
    return frequency


def _share_of_sweep(columns: Columns, facts: Facts) -> NDArray[np.float64]:
    """Give where each row lies between start (0) and stop (1), with room for lost rows."""
    number = columns.numbering()
    places = columns.places("point")
    if places:
        counted = columns.table.values[:, places[0]]
        number = counted - min(np.nanmin(counted, initial=1.0), 1.0)
    points = facts.number("points")
    last = number.max(initial=1.0) if points is None else points - 1
    if points is None or last < number.max(initial=0.0):
        seen = "how many points the sweep had is not stated; lost rows at its end would shift it"
        columns.notes.assume("points", f"{number.max(initial=0.0) + 1:g}", seen, 0.6)
        last = number.max(initial=1.0)
    return number / max(last, 1.0)


def _is_geometric(facts: Facts, shown: str, notes: Notes) -> bool:
    text = (notes.answers.frequency or facts.texts.get("spacing", "")).lower()
    if re.search(r"log|dec|oct|ratio", text):
        return True
    if "lin" not in text:
        notes.ask(
            "frequency",
            f"Only start and stop of the sweep are given ({shown}). Are the points spaced evenly "
            f"(linear) or by equal ratios (logarithmic)?",
            proposed="linear",
            choices=("linear", "logarithmic"),
            required=True,
        )
    return False


def single_frequency(columns: Columns, facts: Facts) -> float | None:
    """Give the one frequency that is stated around the table or in the file's name."""
    stated = facts.number("f", "Hz")
    if stated is not None:
        return stated if facts.states_unit("f") else None
    found = _IN_NAME.search(facts.name)
    if found is None:
        return None
    try:
        digits = found[1].replace("p", ".").replace(",", ".")
        value = parse_quantity(f"{digits} {found[2]}Hz", "Hz").value
    except QuantityError:
        return None
    seen = f"it stands in the name of the file ({found[0]})"
    columns.notes.assume("frequency", f"{value:g} Hz", seen, 0.8)
    return value
