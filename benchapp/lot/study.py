"""A gauge study as a table: part, person, trial, value, and where known the reference value."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import QuantityError, ReadError
from benchapp.lot.gauge import Bias, Linearity, bias, linearity
from benchapp.units import parse_quantity

__all__ = ["Reading", "StudyTable", "bias_of", "linearity_of", "study_table"]

_NEEDED = ("part", "person", "trial", "value")
_REFERENCE = "reference"
_MARKS = ("\t", ";", ",")
_HINT = "Columns: part, person, trial, value; reference where the true value is known."


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value of a study: who measured which part, and the part's true value where known."""

    part: str
    person: str
    trial: str
    value: float
    reference: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StudyTable:
    """A complete crossed study: ``values`` are parts by persons by trials, in ``unit``.

    ``references`` holds the true value of each part; None where none is stated.
    """

    parts: tuple[str, ...]
    persons: tuple[str, ...]
    values: NDArray[np.float64]
    unit: str
    references: NDArray[np.float64] | None = None


def study_table(text: str, where: str = "study") -> StudyTable:
    """Read a gauge study from the text of a table with one heading row.

    Parameters
    ----------
    text : str
        Comma, semicolon or tabulator between the cells; further columns are left alone.
    where : str
        What to call the table in an error.

    Returns
    -------
    StudyTable

    Raises
    ------
    ReadError
        When a column or a value is missing, or not every person measured every part equally often.
    """
    lines = text.removeprefix("\ufeff").splitlines()
    mark = next((mark for mark in _MARKS if lines and mark in lines[0]), ",")
    rows = csv.reader(lines, delimiter=mark)
    names = [cell.strip().casefold() for cell in next(rows, [])]
    missing = [name for name in _NEEDED if name not in names]
    if missing:
        raise ReadError(
            f"{where}, line 1: must name the columns {', '.join(_NEEDED)} "
            f"(got none named {', '.join(missing)}).",
            hint=_HINT,
        )
    unit: dict[str, str] = {}
    readings = [
        _reading(dict(zip(names, cells, strict=False)), unit, f"{where}, line {rows.line_num}")
        for cells in rows
        if any(cell.strip() for cell in cells)
    ]
    return _crossed(readings, unit.get("unit", ""), where)


def _reading(cells: Mapping[str, str], unit: dict[str, str], where: str) -> Reading:
    texts = {name: cells.get(name, "").strip() for name in _NEEDED}
    empty = [name for name, cell in texts.items() if not cell]
    if empty:
        raise ReadError(
            f"{where}: must have a {empty[0]} (got an empty cell).",
            hint="A study must be complete: measure what is missing.",
        )
    stated = cells.get(_REFERENCE, "").strip()
    return Reading(
        part=texts["part"],
        person=texts["person"],
        trial=texts["trial"],
        value=_number(texts["value"], unit, where),
        reference=_number(stated, unit, where) if stated else None,
    )


def _number(text: str, unit: dict[str, str], where: str) -> float:
    """Read one cell; ``unit`` holds that of the first one, which the others must have too."""
    try:
        found = parse_quantity(text)
    except QuantityError as error:
        raise ReadError(f"{where}: {error.message}", hint=error.hint) from error
    first = unit.setdefault("unit", found.unit)
    if found.unit != first:
        raise ReadError(
            f"{where}: must have the unit of the first value, {first or 'none'} (got '{text}').",
            hint="Write every value with its unit, or none of them.",
        )
    return found.value


def _crossed(readings: Sequence[Reading], unit: str, where: str) -> StudyTable:
    """Lay the readings out as parts by persons by trials; the order in the table does not count.

    Raises
    ------
    ReadError
        When a cell is doubled or missing, or a part has two references.
    """
    parts, persons, trials = (
        tuple(dict.fromkeys(getattr(one, name) for one in readings))
        for name in ("part", "person", "trial")
    )
    values = np.full((len(parts), len(persons), len(trials)), np.nan)
    for one in readings:
        place = (parts.index(one.part), persons.index(one.person), trials.index(one.trial))
        if not np.isnan(values[place]):
            raise ReadError(
                f"{where}: must hold every trial once (got part {one.part}, person {one.person}, "
                f"trial {one.trial} twice).",
                hint="Number the trials of each person 1, 2, 3.",
            )
        values[place] = one.value
    if np.isnan(values).any():
        part, person, trial = np.argwhere(np.isnan(values))[0]
        raise ReadError(
            f"{where}: must hold every part by every person in every trial (got no part "
            f"{parts[part]}, person {persons[person]}, trial {trials[trial]}).",
            hint="A study must be complete: measure what is missing.",
        )
    return StudyTable(
        parts=parts,
        persons=persons,
        values=values,
        unit=unit,
        references=_references(readings, parts, where),
    )


def _references(
    readings: Sequence[Reading], parts: Sequence[str], where: str
) -> NDArray[np.float64] | None:
    stated: dict[str, float] = {}
    for one in readings:
        if one.reference is None:
            continue
        if stated.setdefault(one.part, one.reference) != one.reference:
            raise ReadError(
                f"{where}: must state one reference for part {one.part} (got two).",
                hint="Write the certified value of the part in each of its rows, or in one.",
            )
    if not stated:
        return None
    bare = [part for part in parts if part not in stated]
    if bare:
        raise ReadError(
            f"{where}: must state the reference of every part or of none (got none for part "
            f"{bare[0]}).",
            hint="Write its certified value, or leave the column out.",
        )
    return np.array([stated[part] for part in parts], dtype=np.float64)


def bias_of(table: StudyTable) -> tuple[Bias, ...]:
    """Compare all readings of each part with its reference; empty where none is stated.

    Parameters
    ----------
    table : StudyTable
    """
    if table.references is None:
        return ()
    return tuple(
        bias(rows.ravel(), float(known))
        for rows, known in zip(table.values, table.references, strict=True)
    )


def linearity_of(table: StudyTable) -> Linearity | None:
    """Fit the bias over the references; None where fewer than two different ones are stated.

    Parameters
    ----------
    table : StudyTable
    """
    if table.references is None or np.unique(table.references).size < 2:
        return None
    each = table.values[0].size
    return linearity(np.repeat(table.references, each), table.values.ravel())
