"""What a scanner types where no field is: the serial of the next part of the lot on the bench."""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, Qt
from PySide6.QtGui import QKeyEvent

from benchapp.gui.desk import Desk

__all__ = ["Scanner", "is_typed"]

_FAST_MS = 60  # between two keys of a scanner; nobody types so fast
_ENDS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_COMMANDS = (
    Qt.KeyboardModifier.ControlModifier
    | Qt.KeyboardModifier.AltModifier
    | Qt.KeyboardModifier.MetaModifier
)


def is_typed(event: QKeyEvent) -> bool:
    """Tell whether a key writes something, in capitals too; a shortcut does not."""
    return bool(event.text()) and event.text().isprintable() and not event.modifiers() & _COMMANDS


class Scanner:
    """Collects the keys of a serial; Return ends it, the next key begins another.

    A blank belongs to the serial only at the speed of a scanner: typed by hand it takes the sweep.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._typed = ""
        self._ended = False
        self._clock = QElapsedTimer()

    def takes(self, event: QKeyEvent) -> bool:
        """Take a key that nothing else wants; False where it is none of a serial."""
        desk = self._desk
        if not desk.is_counting or desk.again:
            return False
        if event.key() in _ENDS:
            self._ended = True
            return bool(desk.serial)
        if event.key() == Qt.Key.Key_Backspace and desk.serial:
            self._write(desk.serial[:-1])
            return True
        scanned = self._clock.isValid() and self._clock.elapsed() < _FAST_MS
        fast = scanned and not self._ended
        if not is_typed(event) or (event.text().isspace() and not fast):
            return False
        before = self._typed if self._typed.strip() == desk.serial else desk.serial
        self._write(("" if self._ended else before) + event.text())
        return True

    def _write(self, words: str) -> None:
        self._typed, self._ended = words, False
        self._clock.restart()
        self._desk.name(words)
