"""Settings that a person writes in TOML: every refusal names the line and what was expected.

Nominal designs, accuracies of instruments and thresholds of checks are read through here.
"""

from __future__ import annotations

import difflib
import hashlib
import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchapp.errors import BenchError, QuantityError, ReadError, UsageError
from benchapp.readers.source import HEAD, open_source
from benchapp.units import format_quantity, parse_quantity

__all__ = ["KeyPath", "Settings", "Subject", "lines_of", "load_settings", "near"]

KeyPath = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What kind of file it is: its name in a sentence, the error it raises, and an example.

    ``title`` reads as in 'must be a nominal design', ``short`` as in 'known key of the design'.
    """

    title: str
    short: str
    error: type[BenchError] = UsageError
    example: str = 'key = "value"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where each key of a file stands, and how a refusal is worded.

    ``data`` are the nested tables of the file, ``lines`` the line of each key, ``source`` its path
    and ``sha256`` the digest of its bytes.
    """

    name: str
    subject: Subject
    data: Mapping[str, Any] = field(default_factory=dict)
    lines: Mapping[KeyPath, int] = field(default_factory=dict)
    source: str = ""
    sha256: str = ""

    def where(self, path: Sequence[str]) -> str:
        """Say where a key stands: the file, its line where known, and the key."""
        for length in range(len(path), 0, -1):
            line = self.lines.get(tuple(path[:length]))
            if line is not None:
                return f"{self.name}, line {line}: {'.'.join(path)}"
        return f"{self.name}: {'.'.join(path)}"

    def refusal(self, path: Sequence[str], rule: str, got: object, hint: str) -> BenchError:
        """Make the error for a key that breaks a rule."""
        return self.subject.error(f"{self.where(path)} must {rule} (got {got}).", hint=hint)

    def table(self, data: object, path: KeyPath) -> Mapping[str, Any]:
        """Give a table, and refuse anything else."""
        if not isinstance(data, Mapping):
            raise self.refusal(
                path, "be a table", repr(data), f"Write [{'.'.join(path)}] on a line of its own."
            )
        return data

    def only(self, data: Mapping[str, Any], known: Sequence[str], path: KeyPath) -> None:
        """Refuse keys of a table that are not known."""
        for key in data:
            if key in known:
                continue
            inside = f"[{'.'.join(path)}]" if path else self.subject.short
            raise self.refusal(
                (*path, key),
                f"be a known key of {inside}: {', '.join(known)}",
                repr(key),
                near(key, known),
            )

    def text(self, data: Mapping[str, Any], path: KeyPath, default: str | None = None) -> str:
        """Give a text; without a default it must be there and not be empty."""
        value = data.get(path[-1], default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            got = "nothing" if value is None else repr(value)
            raise self.refusal(path, "be a text in quotes", got, f'Write {path[-1]} = "...".')
        return value.strip()

    def number(self, data: Mapping[str, Any], path: KeyPath, default: float) -> float:
        """Give a plain number."""
        value = data.get(path[-1], default)
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not math.isfinite(value)
        ):
            raise self.refusal(
                path, "be a number", repr(value), f"Write for example {path[-1]} = 1.0."
            )
        return float(value)

    def quantity(self, value: object, path: KeyPath, units: Sequence[str]) -> tuple[float, str]:
        """Give a value in one of some units, without a tolerance, and the unit it has."""
        found, lower, _, unit = self.with_tolerance(value, path, units)
        if lower is not None:
            raise self.refusal(
                path, "be one value, without a tolerance", repr(value), "Remove it."
            )
        return found, unit

    def with_tolerance(
        self, value: object, path: KeyPath, units: Sequence[str]
    ) -> tuple[float, float | None, float | None, str]:
        """Give value, lower, upper and unit of a text such as ``1.62 mH ±3 %``."""
        text = self._with_unit(value, path, units)
        refusal = None
        for unit in units:
            try:
                found = parse_quantity(text, unit)
            except QuantityError as error:
                refusal = refusal or error
            else:
                return found.value, found.lower, found.upper, unit
        assert refusal is not None  # noqa: S101 - there is at least one unit
        rule, _, got = refusal.message.partition(": must ")[2].rpartition(" (got ")
        raise self.refusal(path, rule, got.removesuffix(")."), refusal.hint) from refusal

    def _with_unit(self, value: object, path: KeyPath, units: Sequence[str]) -> str:
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if plain and units == ("1",):
            return repr(value)
        if plain or (isinstance(value, str) and not _has_unit(value, units)):
            example = format_quantity(1.5, units[0], digits=2)
            raise self.refusal(
                path, "have a unit", repr(value), f'Write it in quotes, for example "{example}".'
            )
        if not isinstance(value, str):
            raise self.refusal(
                path, "be a value in quotes", repr(value), 'Write for example "1.62 mH".'
            )
        return value


