"""What wild points, range steps and unknown noise cost, against fits that know of them.

Run by hand: ``python -m tests.benchmarks.wild [draws]``. A tank of Q 30 over 201 points with 0.5 %
noise. A fit fails where an element is off by more than six of the standard uncertainties that
the fit to the good points alone has.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit
from tests.benchmarks.efficiency import circular

TANK = CIRCUITS["tank"]
VALUES = np.array([1e-3, 1e-9, 1000 / 30])
FREQUENCY = np.geomspace(50e3, 450e3, 201)
EXACT = TANK.impedance(FREQUENCY, VALUES)
SIGMA = 0.005

Spoil = Callable[[np.ndarray, np.ndarray, np.random.Generator], None]


def gain(z, bad, rng):
    """Gain errors of a tenth, some of them within the noise."""
    z[bad] *= 1 + 0.1 * rng.normal(size=bad.sum())


def spike(z, bad, rng):
    """Anything at all."""
    count = bad.sum()
    z[bad] *= np.exp(2 * rng.normal(size=count) + 2j * np.pi * rng.random(count))


def trial(spoil: Spoil, share: float, rng):
    """Errors in units of the good fit's uncertainty, ours and the good fit's; wild points used."""
    bad = rng.random(FREQUENCY.size) < share
    z = EXACT * (1 + SIGMA * circular(rng, FREQUENCY.size))
    spoil(z, bad, rng)
    ours = fit(Sweep(frequency=FREQUENCY, impedance=z), "tank")
    good = fit(Sweep(frequency=FREQUENCY[~bad], impedance=z[~bad]), "tank")
    u = np.sqrt(good.covariance.diagonal())
    return (ours.values - VALUES) / u, (good.values - VALUES) / u


def wild(spoil: Spoil, share: float, count: int) -> str:
    """One line: failures, and the root mean square error against the fit that knows."""
    rng, begin = np.random.default_rng(2), time.perf_counter()
    ours, good = (
        np.array(rows)
        for rows in zip(*(trial(spoil, share, rng) for _ in range(count)), strict=True)
    )
    failed = int(np.any(np.abs(ours) > 6, axis=1).sum())
    ratio = np.sqrt(np.mean(ours**2, axis=0) / np.mean(good**2, axis=0))
    spent = 1e3 * (time.perf_counter() - begin) / count
    row = "  ".join(f"{value:.3f}" for value in ratio)
    return f"{spoil.__name__:6s} {share:5.2f} {failed:5d} of {count}   {row}   {spent:6.1f} ms"


def steps(factor: float, share: float, count: int) -> str:
    """One line: how many range steps are found and said."""
    rng, found, right = np.random.default_rng(3), 0, 0
    width = int(share * FREQUENCY.size)
    for _ in range(count):
        z = EXACT * (1 + SIGMA * circular(rng, FREQUENCY.size))
        first = int(rng.integers(0, FREQUENCY.size - width + 1))
        z[first : first + width] *= factor
        result = fit(Sweep(frequency=FREQUENCY, impedance=z), "tank")
        remarks = [remark for remark in result.remarks if remark.name == "range-step"]
        found += bool(remarks)
        right += bool(remarks) and abs(remarks[0].points[0] - first) <= 2
    row = f"found {found / count:.4f}   edge within 2 points {right / count:.4f}"
    return f"{factor:6.3f} {share:5.2f}   {row}"


def main(count: int) -> None:
    """Print the tables."""
    print("wild   share failed          rmse over the fit that knows (L, C, R)")
    for spoil in (gain, spike):
        for share in (0.01, 0.05, 0.1, 0.2, 0.3, 0.4):
            print(wild(spoil, share, count))
    print("\nrange steps")
    for factor, share in ((1.05, 0.1), (1.05, 0.2), (0.97, 0.1), (1.02, 0.1)):
        print(steps(factor, share, count))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
