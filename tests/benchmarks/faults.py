"""A thousand sweeps, each with a fault somewhere: ``python -m tests.benchmarks.faults [N]``.

For every kind of fault: how often the sweep came whole, how often the output was confirmed off,
the longest time, and the worst relative error of any stored point (the bench is noiseless; 0.1 %
is left of settling). Then how far each act on the link (opening, telling, asking, closing) went
beyond its deadline. A watchdog thread that sleeps 10 ms at a time tells how long this computer let
a thread wait meanwhile: what lies within that is the computer's, what goes beyond is ours.
"""

from __future__ import annotations

import re
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from benchapp.bench import Analyser, Meter, Setup, scenario
from benchapp.bench.device import impedance
from benchapp.bench.fault import FAULTS, Fault
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.instruments.link import Link
from benchapp.instruments.plan import Plan
from benchapp.instruments.procedure import Taken, take
from benchapp.instruments.profile_text import shipped_profiles

DESK = Desk(
    setup=Setup(device=scenario.TANK),
    meter=Meter(noise=0.0),
    analyser=Analyser(noise=0.0),
    reading_time=0.0,
)
PLAN = Plan(start=120e3, stop=150e3, points=12, coarse_points=12, bias=1.0, consent=True)
CASES = (("lcr", "lcr-points"), ("lcr", "lcr-list"), ("analyser", "network-reflection"))
TIMEOUT = 0.5
BEAT = 0.01


class Watchdog(threading.Thread):
    """Notes when it woke up late: (time, lateness) in s."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.late: list[tuple[float, float]] = []

    def run(self) -> None:
        """Sleep and look at the clock for ever."""
        while True:
            before = time.monotonic()
            time.sleep(BEAT)
            now = time.monotonic()
            if now - before > 2 * BEAT:
                self.late.append((now, now - before - BEAT))

    def within(self, start: float, end: float) -> float:
        """Give the longest lateness between two times."""
        return max((late for at, late in self.late if start <= at <= end + BEAT), default=0.0)


WATCHDOG = Watchdog()
ACTS: dict[str, list[tuple[float, float, float]]] = defaultdict(list)
"""Of each kind of act: its time, what it took beyond its deadline, the computer's lateness."""


class WatchedLink(Link):
    """A link that notes how long each act took beyond its deadline."""

    def _timed(self, name: str, limit: float, act: Callable[[], Any]) -> Any:
        start = time.monotonic()
        try:
            return act()
        finally:
            end = time.monotonic()
            ACTS[name].append((end - start, end - start - limit, WATCHDOG.within(start, end)))

    def open(self) -> str:
        """Open; connecting and identifying have a deadline each."""
        return self._timed("open", 2 * self.settings.open_timeout, super().open)

    def tell(self, text: str) -> None:
        """Tell: nothing is waited for."""
        self._timed("tell", 0.0, lambda: super(WatchedLink, self).tell(text))

    def ask(self, question: str, *, timeout: float | None = None) -> str:
        """Ask, with the deadline of the settings or its own."""
        limit = self.settings.timeout if timeout is None else timeout
        return self._timed(
            "ask", limit, lambda: super(WatchedLink, self).ask(question, timeout=timeout)
        )

    def ask_block(self, question: str, *, timeout: float | None = None) -> bytes:
        """Ask for a block, with the deadline of the settings or its own."""
        limit = self.settings.timeout if timeout is None else timeout
        return self._timed(
            "block", limit, lambda: super(WatchedLink, self).ask_block(question, timeout=timeout)
        )

    def close(self) -> None:
        """Close: nothing is waited for."""
        self._timed("close", 0.0, super().close)


def faulty(kind: str, reply: int, case: tuple[str, str], seed: int) -> tuple[Taken, float, list]:
    """Take one sweep with one fault; give the result, its time and what the instrument heard."""
    panel, name = case
    profile = shipped_profiles()[name]
    settings = replace(profile.link, timeout=TIMEOUT, open_timeout=TIMEOUT)
    plan = PLAN if panel == "lcr" else replace(PLAN, bias=None)
    faults = (Fault(kind=kind, reply=reply),)
    with BenchServer(PANELS[panel](DESK), faults=faults, seed=seed) as server:
        start = time.monotonic()
        taken = take(WatchedLink(server.address, settings), profile, plan)
        return taken, time.monotonic() - start, list(server.heard)


def worst_error(taken: Taken) -> float:
    """Greatest relative error of any stored point."""
    errors = [
        np.abs(sweep.impedance / impedance(scenario.TANK, sweep.frequency) - 1).max()
        for sweep in taken.captures
    ]
    return float(max(errors, default=0.0))


def says_cause_and_remedy(taken: Taken) -> bool:
    """Whether every trouble and note of a failure names a rule, what came, and what to do."""
    told = [note for note in taken.notes if "taken up again after" in note]
    whole = all(re.search(r" must .*\(got ", note) or "had come before" in note for note in told)
    return whole and (taken.trouble is None or bool(taken.trouble.hint))


def main(count: int) -> None:
    """Print the tables."""
    WATCHDOG.start()
    rng = np.random.default_rng(404)
    found = defaultdict(list)
    for number in range(count):
        kind = list(FAULTS)[number % len(FAULTS)]
        case = CASES[int(rng.integers(len(CASES)))]
        replies = 60 if case[1] == "lcr-points" else 12
        taken, seconds, _ = faulty(kind, int(rng.integers(replies)), case, number)
        found[kind].append((taken, seconds, worst_error(taken), says_cause_and_remedy(taken)))
    print(
        f"{'fault':10}{'sweeps':>8}{'whole':>8}{'off':>8}{'says why':>10}{'longest s':>11}"
        f"{'worst error':>13}"
    )
    for kind, rows in found.items():
        whole = sum(not taken.partial for taken, *_ in rows)
        off = sum(taken.ending.output == "off" for taken, *_ in rows)
        longest, worst = max(row[1] for row in rows), max(row[2] for row in rows)
        says = sum(row[3] for row in rows)
        print(
            f"{kind:10}{len(rows):8}{whole:8}{off:8}{says:10}{longest:11.2f}{worst:13.1e}",
            flush=True,
        )
    print(
        f"\n{'act':8}{'times':>8}{'longest s':>11}{'beyond: 99.9 %':>16}{'most s':>9}"
        f"{'less lateness':>15}"
    )
    for name, rows in ACTS.items():
        took, beyond, late = np.array(rows).T
        most, own = beyond.max(), (beyond - late).max()
        print(
            f"{name:8}{took.size:8}{took.max():11.3f}{np.quantile(beyond, 0.999):16.3f}{most:9.3f}"
            f"{own:15.3f}"
        )
    worst_gap = max((gap for _, gap in WATCHDOG.late), default=0.0)
    print(f"the computer let the watchdog wait {worst_gap:.2f} s at most")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
