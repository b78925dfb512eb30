"""Parts whose impedance is known in closed form, and the grids they are swept on."""

from __future__ import annotations

import numpy as np


def grid(rng, low=2e4, high=8e5, count=None, *, linear=None):
    """Frequencies in Hz, rounded so that every way of writing them says the same."""
    count = count or int(rng.integers(25, 90))
    linear = bool(rng.integers(2)) if linear is None else linear
    f = np.linspace(low, high, count) if linear else np.geomspace(low, high, count)
    return np.array([float(f"{value:.6g}") for value in f])


def coil(f, rng):
    w = 2j * np.pi * f
    L, C = rng.uniform(0.2e-3, 4e-3), rng.uniform(2e-12, 8e-12)
    R = rng.uniform(2, 12) * (1 + np.sqrt(f / 3e5))
    return 1 / (1 / (R + w * L) + w * C)


def capacitor(f, rng):
    w = 2j * np.pi * f
    C = rng.uniform(0.6e-9, 40e-9)
    return rng.uniform(0.1, 0.4) + rng.uniform(2e-3, 8e-3) / abs(w * C) + 1 / (w * C)


def tank(f, rng):
    w = 2j * np.pi * f
    f0 = rng.uniform(1.25e5, 1.45e5)
    L = rng.uniform(0.8e-3, 2.4e-3)
    C = 1 / ((2 * np.pi * f0) ** 2 * L)
    return 1 / (1 / (2 * np.pi * f0 * L / rng.uniform(20, 70) + w * L) + w * C)


def series_tank(f, rng):
    w = 2j * np.pi * f
    f0, L = rng.uniform(1.2e5, 1.5e5), rng.uniform(0.3e-3, 1.0e-3)
    C = 1 / ((2 * np.pi * f0) ** 2 * L)
    return rng.uniform(6, 20) + w * L + 1 / (w * C)


def reflection(z, z0=50.0):
    return (z - z0) / (z + z0)


def series_through(z, z0=50.0):
    return 2 * z0 / (2 * z0 + z)


def decibel(ratio):
    return 20 * np.log10(np.abs(ratio))


def degrees(value):
    return np.degrees(np.angle(value))


def series(z, f):
    """Ls, Cs, Q, D and Rs of an impedance."""
    w = 2 * np.pi * f
    q = z.imag / z.real
    return {"Ls": z.imag / w, "Cs": -1 / (w * z.imag), "Rs": z.real, "Q": q, "D": 1 / np.abs(q)}


def parallel(z, f):
    """Lp, Cp, Rp, G and B of an impedance."""
    w, y = 2 * np.pi * f, 1 / z
    return {"Lp": -1 / (w * y.imag), "Cp": y.imag / w, "Rp": 1 / y.real, "G": y.real, "B": y.imag}


def decay(rng, count=None, *, early=0.0):
    """A ring-down as a scope keeps it: time in s and voltage in V."""
    count = count or int(rng.integers(200, 500))
    step = float(rng.choice([1e-7, 2e-7, 2.5e-7]))
    t = (np.arange(count) - round(early * count)) * step
    f0, q = rng.uniform(1.3e5, 1.4e5), rng.uniform(10, 30)
    v = 1.7 * np.exp(-np.pi * f0 * np.abs(t) / q) * np.cos(2 * np.pi * f0 * t + 0.4)
    return t, np.where(t < 0, 0.01 * np.cos(1e6 * t), v), step
