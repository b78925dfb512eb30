"""How often clean captures raise a warning, and how long the checks take. Prints a table.

Run: python -m tests.benchmarks.checks [captures]
"""

from __future__ import annotations

import math
import sys
import time
from collections import Counter

import numpy as np

from benchapp.capture import Noise, Sweep
from benchapp.checks import Evidence, Facts, examine
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit

KINDS = ("tank", "series-rlc", "parallel-rlc", "coil", "inductor", "capacitor")


def _draw(kind, rng):
    """Draw one clean capture: values over decades, a resonance well inside the sweep."""
    f0, zc = 10 ** rng.uniform(4, 7), 10 ** rng.uniform(1, 3.5)
    q = 10 ** rng.uniform(math.log10(3), math.log10(300))
    noise, points = 10 ** rng.uniform(-4, -2), int(rng.integers(101, 802))
    L, C = zc / (2 * math.pi * f0), 1 / (2 * math.pi * f0 * zc)
    width = f0 / q
    if kind == "coil":
        values, low, high = (L, C, zc / q / 2, zc / q / 2 / math.sqrt(f0)), f0 / 1e3, f0 / 2
    elif kind == "inductor":
        values, low, high = (L, zc / q), f0 / 100, f0
    elif kind == "capacitor":
        values, low, high = (C, zc / q, L * 1e-3), f0 / 100, f0
    else:
        R = zc * q if kind == "parallel-rlc" else zc / q
        values, reach = (L, C, R), min(rng.uniform(5, 20) * width, 0.45 * f0)
        low, high = f0 - reach, f0 + max(reach, 2.2 * width)
    space = np.geomspace if kind in ("coil", "inductor", "capacitor") else np.linspace
    frequency = space(low, high, points)
    pair = rng.standard_normal((2, points)) * noise / math.sqrt(2)
    z = CIRCUITS[kind].impedance(frequency, values) * (1 + pair[0] + 1j * pair[1])
    return Sweep(
        frequency=frequency, impedance=z, noise=Noise(kind="relative", level=float(noise))
    )


def _healthy(found, rng):
    """Draw what a sound station knows beside a capture: everything within good practice."""
    estimates = found.estimates
    f0, q = (estimates[name].value if name in estimates else None for name in ("f0", "Q"))
    resonant = f0 is not None and q is not None
    centre = f0 if resonant else 1e5
    width = centre / (q if resonant else 100.0)
    drift = 1 + 0.0005 * rng.standard_normal(3)
    return Facts(
        dwell=rng.uniform(3, 30) / width,
        f0_up=centre,
        f0_down=centre + rng.uniform(-0.03, 0.03) * width,
        monitor_variation=rng.uniform(0, 0.005),
        skew_degrees=rng.uniform(-0.2, 0.2),
        compensated=True,
        compensation_age_hours=rng.uniform(0, 7),
        compensation_change_kelvin=rng.uniform(-2, 2),
        open_ratio=10 ** rng.uniform(2.3, 4),
        short_ratio=10 ** rng.uniform(-4, -2.3),
        repeats_resistance=tuple(10.0 * drift),
        repeats_f0=tuple(centre * drift),
        calibration_due="2026-12-31",
        today="2026-03-31",
        reference_within=True,
        in_lot=True,
        attempt=1,
        unexplained_retests=int(rng.integers(0, 2)),
        gauge_percent=rng.uniform(5, 25),
        random_sample=True,
    )


def main(count: int) -> None:
    """Print how many captures of each kind raised a stop, a warning or a note, and which."""
    rng, aside = np.random.default_rng(20240611), np.random.default_rng(20260331)
    which: Counter[tuple[str, str, str]] = Counter()
    warned: Counter[str] = Counter()
    seconds = 0.0
    for number in range(count):
        kind = KINDS[number % len(KINDS)]
        capture = _draw(kind, rng)
        found = fit(capture, kind)
        evidence = Evidence(capture=capture, fit=found, facts=_healthy(found, aside))
        start = time.perf_counter()
        findings = examine(evidence)
        seconds += time.perf_counter() - start
        warned[kind] += any(finding.level != "note" for finding in findings)
        which.update({(kind, finding.level, finding.id) for finding in findings})
    total = sum(warned.values())
    print(f"{count} clean captures, {total} with a warning or stop ({100 * total / count:.2f} %)")
    print(f"checks: {1e3 * seconds / count:.2f} ms for each capture")
    for (kind, level, name), times in sorted(which.items()):
        print(f"  {kind:<14}{level:<6}{name:<28}{times}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