def _has_unit(text: str, units: Sequence[str]) -> bool:
    if units[0] == "1":
        return True
    if units[0] in ("degC", "K"):
        return re.search(r"[^\d\s.,±+-]", text) is not None
    try:
        return parse_quantity(text).unit != ""
    except QuantityError:
        return re.search(r"\d\s*[mK]$", text.strip()) is None


def load_settings(path: str | Path, subject: Subject) -> Settings:
    """Read a settings file.

    Parameters
    ----------
    path : str or Path
    subject : Subject

    Returns
    -------
    Settings

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    BenchError
        Of the kind of the subject, when it is no short TOML file; the message names the line.
    """
    try:
        source = open_source(path)
        text = source.head.decode("utf-8-sig")
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as cause:
        raise _syntax(Path(path).name, text, subject, cause) from cause
    except (ReadError, UnicodeDecodeError) as cause:
        raise _other_file(path, subject) from cause
    if source.size > HEAD:
        raise _other_file(path, subject)
    return Settings(
        name=source.name,
        subject=subject,
        data=data,
        lines=lines_of(text),
        source=source.path,
        sha256=hashlib.sha256(source.head).hexdigest(),
    )


def _other_file(path: str | Path, subject: Subject) -> BenchError:
    return subject.error(
        f"{path}: must be {subject.title}, a short UTF-8 text file in TOML (got something else).",
        hint=f"Choose {subject.short} file, or save it again as UTF-8 text.",
    )


def near(word: str, known: Sequence[str]) -> str:
    """Say which known word was probably meant."""
    folded = {name.casefold(): name for name in known}
    close = difflib.get_close_matches(word.casefold(), folded, n=1)
    return f"Did you mean {folded[close[0]]}?" if close else "Check its spelling."


def _syntax(name: str, text: str, subject: Subject, cause: tomllib.TOMLDecodeError) -> BenchError:
    message = str(cause)
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)", message)
    line = place[1] if place and place[1] else str(len(text.splitlines()))
    plain = message[: place.start()] if place else message
    return subject.error(
        f"{name}, line {line}: must be TOML (got: {plain[:1].lower()}{plain[1:]}).",
        hint=f"Write key = value lines, texts in quotes: {subject.example}.",
    )


def lines_of(text: str) -> dict[KeyPath, int]:
    """Find the line of each table and key of TOML. A later table of one name gets its number."""
    found: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        if stripped.startswith("["):
            table = _key_path(stripped)
            counts[table] = counts.get(table, 0) + stripped.startswith("[[")
            if counts[table] > 1:
                table = (*table, str(counts[table]))
            found.setdefault(table, number)
        elif "=" in stripped and not stripped.startswith("#"):
            path = (*table, *_key_path(stripped.partition("=")[0] + "= 0"))
            found.setdefault(path, number)
    return found


def _key_path(statement: str) -> KeyPath:
    """Give the path of the one key or table that a line of TOML states."""
    try:
        node: Any = tomllib.loads(statement)
    except tomllib.TOMLDecodeError:
        return ()
    keys: list[str] = []
    while node and isinstance(node, dict | list):
        if isinstance(node, list):
            node = node[0]
            continue
        key = next(iter(node))
        keys.append(key)
        node = node[key]
    return tuple(keys)
