"""What is kept between starts: the window's place, recent files, choices of view."""

from __future__ import annotations

import json
import os
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings

from benchapp.jobs import AnswerBook, ThresholdBook, answer_book, threshold_book
from benchapp.logbook import default_address

__all__ = ["Memory"]

_MOST_RECENT = 8


class Memory:
    """Settings of the person, in the desktop's usual place or in ``path``.

    Whatever is stored there and cannot be understood counts as not stored.
    """

    def __init__(self, path: Path | None = None) -> None:
        if path is None:
            self._settings = QSettings(
                QSettings.Format.IniFormat, QSettings.Scope.UserScope, "benchapp", "window"
            )
            self._book = answer_book(os.environ)
            self._thresholds = threshold_book(os.environ)
            self._own_record = default_address(os.environ)
            beside = Path(default_address({**os.environ, "BENCHAPP_RECORD": ""}))
        else:
            self._settings = QSettings(str(path), QSettings.Format.IniFormat)
            self._book = AnswerBook(path=str(path.with_name("answers.toml")))
            self._thresholds = ThresholdBook(path=str(path.with_name("checks.toml")))
            self._own_record = str(path.with_name("record.benchlog"))
            beside = path
        self._practice = str(beside.with_name("practice.benchlog"))
        self.practises = False

    def _text(self, key: str, otherwise: str = "") -> str:
        value = self._settings.value(key, otherwise)
        return value if isinstance(value, str) else otherwise

    @property
    def theme(self) -> str:
        """Chosen colours: ``light``, ``dark`` or ``system``."""
        chosen = self._text("theme", "system")
        return chosen if chosen in ("light", "dark") else "system"

    @theme.setter
    def theme(self, choice: str) -> None:
        self._settings.setValue("theme", choice)

    @property
    def view(self) -> str:
        """Key of the pair of plots that was chosen last."""
        return self._text("view")

    @view.setter
    def view(self, key: str) -> None:
        self._settings.setValue("view", key)

    @property
    def geometry(self) -> QByteArray:
        """Place and size of the window, empty at first."""
        value = self._settings.value("geometry")
        return value if isinstance(value, QByteArray) else QByteArray()

    @geometry.setter
    def geometry(self, value: QByteArray) -> None:
        self._settings.setValue("geometry", value)

    @property
    def instrument(self) -> dict[str, str]:
        """How the instrument was set up last, as words by name."""
        found = self._json("instrument")
        return {key: words for key, words in found.items() if isinstance(words, str)}

    @instrument.setter
    def instrument(self, kept: dict[str, str]) -> None:
        self._settings.setValue("instrument", json.dumps(kept))

    @property
    def reference(self) -> str:
        """File of the station's reference coil, empty where there is none or it is gone."""
        path = self._text("reference")
        return path if path and Path(path).is_file() else ""

    @reference.setter
    def reference(self, path: str) -> None:
        self._settings.setValue("reference", str(Path(path).absolute()) if path else "")

    @property
    def recent(self) -> tuple[str, ...]:
        """Files that were opened last and still exist, the last one first."""
        return tuple(path for path in self._list("recent") if Path(path).is_file())

    def remember(self, path: str) -> None:
        """Put ``path`` at the head of the recent files."""
        whole = str(Path(path).absolute())
        others = [one for one in self._list("recent") if one != whole]
        self._store("recent", [whole, *others][:_MOST_RECENT])

    @property
    def folder(self) -> str:
        """Folder of the file that was opened last."""
        recent = self._list("recent")
        return str(Path(recent[0]).parent) if recent else ""

    @property
    def book(self) -> AnswerBook:
        """What was answered for files laid out alike; the command line uses the same."""
        return self._book

    @property
    def record(self) -> str:
        """Where what is measured is kept: a file, or a database on a server.

        In a guided run it is a file of its own, for practice.
        """
        if self.practises:
            return self._practice
        return self._text("record") or self._own_record

    @record.setter
    def record(self, address: str) -> None:
        self._settings.setValue("record", address)

    @property
    def own_record(self) -> str:
        """Where the record is as long as no other is chosen."""
        return self._own_record

    @property
    def keeps(self) -> bool:
        """Whether everything that is measured is kept."""
        return self._text("keeps", "yes") != "no"

    @keeps.setter
    def keeps(self, keeps: bool) -> None:
        self._settings.setValue("keeps", "yes" if keeps else "no")

    @property
    def sounds(self) -> bool:
        """Whether a part that is not good is told by a sound."""
        return self._text("sounds", "no") == "yes"

    @sounds.setter
    def sounds(self, sounds: bool) -> None:
        self._settings.setValue("sounds", "yes" if sounds else "no")

    @property
    def operator(self) -> str:
        """Who measures, as typed last."""
        return self._text("operator")

    @operator.setter
    def operator(self, name: str) -> None:
        self._settings.setValue("operator", name)

    @property
    def guide(self) -> tuple[tuple[str, ...], str]:
        """Steps of the guided first run that were done, and its lot in the practice record."""
        found = self._json("guide")
        passed, lot = found.get("passed"), found.get("lot")
        keys = [one for one in passed if isinstance(one, str)] if isinstance(passed, list) else []
        return tuple(keys), lot if isinstance(lot, str) else ""

    @guide.setter
    def guide(self, kept: tuple[tuple[str, ...], str]) -> None:
        self._settings.setValue("guide", json.dumps({"passed": kept[0], "lot": kept[1]}))

    def _list(self, key: str) -> list[str]:
        found = self._json(key).get("paths", [])
        return [one for one in found if isinstance(one, str)] if isinstance(found, list) else []

    def _store(self, key: str, paths: list[str]) -> None:
        self._settings.setValue(key, json.dumps({"paths": paths}))

    def _json(self, key: str) -> dict[str, object]:
        try:
            found = json.loads(self._text(key, "{}"))
        except json.JSONDecodeError:
            return {}
        return found if isinstance(found, dict) else {}

    def flush(self) -> None:
        """Write everything to disk now."""
        self._settings.sync()

    @property
    def thresholds(self) -> ThresholdBook:
        """The thresholds of checks that the person has changed."""
        return self._thresholds
