"""Work that is done ahead, in slices, while the person does nothing that it could hold up."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtCore import QObject, QTimer

__all__ = ["Ahead"]

_FIRST_MS = 1200  # after the window is there
_PAUSE_MS = 60


class Ahead(QObject):
    """Does one step after the other, with a pause for the window after each.

    Parameters
    ----------
    steps : iterable of callables
    may : callable
        Asked before each step: is nothing else going on? If there is, it is asked again later.
    """

    def __init__(
        self,
        steps: Iterable[Callable[[], object]],
        may: Callable[[], bool],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._steps = list(steps)
        self._may = may
        self._timer = QTimer(self, singleShot=True, interval=_FIRST_MS)
        self._timer.timeout.connect(self._step)

    @property
    def is_done(self) -> bool:
        """Whether no step is left."""
        return not self._steps

    def start(self, after_ms: int = _FIRST_MS) -> None:
        """Begin after a while."""
        self._timer.start(after_ms)

    def stop(self) -> None:
        """Do no further step."""
        self._timer.stop()
        self._steps.clear()

    def _step(self) -> None:
        if self._steps and self._may():
            self._steps.pop(0)()
        if self._steps:
            self._timer.start(_PAUSE_MS)
