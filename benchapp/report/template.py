"""The settings of reports: house, logo, paper, language and texts, from a small TOML file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

from benchapp.errors import FileAccessError, UsageError
from benchapp.report.document import House, Paper
from benchapp.report.html import logo_kind
from benchapp.report.words import Words

__all__ = ["Template", "load_template", "with_paper"]

_PAPERS = ("A4", "Letter")
_KEYS: Mapping[str, tuple[str, ...]] = {
    "": ("paper", "language", "house", "texts"),
    "house": ("name", "lines", "logo", "foot"),
}
_MOST_LOGO = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """How reports look and what they say."""

    house: House = field(default_factory=House)
    paper: Paper = "A4"
    words: Words = field(default_factory=Words)


def load_template(path: str) -> Template:
    """Read the settings of reports.

    Raises
    ------
    FileAccessError
        When the file or the logo cannot be opened.
    UsageError
        When a key is unknown or has the wrong kind of value.
    """
    settings = _settings(path)
    _refuse_unknown(path, "", settings)
    house = _table(path, settings, "house")
    _refuse_unknown(path, "house", house)
    paper = _paper(path, settings.get("paper", "A4"))
    lines = house.get("lines", [])
    if not isinstance(lines, list) or not all(isinstance(line, str) for line in lines):
        raise UsageError(
            f"{path}: house.lines must be a list of texts (got {lines!r}).",
            hint='For example: lines = ["1 Mill Lane", "Aberton"]',
        )
    return Template(
        house=House(
            name=_text(path, "house.name", house.get("name", "")),
            lines=tuple(lines),
            logo=_logo(path, house.get("logo")),
            foot=_text(path, "house.foot", house.get("foot", "")),
        ),
        paper=paper,
        words=Words(
            language=_text(path, "language", settings.get("language", "en")),
            changed={
                phrase: _text(path, f"texts.{phrase}", text)
                for phrase, text in _table(path, settings, "texts").items()
            },
        ),
    )


def with_paper(template: Template, paper: str) -> Template:
    """Give a template with another size of paper.

    Raises
    ------
    UsageError
        When there is no such size.
    """
    return replace(template, paper=_paper("report", paper))


def _paper(where: str, paper: Any) -> Paper:
    if paper not in _PAPERS:
        raise UsageError(
            f"{where}: paper must be one of {', '.join(_PAPERS)} (got {paper!r}).",
            hint="Leave it out for A4.",
        )
    return cast("Paper", paper)


def _bytes(path: str) -> bytes:
    try:
        return Path(path).read_bytes()
    except OSError as cause:
        raise FileAccessError(
            f"{path}: must be a file that can be read (got {cause.strerror}).",
            hint="Check the name in the settings of reports.",
            path=path,
        ) from cause


def _settings(path: str) -> dict[str, Any]:
    try:
        return tomllib.loads(_bytes(path).decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as cause:
        raise UsageError(
            f"{path}: must be TOML in UTF-8 (got an error: {cause}).",
            hint="Texts stand in double quotes; lists in square brackets.",
        ) from cause


def _table(path: str, settings: Mapping[str, Any], name: str) -> dict[str, Any]:
    found = settings.get(name, {})
    if not isinstance(found, dict):
        raise UsageError(
            f"{path}: {name} must be a table (got {found!r}).", hint=f"Begin it with [{name}]."
        )
    return found


def _refuse_unknown(path: str, where: str, table: Mapping[str, Any]) -> None:
    unknown = [key for key in table if key not in _KEYS[where]]
    if unknown:
        raise UsageError(
            f"{path}: keys of {where or 'the file'} must be of {', '.join(_KEYS[where])} "
            f"(got {unknown[0]!r}).",
            hint="Remove it, or correct its name.",
        )


def _text(path: str, name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise UsageError(
            f"{path}: {name} must be a text (got {value!r}).", hint="Put it in double quotes."
        )
    return value


def _logo(path: str, name: Any) -> bytes | None:
    """Read the logo; its name counts from the folder of the settings."""
    if name is None:
        return None
    place = str(Path(path).parent / _text(path, "house.logo", name))
    data = _bytes(place)
    if logo_kind(data) is None or len(data) > _MOST_LOGO:
        raise UsageError(
            f"{place}: a logo must be PNG or JPEG of at most 1 MB "
            f"(got {len(data)} bytes that begin with {data[:4]!r}).",
            hint="Save the picture as PNG.",
        )
    return data
