"""How long an envelope takes. Prints a table.

Run: python -m tests.benchmarks.envelope
"""

from __future__ import annotations

import time

import numpy as np

from benchapp.nominal import envelope, nominal_from

LIMITS = {
    "L": {"nominal": "1.62 mH ±3 %"},
    "C": {"nominal": "868 pF ±2 %"},
    "f0": {"nominal": "134.2 kHz ±1.5 %"},
    "Q": {"at": "134.2 kHz", "lower": 60, "upper": 110},
    "ESR": {"at": "134.2 kHz", "lower": "5 ohm", "upper": "22 ohm"},
}


def main() -> None:
    """Print the best of 20 runs for several numbers of points and limits."""
    for names in (("L", "f0", "Q"), tuple(LIMITS)):
        limits = {name: LIMITS[name] for name in names}
        design = nominal_from({"title": "GA-12", "circuit": "tank", "limits": limits})
        for points in (401, 2001):
            frequency = np.linspace(114e3, 154e3, points)
            times = []
            for _ in range(20):
                start = time.perf_counter()
                envelope(design, frequency)
                times.append(time.perf_counter() - start)
            print(f"{'+'.join(names):<20}{points:>6} points {1e3 * min(times):8.2f} ms")


if __name__ == "__main__":
    main()
