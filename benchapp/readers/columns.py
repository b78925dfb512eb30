"""A table whose columns have a meaning: values in SI units, by position or by role."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.readers.beside import Table
from benchapp.readers.heading import Meaning, meaning_of, named_in_volts, unit_of
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks, read_cell
from benchapp.readers.reading import Column
from benchapp.readers.vocabulary import DIMENSIONS

__all__ = ["AXES", "Columns"]

AXES = ("f", "omega", "log f", "period")
_FUNCTION = re.compile(
    r"\b(?P<first>Ls|Lp|Cs|Cp|Z|R|G|Y|[LC](?=[-_/, ]))[-_/, ]*"
    r"(?P<second>Q|D|Rs|Rp|Rdc|G|X|B|theta|phase|phi|th?d|th?r)(?![a-z])",
    re.IGNORECASE,
)
_ANGLES = {"d": "theta/deg", "r": "theta/rad"}
_USUAL_SHARE = 0.6
_SHOWN = 24
_SPELLED = {"ohm": "ohm", "H": "H", "F": "F", "S": "S", "Hz": "Hz", "s": "s", "rad": "deg"}
_LARGEST_PLAIN = {"H": 0.1, "F": 0.01}
_USUAL = {"H": "uH", "F": "pF"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """A table with the meaning of each of its columns, and the notes of the reading."""

    table: Table
    meanings: tuple[Meaning, ...]
    notes: Notes
    where: str

    @classmethod
    def of(cls, table: Table, notes: Notes, where: str) -> Columns:
        """Find the meanings from the headings, or from the answer that replaces them.

        Raises
        ------
        ReadError
            When the answer names more columns than there are, or an unknown one.
        """
        if notes.answers.columns is None:
            found = [
                _carried(heading, unit) if at in table.carried else meaning_of(heading, unit)
                for at, (heading, unit) in enumerate(zip(table.headings, table.units, strict=True))
            ]
        else:
            found = _answered(notes.answers.columns, table.width, where)
        return cls(
            table=table,
            meanings=tuple(_in_context(found, table)),
            notes=notes,
            where=where,
        )

    def with_function(self, function: str) -> Columns:
        """Settle columns headed A and B by the measurement function stated above the table."""
        found = _FUNCTION.search(function)
        if found is None or not self.places("first"):
            return self
        names = found.groupdict()
        if names["second"].lower() in {"td", "thd", "tr", "thr"}:
            names["second"] = _ANGLES[names["second"][-1].lower()]
        settled = [
            meaning_of(names[meaning.role]) if meaning.role in names else meaning
            for meaning in self.meanings
        ]
        self.notes.assume("columns A and B", " and ".join(names.values()), repr(function), 0.9)
        return replace(self, meanings=tuple(settled))

    def without_flagged(self) -> Columns:
        """Set aside the rows whose status differs from the usual one, zero or a word."""
        kept = np.ones(self.table.values.shape[0], dtype=bool)
        for at in self.places("status"):
            texts = [
                self.table.marks.get((row, at), f"{value:g}")
                for row, value in enumerate(self.table.values[:, at])
            ]
            usual, count = Counter(texts).most_common(1)[0] if texts else ("", 0)
            if count < _USUAL_SHARE * len(texts) or (_is_number(usual) and float(usual) != 0):
                continue
            for row, text in enumerate(texts):
                if text not in {usual, "nan"}:
                    kept[row] = False
                    why = f"its status is {text[:_SHOWN]}, the usual one {usual[:_SHOWN]}"
                    self.notes.drop(int(self.table.lines[row]), why)
        return self if kept.all() else self.rows(kept)

    def places(self, *roles: str) -> list[int]:
        """Give the positions of all columns with one of the roles."""
        return [at for at, meaning in enumerate(self.meanings) if meaning.role in roles]

    def plain(self, at: int) -> NDArray[np.float64]:
        """Give the values of a column in SI units (angles as stated, or as written)."""
        values: NDArray[np.float64] = self.table.values[:, at]
        factor = self.meanings[at].factor
        return values if factor == 1.0 else values * factor

    def rows(self, chosen: NDArray[np.bool_]) -> Columns:
        """Give the same columns with some of the rows only."""
        place = np.cumsum(chosen) - 1
        table = replace(
            self.table,
            values=self.table.values[chosen],
            lines=self.table.lines[chosen],
            order=self.table.order[chosen],
            marks={
                (int(place[row]), column): text
                for (row, column), text in self.table.marks.items()
                if chosen[row]
            },
        )
        return replace(self, table=table)

    def note_unused(self) -> None:
        """Say which columns of changing numbers have a heading that is not known."""
        if not any(meaning.role for meaning in self.meanings):
            return
        for heading, meaning, values in zip(
            self.table.headings, self.meanings, self.table.values.T, strict=True
        ):
            if (
                not meaning.role
                and self.notes.answers.columns is None
                and np.nanmax(values, initial=-np.inf) > np.nanmin(values, initial=np.inf)
            ):
                reason = "its heading is not known"
                self.notes.assume("column", f"{heading or 'without a name'} left out", reason, 0.6)

    def numbering(self) -> NDArray[np.float64]:
        """Count the rows from zero, with room for rows that were lost among them."""
        places = self.places("point")
        number = self.table.order.astype(float)
        if places:
            counted = self.table.values[:, places[0]]
            if counted.size > 1 and np.all(np.diff(counted) >= 1) and not np.any(counted % 1):
                number = counted - counted[0]
        return number

    def drop_marked(self, used: Iterable[int]) -> None:
        """Set aside the rows that hold something else than a number in a used column."""
        wanted = set(used)
        for (row, column), text in self.table.marks.items():
            if column in wanted:
                name = self.table.headings[column] or f"column {column + 1}"
                self.notes.drop(
                    int(self.table.lines[row]), f"no number for {name[:_SHOWN]} ({text[:_SHOWN]})"
                )

    @property
    def shown(self) -> tuple[Column, ...]:
        """What each column was taken for, to be shown to a person."""
        return tuple(
            Column(
                position=at,
                heading=heading,
                meaning=f"{meaning.role} {meaning.part}".strip(),
                unit=meaning.unit,
            )
            for at, (heading, meaning) in enumerate(
                zip(self.table.headings, self.meanings, strict=True)
            )
        )

    def ask_all(self, reason: str, proposed: str | None) -> None:
        """Ask what every column holds; nothing is read before a person answers."""
        width = self.table.width
        which = "does the column" if width == 1 else f"do the {width} columns"
        self.notes.ask(
            "columns",
            f"What {which} hold, and in which unit? {reason} "
            f"Name each in order, with a dash for one to leave out.",
            proposed=proposed,
            required=True,
        )

    def settle_units(self, used: Sequence[int]) -> bool:
        """Ask for the units that the file does not state; False where they must be answered.

        Where the frequency has its unit, impedances without one are taken in ohm, and coils and
        capacitors in henry and farad when the numbers are small enough to be that.
        """
        bare = [at for at in used if self._lacks_unit(at)]
        if not bare:
            return True
        axis = [at for at in bare if self.meanings[at].role in (*AXES, "time")]
        if axis == bare and self.meanings[axis[0]].role in {"f", "log f"}:
            return self._settle_frequency_unit(axis[0])
        plausible = all(self._could_be_plain(at) for at in bare)
        names = ", ".join(self.table.headings[at] or f"column {at + 1}" for at in bare)
        reason = f"No unit is stated for {names}."
        if any(self.meanings[at].unit == "?" for at in bare):
            reason = f"No unit that fits is stated for {names}, or two that differ."
        if axis or not plausible:
            self.ask_all(reason, self._proposal())
            return False
        self.notes.assume("units", "SI units without prefix", reason, 0.7)
        self.notes.ask(
            "columns",
            f"In which units are the columns? {reason}",
            proposed=self._proposal(),
        )
        return True

    def _settle_frequency_unit(self, at: int) -> bool:
        if self.notes.answers.frequency_unit is not None:
            return True
        self.notes.ask(
            "frequency_unit",
            f"In which unit is the frequency? {self._which_unit(at)}",
            proposed="Hz",
            choices=("Hz", "kHz", "MHz", "GHz"),
            required=True,
        )
        return False

    def _which_unit(self, at: int) -> str:
        heading, unit = self.table.headings[at], self.table.units[at]
        if self.meanings[at].unit == "?" and unit:
            return f"The heading {heading!r} says one, the cell below it ({unit}) another."
        return f"The column {heading!r} has none."

    def _lacks_unit(self, at: int) -> bool:
        meaning = self.meanings[at]
        dimension = DIMENSIONS.get(meaning.role)
        if meaning.unit == "?":
            return True
        return bool(dimension) and dimension != "rad" and not meaning.stated and not meaning.part

    def _could_be_plain(self, at: int) -> bool:
        if self.meanings[at].unit == "?":
            return False
        limit = _LARGEST_PLAIN.get(DIMENSIONS[self.meanings[at].role], np.inf)
        sizes = np.abs(self.table.values[:, at])
        sizes = sizes[np.isfinite(sizes)]
        return bool(not sizes.size or np.median(sizes) <= limit)  # one wild value proves nothing

    def _proposal(self) -> str:
        return ", ".join(
            self._proposed(at, heading, meaning)
            for at, (heading, meaning) in enumerate(
                zip(self.table.headings, self.meanings, strict=True)
            )
        )

    def _proposed(self, at: int, heading: str, meaning: Meaning) -> str:
        dimension = DIMENSIONS.get(meaning.role, "")
        if not meaning.role:
            return "-"
        if meaning_of(heading).role == meaning.role and not self._lacks_unit(at):
            return heading.replace(",", " ")
        if not self._lacks_unit(at) or not dimension:
            return meaning.role
        unit = dimension if self._could_be_plain(at) else _USUAL.get(dimension, dimension)
        return f"{meaning.role}/{unit}"


def _carried(heading: str, unit: str) -> Meaning:
    """Find what a column holds whose cells carry their unit: it outranks that of the heading."""
    found, known = meaning_of(heading, unit), unit_of(unit)
    if known is None or not found.role or DIMENSIONS.get(found.role) != known[1]:
        return found
    sign = -1.0 if found.factor < 0 else 1.0
    return replace(found, unit=known[1], factor=sign * known[0], stated=True)


def _is_number(text: str) -> bool:
    return read_cell(text, Marks()).kind == "N"


def _answered(text: str, width: int, where: str) -> list[Meaning]:
    names = [name.strip() for name in text.split(",")]
    found = [meaning_of(name) if name != "-" else Meaning() for name in names]
    unknown = [
        name
        for name, meaning in zip(names, found, strict=True)
        if name != "-" and not meaning.role
    ]
    if unknown or len(names) != width:
        got = f"the unknown name {unknown[0]!r}" if unknown else f"{len(names)} names"
        raise ReadError(
            f"{where}: the answer columns must name the {width} columns (got {got}).",
            hint="For example columns='f/kHz, Ls/uH, Q', with a dash for a column to leave out.",
        )
    return found


def _in_context(found: list[Meaning], table: Table) -> list[Meaning]:
    """Settle words that mean different things in a sweep and in a scope record."""
    roles = {meaning.role for meaning in found}
    if "first" in roles and "second" not in roles:
        found = [
            replace(meaning, role="second") if heading.strip().lower() == "b" else meaning
            for meaning, heading in zip(found, table.headings, strict=False)
        ]
    record = "time" in roles or ({"voltage", "counts"} & roles and not roles & set(AXES))
    if not record:
        return found
    if "time" in roles:
        named = zip(found, table.headings, table.units, strict=False)
        found = [one if one.role else named_in_volts(*rest) or one for one, *rest in named]
    return [_of_record(meaning, at, roles) for at, meaning in enumerate(found)]


def _of_record(meaning: Meaning, at: int, roles: set[str]) -> Meaning:
    if meaning.role in {"gain", "mag", "first", "second", "db"}:
        channel = {"first": "A", "second": "B"}.get(meaning.role, "")
        return replace(meaning, role="voltage", channel=channel)
    if meaning.role == "C" and meaning.variant and not meaning.unit:
        return replace(meaning, role="voltage", channel=f"CH{meaning.variant}")
    if meaning.role == "X" and at == 0 and "time" not in roles:
        return replace(meaning, role="point")
    return meaning
