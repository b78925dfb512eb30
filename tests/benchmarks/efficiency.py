"""How close fits come to the Cramer-Rao bound, and how often their intervals hold the truth.

Run by hand: ``python -m tests.benchmarks.efficiency [draws]``. For each circuit it draws sweeps
over Q 1.5 to 1000, noise 0.01 to 3 % and 51 to 801 points with a fixed seed, fits each without
a start value, and prints for each element the root mean square of the error over its bound
(the smallest standard deviation of an unbiased estimate, from the Fisher information at the
truth) and the share of 95 % Student intervals that hold the true value.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS, Circuit
from benchapp.fit import fit

REFERENCE = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """One simulated measurement and the truth behind it."""

    circuit: Circuit
    values: np.ndarray
    sweep: Sweep
    sigma: float


def circular(rng: np.random.Generator, size: int) -> np.ndarray:
    """Complex noise with a mean square of 1."""
    return (rng.normal(size=size) + 1j * rng.normal(size=size)) / np.sqrt(2.0)


def values_for(name: str, f0: float, level: float, q: float, rng: np.random.Generator):
    """Elements of a circuit that resonates at f0 with impedance level and quality as given."""
    w0 = 2 * np.pi * f0
    inductance, capacitance = level / w0, 1 / (w0 * level)
    share = rng.uniform(0.2, 0.8)
    return np.array(
        {
            "series-rlc": [inductance, capacitance, level / q],
            "parallel-rlc": [inductance, capacitance, level * q],
            "tank": [inductance, capacitance, level / q],
            "coil": [
                inductance,
                capacitance,
                share * level / q,
                (1 - share) * level / q / np.sqrt(f0),
            ],
            "inductor": [inductance, level / q],
            "capacitor": [capacitance, level / q, inductance],
            "coupled-pair": [
                inductance,
                capacitance,
                level / q,
                rng.uniform(0.05, 0.3),
                f0 * rng.uniform(0.9, 1.1),
                q * rng.uniform(0.5, 1.5),
            ],
        }[name]
    )


def draws(name: str, count: int, seed: int = 1) -> Iterator[Draw]:
    """Draw measurements of a circuit over the whole range, with relative noise."""
    rng = np.random.default_rng([seed, sum(name.encode())])
    circuit = CIRCUITS[name]
    low, high = (1.5, 1000) if name != "coupled-pair" else (10, 300)
    for _ in range(count):
        q = np.exp(rng.uniform(np.log(low), np.log(high)))
        sigma = np.exp(rng.uniform(np.log(1e-4), np.log(0.03)))
        points = int(np.exp(rng.uniform(np.log(51), np.log(801))))
        f0, level = 10 ** rng.uniform(4, 7), 10 ** rng.uniform(1, 5)
        values = values_for(name, f0, level, q, rng)
        frequency = np.geomspace(f0 / 3, 3 * f0, points)
        z = circuit.impedance(frequency, values) * (1 + sigma * circular(rng, points))
        sweep = Sweep(frequency=frequency, impedance=z, noise=Noise(kind="relative"))
        yield Draw(circuit=circuit, values=values, sweep=sweep, sigma=sigma)


def bound(draw: Draw) -> np.ndarray:
    """Cramer-Rao bound of each element for relative noise, from the Fisher information."""
    slopes = draw.circuit.gradient(draw.sweep.frequency, draw.values) * draw.values[:, None]
    fisher = 2.0 * (slopes @ slopes.conj().T).real / draw.sigma**2
    scale = np.sqrt(fisher.diagonal())
    inverse = np.linalg.inv(fisher / np.outer(scale, scale))
    return draw.values * np.sqrt(inverse.diagonal()) / scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Efficiency:
    """What the draws of one circuit gave, by element."""

    elements: tuple[str, ...]
    counts: np.ndarray
    ratio: np.ndarray
    coverage: np.ndarray
    converged: float
    describes: float


def measure(cases: Iterator[Draw]) -> Efficiency:
    """Fit all draws and compare with the truth; an element counts where it is determined."""
    scores, held, flags = [], [], []
    for draw in cases:
        result = fit(draw.sweep, draw.circuit.name)
        limit = bound(draw)
        row, inside = np.full(len(limit), np.nan), np.full(len(limit), np.nan)
        quantile = student.ppf(0.975, result.dof)
        for place, name in enumerate(draw.circuit.elements):
            estimate = result.estimates.get(name)
            if estimate is not None and limit[place] < 0.3 * draw.values[place]:
                error = estimate.value - draw.values[place]
                row[place] = error / limit[place]
                inside[place] = abs(error) <= quantile * estimate.u
        scores.append(row)
        held.append(inside)
        flags.append((result.converged, result.describes))
    table = np.array(scores)
    return Efficiency(
        elements=draw.circuit.elements,
        counts=np.isfinite(table).sum(axis=0),
        ratio=np.sqrt(np.nanmean(table**2, axis=0)),
        coverage=np.nanmean(np.array(held), axis=0),
        converged=float(np.mean([flag[0] for flag in flags])),
        describes=float(np.mean([flag[1] for flag in flags])),
    )


def main(count: int) -> None:
    """Print the table."""
    print(f"{count} draws each; RMSE over the bound, and coverage of 95 % intervals")
    for name in sys.argv[2:] or CIRCUITS:
        begin = time.perf_counter()
        found = measure(draws(name, count if name != "coupled-pair" else count // 4))
        cells = [
            f"{element} {ratio:.3f} {cover:.3f} ({number})"
            for element, ratio, cover, number in zip(
                found.elements, found.ratio, found.coverage, found.counts, strict=True
            )
        ]
        print(
            f"{name:13s} converged {found.converged:.4f} describes {found.describes:.4f}  "
            + "  ".join(cells)
            + f"  [{time.perf_counter() - begin:.1f} s]"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4000)
