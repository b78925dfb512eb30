"""Sweeps of known circuits with known noise, for the tests of fits."""

from __future__ import annotations

import numpy as np

from benchapp.capture import Noise, Sweep
from benchapp.circuit import CIRCUITS

VALUES = {
    "series-rlc": (1e-3, 1e-9, 10.0),
    "parallel-rlc": (1e-3, 1e-9, 1e5),
    "tank": (1e-3, 1e-9, 10.0),
    "coil": (1e-3, 1e-9, 5.0, 0.05),
    "inductor": (1e-3, 30.0),
    "capacitor": (1e-9, 10.0, 1e-5),
    "coupled-pair": (1e-3, 1e-9, 10.0, 0.1, 1.7e5, 50.0),
}
GRID = np.geomspace(50e3, 450e3, 201)


def circular(size, seed=1):
    """Complex noise with a mean square of 1."""
    rng = np.random.default_rng(seed)
    return (rng.normal(size=size) + 1j * rng.normal(size=size)) / np.sqrt(2)


def exact(name, values=None, frequency=GRID):
    """Impedance of a circuit without noise."""
    return CIRCUITS[name].impedance(frequency, np.array(values or VALUES[name]))


def simulated(name, *, values=None, frequency=GRID, sigma=0.003, seed=1, noise=None):
    """Sweep of a circuit with relative noise, whose kind is unknown unless it is given."""
    z = exact(name, values, frequency)
    z = z * (1 + sigma * circular(frequency.size, seed))
    return Sweep(frequency=frequency, impedance=z, noise=noise or Noise())


def truth(name):
    """Element values by name."""
    return dict(zip(CIRCUITS[name].elements, VALUES[name], strict=True))
