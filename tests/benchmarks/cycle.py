"""The part cycle at the Lot station: ``python -m tests.benchmarks.cycle [PAGE]``.

Printed: milliseconds from a capture's coming to its part's being counted, the record durable; and
how long the thread of the window was held up meanwhile, with what it did when that was over 50 ms.
Beside each gap stands the processor time of that thread in it: on a loaded computer that counts.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import threading
import time
import traceback
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from benchapp.gui.app import Collector, make_window
from benchapp.gui.memory import Memory
from benchapp.gui.startpage import sample_paths
from benchapp.jobs import sample_folder
from benchapp.lot import LotForm, PlanChoice

BEAT_MS, LONG = 4, 0.050


class Heart:
    """Beats on the thread of the window; another thread looks where it is when a beat is late."""

    def __init__(self) -> None:
        self.last = time.perf_counter()
        self.used = time.thread_time()
        self.gaps: list[tuple[float, float, str]] = []
        self._stack = ""
        self._window = threading.get_ident()
        self._timer = QTimer(interval=BEAT_MS)
        self._timer.timeout.connect(self.beat)
        self._timer.start()
        self._ended = threading.Event()
        self._watcher = threading.Thread(target=self._look, daemon=True)
        self._watcher.start()

    def stop(self) -> None:
        """Look no more."""
        self._ended.set()
        self._watcher.join()

    def beat(self) -> None:
        """Note how long it was since the last one."""
        now, used = time.perf_counter(), time.thread_time()
        if now - self.last > LONG:
            self.gaps.append((now - self.last, used - self.used, self._stack))
        self.last, self.used, self._stack = now, used, ""

    def _look(self) -> None:
        while not self._ended.wait(0.008):
            if time.perf_counter() - self.last > LONG / 2:
                frames = traceback.extract_stack(sys._current_frames()[self._window])
                ours = [f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in frames[2:]]
                self._stack += "\n      " + " < ".join(reversed(ours[-5:]))


def wait(until, most: float = 20.0) -> None:
    """Let the window work until something holds."""
    end = time.perf_counter() + most
    while not until():
        QApplication.processEvents()
        time.sleep(0.0005)
        if time.perf_counter() > end:
            raise TimeoutError


def main() -> None:
    """Measure."""
    page = sys.argv[1] if len(sys.argv) > 1 else "lot"
    application = QApplication(sys.argv[:1])
    collector = Collector(application)
    with tempfile.TemporaryDirectory() as folder:
        window = make_window(Memory(Path(folder) / "settings.ini"))
        window.ahead.finished.connect(collector.settle)
        window.show()
        window.session.told.connect(lambda message: message and print(message.text, message.hint))
        heart = Heart()
        wait(lambda: window.ahead.is_done, 60)
        tell("pages made ahead", heart)
        window.session.open([sample_paths()[1]])
        wait(lambda: window.session.nominal is not None)
        window.desk.begin(
            LotForm(quantity=13), PlanChoice(kind="all").plan(13), window.session.nominal
        )
        wait(lambda: window.desk.is_open)
        window.desk.go_on(beyond=True)
        window.go(page)
        wait(lambda: not window.session.is_reading)
        heart.gaps.clear()
        times = []
        for path in sorted((sample_folder() / "ga12_lot").glob("*.csv")):
            before = len(window.desk.state.parts)
            start = time.perf_counter()
            window.session.open([str(path)])
            wait(lambda before=before: len(window.desk.state.parts) > before)
            times.append(1e3 * (time.perf_counter() - start))
            wait(lambda: window.session.is_settled and not window._worker.is_busy)
            for _ in range(20):
                QApplication.processEvents()
                time.sleep(0.002)
        tell(f"{len(times)} parts, page {page}", heart)
        print(f"cycle: median {statistics.median(times):.0f} ms, longest {max(times):.0f} ms")
        heart.stop()
        window.close()
    collector.stop()


def tell(title: str, heart: Heart) -> None:
    """Print the gaps so far and forget them."""
    longest = max((gap for gap, _, _ in heart.gaps), default=0.0)
    busy = [used for _, used, _ in heart.gaps if used > LONG]
    print(
        f"{title}: {len(heart.gaps)} gaps over 50 ms, longest {1e3 * longest:.0f} ms; "
        f"{len(busy)} of more than 50 ms at work, longest {1e3 * max(busy, default=0):.0f} ms"
    )
    for gap, used, stack in heart.gaps:
        print(f"  {1e3 * gap:.0f} ms, at work {1e3 * used:.0f} ms{stack if used > LONG else ''}")
    heart.gaps.clear()


if __name__ == "__main__":
    main()
