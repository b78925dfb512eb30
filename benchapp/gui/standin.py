"""A record on a server, and the file that stands in for it while it is away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from benchapp.errors import BenchError
from benchapp.gui.memory import Memory
from benchapp.gui.session import Message
from benchapp.gui.words import plural, tr
from benchapp.gui.worker import Job
from benchapp.jobs import AskServer
from benchapp.logbook import Standing, with_standby

__all__ = ["StandIn"]

_AGAIN_MS = 30_000
_HERE = Standing(state="kept")

Ask = Callable[[Job, Callable[[Standing], None], Callable[[BenchError], None]], None]


class StandIn(QObject):
    """Knows whether the server of the record answers, and asks it again while it does not.

    Parameters
    ----------
    memory : Memory
        Says where the record is.
    ask : callable
        Does a job on the record, after those given before.

    Signals
    -------
    changed()
        The server went away, or answers again, or more waits for it.
    told(message)
        Something to tell the person.
    """

    changed = Signal()
    told = Signal(object)

    def __init__(self, memory: Memory, ask: Ask, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._memory, self._ask = memory, ask
        self.standing = _HERE
        self._timer = QTimer(self, singleShot=True, interval=_AGAIN_MS)
        self._timer.timeout.connect(self.ask)

    @property
    def address(self) -> str:
        """The record with its stand-in, as jobs take it."""
        return with_standby(self._memory.record, self.path)

    @property
    def path(self) -> str:
        """The file that stands in: the person's own record, with a word in its name."""
        own = Path(self._memory.own_record)
        return str(own.with_name(f"{own.stem}-away{own.suffix}"))

    @property
    def on_server(self) -> bool:
        """Whether the record is on a server."""
        return "://" in self._memory.record

    @property
    def is_away(self) -> bool:
        """Whether the server does not answer, and new entries go into the file."""
        return self.on_server and self.standing.state == "kept locally"

    @property
    def short_words(self) -> str:
        """Say in a line that the server is away and how much waits."""
        waiting = self.standing.waiting
        return plural(
            waiting,
            tr("record away: up to 1 entry waits here"),
            tr("record away: up to %n entries wait here"),
        )

    @property
    def words(self) -> str:
        """Say what is happening, and what becomes of what is measured meanwhile."""
        words = tr(
            "The server of the record does not answer. Work goes on: what is measured is kept in "
            "{file} on this computer, and only what is there can be searched and opened. The "
            "server is asked again every 30 s; once it answers, all of it is brought over and "
            "nothing is doubled."
        )
        return f"{words.format(file=Path(self.path).name)} ({self.short_words})"

    def ask(self) -> None:
        """Ask the server now, and bring over what waits if it answers."""
        if self.on_server:
            self._timer.stop()
            self._ask(AskServer(record=self.address), self._stand, self._fail)

    def settle(self, found: object) -> None:
        """Look at what a job on the record gave: an entry of the file tells that it stands in."""
        if not self.on_server:
            return
        entry = getattr(found, "entry", None)
        if self.is_away and entry is not None and entry < 0:
            waiting = self.standing.waiting + 1
            self.standing = replace(self.standing, waiting=waiting)
            self.changed.emit()
        elif self.is_away or entry is None or entry < 0:
            self.ask()

    def forget(self) -> None:
        """Begin anew: the record is another one."""
        self._timer.stop()
        self.standing = _HERE
        self.changed.emit()

    def close(self) -> None:
        """Ask no more."""
        self._timer.stop()

    def _stand(self, standing: Standing) -> None:
        was_away, before, self.standing = self.is_away, self.standing, standing
        if self.is_away:
            self._timer.start()
        if self.is_away and not was_away:
            text = tr("The server of the record does not answer; work goes on here.")
            hint = tr("What is measured is kept on this computer and brought over later.")
            self.told.emit(Message(text=text, hint=hint, mark="doubt"))
        elif was_away and not self.is_away:
            text = tr("The server of the record answers again.")
            hint = tr("What was kept here meanwhile stands in the shared record now.")
            self.told.emit(Message(text=text, hint=hint, mark="good"))
        if standing != before:
            self.changed.emit()

    def _fail(self, error: BenchError) -> None:
        self.told.emit(Message(text=error.message, hint=error.hint))
