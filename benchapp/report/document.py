"""What a report is made of, before it is paper or a page: titles, texts, tables, pictures."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from benchapp.report.scene import Scene

__all__ = [
    "Block",
    "Caution",
    "Document",
    "Facts",
    "Figure",
    "Heading",
    "House",
    "Paragraph",
    "Signature",
    "Table",
    "Tone",
]

Tone = Literal["plain", "good", "bad", "doubt", "small"]
Paper = Literal["A4", "Letter"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """The title of a part of the report."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Running text. ``tone`` sets off an outcome; the words say the same without it."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Names and what they are, one pair a line."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; its header is repeated where it goes on over the page.

    ``widths`` are shares of the columns, equal where none are given; ``right`` the columns whose
    cells stand at the right.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...] = ()
    right: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figure:
    """A picture and what it shows."""

    scene: Scene
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """Something that can hurt a person, or mislead one."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """Lines to sign on: what each is for, and the name below where it is known."""

    fields: tuple[tuple[str, str], ...]


Block = Heading | Paragraph | Facts | Table | Figure | Caution | Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """Who issues reports: name, lines below it, logo as PNG or JPEG, words at the foot."""

    name: str = ""
    lines: tuple[str, ...] = ()
    logo: bytes | None = None
    foot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A report. ``number`` is its own and stands on every page; ``language`` is a tag as ``en``.

    ``page`` is what stands for "page {page} of {pages}" in that language.
    """

    title: str
    number: str
    blocks: tuple[Block, ...]
    language: str = "en"
    paper: Paper = "A4"
    house: House = field(default_factory=House)
    page: str = "page {page} of {pages}"
