"""The record at the size of a big lot: rate of keeping, size, opening, verifying, merging.

``python -m tests.benchmarks.logbook [PARTS]``
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchapp.logbook import Search, open_logbook
from tests.logbook.conftest import FORM, PLAN, make_entry

CHUNK = 200


def several(count: int):
    """Give entries that differ in raw bytes, sweep, residual and fitted curve, as real ones do."""
    generator = np.random.default_rng(20260302)
    base = make_entry()
    for number in range(count):
        noise = 1 + 1e-6 * generator.standard_normal(base.capture.impedance.size)
        capture = replace(base.capture, impedance=base.capture.impedance * noise)
        again = replace(
            base.fit,
            residual=base.fit.residual * noise,
            fitted=base.fit.fitted * noise,
            digest=capture.digest,
        )
        raw = base.raw + b"# %d\n" % number
        yield replace(base, serial=f"{number:05d}", raw=raw, capture=capture, fit=again)


def timed(label, act):
    """Print how long an act takes by the clock and on the processor."""
    clock, processor = time.perf_counter(), time.process_time()
    result = act()
    clock, processor = time.perf_counter() - clock, time.process_time() - processor
    print(f"{label:<44} {clock:8.2f} s by the clock {processor:8.2f} s of processor")
    return result, clock


def main(count: int = 10_000) -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lot.benchlog"
        with open_logbook(path) as book:
            lot = book.begin_lot(FORM, PLAN)
            entries = [replace(entry, lot=lot) for entry in several(count)]
            points = entries[0].capture.frequency.size

            def keep():
                for start in range(0, count, CHUNK):
                    book.add_all(entries[start : start + CHUNK])

            _, seconds = timed(f"{count} parts of {points} points, {CHUNK} at once", keep)
            print(f"{'':<44} {count / seconds:8.0f} parts/s")
            singles = [replace(entry, lot=None, attempt=2) for entry in entries[:200]]
            _, seconds = timed("200 parts, one at once", lambda: [*map(book.add, singles)])
            print(f"{'':<44} {1000 * seconds / 200:8.2f} ms each")
            wanted = entries[-1]
        with open_logbook(path) as book:
            print(f"{'size':<44} {path.stat().st_size / count / 1e3:8.1f} kB/part")
            state, _ = timed("the lot opens (lot_state)", lambda: book.lot_state(lot))
            assert len(state.parts) == count
            rows, _ = timed(
                "one serial is found", lambda: book.search(Search(serial=wanted.serial))
            )
            stored, _ = timed("one entry opens", lambda: book.entry(rows[-1].id).entry)
            same = stored.capture.digest == wanted.capture.digest
            print(f"{'the same capture, bit for bit':<44} {same}")
            broken, _ = timed("verify", book.verify)
            print(f"{'found':<44} {broken}")
            timed("backup", lambda: book.backup(Path(folder) / "copy.benchlog"))
            with open_logbook(Path(folder) / "all.benchlog") as all_lots:
                merged, _ = timed("merge into an empty record", lambda: all_lots.merge(book))
                print(f"{'':<44} {merged}")
                merged, _ = timed("the same merge again", lambda: all_lots.merge(book))
                print(f"{'':<44} {merged}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
