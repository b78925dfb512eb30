"""How often the data's own circuit is chosen, and how often a wrong one is noticed.

Run by hand: ``python -m tests.benchmarks.choice [draws]``. First table: sweeps of each circuit are
fitted with the circuit left open. A draw counts where the best fit of every simpler circuit to
the noise-free impedance is off by so much that the information criterion is expected to see it.
Second table: tanks with something that no tank has are fitted as tanks, at 0.3 % noise. Third: how
many standard uncertainties a slope of the gain of 1 %/decade has at all once the elements have
taken up what they can: no test sees more. Fourth: noise alone, fitted in batches.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit, fit_batch
from tests.benchmarks.efficiency import Draw, circular, draws
from tests.fit.simulated import VALUES

SIMPLER = {
    "series-rlc": ("inductor",),
    "parallel-rlc": ("inductor", "tank"),
    "tank": ("inductor", "parallel-rlc"),
    "coil": ("inductor", "tank", "parallel-rlc"),
    "inductor": (),
    "capacitor": (),
}
SAME = {"capacitor": {"capacitor", "series-rlc"}, "series-rlc": {"capacitor", "series-rlc"}}
POINTS = (51, 101, 201, 401)
CLEAR = 25.0  # excess of the criterion, beyond its own scatter


def clear(draw: Draw) -> bool:
    """Tell whether every simpler circuit is off by more than the noise."""
    exact = draw.circuit.impedance(draw.sweep.frequency, draw.values)
    count = 2 * exact.size
    for name in SIMPLER[draw.circuit.name]:
        found = fit(Sweep(frequency=draw.sweep.frequency, impedance=exact), name)
        off = 2 * np.sum(np.abs(np.log(exact / found.fitted)) ** 2) / draw.sigma**2
        more = len(draw.circuit.elements) - len(found.elements)
        if off < more * np.log(count) + CLEAR:
            return False
    return True


def chosen(name: str, count: int) -> tuple[int, int, dict[str, int]]:
    """Count draws that count, right choices, and what was chosen instead."""
    tried, right, instead = 0, 0, {}
    for draw in draws(name, count, seed=3):
        if not clear(draw):
            continue
        tried += 1
        found = fit(draw.sweep).circuit
        if found in SAME.get(name, {name}):
            right += 1
        else:
            instead[found] = instead.get(found, 0) + 1
    return tried, right, instead


Change = Callable[[np.ndarray, np.ndarray, float], np.ndarray]
CHANGES: dict[str, Change] = {
    "nothing": lambda _f, z, _x: z,
    "lead inductance 1 % of L": lambda f, z, x: z + 0.01j * x * f / 1e5,
    "contact resistance 1 % of X": lambda _f, z, x: z + 0.01 * x,
    "gain slope 1 %/decade": lambda f, z, _x: z * (1 + 0.01 * np.log10(f / 1e5)),
}


def alarms(change: Change, count: int, points: int) -> float:
    """Share of tanks, changed so, that are said not to be described."""
    rng = np.random.default_rng(5)
    circuit, noticed = CIRCUITS["tank"], 0
    frequency = np.geomspace(1e5 / 3, 3e5, points)
    for _ in range(count):
        q = np.exp(rng.uniform(np.log(10), np.log(300)))
        reactance, w = 1000.0, 2 * np.pi * 1e5
        values = np.array([reactance / w, 1 / (reactance * w), reactance / q])
        z = change(frequency, circuit.impedance(frequency, values), reactance)
        z = z * (1 + 0.003 * circular(rng, points))
        sweep = Sweep(frequency=frequency, impedance=z, noise=Noise(kind="relative"))
        noticed += not fit(sweep, "tank").describes
    return noticed / count


def bound(points: int, span: float, q: float = 30.0) -> float:
    """Give 1 %/decade of gain in standard uncertainties, at 0.3 % noise, beside the elements."""
    frequency = np.geomspace(1e5 / span, 1e5 * span, points)
    reactance, w = 1000.0, 2 * np.pi * 1e5
    values = np.array([reactance / w, 1 / (reactance * w), reactance / q])
    slopes = CIRCUITS["tank"].gradient(frequency, values) * values[:, None]
    basis, _ = np.linalg.qr(np.concatenate((slopes.real, slopes.imag), axis=1).T)
    change = np.concatenate((0.01 * np.log10(frequency / 1e5), np.zeros(points)))
    left = change - basis @ (basis.T @ change)
    return float(np.linalg.norm(left)) / (0.003 / np.sqrt(2))


def false_alarms(name: str, count: int) -> tuple[int, int]:
    """Count sweeps of noise alone, and alarms among them."""
    rng, total, raised = np.random.default_rng(7), 0, 0
    for points in (51, 201, 801):
        for span in (1.15, 3.0, 30.0):
            frequency = np.geomspace(1.6e5 / span, 1.6e5 * span, points)
            z = CIRCUITS[name].impedance(frequency, VALUES[name])
            for kind in ("relative", "unknown"):
                noisy = z * (1 + 0.003 * circular(rng, count * points).reshape(count, points))
                batch = fit_batch(frequency, noisy, name, noise=Noise(kind=kind))
                total, raised = total + count, raised + int(np.sum(~batch.accepted))
    return total, raised


def main(count: int) -> None:
    """Print the tables."""
    print("circuit        counted   right  instead")
    for name in SIMPLER:
        tried, right, instead = chosen(name, count)
        print(f"{name:13s} {tried:8d} {right / tried:7.4f}  {instead or ''}")
    print("\nfitted as a tank, 0.3 % noise   " + "".join(f"{n:>7d} pts" for n in POINTS))
    for name, change in CHANGES.items():
        shares = [alarms(change, count, points) for points in POINTS]
        print(f"{name:32s}" + "".join(f"{share:11.4f}" for share in shares), flush=True)
    print("\ngain slope 1 %/decade over its u" + "".join(f"{n:>7d} pts" for n in POINTS))
    for span in (1.5, 3.0, 10.0):
        row = "".join(f"{bound(points, span):11.1f}" for points in POINTS)
        print(f"f0 / {span:4.1f} to f0 * {span:4.1f}         {row}")
    print("\nnoise alone     sweeps  alarms   share")
    for name in SIMPLER:
        total, raised = false_alarms(name, count)
        print(f"{name:13s} {total:8d} {raised:7d} {raised / total:7.5f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
