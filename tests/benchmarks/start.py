"""How long the window takes to show the sample's verdict, beside a bare plot window.

Both are measured in whole processes, by turns, from the moment the process is asked for to the
moment its window has been painted. Modules are compiled beforehand, as an installation does.
Run by hand: ``python -m tests.benchmarks.start [ROUNDS]``.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time

_BARE = """
import numpy, pyqtgraph
app = pyqtgraph.mkQApp()
plot = pyqtgraph.PlotWidget()
plot.plot(numpy.linspace(0, 1, 401), numpy.linspace(0, 1, 401) ** 2)
plot.resize(1280, 800)
plot.show()
app.processEvents()
"""
_OURS = """
import sys, tempfile, time
from pathlib import Path
from PySide6.QtWidgets import QApplication
from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.gui.startpage import sample_paths
app = QApplication([])
window = make_window(Memory(Path(tempfile.mkdtemp()) / "settings.ini"))
window.session.open(sample_paths())
window.show()
app.processEvents()
if WITH_VERDICT:
    while window.session.result is None or window.session.result.verdict is None:
        app.processEvents()
        time.sleep(0.001)
    app.processEvents()
"""
_PROGRAMS = {
    "bare plot window": _BARE,
    "window shown": "WITH_VERDICT = False\n" + _OURS,
    "window with the sample's verdict": "WITH_VERDICT = True\n" + _OURS,
}
_END = "\nimport os, sys; sys.stdout.write('shown'); sys.stdout.flush(); os._exit(0)\n"


def seconds(program: str, compiled: str) -> float:
    """Time one process from its start to its painted window."""
    environment = {"QT_QPA_PLATFORM": "offscreen", **os.environ, "PYTHONPYCACHEPREFIX": compiled}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", program + _END],
        env=environment,
        check=False,
        capture_output=True,
        text=True,
    )
    taken = time.perf_counter() - start
    if done.stdout != "shown":
        sys.exit(done.stderr)
    return taken


def main() -> None:
    """Print medians and their ratio to the bare plot window."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    times: dict[str, list[float]] = {name: [] for name in _PROGRAMS}
    with tempfile.TemporaryDirectory() as compiled:
        for number in range(rounds + 1):
            for name, program in _PROGRAMS.items():
                taken = seconds(program, compiled)
                if number:  # the first round compiles
                    times[name].append(taken)
    base = statistics.median(times["bare plot window"])
    print(f"{'':34} median s   ratio   ({rounds} rounds, by turns)")
    for name, each in times.items():
        middle = statistics.median(each)
        print(f"{name:34} {middle:8.3f} {middle / base:7.2f}")


if __name__ == "__main__":
    main()
