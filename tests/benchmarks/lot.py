"""A lot measured: ``python -m tests.benchmarks.lot [PARTS] [SEED]``.

Printed: parts a second of one command over PARTS (default 10,000) captures of 401 points, with and
without a record, by the clock and by processor time; the most memory of each process; how many
verdicts differ from those on the true values; how long the stored lot takes to open; and what
one part costs beyond the instrument when it is judged and kept at once.
"""

from __future__ import annotations

import os
import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from benchapp.jobs import (
    ComparePart,
    JudgedLot,
    JudgeLot,
    LotRecipe,
    Place,
    entry_of,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.logbook import open_logbook
from benchapp.nominal import Nominal, load_nominal
from benchapp.readers import understand

POINTS = np.linspace(114e3, 154e3, 401)
HEAD = (
    "# Test level: 1 V\n# Temperature: 23 degC\n# Fixture: four-terminal clip\n"
    "Frequency (Hz),R (ohm),X (ohm)\n"
)


def write_lot(folder: Path, count: int, seed: int) -> list[float]:
    """Write captures of tanks with 0.1 % noise; give the true inductances in henry."""
    generator = np.random.default_rng(seed)
    s = 2j * np.pi * POINTS
    truth = []
    for place in range(count):
        L = 1.62e-3 * (1 + 0.015 * generator.normal())
        C = 868e-12 * (1 + 0.001 * generator.normal())
        R = 17 * (1 + 0.03 * generator.normal())
        noise = generator.normal(size=401) + 1j * generator.normal(size=401)
        z = (R + s * L) / (1 + s * C * (R + s * L)) * (1 + 1e-3 / np.sqrt(2) * noise)
        rows = "".join(
            f"{f:.1f},{one.real:.6g},{one.imag:.6g}\n" for f, one in zip(POINTS, z, strict=True)
        )
        path = folder / f"{place + 1:05d}.csv"
        path.write_text(f"# Part: {place + 1:05d}\n{HEAD}{rows}", encoding="utf-8")
        truth.append(L)
    return truth


def processor_seconds() -> float:
    own = resource.getrusage(resource.RUSAGE_SELF)
    others = resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime


def judge(folder: Path, nominal: Nominal, record: str | None) -> JudgedLot:
    before = processor_seconds()
    job = JudgeLot(folder=str(folder), recipe=LotRecipe(nominal=nominal), record=record)
    found = job(silent, not_cancelled)
    parts = len(found.state.parts)
    used = processor_seconds() - before
    own, other = (
        resource.getrusage(who).ru_maxrss / 1024
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(
        f"{'kept' if record else 'not kept':<9} {parts} parts, {found.seconds:.1f} s: "
        f"{parts / found.seconds:.0f} a second by the clock, "
        f"{parts / used * (os.cpu_count() or 1):.0f} by processor time on {os.cpu_count()} cores; "
        f"most memory {own:.0f} MB" + (f", each worker {other:.0f} MB" if record else "")
    )
    return found


def against_truth(found: JudgedLot, truth: list[float], nominal: Nominal) -> None:
    """Count the verdicts on L that are on the other side of the limits than the true value."""
    limit = next(limit for limit in nominal.limits if limit.quantity == "L")
    inside = [limit.lower <= value <= limit.upper for value in truth]
    wrong = [
        record.serial
        for record, good in zip(found.state.parts, inside, strict=True)
        if record.deciding == "L" and record.is_rejected and good
    ]
    missed = [
        record.serial
        for record, good in zip(found.state.parts, inside, strict=True)
        if not record.is_rejected and not good
    ]
    print(
        f"{sum(not good for good in inside)} parts outside by their true L: "
        f"{len(missed)} passed, {len(wrong)} good ones rejected; {found.summary.why}"
    )


def opened(record: str, lot: str) -> None:
    start = time.perf_counter()
    with open_logbook(record, create=False) as book:
        state = book.lot_state(lot)
    print(f"stored lot of {len(state.parts)} opened in {time.perf_counter() - start:.2f} s")


def part_cycle(folder: Path, nominal: Nominal, record: str) -> None:
    """Judge and keep 100 parts one by one, as the bench does, each durable before the next."""
    took = []
    with open_logbook(record) as book:
        for path in sorted(folder.iterdir())[:100]:
            capture = understand(path).captures[0]
            start = time.perf_counter()
            part = ComparePart(capture=capture, nominal=nominal)(silent, not_cancelled)
            book.add(entry_of(part, Place(serial=path.stem)))
            took.append(1e3 * (time.perf_counter() - start))
    print(
        f"one part judged and kept: median {statistics.median(took):.1f} ms, most {max(took):.1f}"
    )


def main() -> None:
    words = dict(enumerate(sys.argv[1:]))
    count, seed = int(words.get(0, 10_000)), int(words.get(1, 1342))
    nominal = load_nominal(sample_folder() / "ga12.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "lot"
        folder.mkdir()
        truth = write_lot(folder, count, seed)
        record = str(Path(name) / "parts.benchlog")
        found = judge(folder, nominal, record)
        against_truth(found, truth, nominal)
        opened(record, found.lot)
        del found
        judge(folder, nominal, None)
        part_cycle(folder, nominal, record)


if __name__ == "__main__":
    main()
