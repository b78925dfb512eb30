"""A complete gauge study as a table of parts by persons by trials, with its bias and linearity."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.lot.gauge import Bias, Linearity, bias, linearity
from benchapp.lot.sheet import Reading, StudySheet, read_sheet

__all__ = ["StudyTable", "bias_of", "crossed", "linearity_of", "study_table"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StudyTable:
    """A complete crossed study: ``values`` are parts by persons by trials, in ``unit``.

    ``references`` holds the true value of each part; None where none is stated. ``quantity`` is
    what was measured, "" where it is not stated, and ``tolerance`` the upper less the lower limit.
    """

    parts: tuple[str, ...]
    persons: tuple[str, ...]
    values: NDArray[np.float64]
    unit: str
    references: NDArray[np.float64] | None = None
    quantity: str = ""
    tolerance: float | None = None


def study_table(text: str, where: str = "study") -> StudyTable:
    """Read a complete gauge study from the text of a table, as `read_sheet` reads it.

    Parameters
    ----------
    text : str
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
    return crossed(read_sheet(text, where), where)


def crossed(sheet: StudySheet, where: str = "study") -> StudyTable:
    """Lay the values of a sheet out as parts by persons by trials; their order does not count.

    Where the order was drawn, parts and persons come by number and letter.

    Parameters
    ----------
    sheet : StudySheet
    where : str
        What to call it in an error.

    Raises
    ------
    ReadError
        When a value is doubled or missing, or a part has two references.
    """
    readings = sheet.readings
    drawn = any(one.blind for one in readings)
    parts, persons, trials = (
        _names([getattr(one, name) for one in readings], drawn=drawn)
        for name in ("part", "person", "trial")
    )
    values = np.full((len(parts), len(persons), len(trials)), np.nan)
    for one in readings:
        place = (parts.index(one.part), persons.index(one.person), trials.index(one.trial))
        if one.value is None:
            raise ReadError(
                f"{where}{f', line {one.line}' if one.line else ''}: must have a value (got an "
                "empty cell).",
                hint="A study must be complete: measure what is missing.",
            )
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
        unit=sheet.unit,
        references=_references(readings, parts, where),
        quantity=sheet.quantity,
        tolerance=sheet.tolerance,
    )


def _names(found: Sequence[str], *, drawn: bool) -> tuple[str, ...]:
    """Give each name once: as they stand, or by number and letter where the order is by chance."""
    names = tuple(dict.fromkeys(found))
    if not drawn:
        return names

    def place(name: str) -> list[tuple[bool, int, str]]:
        pieces = re.split(r"([0-9]+)", name)
        return [
            (one.isdecimal(), int(one) if one.isdecimal() else 0, one) for one in pieces if one
        ]

    return tuple(sorted(names, key=place))


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
