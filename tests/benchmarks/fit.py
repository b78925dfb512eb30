"""Fits against general-purpose ones on the same sweeps: speed by turns in one run, and memory.

Run by hand, with one BLAS thread: ``OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.fit``.
The references are scipy's ``curve_fit`` on ln Z over the logarithms of the elements, which is the
best it can be given (proper weights, no element below zero), and lmfit twice: ``minimize`` on the
same, and ``Model.fit`` on Z over the elements themselves, bounded at zero, as its users do. They
start within a factor of two of the truth; ours has no start. Ratios are of medians over turns,
with the quartiles of the ratio turn by turn.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable

import lmfit
import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit, fit_batch
from benchapp.fit.workers import Workers
from tests.benchmarks.efficiency import circular

POINTS = 401
SIGMA = 0.003
PART = 1000


def elements(name, count, rng):
    """Elements of random parts: Q 5 to 500, resonance well inside the sweep."""
    q = np.exp(rng.uniform(np.log(5), np.log(500), count))
    level = 10 ** rng.uniform(1, 5, count)
    f0 = 1e5 * np.exp(rng.uniform(-0.3, 0.3, count))
    w0 = 2 * np.pi * f0
    columns = [level / w0, 1 / (level * w0)]
    if name == "tank":
        return np.stack([*columns, level / q], axis=1)
    share = rng.uniform(0.2, 0.8, count)
    return np.stack([*columns, share * level / q, (1 - share) * level / q / np.sqrt(f0)], axis=1)


def tank_model(frequency, *logs):
    """Real and imaginary part of ln Z of a tank, as a person would write it."""
    inductance, capacitance, resistance = np.exp(logs)
    w = 2 * np.pi * frequency
    coil = resistance + 1j * w * inductance
    z = np.log(coil / (1 + 1j * w * capacitance * coil))
    return np.concatenate((z.real, z.imag))


def coil_model(frequency, *logs):
    """Real and imaginary part of ln Z of a coil with skin effect."""
    inductance, capacitance, dc, ac = np.exp(logs)
    w = 2 * np.pi * frequency
    coil = dc + ac * np.sqrt(frequency) + 1j * w * inductance
    z = np.log(coil / (1 + 1j * w * capacitance * coil))
    return np.concatenate((z.real, z.imag))


MODELS: dict[str, Callable[..., np.ndarray]] = {"tank": tank_model, "coil": coil_model}


def tank_impedance(frequency, L, C, R):
    """Z of a tank over the elements themselves, for lmfit."""
    w = 2 * np.pi * frequency
    coil = R + 1j * w * L
    return coil / (1 + 1j * w * C * coil)


def coil_impedance(frequency, L, C, Rdc, Rac):
    """Z of a coil with skin effect over the elements themselves, for lmfit."""
    w = 2 * np.pi * frequency
    coil = Rdc + Rac * np.sqrt(frequency) + 1j * w * L
    return coil / (1 + 1j * w * C * coil)


BOUNDED = {"tank": lmfit.Model(tank_impedance), "coil": lmfit.Model(coil_impedance)}


class Case:
    """Sweeps of one circuit, and the ways to fit them."""

    def __init__(self, name: str, count: int) -> None:
        self.name, self.rng = name, np.random.default_rng(11)
        self.frequency = np.geomspace(1e5 / 3, 3e5, POINTS)
        self.values = elements(name, count, self.rng)
        exact = [CIRCUITS[name].impedance(self.frequency, row) for row in self.values]
        self.z = np.array(exact) * (1 + SIGMA * circular(self.rng, (count, POINTS)))

    def pick(self):
        """Choose a sweep: its data for the references, its truth, and a start within two."""
        row = int(self.rng.integers(len(self.z)))
        ln_z, truth = np.log(self.z[row]), np.log(self.values[row])
        start = truth + self.rng.uniform(-np.log(2), np.log(2), truth.size)
        return row, np.concatenate((ln_z.real, ln_z.imag)), truth, start

    def batch(self):
        """Fit a part of the sweeps; seconds for each."""
        begin = int(self.rng.integers(max(len(self.z) - PART, 0) + 1))
        part = self.z[begin : begin + PART]
        started = time.perf_counter()
        fit_batch(self.frequency, part, self.name)
        return (time.perf_counter() - started) / len(part)

    def single(self):
        """Fit one sweep; seconds."""
        sweep = Sweep(frequency=self.frequency, impedance=self.z[self.pick()[0]])
        started = time.perf_counter()
        fit(sweep, self.name)
        return time.perf_counter() - started

    def scipy(self, *, from_truth=False):
        """Fit one sweep with curve_fit; seconds."""
        _, data, truth, start = self.pick()
        started = time.perf_counter()
        with contextlib.suppress(RuntimeError):
            curve_fit(MODELS[self.name], self.frequency, data, truth if from_truth else start)
        return time.perf_counter() - started

    def lmfit(self):
        """Fit one sweep with lmfit; seconds."""
        _, data, _, start = self.pick()
        names = [f"p{k}" for k in range(start.size)]
        parameters = lmfit.Parameters()
        for name, value in zip(names, start, strict=True):
            parameters.add(name, value=value)

        def residual(current):
            return (
                MODELS[self.name](self.frequency, *(current[name].value for name in names)) - data
            )

        started = time.perf_counter()
        with contextlib.suppress(ValueError):  # it stops where the model overflows
            lmfit.minimize(residual, parameters)
        return time.perf_counter() - started

    def lmfit_model(self):
        """Fit one sweep with lmfit's Model, as its users do; seconds."""
        row, _, _, start = self.pick()
        parameters = lmfit.Parameters()
        for name, value in zip(CIRCUITS[self.name].elements, np.exp(start), strict=True):
            parameters.add(name, value=value, min=0)
        model, weights = BOUNDED[self.name], 1 / np.abs(self.z[row])
        started = time.perf_counter()
        with contextlib.suppress(ValueError):
            model.fit(self.z[row], parameters, frequency=self.frequency, weights=weights)
        return time.perf_counter() - started


