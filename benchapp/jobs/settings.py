"""Where a person's settings are kept: the folder, and the answers about layouts of files."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from benchapp.errors import FileAccessError, UsageError
from benchapp.readers import Remembered, answers_from_toml, answers_to_toml

__all__ = ["AnswerBook", "answer_book", "settings_folder"]

_OWN = "BENCHAPP_SETTINGS"


def settings_folder(environment: Mapping[str, str]) -> Path:
    """Give the folder of the person's settings; it need not exist yet.

    ``BENCHAPP_SETTINGS`` names it outright. Otherwise it is the usual one of the system: XDG Base
    Directory Specification 0.8 (Linux), the roaming profile (Windows), the library (macOS).
    """
    if environment.get(_OWN):
        return Path(environment[_OWN])
    if sys.platform == "win32" and environment.get("APPDATA"):
        return Path(environment["APPDATA"]) / "benchapp"
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "benchapp"
    stated = environment.get("XDG_CONFIG_HOME", "")
    return (Path(stated) if Path(stated).is_absolute() else home / ".config") / "benchapp"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerBook:
    """The file that holds what was answered about layouts: readable, and a colleague can take it.

    Raises
    ------
    ReadError, UsageError
        By every act, when the file is damaged.
    FileAccessError
        When it cannot be opened or written.
    """

    path: str

    def entries(self) -> dict[str, Remembered]:
        """Give everything that is remembered, by the fingerprint of the layout."""
        try:
            text = Path(self.path).read_text(encoding="utf-8")
        except FileNotFoundError:
            return {}
        except (OSError, UnicodeDecodeError) as cause:
            raise FileAccessError(
                f"{self.path}: must be a file of remembered answers that can be read "
                f"(got {cause}).",
                hint="Correct the file, or delete it to start again.",
            ) from cause
        return answers_from_toml(text)

    def entries_there(self) -> dict[str, Remembered]:
        """Give the same, but refuse a file that is missing or holds nothing."""
        entries = self.entries()
        if not entries:
            raise FileAccessError(
                f"{self.path}: must be a file with remembered answers (got none).",
                hint="Answer a question with --remember, or in the window, first.",
            )
        return entries

    def keep(self, name: str, entry: Remembered) -> None:
        """Remember the answers for one layout, in place of earlier ones."""
        self._write({**self.entries(), name: entry})

    def take_over(self, entries: Mapping[str, Remembered]) -> None:
        """Remember a colleague's answers too; for a layout in both, theirs hold from now on."""
        self._write({**self.entries(), **entries})

    def forget(self, name: str) -> None:
        """Forget the answers for one layout.

        Raises
        ------
        UsageError
            When nothing is remembered under that name.
        """
        entries = self.entries()
        if name not in entries:
            raise UsageError(
                f"layout: must be one that is remembered (got {name!r}).",
                hint="'benchapp answers' lists them.",
            )
        self._write({key: entries[key] for key in entries if key != name})

    def _write(self, entries: Mapping[str, Remembered]) -> None:
        """Replace the file at once, so that it is never half written."""
        target = Path(self.path)
        fresh = target.with_name(f"{target.name}.{os.getpid()}.new")
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            fresh.write_text(answers_to_toml(entries), encoding="utf-8")
            fresh.replace(target)
        except OSError as cause:
            fresh.unlink(missing_ok=True)
            raise FileAccessError(
                f"{self.path}: must be a file that can be written (got {cause.strerror}).",
                hint="The answers hold for now but are not remembered. Free the place, or name "
                f"another folder in the environment as {_OWN}.",
            ) from cause


def answer_book(environment: Mapping[str, str]) -> AnswerBook:
    """Give the person's own book of answers."""
    return AnswerBook(path=str(settings_folder(environment) / "answers.toml"))
