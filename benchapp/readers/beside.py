"""What stands beside the numbers of a table: units in columns of their own, facts, names."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.readers.heading import normal, unit_of

__all__ = ["Table", "with_columns", "with_units_beside", "without_prefixes"]

_UNIT_WORDS = {"unit", "units", "einheit", "unite", "unidad", "unita", "单位"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One block of rows with the same cells.

    ``values`` (N, K) holds NaN where a cell is no number; ``marks`` gives the text of those cells
    by (row, column); ``units`` is the units row, or the unit that the cells of a column carry,
    which is the case for the columns in ``carried``;
    ``order`` (N,) counts the rows with those that were lost among them, and ``places`` says where
    each column stands in the file.
    """

    headings: tuple[str, ...]
    units: tuple[str, ...]
    values: NDArray[np.float64]
    marks: dict[tuple[int, int], str]
    lines: NDArray[np.int64]
    order: NDArray[np.int64]
    places: tuple[int, ...] = ()
    title: str = ""
    carried: frozenset[int] = field(default_factory=frozenset)

    @property
    def width(self) -> int:
        """How many columns there are."""
        return int(self.values.shape[1])


def with_units_beside(table: Table) -> Table:
    """Apply a column of units, which may change from row to row, to the column before it."""
    kept = list(range(table.width))
    for column in range(1, table.width):
        if normal(table.headings[column]) not in _UNIT_WORDS or column - 1 not in kept:
            continue
        texts = [table.marks.get((row, column), "") for row in range(len(table.lines))]
        known = {text: unit_of(text) for text in set(texts)}
        units = {unit[1] for unit in known.values() if unit is not None}
        if len(units) != 1:
            continue
        factors = [unit[0] if (unit := known[text]) else np.nan for text in texts]
        values = table.values.copy()
        values[:, column - 1] *= factors
        table = replace(
            table,
            values=values,
            units=(*table.units[: column - 1], units.pop(), *table.units[column:]),
            carried=table.carried | {column - 1},
        )
        kept.remove(column)
    return table if len(kept) == table.width else with_columns(table, kept)


def without_prefixes(table: Table) -> tuple[Table, dict[str, str]]:
    """Part columns that are filled only in the first rows: names and values beside the table."""
    filled = ~np.isnan(table.values)
    for at in table.marks:
        filled[at] = True
    count = filled.sum(axis=0)
    whole = count == filled.shape[0]
    beside = {
        column
        for column in np.flatnonzero(2 * count <= filled.shape[0]).tolist()
        if filled[: count[column], column].all()
    }
    if not beside or not whole.any():
        return table, {}
    facts: dict[str, str] = {}
    for column in sorted(beside):
        for row in range(count[column]):
            text = table.marks.get((row, column))
            number = table.values[row, column]
            following = table.values[row, column + 1] if column + 1 in beside else np.nan
            if text is None and row == 0 and table.headings[column]:
                facts[table.headings[column].strip().lower()] = repr(float(number))
            elif text is not None and column + 1 in beside:
                value = table.marks.get((row, column + 1), repr(float(following)))
                facts.setdefault(text.strip(" :=").lower(), value)
    kept = [column for column in range(table.width) if column not in beside]
    return with_columns(table, kept), facts


def with_columns(table: Table, kept: list[int]) -> Table:
    """Give a table with some of its columns only."""
    place = {column: at for at, column in enumerate(kept)}
    return replace(
        table,
        headings=tuple(table.headings[column] for column in kept),
        units=tuple(table.units[column] for column in kept),
        places=tuple(table.places[column] for column in kept),
        values=table.values[:, kept],
        carried=frozenset(place[column] for column in table.carried if column in place),
        marks={
            (row, place[column]): text
            for (row, column), text in table.marks.items()
            if column in place
        },
    )
