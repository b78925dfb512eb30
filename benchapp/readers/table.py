"""Tables of any kind: which interpretation fits the columns, and the captures it gives."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from benchapp.capture import Capture, Origin
from benchapp.errors import ReadError
from benchapp.readers.beside import Table
from benchapp.readers.columns import Columns
from benchapp.readers.complexcell import with_parts_apart
from benchapp.readers.dialect import detect
from benchapp.readers.document import Document, Understood
from benchapp.readers.facts import Facts
from benchapp.readers.frame import frames, has_frequency
from benchapp.readers.layout import Layout, lay_out
from benchapp.readers.lot import is_lot_log, lot_captures
from benchapp.readers.notes import Notes
from benchapp.readers.ratio import ratio_captures
from benchapp.readers.reading import Column
from benchapp.readers.run import lay_out_run
from benchapp.readers.scope import is_record, record_captures
from benchapp.readers.sweep import impedance_captures

__all__ = [
    "NO_HEADINGS",
    "captures_of_tables",
    "looks_like_table",
    "understand_layout",
    "understand_table",
]


NO_HEADINGS = "no headings"


def looks_like_table(document: Document) -> float:
    """Give the confidence that a file is a table of numbers; every text may be one."""
    del document
    return 0.2


def understand_table(document: Document, notes: Notes) -> Understood:
    """Give the captures of every table of a file.

    Raises
    ------
    ReadError
        When no table with a known meaning is there.
    """
    dialect = detect(document.lines, notes, document.source.path)
    parted = with_parts_apart(document.lines, dialect)
    if parted is not None:
        document = replace(document, lines=parted)
    layout = lay_out_run(document, dialect, notes) or lay_out(document, notes, dialect)
    return understand_layout(layout, document, notes)


def understand_layout(layout: Layout, document: Document, notes: Notes) -> Understood:
    """Give the captures of a file that was laid out already.

    Raises
    ------
    ReadError
        When no table with a known meaning is there.
    """
    facts = Facts.of(layout.facts, layout.dialect.marks.decimal, document.source.name)
    origin = Origin(
        source=document.source.name,
        reader="table",
        sha256=document.source.sha256,
        taken=facts.taken,
        part=facts.texts.get("part"),
    )
    where = document.source.path
    captures, shown = captures_of_tables(layout.tables, facts, origin, notes, where)
    words = _words(layout, facts, document.lines)
    return Understood(captures=captures, columns=shown, layout=words)


_SETTINGS = ("function", "circuit", "probe", "y division", "y step")
"""Facts on which the right answer to a question depends."""


def _words(layout: Layout, facts: Facts, lines: list[str]) -> tuple[str, ...]:
    """Say in words how a file is laid out: equal for files that the same answers fit."""
    names: dict[str, None] = {}
    for table in layout.tables:
        names |= dict.fromkeys(map("|".join, zip(table.headings, table.units, strict=True)))
    stated = [f"{name}: {facts.texts[name]}" for name in _SETTINGS if name in facts.texts]
    if not any(any(table.headings) for table in layout.tables):
        first = lines[int(layout.tables[0].lines[0]) - 1]
        powers = "with" if re.search(r"\d[eEdD][+-]?\d", first) else "without"
        return (layout.dialect.words, *_columns(layout), f"{powers} powers of ten", *stated)
    return (layout.dialect.words, *names, *stated)


def _columns(layout: Layout) -> tuple[str, ...]:
    widths = dict.fromkeys(table.width for table in layout.tables)
    return tuple(f"{NO_HEADINGS}, {width} columns" for width in widths)


_Interpretation = tuple[
    Callable[[Columns, Facts], bool], Callable[[Columns, Facts, Origin], list[Capture]]
]


def captures_of_tables(
    tables: tuple[Table, ...], facts: Facts, origin: Origin, notes: Notes, where: str
) -> tuple[tuple[Capture, ...], tuple[Column, ...]]:
    """Give the captures of tables, and what the columns of the first useful one were taken for.

    Raises
    ------
    ReadError
        When no table can be understood and no question would help.
    """
    captures: list[Capture] = []
    shown: tuple[Column, ...] = ()
    refusal: ReadError | None = None
    for number, table in enumerate(tables, start=1):
        label = table.title or (f"table {number}" if len(tables) > 1 else "")
        try:
            columns = Columns.of(_unrolled(table, facts), notes, where)
            columns = columns.with_function(facts.texts.get("function", "")).without_flagged()
            made = _interpreted(columns, facts, replace(origin, label=label))
        except ReadError as cause:
            refusal = refusal or cause
            continue
        if made:
            columns.note_unused()
        captures += made
        shown = shown if shown and not made else columns.shown
    if refusal is not None and not captures and not notes.questions:
        raise refusal
    if captures and len(tables) > 1:
        _leave_out(refusal, notes)
    return tuple(captures), shown


def _leave_out(refusal: ReadError | None, notes: Notes) -> None:
    """Say which tables beside an understood one are not used, instead of asking what they hold."""
    reasons = [question.text for question in notes.questions if question.required]
    reasons += [refusal.message] if refusal is not None else []
    notes.questions[:] = [question for question in notes.questions if not question.required]
    for reason in reasons:
        notes.assume("tables", "one left out", reason, 0.5)


def _interpreted(columns: Columns, facts: Facts, origin: Origin) -> list[Capture]:
    for fits, make in _INTERPRETATIONS:
        if fits(columns, facts):
            return make(columns, facts, origin)
    known = [meaning.role for meaning in columns.meanings if meaning.role]
    if columns.places(*_OVER_FREQUENCY):
        raise ReadError(
            f"{columns.where}: must state the frequency of each row (got {', '.join(known)}).",
            hint="Save the frequency as a column, or start and stop of the sweep above the table.",
        )
    columns.ask_all(
        "Their headings do not say." if any(columns.table.headings) else "They have no headings.",
        _guess(columns.table) if len(known) < 2 else None,
    )
    return []


def _over_frequency(columns: Columns, facts: Facts, origin: Origin) -> list[Capture]:
    captures: list[Capture] = []
    for frame in frames(columns, facts, origin):
        made = impedance_captures(frame)
        if made is None:
            made = ratio_captures(frame)
        if made is None:
            return _not_fixed(columns)
        captures += made
    return captures


def _not_fixed(columns: Columns) -> list[Capture]:
    """Refuse columns that fix nothing, or ask where some have no known heading."""
    known = [meaning.role for meaning in columns.meanings if meaning.role]
    if columns.places("first", "second"):
        columns.ask_all("A and B do not say what they hold.", None)
        return []
    if len(known) < columns.table.width and columns.notes.answers.columns is None:
        columns.ask_all("Not all of their headings are known.", None)
        return []
    raise ReadError(
        f"{columns.where}: must have two quantities that fix an impedance, or a ratio, beside the "
        f"frequency (got {', '.join(known)}).",
        hint="Save R and X, |Z| and theta, or L or C together with its loss (Q, D, Rs or Rp).",
    )


def _guess(table: Table) -> str | None:
    """Propose what columns without headings may hold."""
    first = table.values[:, 0]
    good = first[np.isfinite(first)]
    steps = np.diff(good)
    if good.size < 3 or not (np.all(steps > 0) or np.all(steps < 0)):
        return None
    if good.min() <= 0 or (good.max() < 1 and table.width == 2):
        return ", ".join(["t/s", *["CH1/V", "CH2/V", "CH3/V", "CH4/V"][: table.width - 1]])
    return {2: "f/Hz, |Z|/ohm", 3: "f/Hz, R/ohm, X/ohm"}.get(table.width)


def _unrolled(table: Table, facts: Facts) -> Table:
    """Turn one long line of numbers into the rows that it holds, where a period fits."""
    rows, width = table.values.shape
    if rows != 1 or width < 12 or any(table.headings):
        return table
    flat = table.values[0]
    for period in (1,) if "preamble" in facts.texts else (2, 3, 4, 5):
        axis = flat[::period]
        if width % period == 0 and (period == 1 or np.all(np.diff(axis[np.isfinite(axis)]) > 0)):
            return replace(
                table,
                headings=("",) * period,
                units=("",) * period,
                values=flat.reshape(-1, period),
                marks={(at // period, at % period): text for (_, at), text in table.marks.items()},
                lines=np.full(width // period, table.lines[0]),
                order=np.arange(width // period),
            )
    return table


_OVER_FREQUENCY = (
    *("Ls", "Lp", "L", "Cs", "Cp", "C", "R", "X", "|Z|", "Rs", "Rp"),
    *("S11", "S21"),
)
_INTERPRETATIONS: tuple[_Interpretation, ...] = (
    (is_lot_log, lot_captures),
    (is_record, record_captures),
    (has_frequency, _over_frequency),
)
