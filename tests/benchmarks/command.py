"""How long ``benchapp fit`` takes as a whole process, against merely importing scipy.

Run: python -m tests.benchmarks.command [ROUNDS]. Prints medians and the ratio from one
interleaved run; asserts nothing.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
CAPTURE = "sample_captures/ga12_tank.csv"
COMMANDS = {
    "import numpy, scipy.optimize": ["-c", "import numpy, scipy.optimize"],
    "import numpy": ["-c", "import numpy"],
    "benchapp fit": ["-m", "benchapp", "fit", CAPTURE],
    "benchapp compare": [
        *("-m", "benchapp", "compare", CAPTURE),
        *("--nominal", "sample_captures/ga12.toml"),
    ],
}


def _seconds(arguments: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def main(rounds: int = 15) -> None:
    """Run each command in turn ``rounds`` times and print the medians."""
    for arguments in COMMANDS.values():
        _seconds(arguments)
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(rounds):
        for name, arguments in COMMANDS.items():
            times[name].append(_seconds(arguments))
    base = statistics.median(times["import numpy, scipy.optimize"])
    print(f"{'process':<32} {'median':>9} {'fastest':>9} {'ratio':>7}   ({rounds} rounds)")
    for name, measured in times.items():
        middle = statistics.median(measured)
        print(f"{name:<32} {middle:8.3f}s {min(measured):8.3f}s {middle / base:7.2f}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
