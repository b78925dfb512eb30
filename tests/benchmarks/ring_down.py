"""Accuracy of the ring-down fit at 8 bit against the bounds of the data, and coverage.

Run as ``python -m tests.benchmarks.ring_down [draws [part parts]]``. The record begins before the
trigger and the fit is not told where that is; three per cent of the samples are clipped where the
row says so. Exciters: ``step`` (the tank rests, then rings), ``release`` (a charged capacitor let
go: no jump at the trigger), ``burst`` (driven near its resonance until the generator stops).

The bounds are those of the codes as recorded: five parameters, the exact probability of each code
of the converter, of a clipped sample that of lying at its end or beyond. One is for somebody who
knows the trigger instant, the other for somebody who knows the exciter's curve, but not when it
ends. To need fewer draws, the squared errors are compared with those of one Newton step from the
truth on the same draws, whose mean is the bound; +- is the standard deviation of the ratios.
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np
from scipy.special import ndtr

from benchapp.capture import Transient
from benchapp.fit.ring_down import fit_ring_down

BITS = 8
_DOUBT = 150  # samples after the trigger that may be taken for the exciter
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
    capture = Transient(
        time=t * 1e-6, voltage=seen, step_volt=step,
        limits_volt=(-limit, limit),
    )  # fmt: skip
    free = t >= 0
    return capture, bound(t[free], seen[free], p, exciter, (noise * step, step, limit)), f0 * 1e6


def shares(clean, converter):
    """Probability of each code (N, K) of the converter for each sample, and its slope."""
    noise, step, limit = converter
    codes = np.arange(-round(limit / step), round(limit / step) + 1)
    edges = np.concatenate([[-np.inf], (codes[1:] - 0.5) * step, [np.inf]])
    score = (edges - clean[:, None]) / noise
    share = np.diff(ndtr(score), axis=1)
    slope = -np.diff(np.exp(-score * score / 2), axis=1) / math.sqrt(2 * math.pi) / noise
    return np.where(share > 1e-12, share, np.inf), slope


def bound(t, seen, p, exciter, converter):
    """Deviations of (ln f0, ln Q) that no unbiased method can beat with the trigger instant
    known, the same with it unknown, and the errors of one step from the truth with it known.
    """
    rows = []
    for i in range(5):
        step = np.zeros(5)
        step[i] = 1e-6 * max(abs(p[i]), 1e-3)
        rows.append((curve(t, p + step) - curve(t, p - step)) / (2 * step[i]))
    jacobian = np.array(rows).T
    scale = np.linalg.norm(jacobian, axis=0)
    jacobian /= scale
    information, score = np.empty(t.size), np.empty(t.size)
    top = converter[2]
    for first in range(0, t.size, 500):
        part = slice(first, first + 500)
        share, slope = shares(curve(t[part], p), converter)
        place = np.round((np.clip(seen[part], -top, top) + top) / converter[1])
        information[part] = np.sum(slope**2 / share, axis=1)
        own = np.arange(share.shape[0]), place.astype(int)
        score[part] = slope[own] / share[own]
    matrix = (jacobian * information[:, None]).T @ jacobian
    covariance = np.linalg.inv(matrix)
    step = covariance @ (jacobian.T @ score)
    unknown = np.linalg.inv(matrix - lost_to_the_trigger(t, p, exciter, converter, jacobian))
    relative = scale[3:] * p[3:]
    known, unknown = (np.sqrt(np.diag(c))[3:] / relative for c in (covariance, unknown))
    return known, unknown, step[3:] / relative


def lost_to_the_trigger(t, p, exciter, converter, jacobian):
    """Information (5, 5) that is lost because the decay may begin 1, 2, 3 ... samples later.

    Barankin's bound with these shifts as test points beside the five derivatives; the exciter is
    taken as known. R. J. McAulay, E. M. Hofstetter, IEEE Transactions on Information Theory 17
    (1971) 669-676; D. G. Chapman, H. Robbins, Annals of Mathematical Statistics 22 (1951) 581.
    """
    share, slope = shares(curve(t[:_DOUBT], p), converter)
    other, _ = shares(before(t[:_DOUBT], p, exciter), converter)
    safe = np.where(np.isfinite(share), share, 1e-12)
    gap = np.where(np.isfinite(other), other, 0.0) - np.where(np.isfinite(share), share, 0.0)
    apart = np.sum(gap**2 / safe, axis=1)
    pulls = np.sum(gap * slope / safe, axis=1)[:, None] * jacobian[:_DOUBT]
    # the likelihood ratios are a martingale: its steps are orthogonal, so no matrix is needed
    growth = np.log1p(np.concatenate([[0.0], apart[:-1]]))
    weight = np.exp(np.minimum(np.cumsum(growth), 200.0)) * apart
    pulls /= np.sqrt(np.maximum(weight, 1e-200))[:, None]
    return pulls[apart > 1e-14].T @ pulls[apart > 1e-14]


def measure(Q, exciter, clipped, noise, draws, rng):
    """RMSE over bound of f0 and Q, their coverage, share of good descriptions, milliseconds."""
    ratios, ideal, apart, covered, good, spent, lost = [], [], [], [], 0, 0.0, 0
    for _ in range(draws):
        capture, (limits, open_limits, step), f0 = record(Q, exciter, clipped, noise, rng)
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
        ideal.append(step / limits)
        apart.append(open_limits / limits)
        covered.append([abs(e.value - true) <= 1.96 * e.u for e, true in pair])
    more = np.square(ratios) - np.square(ideal)
    rms = np.sqrt(1 + more.mean(axis=0))
    unknown = rms / np.sqrt(np.mean(np.square(apart), axis=0))
    rms = [rms, unknown, more.std(axis=0) / math.sqrt(len(more)) / 2 / rms]
    return rms, np.mean(covered, axis=0), good / draws, 1e3 * spent / draws, lost


def main(draws=400, part=0, parts=1):
    if part == 0:
        print(
            f"{draws} draws per row, {BITS} bit; noise in converter steps; errors over the bound"
        )
        print("     Q exciter  clipped noise   start unknown f0 Q   start known f0 Q    +- f0 Q")
    for place in range(part, len(ROWS), parts):
        Q, exciter, clipped, noise = ROWS[place]
        rng = np.random.default_rng([20260302, place])
        rms, coverage, good, spent, lost = measure(*ROWS[place], draws, rng)
        numbers = " ".join(f"{value:6.3f}" for pair in (rms[1], rms[0], rms[2]) for value in pair)
        print(
            f"{Q:6g} {exciter:8s} {clipped:7.2f} {noise:5.1f}   {numbers}   coverage "
            f"{coverage[0]:5.3f} {coverage[1]:5.3f}  good {good:5.3f} {spent:5.0f} ms "
            f"{lost:3d} lost",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
