"""Accuracy of the ring-down fit at 8 bit against the Cramér-Rao bound, and coverage.

Run as ``python -m tests.benchmarks.ring_down [draws]``. The record begins before the trigger and
the fit is not told where that is; three per cent of the samples are clipped where the row says
so. Exciters: ``step`` (the tank rests, then rings), ``release`` (a charged capacitor let go: no
jump at the trigger), ``burst`` (driven near its resonance until the generator stops).

The bound is that of somebody who knows the trigger instant and which samples are clipped: five
parameters, samples from the trigger on, clipped ones left out, variance of noise plus step^2/12.
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np

from benchapp.capture import Transient
from benchapp.fit.ring_down import fit_ring_down

BITS = 8
ROWS = [
    (Q, exciter, clipped, noise)
    for Q in (1.5, 5.0, 30.0, 100.0, 1000.0)
    for exciter in ("step", "release", "burst")
    for clipped, noise in ((0.0, 0.5), (0.03, 0.5), (0.03, 1.5))
]


def curve(t, p):
    """Free decay from t = 0: amplitude, phase, offset, f0, Q."""
    amplitude, phase, offset, f0, Q = p
    w0 = 2 * math.pi * f0
    rate, omega = w0 / (2 * Q), w0 * math.sqrt(1 - 1 / (4 * Q * Q))
    return amplitude * np.exp(-rate * t) * np.cos(omega * t + phase) + offset


def layout(Q):
    """Samples per period and samples after the trigger: about six time constants."""
    per_period = {1.5: 200, 5.0: 80, 30.0: 40, 100.0: 20, 1000.0: 8}[Q]
    after = min(max(int(6 * Q / math.pi * per_period), 1000), 12000)
    return per_period, after


def before(t, p, exciter):
    """Voltage in the ``t`` < 0 part: rest, charged, or driven and still growing."""
    amplitude, phase, offset, f0, Q = p
    if exciter == "step":
        return np.full(t.size, offset)
    if exciter == "release":
        return np.full(t.size, offset + amplitude * math.cos(phase))
    w0 = 2 * math.pi * f0
    omega = w0 * math.sqrt(1 - 1 / (4 * Q * Q))
    return offset + amplitude * np.cos(omega * t + phase)


def record(Q, exciter, clipped, noise, rng):
    """One record in converter steps of 1 V/128 and the bound of (ln f0, ln Q)."""
    per_period, after = layout(Q)
    lead = int(rng.uniform(0.05, 0.3) * after)
    f0 = 1.0 / per_period * rng.uniform(0.98, 1.02)
    phase = rng.uniform(0, 2 * math.pi)
    if exciter == "release":
        phase = -math.asin(1 / (2 * Q))
    step = 1 / 128
    p = np.array([0.93, phase, rng.uniform(-2, 2) * step, f0, Q])
    t = np.arange(-lead, after) + rng.uniform(-1, 0)
    clean = np.where(t < 0, before(np.minimum(t, 0), p, exciter), curve(np.maximum(t, 0), p))
    top = np.inf
    if clipped:
        top = np.quantile(np.abs(clean[t >= 0] - p[2]), 1 - clipped)
    seen = clean + noise * step * rng.standard_normal(t.size)
    seen = step * np.round(np.clip(seen, -top, top) / step)
    limit = step * np.round(top / step) if clipped else 1.0
    free = (t >= 0) & (np.abs(clean) < limit)
    sigma = step * math.sqrt(noise**2 + 1 / 12)
    capture = Transient(
        time=t * 1e-6, voltage=seen, step_volt=step,
        limits_volt=(-limit, limit),
    )  # fmt: skip
    return capture, bound(t[free], p, sigma), f0 * 1e6


def bound(t, p, sigma):
    """Deviations of (ln f0, ln Q) that no unbiased method can beat."""
    rows = []
    for i in range(5):
        step = np.zeros(5)
        step[i] = 1e-6 * max(abs(p[i]), 1e-3)
        rows.append((curve(t, p + step) - curve(t, p - step)) / (2 * step[i]))
    jacobian = np.array(rows).T
    scale = np.linalg.norm(jacobian, axis=0)
    inverse = np.linalg.inv((jacobian / scale).T @ (jacobian / scale))
    spread = sigma * np.sqrt(np.diag(inverse)) / scale
    return spread[3] / p[3], spread[4] / p[4]


def measure(Q, exciter, clipped, noise, draws, rng):
    """RMSE over bound of f0 and Q, their coverage, share of good descriptions, milliseconds."""
    ratios, covered, good, spent, lost = [], [], 0, 0.0, 0
    for _ in range(draws):
        capture, limits, f0 = record(Q, exciter, clipped, noise, rng)
        begin = time.perf_counter()
        found = fit_ring_down(capture)
        spent += time.perf_counter() - begin
        good += found.describes
        if not {"f0", "Q"} <= set(found.estimates):
            lost += 1
            continue
        pair = [(found.estimates["f0"], f0), (found.estimates["Q"], Q)]
        ratios.append(
            [
                math.log(e.value / true) / limit
                for (e, true), limit in zip(pair, limits, strict=True)
            ]
        )
        covered.append([abs(e.value - true) <= 1.96 * e.u for e, true in pair])
    rms = np.sqrt(np.mean(np.square(ratios), axis=0))
    return rms, np.mean(covered, axis=0), good / draws, 1e3 * spent / draws, lost


def main(draws=400):
    rng = np.random.default_rng(20260302)
    print(f"{draws} draws per row, {BITS} bit; noise in converter steps")
    print("     Q exciter  clipped noise   RMSE/bound f0 Q   coverage f0 Q   good     ms  lost")
    for Q, exciter, clipped, noise in ROWS:
        rms, coverage, good, spent, lost = measure(Q, exciter, clipped, noise, draws, rng)
        print(
            f"{Q:6g} {exciter:8s} {clipped:7.2f} {noise:5.1f}   {rms[0]:8.3f} {rms[1]:6.3f}   "
            f"{coverage[0]:7.3f} {coverage[1]:6.3f}  {good:5.3f} {spent:6.1f} {lost:5d}",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
