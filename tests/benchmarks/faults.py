"""A thousand sweeps, each with a fault somewhere: ``python -m tests.benchmarks.faults [N]``.

For every kind of fault: how often the sweep came whole, how often in part, the longest time, and
the worst relative error of any stored point (the bench is noiseless; 0.1 % is left of settling).
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from dataclasses import replace

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


def faulty(kind: str, reply: int, case: tuple[str, str], seed: int) -> tuple[Taken, float, list]:
    """Take one sweep with one fault; give the result, its time and what the instrument heard."""
    panel, name = case
    profile = shipped_profiles()[name]
    settings = replace(profile.link, timeout=TIMEOUT, open_timeout=TIMEOUT)
    plan = PLAN if panel == "lcr" else replace(PLAN, bias=None)
    faults = (Fault(kind=kind, reply=reply),)
    with BenchServer(PANELS[panel](DESK), faults=faults, seed=seed) as server:
        start = time.monotonic()
        taken = take(Link(server.address, settings), profile, plan)
        return taken, time.monotonic() - start, list(server.heard)


def worst_error(taken: Taken) -> float:
    """Greatest relative error of any stored point."""
    errors = [
        np.abs(sweep.impedance / impedance(scenario.TANK, sweep.frequency) - 1).max()
        for sweep in taken.captures
    ]
    return float(max(errors, default=0.0))


def main(count: int) -> None:
    """Print the table."""
    rng = np.random.default_rng(404)
    found = defaultdict(list)
    for number in range(count):
        kind = list(FAULTS)[number % len(FAULTS)]
        case = CASES[int(rng.integers(len(CASES)))]
        replies = 60 if case[1] == "lcr-points" else 12
        taken, seconds, heard = faulty(kind, int(rng.integers(replies)), case, number)
        found[kind].append((taken, seconds, worst_error(taken), heard[-3:]))
    print(f"{'fault':10}{'sweeps':>8}{'whole':>8}{'off':>8}{'longest s':>11}{'worst error':>13}")
    for kind, rows in found.items():
        whole = sum(not taken.partial for taken, *_ in rows)
        off = sum(taken.ending.output == "off" for taken, *_ in rows)
        longest, worst = max(row[1] for row in rows), max(row[2] for row in rows)
        print(f"{kind:10}{len(rows):8}{whole:8}{off:8}{longest:11.2f}{worst:13.1e}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
