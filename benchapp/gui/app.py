"""Starting the window: application, theme, worker, session, files to open."""

from __future__ import annotations

import gc
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QApplication

from benchapp.errors import BenchError
from benchapp.gui import theme
from benchapp.gui.memory import Memory
from benchapp.gui.session import Message, Session
from benchapp.gui.window import MainWindow
from benchapp.gui.worker import Worker

__all__ = ["Collector", "make_window", "run"]

_COLLECT_MS = 1000


class Collector(QObject):
    """Collects Python's garbage on the thread of the window only.

    Otherwise a collection started by the worker's thread could destroy a widget there, which ends
    the process.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        gc.disable()
        self._timer = QTimer(self, interval=_COLLECT_MS)
        self._timer.timeout.connect(self.collect)
        self._timer.start()

    def collect(self) -> None:
        """Collect as many generations as Python itself would now."""
        thresholds, counts = gc.get_threshold(), gc.get_count()
        due = [age for age in range(3) if counts[age] > thresholds[age]]
        if due:
            gc.collect(max(due))

    def settle(self) -> None:
        """Look no more at what there is now: it stays, and looking takes longer than 50 ms."""
        gc.freeze()

    def stop(self) -> None:
        """Let Python collect by itself again."""
        self._timer.stop()
        gc.unfreeze()
        gc.enable()


def make_window(memory: Memory) -> MainWindow:
    """Make the window with its session and worker; closing it ends the worker."""
    theme.apply(QApplication.instance(), theme.chosen(memory.theme))
    worker = Worker()
    window = MainWindow(Session(worker, memory.book), worker, memory)
    _use_thresholds(window, memory)
    worker.setParent(window)
    window.session.setParent(window)
    return window


def _use_thresholds(window: MainWindow, memory: Memory) -> None:
    """Use the thresholds that the person keeps; tell where their file is damaged."""
    try:
        window.session.use_thresholds(memory.thresholds.changes())
    except BenchError as error:
        window.session.told.emit(Message(text=error.message, hint=error.hint, mark="doubt"))


def run(paths: Sequence[str], nominal: str | None = None) -> int:
    """Open the window on ``paths`` (captures and designs) and work until it is closed."""
    application = QApplication(sys.argv[:1])
    application.setApplicationName("benchapp")
    application.setDesktopFileName("benchapp")
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl+C in the terminal ends the program
    collector = Collector(application)
    window = make_window(Memory())
    window.ahead.finished.connect(collector.settle)
    sys.excepthook = _teller(window)
    wanted = [*([nominal] if nominal else []), *paths]
    if wanted:
        window.session.open([str(Path(path).absolute()) for path in wanted])
    window.show()
    status = application.exec()
    collector.stop()
    return status


def _teller(window: MainWindow):  # noqa: ANN202 - the type of sys.excepthook
    """Give a hook that tells of a fault of the program in the window and in the terminal."""

    def tell(kind: type[BaseException], fault: BaseException, trace: TracebackType | None) -> None:
        sys.__excepthook__(kind, fault, trace)
        window.session.told.emit(
            Message(
                text=f"The program failed at this step ({kind.__name__}: {fault}).",
                hint="Your files are untouched. Go on, and report this sentence.",
            )
        )

    return tell
