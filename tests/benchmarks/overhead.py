"""What our side adds to a sweep over a real socket: ``python -m tests.benchmarks.overhead``.

The instrument's own time is that of the same words sent to its panel without any socket, plus the
waits for settling that the procedure asks for.
"""

from __future__ import annotations

import threading
import time
from itertools import pairwise

from benchapp.bench import Meter, Setup, scenario
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.instruments.link import Link
from benchapp.instruments.plan import Plan, coarse_grid, settling
from benchapp.instruments.procedure import take
from benchapp.instruments.profile_text import shipped_profiles

POINTS = 201
PLAN = Plan(start=120e3, stop=150e3, points=POINTS, zoom=False)
DESK = Desk(setup=Setup(device=scenario.TANK), meter=Meter(), reading_time=0.0)
LCR = shipped_profiles()["lcr-points"]


def sweep() -> tuple[float, list[str]]:
    """Give the time of a sweep and what the instrument heard."""
    with BenchServer(PANELS["lcr"](DESK)) as server:
        start = time.perf_counter()
        take(Link(server.address), LCR, PLAN)
        return time.perf_counter() - start, list(server.heard)


def alone(heard: list[str]) -> float:
    """Give the time of the same words without a socket."""
    panel = PANELS["lcr"](DESK)
    start = time.perf_counter()
    for line in heard:
        panel.execute(line)
    return time.perf_counter() - start


def stopped() -> float:
    """Give the time from a stop in mid-sweep to the end of the procedure."""
    pressed = threading.Event()
    at: list[float] = []

    def watch(_point: object) -> None:
        if not at:
            at.append(time.perf_counter())
            pressed.set()

    with BenchServer(PANELS["lcr"](DESK)) as server:
        take(Link(server.address, cancelled=pressed.is_set), LCR, PLAN, watch=watch)
        return time.perf_counter() - at[0]


def main() -> None:
    """Print the figures."""
    grid = coarse_grid(PLAN)
    steps = pairwise([grid[0] / 2, *grid])
    waits = sum(settling(PLAN, LCR, now, None, before) for before, now in steps)
    for _ in range(3):
        whole, heard = sweep()
        ours = (whole - waits - alone(heard)) / POINTS
        print(
            f"sweep {whole:.2f} s, of it settling {waits:.2f} s; ours {ours * 1e3:.2f} ms a point"
        )
    print(f"stop to end: {max(stopped() for _ in range(5)) * 1e3:.0f} ms at most of 5")


if __name__ == "__main__":
    main()
