"""Captures, fits and designs for the checks: one healthy scene, and ways to disturb it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchapp.capture import Capture, Conditions, Noise, Response, Sweep, Transient
from benchapp.checks import Evidence, Facts, Finding, examine
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit
from benchapp.nominal import judge, nominal_from
from benchapp.readers import Reading
from benchapp.uncertainty import Accuracy

TANK = (1.6313e-3, 864.2e-12, 17.52)  # f0 134.04 kHz, Q 78.4
COIL = (1.6313e-3, 9.4e-12, 6.21, 0.0309)  # self-resonance 1.285 MHz
STATED = Conditions(level_volt=1.0, temperature_celsius=23.0, fixture="four-terminal clip")
DESIGN: dict[str, Any] = {
    "title": "Gate antenna coil GA-12",
    "circuit": "tank",
    "conditions": {
        "frequency": "134.2 kHz",
        "level": "1 V",
        "temperature": "23 degC",
        "fixture": "four-terminal clip",
    },
    "limits": {
        "L": {"nominal": "1.620 mH", "tolerance": "±3 %"},
        "Q": {"at": "134.2 kHz", "lower": 60, "upper": 110},
        "ESR": {"at": "134.2 kHz", "upper": "22 ohm"},
    },
}


@dataclass(frozen=True, kw_only=True)
class Case:
    """Evidence that must raise a check, and a near miss that must not."""

    raises: Callable[[], Evidence]
    misses: Callable[[], Evidence]


def sweep(
    circuit="tank",
    values=TANK,
    *,
    low=114e3,
    high=154e3,
    points=201,
    noise=1e-3,
    kind="relative",
    conditions=STATED,
    seed=1,
):
    frequency = np.linspace(low, high, points)
    z = CIRCUITS[circuit].impedance(frequency, values)
    pair = np.random.default_rng(seed).standard_normal((2, points)) / math.sqrt(2)
    error = noise * (pair[0] + 1j * pair[1])
    if kind == "reflection":
        ratio = (z - 50) / (z + 50) + error
        z = 50 * (1 + ratio) / (1 - ratio)
    elif kind == "series-through":
        z = 100 / (100 / (100 + z) + error) - 100
    else:
        z = z * (1 + error)
    return Sweep(
        frequency=frequency,
        impedance=z,
        noise=Noise(kind=kind, level=noise),
        conditions=conditions,
    )


def coil(*, low=1e3, high=600e3, noise=5e-4, **more):
    return sweep("coil", COIL, low=low, high=high, noise=noise, **more)


def ring_down(
    *, f0=134e3, q=80.0, length=3.0, rate=5e6, noise=2e-3, uneven=0.0, top=None, fixture="loop"
):
    """Record silence, then a decay of ``length`` time constants, faster at first if uneven."""
    tau = q / (math.pi * f0)
    time = np.arange(-40e-6, length * tau, 1 / rate)
    height = (time >= 0) / ((1 + uneven) * np.exp(time / tau) - uneven)
    wave = height * np.cos(2 * math.pi * f0 * time + 0.3)
    wave = wave + noise * np.random.default_rng(4).standard_normal(time.size)
    limits = None if top is None else (-top, top)
    return Transient(
        time=time,
        voltage=wave if top is None else np.clip(wave, -top, top),
        limits_volt=limits,
        conditions=Conditions(fixture=fixture),
    )


def transmission(*, peak=0.01, f0=134e3, q=80.0, points=201, noise=1e-5, phase=True):
    frequency = np.linspace(f0 * (1 - 4 / q), f0 * (1 + 4 / q), points)
    ratio = peak / (1 + 1j * q * (frequency / f0 - f0 / frequency))
    pair = np.random.default_rng(9).standard_normal((2, points))
    ratio = ratio + noise * (pair[0] + 1j * pair[1])
    return Response(
        frequency=frequency,
        ratio=ratio if phase else np.abs(ratio),
        kind="transmission",
        has_phase=phase,
    )


def design(**changes):
    """Give the design with some of its top-level tables replaced."""
    return nominal_from({**DESIGN, **changes})


def limited(**limits):
    return design(limits=limits)


def reading(capture, **facts):
    return Reading(source="a.csv", reader="table", sha256="", captures=(capture,), **facts)


def evidence(
    capture: Capture,
    circuit: str = "auto",
    *,
    nominal=None,
    facts: dict[str, Any] | None = None,
    accuracy: Accuracy | None = None,
    known: dict[str, Any] | None = None,
    change: Callable[[Any], Any] = lambda found: found,
    **choices: Any,
) -> Evidence:
    """Fit, judge and gather; ``change`` may alter the fit."""
    found = change(fit(capture, circuit, **choices))
    return Evidence(
        capture=capture,
        fit=found,
        nominal=nominal,
        verdict=None if nominal is None else judge(nominal, found, capture, accuracy),
        reading=None if facts is None else reading(capture, **facts),
        accuracy=accuracy,
        facts=Facts(**(known or {})),
    )


def known(**facts: Any) -> Evidence:
    """Give the healthy tank, f0 134.04 kHz and Q 78, with facts known beside it."""
    return evidence(sweep(), "tank", known=facts)


def found(seen: Evidence, name: str) -> list[Finding]:
    """Give what one check finds."""
    return [finding for finding in examine(seen) if finding.id == name]
