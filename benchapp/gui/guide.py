"""The guided first run: which step it is at, and what it keeps apart from the real work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtWidgets import QScrollArea

from benchapp.gui.guidesteps import STEPS, Step, hand
from benchapp.gui.memory import Memory
from benchapp.gui.practice import Before, untie
from benchapp.gui.session import Message
from benchapp.gui.words import tr

if TYPE_CHECKING:
    from benchapp.gui.window import MainWindow

__all__ = ["Guide"]

_LOOK_MS = 200


class Guide(QObject):
    """Leads through the whole job once, on the simulated bench.

    While it is on, everything is kept in a record for practice; the record, the lot and the
    instrument of before are there again when it is left.

    Signals
    -------
    changed()
        It is at another step, was begun or was left.
    looked()
        It has looked whether the step is done.
    """

    changed = Signal()
    looked = Signal()

    def __init__(self, window: MainWindow, memory: Memory) -> None:
        super().__init__(window)
        self._window, self._memory = window, memory
        self.is_on = False
        self._passed: list[str] = []
        self._before: Before | None = None
        self._timer = QTimer(self, interval=_LOOK_MS)
        self._timer.timeout.connect(self.look)

    @property
    def passed(self) -> tuple[str, ...]:
        """Keys of the steps that were done, also at an earlier start."""
        return tuple(self._passed) if self.is_on else self._memory.guide[0]

    @property
    def is_done(self) -> bool:
        """Whether every step was done."""
        return len(self.passed) == len(STEPS)

    @property
    def is_begun(self) -> bool:
        """Whether some steps were done, but not all."""
        return bool(self.passed) and not self.is_done

    @property
    def step(self) -> Step | None:
        """The step it is at: the first that was not done, or one whose outcome is gone again."""
        following = next((step for step in STEPS if step.key not in self.passed), None)
        if following is None:
            return None
        needed = (step for step in STEPS if step.key in following.needs)
        return next((step for step in needed if not step.done(self._window)), following)

    def begin(self) -> None:
        """Begin, or go on where it was left."""
        if self.is_on or not self._is_kept():
            return
        window = self._window
        passed, lot = self._memory.guide
        is_over = len(passed) == len(STEPS)
        self._passed, lot = ([], "") if is_over else (list(passed), lot)
        self.is_on = True
        self._before = Before.of(window, self._memory)
        window.reporter.written_last = ""
        self._change_record(practises=True, lot=lot)
        self._timer.start()
        self.show_place()
        self.changed.emit()

    def again(self) -> None:
        """Forget what was done, and begin anew."""
        self._passed.clear()
        window = self._window
        window.desk.leave()
        window.sheet.fill(dict.fromkeys(("L", "C", "f0"), ""))
        window.session.use_nominal(None)
        window.reporter.written_last = ""
        self.show_place()
        self.changed.emit()

    def leave(self) -> None:
        """Leave it where it is; it can be gone on with at any time."""
        if self._before is None or not self._is_kept():
            return
        self._timer.stop()
        self._keep()
        self.is_on = False
        self._window.lots.settle()
        untie(self._window.session.parts)
        self._change_record(practises=False, lot=self._before.lot)
        self._before.bring_back(self._window, self._memory)
        self._before = None
        self.changed.emit()

    def close(self) -> None:
        """Keep where it is when the window is closed."""
        if self._before is not None:
            self._timer.stop()
            self._keep()
            self._memory.instrument = self._before.instrument.kept
            self._memory.operator = self._before.operator

    def _is_kept(self) -> bool:
        """Say whether all that was measured is in its record; else tell the person to wait."""
        busy = self._window.lots.recorder.is_busy
        if busy:
            text = tr("A measurement is still on its way into the record: wait until it is there.")
            self._window.session.told.emit(Message(text=text, mark="note"))
        return not busy

    def _keep(self) -> None:
        self._memory.guide = (tuple(self._passed), self._window.desk.key)

    def _change_record(self, *, practises: bool, lot: str) -> None:
        window = self._window
        self._memory.practises = practises
        window.desk.leave()
        if lot:
            window.desk.resume(lot)
        window.lots.recorder.changed.emit()

    def look(self) -> None:
        """See whether the step is done; the next one follows."""
        step, window = self.step, self._window
        if step is None:
            return
        self.looked.emit()
        if step.done(window):
            if step.key not in self._passed:
                self._passed.append(step.key)
            self._keep()
            self.changed.emit()
            return
        if step.key == "parts":
            hand(window)

    @property
    def is_waiting(self) -> bool:
        """Whether the instrument or the record is at work: nothing else can be begun then."""
        return self._window.instrument.is_busy or self._window.desk.is_busy

    def show_place(self) -> None:
        """Show the page on which the step is done, and give its first control the keyboard."""
        step, window = self.step, self._window
        if step is None:
            return
        if window.key != step.page:
            window.go(step.page)
        control = step.control(window)
        area = control.parentWidget()
        while area is not None and not isinstance(area, QScrollArea):
            area = area.parentWidget()
        if area is not None:
            area.ensureWidgetVisible(control)
        control.setFocus(Qt.FocusReason.TabFocusReason)

    def act(self) -> None:
        """Do the step for the person, on its page."""
        step = self.step
        if step is not None and not self.is_waiting:
            self.show_place()
            step.act(self._window)
            self.look()
