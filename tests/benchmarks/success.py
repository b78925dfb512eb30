"""How often a fit without a start value ends where one started at the truth ends.

Run by hand: ``python -m tests.benchmarks.success [draws]``. Circuits are drawn with L 10 nH to
1 H, C 1 pF to 100 uF, Q 0.8 to 5000, sweeps of 21 to 2001 points, linear or logarithmic, 0.02 to 4
decades wide, the resonance inside or up to a quarter of the width outside, noise 0.01 to 3 %.
A circuit counts as identifiable where every element has a bound below 30 %. A fit fails where it
is further than a tenth of a standard uncertainty from the optimum reached from the truth, and its
sum of squared residuals is the larger; it is accepted wrongly where it then calls itself a
description of the data.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit
from benchapp.fit.points import Points
from benchapp.fit.refine import polish
from tests.benchmarks.efficiency import Draw, bound, circular, values_for

NEAR = 0.1  # of a standard uncertainty
NAMES = ("tank", "series-rlc", "parallel-rlc", "coil", "inductor", "capacitor")


def draws(name: str, count: int, seed: int = 1) -> Iterator[Draw]:
    """Draw identifiable measurements of a circuit over the whole range of a bench."""
    rng = np.random.default_rng([seed, 7, sum(name.encode())])
    circuit, made = CIRCUITS[name], 0
    while made < count:
        inductance, capacitance = 10 ** rng.uniform(-8, 0), 10 ** rng.uniform(-12, -4)
        f0 = 1 / (2 * np.pi * np.sqrt(inductance * capacitance))
        q = np.exp(rng.uniform(np.log(0.8), np.log(5000)))
        sigma = np.exp(rng.uniform(np.log(1e-4), np.log(0.03)))
        points = int(np.exp(rng.uniform(np.log(21), np.log(2001))))
        decades = np.exp(rng.uniform(np.log(0.02), np.log(4)))
        low = np.log10(f0) - decades * rng.uniform(-0.25, 1.25)
        ends = 10**low, 10 ** (low + decades)
        frequency = (
            np.geomspace(*ends, points) if rng.random() < 0.5 else np.linspace(*ends, points)
        )
        values = values_for(name, f0, np.sqrt(inductance / capacitance), q, rng)
        z = circuit.impedance(frequency, values) * (1 + sigma * circular(rng, points))
        sweep = Sweep(frequency=frequency, impedance=z, noise=Noise(kind="relative"))
        draw = Draw(circuit=circuit, values=values, sweep=sweep, sigma=sigma)
        if np.all(bound(draw) < 0.3 * values):
            made += 1
            yield draw


@dataclass(slots=True)
class Tally:
    """Counts of one circuit."""

    tried: int = 0
    failed: int = 0
    wrong: int = 0
    aside: int = 0
    alarms: int = 0


def reached(draw: Draw) -> tuple[bool, bool, bool]:
    """Tell whether a fit reached the optimum, describes the data, and used all points."""
    result = fit(draw.sweep, draw.circuit.name)
    if not result.used.all():
        return True, result.describes, False
    points = Points.of(draw.sweep, result.used)
    truth = draw.circuit.encode(draw.values, points.grid.scale)
    best = polish(draw.circuit.kernel, points.grid.y, points.view, truth)
    if best is None:
        return True, result.describes, True
    away = draw.circuit.encode(result.values, points.grid.scale) - best.point
    distance = np.sqrt(away @ np.linalg.pinv(best.covariance, rcond=1e-14) @ away / away.size)
    cost = np.sum(np.abs(np.log(draw.sweep.impedance / result.fitted)) ** 2)
    least = np.sum(np.abs(np.log(draw.sweep.impedance / best.model)) ** 2)
    return bool(distance < NEAR or cost <= least * (1 + 1e-5)), result.describes, True


def tally(cases: Iterator[Draw]) -> Tally:
    """Fit all draws and count."""
    found = Tally()
    for draw in cases:
        ok, describes, whole = reached(draw)
        found.tried += 1
        found.failed += not ok
        found.wrong += not ok and describes
        found.aside += not whole
        found.alarms += not describes
    return found


def main(count: int) -> None:
    """Print the table."""
    print("circuit        tried failed accepted-wrongly points-set-aside alarms      ms a fit")
    for name in NAMES:
        begin = time.perf_counter()
        found = tally(draws(name, count))
        spent = 1e3 * (time.perf_counter() - begin) / count
        print(
            f"{name:13s} {found.tried:6d} {found.failed:6d} {found.wrong:16d} {found.aside:16d} "
            f"{found.alarms:6d} {spent:13.2f}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
