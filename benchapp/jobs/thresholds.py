"""The person's own thresholds of checks: one file for window and command line."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from benchapp.checks import load_thresholds, thresholds
from benchapp.errors import FileAccessError
from benchapp.jobs.settings import settings_folder

__all__ = ["ThresholdBook", "threshold_book"]

_HEAD = "# Thresholds of checks that differ from the defaults.\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdBook:
    """The file that holds the thresholds that differ from the defaults, as `--checks` takes it.

    Raises
    ------
    UsageError, FileAccessError
        By every act, when the file is damaged, or cannot be opened or written.
    """

    path: str

    def changes(self) -> dict[str, dict[str, float]]:
        """Give what is changed; nothing where there is no file."""
        try:
            return load_thresholds(self.path) if Path(self.path).is_file() else {}
        except PermissionError as cause:
            raise FileAccessError(
                f"{self.path}: must be a file that can be read (got {cause.strerror}).",
                hint="Ask for the permission, or name another folder in the environment as "
                "BENCHAPP_SETTINGS.",
            ) from cause

    def keep(self, changes: Mapping[str, Mapping[str, float]]) -> None:
        """Keep these changes in place of earlier ones, replacing the file at once.

        Raises
        ------
        UsageError
            When a check or a threshold does not exist.
        """
        thresholds(changes)
        blocks = [_HEAD] + [
            "\n".join([f"[{name}]", *(f"{key} = {value!r}" for key, value in values.items()), ""])
            for name, values in changes.items()
            if values
        ]
        target = Path(self.path)
        fresh = target.with_name(f"{target.name}.{os.getpid()}.new")
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            fresh.write_text("\n".join(blocks), encoding="utf-8")
            fresh.replace(target)
        except OSError as cause:
            raise FileAccessError(
                f"{self.path}: must be a file that can be written (got {cause.strerror}).",
                hint="The thresholds hold for now but are not kept. Free the place, or name "
                "another folder in the environment as BENCHAPP_SETTINGS.",
            ) from cause


def threshold_book(environment: Mapping[str, str]) -> ThresholdBook:
    """Give the person's own thresholds: ``checks.toml`` in the folder of settings."""
    return ThresholdBook(path=str(settings_folder(environment) / "checks.toml"))