def by_turns(ways: dict[str, Callable[[], float]], turns: int) -> dict[str, np.ndarray]:
    """Time several ways by turns, each after the other."""
    spent = {name: [] for name in ways}
    for way in ways.values():
        way()
    for _ in range(turns):
        for name, way in ways.items():
            spent[name].append(way())
    return {name: np.array(times) for name, times in spent.items()}


def compare(title: str, ours: np.ndarray, other: np.ndarray) -> str:
    """One line: the ratio of medians, and the quartiles of the ratio turn by turn."""
    low, high = np.percentile(other / ours, [25, 75])
    return f"  {title:34s} {np.median(other) / np.median(ours):7.1f}x  ({low:.1f} .. {high:.1f})"


def speeds(name: str, count: int, turns: int) -> None:
    """Print the table of one circuit."""
    case = Case(name, count)
    spent = by_turns(
        {
            "batch": case.batch,
            "single": case.single,
            "scipy": case.scipy,
            "truth": lambda: case.scipy(from_truth=True),
            "lmfit": case.lmfit,
            "lmfit Model": case.lmfit_model,
        },
        turns,
    )
    print(f"{name}, {POINTS} points, {100 * SIGMA:g} % noise, {turns} turns")
    for way, times in spent.items():
        print(f"  {way:34s} {1e6 * np.median(times):9.2f} us")
    print(compare("batch over curve_fit (within x2)", spent["batch"], spent["scipy"]))
    print(compare("batch over curve_fit (from truth)", spent["batch"], spent["truth"]))
    print(compare("batch over lmfit minimize", spent["batch"], spent["lmfit"]))
    print(compare("batch over lmfit Model.fit", spent["batch"], spent["lmfit Model"]))
    print(compare("single over curve_fit (from truth)", spent["truth"], spent["single"]))
    tracemalloc.start()
    fit_batch(case.frequency, case.z, name)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    data = case.z.nbytes / 1e6
    print(f"  memory beyond {data:.0f} MB of data {'':11s} {peak / 1e6:9.1f} MB")


def cores(count: int, turns: int) -> None:
    """Print what a second process gains."""
    case = Case("tank", count)
    with Workers(2) as workers:

        def one():
            started = time.perf_counter()
            fit_batch(case.frequency, case.z, "tank")
            return time.perf_counter() - started

        def two():
            started = time.perf_counter()
            workers.fit_batch(case.frequency, case.z, "tank")
            return time.perf_counter() - started

        spent = by_turns({"one": one, "two": two}, turns)
    print(f"two processes, {count} sweeps (load {os.getloadavg()[0]:.1f} when measured)")
    print(compare("two processes over one", spent["two"], spent["one"]))


def main(count: int) -> None:
    """Print all tables."""
    warnings.simplefilter("ignore", OptimizeWarning)
    warnings.simplefilter("ignore", RuntimeWarning)
    speeds("tank", count, 60)
    speeds("coil", count, 60)
    cores(count, 10)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
