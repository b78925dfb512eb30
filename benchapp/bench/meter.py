"""A simulated LCR meter: source resistance, ranges with steps, converter, noise, overload."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.bench.converter import Pickup, leakage
from benchapp.bench.device import Setup, seen

__all__ = ["OVERLOAD", "Meter", "MeterRange", "Readings", "ranges_with_steps"]

OVERLOAD = 9.9e37  # SCPI-1999: sent where there is no number to send
LEVEL_ROUNDS = 3  # of finding the level at a part whose impedance depends on it
RANGES_OHM = (10.0, 100.0, 1e3, 10e3, 100e3, 1e6)
RANGE_GAIN = 5e-4  # standard deviation of the gain of one range
RANGE_PHASE = 5e-4  # the same of its phase, in rad
HEADROOM = 1.1  # a range reads this far above its nominal end


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterRange:
    """One range: the impedance at its end in ohm and its own small gain and phase error."""

    upper_ohm: float
    gain: complex = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """An LCR meter.

    ``noise`` is the rms relative error of one unaveraged reading; averaging ``averages`` readings
    lowers it by the root. ``bits`` sets the step of each range. ``span`` is the integration time
    of a reading in s. ``held`` fixes the range by index; None chooses the range at each point.
    """

    level_volt: float = 1.0
    source_ohm: float = 100.0
    ranges: tuple[MeterRange, ...] = (MeterRange(upper_ohm=np.inf),)
    noise: float = 1e-3
    bits: int | None = None
    averages: int = 1
    span: float = 20e-3
    pickup: Pickup = field(default_factory=Pickup)
    held: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """What the meter sends: impedance, status (0 good, 1 overload), level at the part, range."""

    frequency: NDArray[np.float64]
    impedance: NDArray[np.complex128]
    status: NDArray[np.int64]
    level_volt: NDArray[np.float64]
    range_index: NDArray[np.int64]


def ranges_with_steps(
    generator: np.random.Generator,
    *,
    uppers: tuple[float, ...] = RANGES_OHM,
    gain: float = RANGE_GAIN,
    phase: float = RANGE_PHASE,
) -> tuple[MeterRange, ...]:
    """Make decade ranges, each with its own gain and phase error (standard deviations)."""
    return tuple(
        MeterRange(
            upper_ohm=upper,
            gain=complex(
                1 + gain * generator.standard_normal(), phase * generator.standard_normal()
            ),
        )
        for upper in uppers
    )


def measure(
    meter: Meter, setup: Setup, frequency: ArrayLike, generator: np.random.Generator
) -> Readings:
    """Measure a part point by point.

    Parameters
    ----------
    frequency : (N,) float, Hz

    Returns
    -------
    Readings
        Points beyond the range read `OVERLOAD` with status 1.
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    true, level = _at_level(meter, setup, f)
    index = _choose(meter, np.abs(true))
    upper = np.array([entry.upper_ohm for entry in meter.ranges])[index]
    gain = np.array([entry.gain for entry in meter.ranges])[index]
    z = true * gain * (1 + _noise(meter, f.size, generator))
    current = np.abs(level / np.where(true == 0, 1, true))
    hum = leakage(meter.pickup, f, meter.span, generator)
    z = z + np.divide(hum, current, out=np.zeros_like(hum), where=current > 0)
    z = _stepped(meter, z, upper)
    over = np.abs(true) > HEADROOM * upper
    z = np.where(over, complex(OVERLOAD, OVERLOAD), z)
    return Readings(
        frequency=f,
        impedance=z,
        status=over.astype(np.int64),
        level_volt=level,
        range_index=index,
    )


def _at_level(
    meter: Meter, setup: Setup, f: NDArray[np.float64]
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    level = np.full(f.shape, meter.level_volt)
    z = seen(setup, f, volt=level)
    for _ in range(LEVEL_ROUNDS):
        level = meter.level_volt * np.abs(z / (z + meter.source_ohm))
        z = seen(setup, f, volt=level)
    return z, level


def _choose(meter: Meter, magnitude: NDArray[np.float64]) -> NDArray[np.int64]:
    if meter.held is not None:
        return np.full(magnitude.shape, meter.held, dtype=np.int64)
    uppers = np.array([entry.upper_ohm for entry in meter.ranges])
    return np.minimum(np.searchsorted(uppers, magnitude), uppers.size - 1)


def _noise(meter: Meter, points: int, generator: np.random.Generator) -> NDArray[np.complex128]:
    pair = generator.standard_normal((2, points))
    scale = meter.noise / np.sqrt(2 * meter.averages)
    return np.asarray(scale * (pair[0] + 1j * pair[1]))


def _stepped(
    meter: Meter, z: NDArray[np.complex128], upper: NDArray[np.float64]
) -> NDArray[np.complex128]:
    if meter.bits is None:
        return z
    step = np.where(np.isfinite(upper), upper, 0) / 2 ** (meter.bits - 1)
    step = np.where(step > 0, step, np.finfo(float).tiny)
    return np.asarray(step * (np.round(z.real / step) + 1j * np.round(z.imag / step)))
