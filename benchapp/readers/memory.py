"""Answers that are remembered for each layout: its fingerprint, and the answers as TOML."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

from benchapp.errors import ReadError
from benchapp.readers.reading import Answers, Reading

__all__ = ["Remembered", "answers_from_toml", "answers_to_toml", "fingerprint"]

_TABLE = "layouts"
_LENGTH = 16
_WORDS = "layout"


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
        Sixteen hexadecimal signs, from the reader, the delimiter, the decimal mark and the
        headings with their units.
    """
    words = "\0".join((reading.reader, *reading.layout))
    return hashlib.sha256(words.encode()).hexdigest()[:_LENGTH]


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
    return {
        name: Remembered(
            answers=Answers.from_mapping({key: entry[key] for key in entry if key != _WORDS}),
            layout=str(entry.get(_WORDS, "")),
        )
        for name, entry in layouts.items()
    }
