"""How often the resonances of a ladder are counted rightly, with their quality within 10 %.

Run by hand: ``python -m tests.benchmarks.peaks [draws]``. One to four tanks in series, Q 20 to
200, three or more bandwidths apart, are swept narrowly or over two decades with 0.3 to 3 % noise.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from benchapp.capture import Sweep
from benchapp.fit.peaks import find_peaks
from tests.benchmarks.efficiency import circular


def ladder(rng, count, *, wide, sigma):
    """A sweep of tanks in series, and their frequencies and qualities."""
    q = np.exp(rng.uniform(np.log(20), np.log(200), count))
    f0 = [1e5]
    for k in range(1, count):
        apart = rng.uniform(3.0, 12.0) * max(1 / q[k - 1], 1 / q[k])
        if wide:
            apart = max(apart, rng.uniform(0.3, 1.0))
        f0.append(f0[-1] * (1 + apart))
    f0 = np.array(f0)
    if wide:
        middle = np.sqrt(f0[0] * f0[-1])
        frequency = np.geomspace(middle / 10, middle * 10, 801)
    else:
        frequency = np.linspace(f0[0] * (1 - 6 / q[0]), f0[-1] * (1 + 6 / q[-1]), 401)
    w = 2 * np.pi * frequency
    z = np.zeros(frequency.size, dtype=complex)
    for place, quality in zip(f0, q, strict=True):
        level = 10 ** rng.uniform(2.7, 3.3)
        w0 = 2 * np.pi * place
        branch = level / quality + 1j * w * level / w0
        z += 1 / (1 / branch + 1j * w / (w0 * level))
    z *= 1 + sigma * circular(rng, frequency.size)
    return Sweep(frequency=frequency, impedance=z), f0, q


def right(sweep, f0, q):
    """Whether all are found, nothing else, each within 10 %."""
    peaks = find_peaks(sweep)
    if len(peaks) != f0.size:
        return False
    found = np.array([(peak.f0.value, peak.q.value) for peak in peaks])
    near = np.abs(found[:, 0] / f0 - 1) < 0.5 / q
    return bool(np.all(near) and np.all(np.abs(found[:, 1] / q - 1) < 0.1))


def main(count):
    """Print the table."""
    print("peaks  sweep    0.3 %   1 %    3 %     ms")
    for wide in (False, True):
        for number in (1, 2, 3, 4):
            rng = np.random.default_rng([number, wide])
            begin, shares = time.perf_counter(), []
            for sigma in (0.003, 0.01, 0.03):
                cases = (ladder(rng, number, wide=wide, sigma=sigma) for _ in range(count))
                shares.append(np.mean([right(*case) for case in cases]))
            spent = 1e3 * (time.perf_counter() - begin) / (3 * count)
            row = "  ".join(f"{share:.3f}" for share in shares)
            print(f"{number:5d}  {'wide' if wide else 'narrow':6s}  {row}  {spent:6.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
