"""The record under faults: kills, flipped bits, two benches on a server that is cut off.

``python -m tests.benchmarks.logbook_faults [kills|disk|flips|server]``
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path

from benchapp.logbook import Search, open_logbook
from tests.logbook.conftest import FORM, PLAN, make_entry
from tests.logbook.server import PASSWORD, Server
from tests.logbook.test_durability import ROOT, kill_at_random, start
from tests.logbook.test_verifying import dump, flipped, is_found

KILLS, FLIPS, PARTS = 200, 3000, 5000


def kills() -> None:
    """Kill a bench at random moments of its work on one file."""
    for size, rounds in ((1, KILLS // 2), (20, KILLS // 2)):
        with tempfile.TemporaryDirectory() as folder:
            path = f"{folder}/parts.benchlog"
            said = kill_at_random(path, random.Random(size), rounds, size)
            with open_logbook(path) as book:
                kept = [row.serial for row in book.search(Search())]
                broken = book.verify()
        lost, doubled = len(set(said) - set(kept)), len(kept) - len(set(kept))
        print(
            f"{rounds} kills, {size} at once: {len(said)} acknowledged, {len(kept)} kept, "
            f"{lost} lost, {doubled} doubled, verify finds {broken}"
        )


def disk() -> None:
    """Let the system refuse to make the file longer, in another program; go on afterwards."""
    code = (
        "import resource, signal, sys\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (3_000_000, resource.RLIM_INFINITY))\n"
        "from tests.logbook.bench_at_work import main\nmain(*sys.argv[1:])\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        path = f"{folder}/parts.benchlog"
        done = subprocess.run(
            [sys.executable, "-c", code, path, "1", "1000", "F", "1"],
            capture_output=True,
            text=True,
            cwd=ROOT,
            check=False,
        )
        said = [word for word in done.stdout.split() if word.startswith("F-")]
        with open_logbook(path) as book:
            kept = {row.serial for row in book.search(Search())}
            book.add(replace(make_entry(), serial="after"))
            broken = book.verify()
        print(f"full after {len(said)} parts: {done.stderr.strip().splitlines()[-1]}")
        print(f"{len(set(said) - kept)} lost, goes on afterwards, verify finds {broken}")


def flips() -> None:
    """Flip one bit at a time, anywhere in the file."""
    entry = make_entry()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "parts.benchlog"
        with open_logbook(path) as book:
            lot = book.begin_lot(FORM, PLAN)
            for number in range(20):
                book.add(replace(entry, lot=lot, serial=f"S{number}", raw=b"%d" % number))
            book.refit(2, entry.fit, entry.verdict)
            book.correct(2, "remark", "A. Brandt", "scratched")
        whole, before, draw = path.read_bytes(), dump(path), random.Random(1)
        touched = missed = 0
        for _ in range(FLIPS):
            place, bit = draw.randrange(len(whole)), draw.randrange(8)
            damaged = Path(folder) / "damaged"
            damaged.write_bytes(flipped(whole, place, bit))
            if dump(damaged) != before:
                touched += 1
                if not is_found(str(damaged)):
                    missed += 1
                    print(f"missed: byte {place}, bit {bit}")
            for left in Path(folder).glob("damaged*"):
                left.unlink()
        print(f"{FLIPS} flips, {touched} touched what is stored, {missed} of these missed")


def server() -> None:
    """Two benches at once on one server, which is cut off in the middle and started again."""
    os.environ["PGPASSWORD"] = PASSWORD
    running = Server()
    try:
        running.start()
        running.make_database("parts")
        address = running.address("parts")
        begun = time.perf_counter()
        benches = {name: start(address, 1, PARTS, name) for name in "AB"}
        said: dict[str, list[str]] = {name: [] for name in benches}

        def listen(name: str) -> None:
            for line in benches[name].stdout:
                said[name] += [line.strip()]

        listeners = [threading.Thread(target=listen, args=(name,)) for name in benches]
        for listener in listeners:
            listener.start()
        while min(map(len, said.values())) < PARTS // 2:
            time.sleep(0.01)
        running.stop()
        time.sleep(2)
        running.start()
        for listener in listeners:
            listener.join()
        seconds = time.perf_counter() - begun
        with open_logbook(address) as book:
            kept = [row.serial for row in book.search(Search())]
            clock = time.perf_counter()
            broken = book.verify()
            clock = time.perf_counter() - clock
        wanted = {f"{name}-{number}" for name in "AB" for number in range(1, PARTS + 1)}
        states = {
            name: sorted({x for x in lines if "standing" in x}) for name, lines in said.items()
        }
        print(f"2 x {PARTS} parts in {seconds:.0f} s; standing told: {states}")
        print(
            f"{len(wanted - set(kept))} lost, {len(kept) - len(set(kept))} doubled, "
            f"verify finds {broken} in {clock:.1f} s"
        )
    finally:
        running.remove()


def main(*names: str) -> None:
    """Run the acts that are named, or all."""
    for act in (kills, disk, flips, server):
        if not names or act.__name__ in names:
            act()


if __name__ == "__main__":
    main(*sys.argv[1:])
