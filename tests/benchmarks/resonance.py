"""Accuracy of the fit of a resonance against the Cramér-Rao bound, and coverage.

Run as ``python -m tests.benchmarks.resonance [draws]``. Each row is one kind of response with
white noise: rms error over the bound and coverage of 95 % intervals for f0, QL and Q, the share
of fits that pass as describing the data, and the time of one fit.

The bound comes from numerical derivatives of the circuit formula that makes the data, so it
shares nothing with the fit: inverse Fisher information of all parameters of the curve. To need
fewer draws, the squared errors are compared with those of one step from the truth on the same
noise, whose mean is the bound; +- is the standard deviation of the ratios.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import dataclass

import numpy as np

from benchapp.capture import Response
from benchapp.fit.response import fit_response


@dataclass(frozen=True, kw_only=True)
class Case:
    """One corner: ``model(f, parameters)`` with parameters f0, QL first and ``Q`` of them."""

    name: str
    kind: str
    start: tuple[float, ...]
    model: object
    unloaded: object
    spans: float = 6.0
    points: int = 201
    noise: float = 1e-3
    phase: bool = True
    through: float | None = None


def circle(f, p):
    """a + d / (1 + j QL t) with a = p2 + j p3, d = p4 + j p5."""
    t = f / p[0] - p[0] / f
    return p[2] + 1j * p[3] + (p[4] + 1j * p[5]) / (1 + 1j * p[1] * t)


def behind_line(f, p):
    return circle(f, p) * np.exp(-2j * np.pi * p[6] * 1e-9 * (f - 1e6))


def with_leakage(f, p):
    t = f / p[0] - p[0] / f
    return circle(f, p) + (p[6] + 1j * p[7]) * t


def low_pass(f, p):
    """Capacitor voltage of a series tank behind a probe, plus a constant crosstalk."""
    s = 1j * f / p[0]
    parts = [p[2] + 1j * p[3], p[4] + 1j * p[5], p[6] + 1j * p[7]]
    return sum(c * s**i for i, c in enumerate(parts)) / (1 + s / p[1] + s * s)


def peak_magnitude(f, p):
    """|S|^2 = background + floor, and the peak."""
    t = p[1] * (f / p[0] - p[0] / f)
    return np.sqrt(p[2] + p[3] / (1 + t * t))


def _reflection(p):
    a, d = complex(p[2], p[3]), complex(p[4], p[5])
    return p[1] / (1 - abs(d) / (2 * abs(a)))


def _notch(p):
    return p[1] / (1 - abs(complex(p[4], p[5])) / abs(complex(p[2], p[3])))


def _peak(p):
    return p[1] / (1 - abs(complex(p[4], p[5])))


F0 = 1e6 * 1.003
CASES = (
    Case(
        name="reflection, k = 1",
        kind="reflection",
        start=(F0, 50, 0.99, 0.1, -0.99, -0.1),
        model=circle,
        unloaded=_reflection,
    ),
    Case(
        name="reflection, k = 0.2, Q 1000",
        kind="reflection",
        start=(F0, 1000, 1.0, 0.0, -1 / 3, 0.0),
        model=circle,
        unloaded=_reflection,
    ),
    Case(
        name="reflection, QL 1.5",
        kind="reflection",
        start=(F0, 1.5, 1.0, 0.0, -0.8, 0.0),
        model=circle,
        unloaded=_reflection,
        spans=1.1,
        points=401,
    ),
    Case(
        name="reflection behind a line",
        kind="reflection",
        start=(F0, 30, 1.0, 0.0, -0.8, 0.1, 400.0),
        model=behind_line,
        unloaded=_reflection,
    ),
    Case(
        name="transmission peak",
        kind="transmission",
        start=(F0, 200, 0.01, 0.02, 0.1, 0.05),
        model=circle,
        unloaded=_peak,
    ),
    Case(
        name="transmission, 51 points, 3 %",
        kind="transmission",
        start=(F0, 100, 0.02, 0.0, 0.5, 0.2),
        model=circle,
        unloaded=_peak,
        points=51,
        noise=0.03,
    ),
    Case(
        name="transmission with leakage",
        kind="transmission",
        start=(F0, 100, 0.02, 0.03, 0.1, 0.05, 1.0, 0.5),
        model=with_leakage,
        unloaded=_peak,
    ),
    Case(
        name="notch",
        kind="transmission",
        start=(F0, 300, 0.9, 0.2, -0.72, -0.16),
        model=circle,
        unloaded=_notch,
    ),
    Case(
        name="gain, low-pass side, Q 3",
        kind="gain",
        start=(F0, 3.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        model=low_pass,
        unloaded=None,
        spans=2.5,
        noise=3e-3,
    ),
    Case(
        name="gain without phase, 1 %",
        kind="gain",
        start=(F0, 30, 0.01, 1.0),
        model=peak_magnitude,
        unloaded=None,
        phase=False,
        noise=0.01,
    ),
    Case(
        name="gain without phase, 5 %",
        kind="gain",
        start=(F0, 100, 0.0, 1.0),
        model=peak_magnitude,
        unloaded=None,
        phase=False,
        noise=0.05,
    ),
)


def grid(case):
    """Frequencies, even in ln f, over ``spans`` loaded half-power widths."""
    half = case.spans / case.start[1] / 2
    return F0 / 1.003 * np.exp(np.linspace(-half, half, case.points))


def jacobian(case, f):
    """Slopes of the curve by its parameters, real parts above imaginary ones: (N or 2N, P)."""
    p = np.array(case.start, dtype=float)
    rows = []
    for i in range(p.size):
        step = np.zeros(p.size)
        step[i] = 1e-6 * max(abs(p[i]), 1e-2 if i > 1 else 0.0)
        rows.append((case.model(f, p + step) - case.model(f, p - step)) / (2 * step[i]))
    slopes = np.array(rows).T
    return np.concatenate([slopes.real, slopes.imag]) if case.phase else slopes


def wanted(case):
    """Gradients (3, P) of ln f0, ln QL and ln Q by the parameters; no Q where it is not told."""
    p = np.array(case.start, dtype=float)
    rows = np.zeros((3, p.size))
    rows[0, 0], rows[1, 1] = 1 / p[0], 1 / p[1]
    if case.unloaded is None:
        rows[2] = math.nan
        return rows
    for i in range(p.size):
        step = np.zeros(p.size)
        step[i] = 1e-6 * max(abs(p[i]), 1e-2)
        rows[2, i] = (case.unloaded(p + step) - case.unloaded(p - step)) / (2 * step[i])
    rows[2] /= case.unloaded(p)
    return rows


def draw(case, f, rng):
    """One response with noise of rms ``noise`` (complex), and the noise as the curve sees it.

    Without phase the response is a Rician magnitude, and the noise its part along the curve.
    """
    noise = rng.standard_normal(f.size) + 1j * rng.standard_normal(f.size)
    noise *= case.noise / math.sqrt(2)
    clean = case.model(f, np.array(case.start, dtype=float))
    ratio = clean + noise
    if not case.phase:
        ratio = np.abs(ratio) + 0j
    seen = np.concatenate([noise.real, noise.imag]) if case.phase else noise.real
    return Response(frequency=f, ratio=ratio, kind=case.kind, has_phase=case.phase), seen


def measure(case, draws, rng):
    """Errors over bound and their spread, coverage, share of good descriptions, milliseconds."""
    f = grid(case)
    slopes, gradients = jacobian(case, f), wanted(case)
    inverse = np.linalg.inv(slopes.T @ slopes)
    covariance = inverse * case.noise**2 / 2
    limits = np.sqrt(np.einsum("ij,jk,ik->i", gradients, covariance, gradients))
    truth = [case.start[0], case.start[1]]
    truth.append(case.unloaded(case.start) if case.unloaded else math.nan)
    errors, ideal, covered, good, spent = [], [], [], 0, 0.0
    for _ in range(draws):
        capture, noise = draw(case, f, rng)
        begin = time.perf_counter()
        found = fit_response(capture)
        spent += time.perf_counter() - begin
        good += found.describes
        estimates = [found.estimates.get(name) for name in ("f0", "QL", "Q")]
        pairs = list(zip(estimates, truth, strict=True))
        errors.append([math.log(e.value / t) if e else math.nan for e, t in pairs])
        covered.append([abs(e.value - t) <= 1.965 * e.u if e else math.nan for e, t in pairs])
        ideal.append(gradients @ (inverse @ (slopes.T @ noise)))
    more = (np.square(errors) - np.square(ideal)) / limits**2
    rms = np.sqrt(1 + more.mean(axis=0))
    spread = more.std(axis=0) / math.sqrt(draws) / 2 / rms
    return rms, spread, np.mean(covered, axis=0), good / draws, 1e3 * spent / draws


def main(draws=4000):
    print(f"{draws} draws per row")
    head = "response                       RMSE/bound f0 QL Q      +- f0 QL Q"
    print(f"{head}        coverage f0 QL Q   good   ms")
    for place, case in enumerate(CASES):
        rng = np.random.default_rng([20260301, place])
        ratio, spread, coverage, good, spent = measure(case, draws, rng)
        numbers = " ".join(f"{value:7.3f}" for value in ratio)
        rest = " ".join(f"{value:5.3f}" for value in (*spread, *coverage))
        print(f"{case.name:30s} {numbers} {rest}  {good:.3f} {spent:5.1f}", flush=True)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
