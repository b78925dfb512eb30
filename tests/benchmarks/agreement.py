"""One part by three instruments: ``python -m tests.benchmarks.agreement [PARTS]``.

Each seeded GA-12 part is measured by the LCR meter, by the analyser and by ring-down, through the
simulated bench over real sockets. Printed: how often two results agree within the root of the sum
of their U squared (k = 2), and how often each holds the true value within its U. The expected
rate is 95.4 % where the stated uncertainty is right.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from itertools import combinations

import numpy as np

from benchapp.bench import Analyser, Converter, Meter, Scope, Setup, draw, scenario
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.fit import fit
from benchapp.instruments.link import Link
from benchapp.instruments.plan import Plan
from benchapp.instruments.procedure import take
from benchapp.instruments.profile_text import shipped_profiles
from benchapp.units import Estimate

WAYS = (
    ("lcr", "lcr-list", "tank"),
    ("analyser", "network-series", "tank"),
    ("scope", "scope-ring-down", "ring-down"),
)
COVERAGE = 2.0


def results(seed: int) -> tuple[dict[str, float], dict[str, dict[str, Estimate]]]:
    """Measure one part in all ways; give its true values and the results by way."""
    part = draw(scenario.DESIGN, np.random.default_rng(seed))
    L, C, R = (part.value(name) for name in "LCR")
    true = {
        "L": L,
        "Q": math.sqrt(L / C) / R,
        "f0": 1 / (2 * math.pi * math.sqrt(L * C)),
    }
    desk = Desk(
        setup=Setup(device=part),
        seed=seed,
        reading_time=0.0,
        meter=Meter(noise=1e-3),
        analyser=Analyser(noise=1e-4),
        scope=Scope(converter=Converter(bits=8, full_scale=1.25), noise=4e-3),
    )
    known = {"C": Estimate(name="C", value=C, u=0.0, unit="F")}
    found = {}
    for panel, name, circuit in WAYS:
        with BenchServer(PANELS[panel](desk)) as server:
            taken = take(
                Link(server.address), shipped_profiles()[name], Plan(start=80e3, stop=230e3)
            )
        fixed = known if circuit == "ring-down" else None
        found[panel] = dict(fit(taken.captures[0], circuit, fix=fixed).estimates)
    return true, found


def main(parts: int) -> None:
    """Print the table."""
    counts: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for seed in range(parts):
        true, found = results(seed)
        for quantity, value in true.items():
            for way, estimates in found.items():
                each = estimates[quantity]
                inside = abs(each.value - value) <= COVERAGE * (each.u or 0.0)
                counts[quantity, f"{way} against the truth"].append(inside)
            for one, two in combinations(found, 2):
                a, b = found[one][quantity], found[two][quantity]
                both = math.hypot(a.u or 0.0, b.u or 0.0)
                counts[quantity, f"{one} against {two}"].append(
                    abs(a.value - b.value) <= COVERAGE * both
                )
    for (quantity, pair), inside in counts.items():
        print(f"{quantity:4}{pair:32}{100 * np.mean(inside):6.1f} % of {len(inside)}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
