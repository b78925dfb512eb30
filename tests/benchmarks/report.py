"""Reports: ``python -m tests.benchmarks.report [PARTS] [SEED] [FOLDER]``.

Printed: the time and the size of the lot report on PARTS (default 500) captures of 401 points of
the simulated bench, as PDF and as HTML, and of the part report, beside the time Qt needs to start.
The reports stay in FOLDER where one is named.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchapp.bench import layout, meter, scenario
from benchapp.bench.device import Setup, draw
from benchapp.jobs import (
    JudgeLot,
    LotRecipe,
    ReportChoices,
    WriteLotReport,
    WritePartReport,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.nominal import load_nominal

POINTS = np.linspace(114e3, 154e3, 401)
BAD = 60  # one part in so many has a shorted turn
TIME = "2026-03-01T10:00:00Z"
HEAD = ("Test level: 1 V", "Temperature: 23 degC", "Fixture: four-terminal clip")


def write_captures(folder: Path, count: int, seed: int) -> None:
    """Measure so many tanks at the simulated bench, a few of them with a shorted turn."""
    generator = np.random.default_rng(seed)
    for place in range(1, count + 1):
        bad = place % BAD == 0
        device = draw(scenario.SHORTED_TURN if bad else scenario.DESIGN, generator)
        readings = meter.measure(meter.Meter(), Setup(device=device), POINTS, generator)
        data = layout.resistance_table(readings, (f"Part: GA-12 serial {place:04d}", *HEAD))
        (folder / f"{place:04d}.csv").write_bytes(data)


def timed(words: str, job: Callable[..., str]) -> None:
    start, used = time.perf_counter(), time.process_time()
    path = job(silent, not_cancelled)
    clock, busy = time.perf_counter() - start, time.process_time() - used
    size = Path(path).stat().st_size
    print(f"{words:<22} {clock:6.2f} s by the clock, {busy:6.2f} s of the processor, {size:>9} B")


def main(count: int, seed: int, folder: Path) -> None:
    start = time.perf_counter()
    from benchapp.report.drawing import ready  # timed here

    application = ready()
    print(f"{'start of Qt':<22} {time.perf_counter() - start:6.2f} s by the clock")
    captures = folder / "captures"
    captures.mkdir()
    write_captures(captures, count, seed)
    nominal = load_nominal(str(sample_folder() / "ga12.toml"))
    lot = JudgeLot(folder=str(captures), recipe=LotRecipe(nominal=nominal))(silent, not_cancelled)
    print(f"{len(lot.parts)} parts judged: {dict(lot.summary.outcomes)}, {lot.decision}")
    for paper in ("A4", "Letter"):
        for ending in ("pdf", "html"):
            path = str(folder / f"part-{paper}.{ending}")
            choices = ReportChoices(path=path, time=TIME, paper=paper)
            timed(f"part {paper} {ending}", WritePartReport(part=lot.parts[0], choices=choices))
            path = str(folder / f"lot-{paper}.{ending}")
            choices = ReportChoices(path=path, time=TIME, paper=paper)
            job = WriteLotReport(lot=lot, nominal=nominal, choices=choices)
            timed(f"lot {paper} {ending}", job)
    del application


if __name__ == "__main__":
    given = sys.argv[1:]
    with tempfile.TemporaryDirectory() as made:
        main(
            int(given[0]) if given else 500,
            int(given[1]) if given[1:] else 1,
            Path(given[2] if given[2:] else made),
        )
