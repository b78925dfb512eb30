"""One part by three instruments: ``python -m tests.benchmarks.agreement [PARTS] [FIRST SEED]``.

Each seeded GA-12 part is measured by the LCR meter, by the analyser and by ring-down, through the
simulated bench over real sockets. Printed: how often two results agree within the root of the sum
of their U squared (k = 2), and how often each holds the true value within its U. The expected
rate is 95.4 % where the stated uncertainty is right.

That is done three times: with perfect time bases, as the bench has them; with each instrument's
time base off by up to 25 ppm and nothing stated about it; and with that bound stated as the
accuracy of the instrument, which `combine` counts in U.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from dataclasses import replace
from itertools import combinations

import numpy as np

from benchapp.bench import Analyser, Converter, Meter, Scope, Setup, draw, scenario
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.capture import Capture, Transient
from benchapp.fit import fit
from benchapp.instruments.link import Link
from benchapp.instruments.plan import Plan
from benchapp.instruments.procedure import take
from benchapp.instruments.profile_text import shipped_profiles
from benchapp.uncertainty import Accuracy, Stated, combine
from benchapp.units import Estimate

WAYS = (
    ("lcr", "lcr-list", "tank"),
    ("analyser", "network-series", "tank"),
    ("scope", "scope-ring-down", "ring-down"),
)
COVERAGE = 2.0
TIME_BASE = 25e-6  # a plain crystal (common practice)


def results(
    seed: int, *, off: float = 0.0, accuracy: Accuracy | None = None
) -> tuple[dict[str, float], dict[str, dict[str, Estimate]]]:
    """Measure one part in all ways; give its true values and the results by way.

    ``off`` is the largest error of the time base of an instrument, as a fraction.
    """
    clocks = np.random.default_rng([seed, 7])
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
        capture = with_time_base(taken.captures[0], float(clocks.uniform(-off, off)))
        fitted = fit(capture, circuit, fix=fixed)
        found[panel] = dict(combine(fitted, capture, accuracy).estimates)
    return true, found


def with_time_base(capture: Capture, error: float) -> Capture:
    """Give what an instrument whose time base is too fast by a fraction would have told.

    Its frequencies are higher than it says, and its times shorter.
    """
    if isinstance(capture, Transient):
        return replace(capture, time=capture.time * (1 + error))
    return replace(capture, frequency=capture.frequency / (1 + error))


def table(parts: int, first: int, off: float, accuracy: Accuracy | None) -> None:
    """Print how often results agree."""
    counts: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for seed in range(first, first + parts):
        true, found = results(seed, off=off, accuracy=accuracy)
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
    for quantity in ("L", "Q", "f0"):
        pairs = [
            x for (name, pair), x in counts.items() if name == quantity and "truth" not in pair
        ]
        print(f"{quantity:4}{'all pairs':32}{100 * np.mean(pairs):6.1f} %", flush=True)


def main(parts: int, first: int) -> None:
    """Print the tables."""
    stated = Accuracy(title="time base", frequency=Stated(bound=TIME_BASE))
    for title, off, accuracy in (
        ("perfect time bases", 0.0, None),
        ("time bases off by up to 25 ppm, nothing stated", TIME_BASE, None),
        ("the same, with that bound stated", TIME_BASE, stated),
    ):
        print(f"\n{title}, seeds {first} to {first + parts - 1}")
        table(parts, first, off, accuracy)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    main(*(numbers + [200, 0][len(numbers) :]))
