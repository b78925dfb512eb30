"""Bytes to captures: the only door to disk in the core.

`read` gives the captures of a file; `understand` gives them together with every assumption,
question and row that was set aside.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from benchapp.capture import Capture, Origin
from benchapp.errors import FileAccessError, ReadError
from benchapp.readers.document import Document, Reader, Understood
from benchapp.readers.encoding import decode, lines_of
from benchapp.readers.long import lay_out_head, lay_out_long
from benchapp.readers.markup import is_page, lines_of_page
from benchapp.readers.memory import (
    Remembered,
    answers_from_toml,
    answers_to_toml,
    fingerprint,
    may_mislead,
)
from benchapp.readers.notes import Notes
from benchapp.readers.ports import captures_of
from benchapp.readers.reading import Answers, Assumption, Column, Question, Reading, SetAside
from benchapp.readers.saved import is_saved, looks_saved, saved_text, understand_saved
from benchapp.readers.source import (
    LOADED,
    LONG,
    Cancelled,
    Progress,
    Source,
    Watch,
    load,
    open_source,
)
from benchapp.readers.table import looks_like_table, understand_layout, understand_table
from benchapp.readers.touchstone import blocks_of, looks_like_touchstone, parse

__all__ = [
    "READERS",
    "Answers",
    "Assumption",
    "Column",
    "Question",
    "Reading",
    "Remembered",
    "SetAside",
    "answers_from_toml",
    "answers_to_toml",
    "fingerprint",
    "may_mislead",
    "read",
    "saved_text",
    "understand",
]

_SAMPLE = 40
_MOST_LINES = 100_000


def _touchstone(document: Document, notes: Notes) -> Understood:
    captures: list[Capture] = []
    layout: tuple[str, ...] = ()
    for label, block in blocks_of(document):
        origin = Origin(
            source=document.source.name,
            reader="touchstone",
            sha256=document.source.sha256,
            label=label,
        )
        found = parse(block, notes)
        layout = layout or (found.kind, str(found.references.size))
        captures += captures_of(found, origin, notes)
    return Understood(captures=tuple(captures), layout=layout)


_TABLE = Reader(
    name="table",
    title="Table of numbers",
    recognises=looks_like_table,
    understand=understand_table,
)
READERS: tuple[Reader, ...] = (
    Reader(
        name="saved",
        title="Capture saved by this program",
        recognises=looks_saved,
        understand=understand_saved,
    ),
    Reader(
        name="touchstone",
        title="Touchstone network parameters",
        recognises=looks_like_touchstone,
        understand=_touchstone,
    ),
    _TABLE,
)


def understand(
    path: str | Path,
    answers: Answers | None = None,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Reading:
    """Read one file and say what was understood, assumed, asked and set aside.

    Parameters
    ----------
    path : str or Path
    answers : Answers, optional
        What a person has answered; overrides the evidence in the file.
    progress : callable, optional
        Told what is being done and which fraction of it is done.
    cancelled : callable, optional
        Asked now and then whether the person stopped the reading.

    Returns
    -------
    Reading

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    ReadError
        When it holds nothing that can be understood, or a question must be answered first
        (``error.facts['questions']``).
    CancelledError
        When the person stopped the reading.
    """
    answers = answers or Answers()
    watch = Watch(progress=progress, cancelled=cancelled)
    source = open_source(path)
    long = source.size > LONG and not is_saved(source.head)
    return (_long(source, answers, watch) if long else None) or _whole(
        load(source, watch), answers
    )


def _whole(source: Source, answers: Answers) -> Reading:
    """Understand a file whose bytes are all there."""
    notes = Notes(answers=answers)
    document = _document(source, notes)
    reader = max(READERS, key=lambda entry: entry.recognises(document))
    return _reading(reader, document, reader.understand(document, notes), notes)


def _long(source: Source, answers: Answers, watch: Watch) -> Reading | None:
    """Understand a long plain table; its head must be understood before the rest is read."""
    trial = Notes(answers=answers)
    head = lay_out_head(source, trial)
    if head is None:
        return None
    notes = replace(trial, assumptions=[*trial.assumptions], questions=[*trial.questions])
    try:
        _reading(_TABLE, head[0], understand_layout(head[1], head[0], trial), trial)
    except ReadError as refusal:
        if source.size > LOADED or refusal.facts.get("questions"):
            raise
        return None
    found = lay_out_long(source, head, notes, watch)
    if found is None:
        return None
    document, layout = found
    return _reading(_TABLE, document, understand_layout(layout, document, notes), notes)


def _reading(reader: Reader, document: Document, found: Understood, notes: Notes) -> Reading:
    return _answered(
        Reading(
            source=document.source.path,
            reader=reader.name,
            sha256=document.source.sha256,
            captures=found.captures,
            assumptions=tuple(notes.assumptions),
            questions=tuple(notes.questions),
            set_aside=notes.rows_set_aside,
            columns=found.columns,
            sample=tuple(document.lines[:_SAMPLE]),
            layout=found.layout,
            answers=notes.answers,
        )
    )


def _document(source: Source, notes: Notes) -> Document:
    text = decode(source, notes.answers)
    notes.assumptions += text.assumptions
    lines = lines_of(text.content)
    if is_page(text.content):
        lines = lines_of_page(text.content)
        text = replace(text, content="\n".join([*lines, ""]))
    if len(lines) > _MOST_LINES:
        raise FileAccessError(
            f"{source.path}: must have at most {_MOST_LINES} lines unless it is one plain table "
            f"of numbers (got {len(lines)}).",
            hint="Save a shorter record, or only the columns that are needed.",
        )
    return Document(source=source, text=text, lines=lines, answers=notes.answers)


def _answered(reading: Reading) -> Reading:
    open_questions = [question for question in reading.questions if question.required]
    if open_questions:
        first = open_questions[0]
        proposal = f"={first.proposed!r}" if first.proposed else "=..."
        raise ReadError(
            f"{reading.source}: must state everything that is needed (not stated: {first.text}).",
            hint=f"Answer it, for example {first.name}{proposal}",
            questions=tuple(open_questions),
            reading=reading,
        )
    if not reading.captures:
        raise ReadError(
            f"{reading.source}: must hold at least one usable point (got none).",
            hint="Look at the rows that were set aside and save the sweep again.",
            set_aside=reading.set_aside,
            reading=reading,
        )
    return reading


def read(path: str | Path) -> list[Capture]:
    """Read the captures of a file, in the file's order.

    Raises
    ------
    FileAccessError, ReadError
        As `understand` does.
    """
    return list(understand(path).captures)
