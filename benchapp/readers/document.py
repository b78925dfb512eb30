"""One file on its way to captures: its bytes, its text, and the answers to go by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from benchapp.capture import Capture
from benchapp.readers.encoding import Text
from benchapp.readers.notes import Notes
from benchapp.readers.reading import Answers, Column
from benchapp.readers.source import Source

__all__ = ["Document", "Reader", "Understood"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A decoded file. ``lines`` are without their ends; line 1 has index 0."""

    source: Source
    text: Text
    lines: list[str]
    answers: Answers

    @property
    def suffix(self) -> str:
        """The ending of the name in lower case, with its point."""
        _, point, ending = self.source.name.rpartition(".")
        return f".{ending.lower()}" if point else ""

    @property
    def ends_with_line(self) -> bool:
        """Whether the last row is closed by a line end."""
        return self.text.content.endswith(("\n", "\r"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """The captures of one file, what its columns were taken for, and its layout in words."""

    captures: tuple[Capture, ...]
    columns: tuple[Column, ...] = ()
    layout: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """One way to understand a file.

    ``recognises`` gives a confidence from 0 to 1 that the file is of this kind; the reader that is
    surest gets it. ``understand`` makes the captures and notes every assumption and question.
    """

    name: str
    title: str
    recognises: Callable[[Document], float]
    understand: Callable[[Document, Notes], Understood]
