"""Answers that are remembered for each layout: its fingerprint, and the answers as TOML."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

from benchapp.errors import ReadError, UsageError
from benchapp.readers.reading import Answers, Reading
from benchapp.readers.table import NO_HEADINGS

__all__ = ["Remembered", "answers_from_toml", "answers_to_toml", "fingerprint", "may_mislead"]

_TABLE = "layouts"
_LENGTH = 16
_WORDS = "layout"
_OF_ONE_FILE = ("interval", "frequency", "scale", "probe")


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """What is answered for files of one layout, and the layout in words for a person."""

    answers: Answers
    layout: str = ""


def fingerprint(reading: Reading) -> str:
    """Name the layout of a file: equal for files of one instrument set-up, whatever they measured.

    Parameters
    ----------
    reading : Reading
        Made without answers, which would change it.

    Returns
    -------
    str
        Sixteen hexadecimal signs, from the reader, the delimiter, the decimal mark, the headings
        with their units, and the settings stated above them on which answers depend.
    """
    words = "\0".join((reading.reader, *reading.layout))
    return hashlib.sha256(words.encode()).hexdigest()[:_LENGTH]


def may_mislead(reading: Reading, answers: Answers) -> str:
    """Say why answers for files laid out alike may be wrong for this one; empty where not.

    Parameters
    ----------
    reading : Reading
        Made without answers.
    answers : Answers
        Those that are remembered.
    """
    if any(word.startswith(NO_HEADINGS) for word in reading.layout):
        return "the layout has no headings, so another instrument's files may look the same"
    own = [name for name in _OF_ONE_FILE if name in answers.given]
    return f"{' and '.join(own)} may differ from file to file" if own else ""


def answers_to_toml(remembered: Mapping[str, Remembered]) -> str:
    """Write answers by fingerprint so that a person can read, edit and pass them on.

    Parameters
    ----------
    remembered : mapping of str to Remembered
        By fingerprint.
    """
    lines = ["# How capture files of a known layout are read: one table for each layout."]
    for name in sorted(remembered):
        entry = remembered[name]
        lines += ["", f'[{_TABLE}."{name}"]']
        for key, value in {_WORDS: entry.layout, **entry.answers.given}.items():
            written = json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
            lines.append(f"{key} = {written}")
    return "\n".join(lines) + "\n"


def answers_from_toml(text: str) -> dict[str, Remembered]:
    """Read answers by fingerprint.

    Raises
    ------
    ReadError
        When it is no TOML, or not of this form.
    UsageError
        When an answer is unknown or no number where one is needed.
    """
    try:
        layouts = tomllib.loads(text).get(_TABLE, {})
    except tomllib.TOMLDecodeError as cause:
        raise ReadError(
            f"remembered answers: must be TOML ({cause}).",
            hint="Correct the file, or delete it to start again.",
        ) from cause
    entries = list(layouts.values()) if isinstance(layouts, dict) else [layouts]
    if not all(isinstance(entry, dict) for entry in entries):
        raise ReadError(
            f"remembered answers: must hold one table [{_TABLE}.NAME] for each layout.",
            hint="Correct the file, or delete it to start again.",
        )
    return {name: _remembered(name, entry) for name, entry in layouts.items()}


def _remembered(name: str, entry: Mapping[str, object]) -> Remembered:
    given = {key: value for key, value in entry.items() if key != _WORDS}
    try:
        answers = Answers.from_mapping(given)
    except UsageError as cause:
        raise UsageError(
            f"remembered answers, layout {name}: {cause.message}",
            hint="Correct the line, or forget the layout by deleting its table from the file.",
        ) from cause
    return Remembered(answers=answers, layout=str(entry.get(_WORDS, "")))
