"""Tables of impedance over frequency: columns to quantities, quantities to sweeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Conditions, Origin, Sweep
from benchapp.errors import ReadError
from benchapp.readers.axis import Run, arrange
from benchapp.readers.document import Document, Understood
from benchapp.readers.heading import Meaning, meaning_of
from benchapp.readers.layout import Table, lay_out
from benchapp.readers.notes import Notes
from benchapp.readers.quantity import find_recipes
from benchapp.readers.reading import Column

__all__ = ["looks_like_table", "understand_table"]

_AXES = ("f", "omega", "log f", "period")


def looks_like_table(document: Document) -> float:
    """Give the confidence that a file is a table of numbers; every text may be one."""
    return 0.2 if document.lines else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """One frequency column with the columns that belong to it, by role."""

    axis: tuple[int, Meaning]
    columns: dict[str, tuple[int, Meaning]]


def understand_table(document: Document, notes: Notes) -> Understood:
    """Give the captures of every table of a file.

    Raises
    ------
    ReadError
        When no table with a known meaning is there.
    """
    layout = lay_out(document, notes)
    origin = Origin(source=document.source.name, reader="table", sha256=document.source.sha256)
    captures: list[Capture] = []
    shown: tuple[Column, ...] = ()
    for number, table in enumerate(layout.tables, start=1):
        meanings = _meanings(table, notes)
        shown = shown or _columns(table, meanings)
        label = table.title or (f"table {number}" if len(layout.tables) > 1 else "")
        made = _sweeps(table, meanings, replace(origin, label=label), notes, document.source.path)
        captures += made
    return Understood(
        captures=tuple(captures), columns=shown, layout=(layout.dialect.words, *_names(shown))
    )


def _names(columns: Sequence[Column]) -> tuple[str, ...]:
    return tuple(f"{column.heading}|{column.unit}" for column in columns)


def _meanings(table: Table, notes: Notes) -> list[Meaning]:
    given = notes.answers.columns
    if given is not None:
        names = [name.strip() for name in given.split(",")]
        return [meaning_of(name) for name in names] + [Meaning()] * (
            table.values.shape[1] - len(names)
        )
    return [
        meaning_of(heading, unit)
        for heading, unit in zip(table.headings, table.units, strict=True)
    ]


def _columns(table: Table, meanings: list[Meaning]) -> tuple[Column, ...]:
    return tuple(
        Column(position=at, heading=heading, meaning=f"{m.role} {m.part}".strip(), unit=m.unit)
        for at, (heading, m) in enumerate(zip(table.headings, meanings, strict=False))
    )


def _sweeps(
    table: Table, meanings: list[Meaning], origin: Origin, notes: Notes, where: str
) -> list[Capture]:
    groups = _groups(meanings)
    if not groups:
        _ask_for_columns(table, notes, where)
        return []
    return [sweep for group in groups for sweep in _sweep(table, group, origin, notes, where)]


def _groups(meanings: list[Meaning]) -> list[_Group]:
    axes = [at for at, meaning in enumerate(meanings) if meaning.role in _AXES]
    bounds = [0, *axes[1:], len(meanings)]
    groups = []
    for axis, start, stop in zip(axes, bounds[:-1], bounds[1:], strict=True):
        columns: dict[str, tuple[int, Meaning]] = {}
        for at in range(start, stop):
            if at != axis and meanings[at].role:
                columns.setdefault(meanings[at].role, (at, meanings[at]))
        groups.append(_Group(axis=(axis, meanings[axis]), columns=columns))
    return groups


def _ask_for_columns(table: Table, notes: Notes, where: str) -> None:
    width = table.values.shape[1]
    guess = {2: "f/Hz, |Z|/ohm", 3: "f/Hz, R/ohm, X/ohm"}.get(width)
    notes.ask(
        "columns",
        f"What do the {width} columns hold, and in which units? Name them in order, a dash for "
        f"one to leave out, for example f/kHz, Ls/uH, Q.",
        proposed=guess,
        required=True,
    )


def _frequency(table: Table, at: int, meaning: Meaning, notes: Notes) -> NDArray[np.float64]:
    raw = table.values[:, at]
    factor = meaning.factor
    if not meaning.stated and meaning.role in {"f", "log f"}:
        answered = notes.answers.frequency_unit
        if answered is None:
            notes.ask(
                "frequency_unit",
                "In which unit is the frequency?",
                proposed="Hz",
                choices=("Hz", "kHz", "MHz", "GHz"),
                required=True,
            )
        factor = meaning_of(f"f/{answered or 'Hz'}").factor
    if meaning.role == "omega":
        return raw / (2 * np.pi)
    if meaning.role == "period":
        return 1 / (raw * factor)
    return factor * (10**raw if meaning.role == "log f" else raw)


def _sweep(table: Table, group: _Group, origin: Origin, notes: Notes, where: str) -> list[Capture]:
    recipes = find_recipes(group.columns)
    if not recipes:
        found = ", ".join(group.columns) or "nothing else"
        raise ReadError(
            f"{where}: must have two quantities that fix an impedance beside the frequency "
            f"(got {found}).",
            hint="Save R and X, |Z| and theta, or L or C with its loss.",
        )
    recipe = recipes[0]
    frequency = _frequency(table, *group.axis, notes)
    first, second = (
        table.values[:, at] * meaning.factor
        for at, meaning in (group.columns[r] for r in recipe.roles)
    )
    used = [group.axis[0], *(group.columns[role][0] for role in recipe.roles)]
    for (row, column), text in table.marks.items():
        if column in used:
            notes.drop(int(table.lines[row]), f"no number in column {column + 1} ({text[:20]})")
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        impedance = recipe.impedance(2 * np.pi * frequency, first, second)
    run = Run(axis=frequency, values=impedance[:, None], lines=table.lines, label=origin.label)
    return [
        Sweep(
            frequency=part.axis,
            impedance=part.values[:, 0],
            conditions=Conditions(equivalent_circuit=recipe.circuit),
            origin=replace(origin, label=part.label),
        )
        for part in arrange(run, notes)
    ]
