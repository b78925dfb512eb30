"""A simulated oscilloscope with a generator: ring-down records and two-channel sine records."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.bench.converter import Converter, Pickup, quantise, wave
from benchapp.bench.device import REFERENCE_CELSIUS, Device, Setup, seen
from benchapp.errors import UsageError

__all__ = ["Record", "Ringing", "Scope", "record_decay", "record_sine", "ringing"]

LOSS = {"tank": "R", "coil": "Rdc"}  # circuits that ring by themselves, and their series loss


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """A scope channel (both are alike) and the probe on it.

    ``noise`` is the rms input noise in V, ``offset`` a constant shift in V, ``skew`` the lateness
    in s of the second channel. A ``probe_farad`` of 0 and infinite ``probe_ohm`` stand for a
    pick-up loop that does not touch the part.
    """

    converter: Converter = field(default_factory=Converter)
    noise: float = 2e-3
    offset: float = 0.0
    skew: float = 0.0
    rate: float = 5e6
    samples: int = 2000
    pickup: Pickup = field(default_factory=Pickup)
    probe_farad: float = 0.0
    probe_ohm: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Record:
    """What the scope sends: time (N,) in s and one row of (M, N) voltages per channel."""

    time: NDArray[np.float64]
    voltage: NDArray[np.float64]
    converter: Converter


@dataclass(frozen=True, slots=True, kw_only=True)
class Ringing:
    """Free decay from 1 V: exp(-t/tau) cos(2 pi damped_frequency t + phase) / cos(phase)."""

    f0: float
    Q: float
    damped_frequency: float
    tau: float
    phase: float


def ringing(
    device: Device | float,
    scope: Scope,
    *,
    temperature_celsius: float = REFERENCE_CELSIUS,
) -> Ringing:
    """How a part rings with the scope's probe on it, when its charged capacitor is let go.

    Raises
    ------
    UsageError
        When the circuit does not ring by itself, or is damped too strongly to swing.

    Notes
    -----
    The coil branch R + sL lies across C' (part and probe) and Rp (probe):
    L C' s^2 + (R C' + L/Rp) s + 1 + R/Rp = 0. A resistance that varies with frequency counts
    with its value at the resonance.

    Source: second-order linear circuit, common practice.
    """
    if not isinstance(device, Device) or device.circuit not in LOSS:
        got = device.circuit if isinstance(device, Device) else f"{device:g} ohm"
        raise UsageError(
            f"ring-down: the part must be one of {', '.join(LOSS)} (got {got!r}).",
            hint="Put a coil with its capacitor on the bench.",
        )
    L, C, R = _at_resonance(device, temperature_celsius)
    c = C + scope.probe_farad
    damping = (R / L + 1 / (c * scope.probe_ohm)) / 2
    square = (1 + R / scope.probe_ohm) / (L * c)
    if damping**2 >= square:
        raise UsageError(
            f"ring-down: Q must be above 0.5 (got {math.sqrt(square) / (2 * damping):.2g}).",
            hint="Use a part with less loss.",
        )
    damped = math.sqrt(square - damping**2)
    slope = -1 / (c * scope.probe_ohm)
    return Ringing(
        f0=math.sqrt(square) / (2 * math.pi),
        Q=math.sqrt(square) / (2 * damping),
        damped_frequency=damped / (2 * math.pi),
        tau=1 / damping,
        phase=-math.atan2(slope + damping, damped),
    )


def _at_resonance(device: Device, temperature_celsius: float) -> tuple[float, float, float]:
    rise = temperature_celsius - REFERENCE_CELSIUS
    warm = {e.name: e.value * (1 + e.per_kelvin * rise) for e in device.elements}
    L, C = warm["L"], warm["C"]
    f0 = 1 / (2 * math.pi * math.sqrt(L * C))
    resistance = warm[LOSS[device.circuit]] + warm.get("Rac", 0.0) * math.sqrt(f0)
    return L, C, resistance


def record_decay(
    scope: Scope,
    setup: Setup,
    generator: np.random.Generator,
    *,
    volt: float = 1.0,
    before: int = 0,
) -> Record:
    """Record a ring-down: the part at ``volt`` until time zero, then left to itself.

    ``before`` samples lie before the release.
    """
    swing = ringing(setup.device, scope, temperature_celsius=setup.temperature_celsius)
    time = (np.arange(scope.samples) - before) / scope.rate
    after = np.maximum(time, 0.0)
    turn = 2 * np.pi * swing.damped_frequency * after + swing.phase
    decay = volt * np.exp(-after / swing.tau) * np.cos(turn) / math.cos(swing.phase)
    return Record(
        time=time,
        voltage=_captured(scope, time, decay[np.newaxis], generator),
        converter=scope.converter,
    )


def record_sine(
    scope: Scope,
    setup: Setup,
    frequency: float,
    generator: np.random.Generator,
    *,
    series_ohm: float = 1e3,
    volt: float = 0.5,
) -> Record:
    """Record both ends of a known resistor that feeds the part from the generator.

    The first channel sees the generator's side at ``volt`` peak, the second the part with the
    probe across it.
    """
    f = np.array([frequency])
    load = 1 / seen(setup, f, volt=volt / math.sqrt(2))
    load = load + 1 / scope.probe_ohm + 2j * np.pi * f * scope.probe_farad
    ratio = complex(1 / (1 + series_ohm * load[0]))
    time = np.arange(scope.samples) / scope.rate
    start = generator.uniform(0, 2 * np.pi)
    turn = 2 * np.pi * frequency * time + start
    late = turn - 2 * np.pi * frequency * scope.skew + np.angle(ratio)
    pair = volt * np.stack([np.cos(turn), abs(ratio) * np.cos(late)])
    return Record(
        time=time,
        voltage=_captured(scope, time, pair, generator),
        converter=scope.converter,
    )


def _captured(
    scope: Scope,
    time: NDArray[np.float64],
    channels: NDArray[np.float64],
    generator: np.random.Generator,
) -> NDArray[np.float64]:
    hum = wave(scope.pickup, time, generator)
    noise = scope.noise * generator.standard_normal(channels.shape)
    return quantise(scope.converter, channels + hum + scope.offset + noise)
