"""How long tank sums, simulations and markings take.

Run: python -m tests.benchmarks.nominal. Prints medians and the memory that a simulation adds;
asserts nothing.
"""

from __future__ import annotations

import csv
import resource
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchapp.marking import best_pairs, read_marking
from benchapp.tank import (
    Band,
    Drive,
    Losses,
    TankDesign,
    Temperature,
    drive_tank,
    simulate,
    solve,
    stack,
    stack_of,
)
from benchapp.units import parse_quantity

TRUTH = Path(__file__).resolve().parent.parent / "truth"
UNITS = 1_000_000
DESIGN = TankDesign(
    inductance=parse_quantity("1.62mH±3%", "H"),
    capacitance=parse_quantity("868pF±2%", "F"),
    losses=Losses(coil_resistance=16.0, loss_tangent=3e-4, source=2.0, load=30.0),
    drive=Drive(form="full-bridge", size=12.0),
    band=Band(low=132e3, high=136.5e3),
)
WARM = Temperature(capacitance=(-300e-6, -200e-6), low_celsius=-20, high_celsius=60)


def _median(work: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def _row(name: str, seconds: float, note: str = "") -> None:
    print(f"{name:<48} {1e3 * seconds:9.3f} ms  {note}")


def main() -> None:
    """Print one row per kind of work."""
    sums = solve(DESIGN)
    _row("tank sums", _median(lambda: solve(DESIGN), 200))
    _row("driven tank with its worst in the band", _median(lambda: drive_tank(DESIGN, sums), 50))
    _row("stack-up", _median(lambda: stack(stack_of(sums, temperature=WARM)), 200))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for distribution in ("normal", "uniform", "triangular"):
        for r in (0.0, 0.5):
            design = stack_of(
                sums,
                distribution=distribution,
                correlation=r,
                temperature=WARM,
                band=DESIGN.band,
            )
            seconds = _median(lambda d=design: simulate(d, np.random.default_rng(1), UNITS), 3)
            grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
            _row(f"{UNITS} tanks, {distribution}, r {r}", seconds, f"{grown:.0f} MB more")
    text = (TRUTH / "marking_known.csv").read_text(encoding="utf-8")
    codes = [
        row["code"] for row in csv.DictReader(line for line in text.splitlines() if line[0] != "#")
    ]
    _row(f"reading {len(codes)} markings", _median(lambda: [read_marking(c) for c in codes], 5))
    _row("best pairs from E192", _median(lambda: best_pairs(868e-12, "E192", "capacitor"), 20))


if __name__ == "__main__":
    main()
