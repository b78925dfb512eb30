"""The sheet of a gauge study: its plan in blind order, with the values as far as they are taken.

It is kept as a table with one row for each measurement, which a spreadsheet can fill in too.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchapp.csv_table import csv_text, unguarded
from benchapp.errors import CaptureError, QuantityError, ReadError, UsageError
from benchapp.lot.gauge import plan
from benchapp.units import parse_quantity

__all__ = ["Reading", "StudyPlan", "StudySheet", "draw_sheet", "read_sheet"]

_NEEDED = ("part", "person", "trial", "value")
_REFERENCE, _TOLERANCE, _QUANTITY = "reference", "tolerance", "quantity"
_RATIO = "1"  # a unit that is not written
_MARKS = ("\t", ";", ",")
_WIDTH = "It is the upper limit less the lower one, such as 97.2uH; without one leave it out."
_HINT = "Columns: part, person, trial, value; reference where the true value is known."


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One measurement of a study: who measures which part, and what came out.

    ``blind`` is the label that the person sees, "" where there is none. ``value`` is None until it
    is taken, ``reference`` the part's true value, None where it is not known. ``line`` is its
    place in the table that was read, 0 for none.
    """

    part: str
    person: str
    trial: str
    value: float | None = None
    reference: float | None = None
    blind: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPlan:
    """What is to be studied: parts and persons by name, so many trials each, one quantity.

    ``quantity`` is named as a limit is, ``L`` or ``Q at 134.2 kHz``; "" is not stated.
    ``tolerance`` is the upper less the lower limit in ``unit``, None where there is none.
    ``references`` are the true values of the parts, empty where they are not known.

    Raises
    ------
    UsageError
        When a name is empty or doubled, the tolerance not above zero, or a true value missing.
    """

    parts: tuple[str, ...]
    persons: tuple[str, ...]
    trials: int
    quantity: str = ""
    unit: str = ""
    tolerance: float | None = None
    references: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for what, names in (("part", self.parts), ("person", self.persons)):
            doubled = next((one for one in names if names.count(one) > 1), None)
            if doubled is not None or not all(one.strip() for one in names):
                raise UsageError(
                    f"gauge study: every {what} must have a name of its own "
                    f"(got {'an empty one' if doubled is None else repr(doubled) + ' twice'}).",
                    hint="Number them where they have no names.",
                )
        if self.tolerance is not None and not self.tolerance > 0:
            raise UsageError(
                f"gauge study: the tolerance must be above zero (got {self.tolerance!r}).",
                hint=_WIDTH,
            )
        if self.references and len(self.references) != len(self.parts):
            raise UsageError(
                "gauge study: must state the true value of every part or of none (got "
                f"{len(self.references)} for {len(self.parts)} parts).",
                hint="Give one for each part in the order of the parts, or leave them out.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySheet:
    """A study as far as it is measured, its measurements in the order in which they are made.

    ``unit`` is that of values, references and tolerance; ``quantity`` and ``tolerance`` are as in
    `StudyPlan`, but a ratio has no unit. Every act gives a new sheet.
    """

    readings: tuple[Reading, ...]
    unit: str = ""
    quantity: str = ""
    tolerance: float | None = None

    @property
    def taken(self) -> int:
        """How many values are there."""
        return sum(one.value is not None for one in self.readings)

    @property
    def position(self) -> int | None:
        """Place of the measurement that is next, None where the study is complete."""
        return next((at for at, one in enumerate(self.readings) if one.value is None), None)

    @property
    def next(self) -> Reading | None:
        """The measurement that is next, None where the study is complete."""
        return None if self.position is None else self.readings[self.position]

    def take(self, value: float) -> StudySheet:
        """Give the sheet with the value of the measurement that is next.

        Raises
        ------
        CaptureError
            When the study is complete, or the value is no finite number.
        """
        at = self.position
        if at is None or not np.isfinite(value):
            raise CaptureError(
                "gauge study: must be a finite value of a measurement that is still to be made "
                f"(got {value!r}{' after the last one' if at is None else ''}).",
                hint="Take a value back to measure it once more.",
            )
        return self._with(at, value)

    def undo(self) -> StudySheet:
        """Give the sheet without the value taken last; the same sheet where there is none."""
        at = len(self.readings) if self.position is None else self.position
        return self if at == 0 else self._with(at - 1, None)

    def _with(self, at: int, value: float | None) -> StudySheet:
        changed = replace(self.readings[at], value=value)
        return replace(self, readings=(*self.readings[:at], changed, *self.readings[at + 1 :]))

    def text(self) -> str:
        """Write it as CSV that `read_sheet` and `study_table` read back the same."""
        known = any(one.reference is not None for one in self.readings)
        header = ["order", "blind", *_NEEDED]
        last: list[tuple[str, str | float | None]] = []
        if self.quantity:
            last.append((_QUANTITY, self.quantity))
        if self.tolerance is not None:
            last.append((_TOLERANCE, self._written(self.tolerance)))
        header += [_REFERENCE] * known + [name for name, _ in last]
        rows = []
        for order, one in enumerate(self.readings, start=1):
            named = (order, one.blind, one.part, one.person, one.trial, self._written(one.value))
            reference = (self._written(one.reference),) if known else ()
            rows.append((*named, *reference, *(cell for _, cell in last)))
        return csv_text(header, rows)

    def _written(self, value: float | None) -> str | float | None:
        return f"{value!r} {self.unit}" if value is not None and self.unit else value


def draw_sheet(study: StudyPlan, generator: np.random.Generator) -> StudySheet:
    """Draw the random, blind order of a study.

    Parameters
    ----------
    study : StudyPlan
    generator : numpy.random.Generator
        The only source of chance.

    Returns
    -------
    StudySheet
        Without any value.

    Raises
    ------
    CaptureError
        When there are fewer than two parts or trials, or no person.
    """
    acts = plan(len(study.parts), len(study.persons), study.trials, generator)
    readings = tuple(
        Reading(
            blind=act.blind,
            part=study.parts[act.part],
            person=study.persons[act.person],
            trial=str(act.trial + 1),
            reference=study.references[act.part] if study.references else None,
        )
        for act in acts
    )
    return StudySheet(
        readings=readings,
        unit="" if study.unit == _RATIO else study.unit,
        quantity=study.quantity,
        tolerance=study.tolerance,
    )


def read_sheet(text: str, where: str = "study") -> StudySheet:
    """Read a study from the text of a table with one heading row; values may be missing.

    Parameters
    ----------
    text : str
        Comma, semicolon or tabulator between the cells. Columns ``order`` (the rows are put into
        it), ``blind``, ``quantity`` and ``tolerance`` are read where they are there; further ones
        are left alone.
    where : str
        What to call the table in an error.

    Raises
    ------
    ReadError
        When a column or a name is missing, or a value is no number in the unit of the others.
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
    cells = [
        (rows.line_num, dict(zip(names, (unguarded(one.strip()) for one in row), strict=False)))
        for row in rows
        if any(cell.strip() for cell in row)
    ]
    readings = [_reading(row, unit, where, line) for line, row in _ordered(cells)]
    stated = _stated(cells, _TOLERANCE)
    tolerance = _number(stated, unit, where) if stated else None
    if tolerance is not None and not tolerance > 0:
        raise ReadError(
            f"{where}: the tolerance must be above zero (got {stated!r}).", hint=_WIDTH
        )
    return StudySheet(
        readings=tuple(readings),
        quantity=_stated(cells, _QUANTITY),
        tolerance=tolerance,
        unit=unit.get("unit", ""),
    )


def _ordered(cells: Sequence[tuple[int, dict[str, str]]]) -> Sequence[tuple[int, dict[str, str]]]:
    """Put the rows into the order stated; as they stand where it is not stated throughout."""
    orders = [row.get("order", "") for _, row in cells]
    if not all(one.isdecimal() for one in orders):
        return cells
    return sorted(cells, key=lambda row: int(row[1]["order"]))


def _stated(cells: Sequence[tuple[int, Mapping[str, str]]], name: str) -> str:
    return next((row[name] for _, row in cells if row.get(name)), "")


def _reading(cells: Mapping[str, str], unit: dict[str, str], where: str, line: int) -> Reading:
    place = f"{where}, line {line}"
    empty = [name for name in _NEEDED[:3] if not cells.get(name)]
    if empty:
        raise ReadError(
            f"{place}: must have a {empty[0]} (got an empty cell).",
            hint="A study must be complete: measure what is missing.",
        )
    value, reference = cells.get("value", ""), cells.get(_REFERENCE, "")
    return Reading(
        part=cells["part"],
        person=cells["person"],
        trial=cells["trial"],
        value=_number(value, unit, place) if value else None,
        reference=_number(reference, unit, place) if reference else None,
        blind=cells.get("blind", ""),
        line=line,
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
