"""Work that is done ahead, in slices, while the person does nothing that it could hold up."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget

from benchapp.gui.worker import Worker
from benchapp.jobs import Cancelled, Progress

if TYPE_CHECKING:
    from benchapp.gui.window import MainWindow

__all__ = ["Ahead", "LoadModules", "Pieces", "page_steps"]

_FIRST_MS = 1200  # after the window is there
_PAUSE_MS = 60
# The pages that are made ahead, the likeliest first.
_PAGES = (
    "capture",
    "verdict",
    "nominal",
    "setup",
    "lot",
    "tank",
    "stress",
    "marking",
    "coil",
    "study",
)
_PIECES = {"capture": ("plots",), "setup": ("card",), "lot": ("lot form",)}
_MODULES = (
    "scipy.optimize",
    "benchapp.gui.setuppage",
    "benchapp.gui.lotpage",
    "benchapp.gui.stressview",
    "benchapp.gui.markingview",
    "benchapp.gui.coilview",
    "benchapp.gui.livepage",
    "benchapp.gui.lotfigures",
    "benchapp.gui.recordspage",
    "benchapp.gui.supplierpage",
    "benchapp.gui.studypage",
)


class LoadModules:
    """Import modules before they are needed, a job for the worker."""

    def __init__(self, names: tuple[str, ...] = _MODULES) -> None:
        self._names = names

    def __call__(self, _progress: Progress, cancelled: Cancelled) -> None:
        """Import them, unless the person wants something."""
        for name in self._names:
            if not cancelled():
                importlib.import_module(name)


class Pieces:
    """Costly pieces of pages, each made by itself before its page, or with it at the latest.

    Parameters
    ----------
    makers : mapping of str to callable
    owner : QWidget
        Who has a piece until its page takes it.
    """

    def __init__(self, makers: Mapping[str, Callable[[], QWidget]], owner: QWidget) -> None:
        self._makers, self._owner = dict(makers), owner
        self._made: dict[str, QWidget] = {}

    def make(self, name: str) -> None:
        """Make a piece, unless its page has it already."""
        if name in self._makers and name not in self._made:
            self._made[name] = self._makers[name]()
            self._made[name].setParent(self._owner)

    def take(self, name: str) -> QWidget:
        """Give a piece to its page, once."""
        self.make(name)
        del self._makers[name]
        return self._made.pop(name)


def page_steps(window: MainWindow, worker: Worker) -> list[Callable[[], object]]:
    """Give the steps that make each page and lay it out, so that it shows without delay."""

    def lay_out(key: str) -> None:
        page = window.page(key)
        if page is not window.stack.currentWidget():
            page.resize(window.stack.size())
            page.grab()

    steps: list[Callable[[], object]] = [
        lambda: worker.submit("ahead", LoadModules(), lambda _done: None)
    ]
    for key in _PAGES:
        steps += [partial(window.pieces.make, name) for name in _PIECES.get(key, ())]
        steps += [partial(window.page, key), partial(lay_out, key)]
    return steps


class Ahead(QObject):
    """Does one step after the other, with a pause for the window after each.

    Parameters
    ----------
    steps : iterable of callables
    may : callable
        Asked before each step: is nothing else going on? If there is, it is asked again later.

    Signals
    -------
    finished()
        The last step is done.
    """

    finished = Signal()

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
            if not self._steps:
                self.finished.emit()
        if self._steps:
            self._timer.start(_PAUSE_MS)
