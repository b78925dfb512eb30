"""Converters with few bits, and the mains that couples in: what every instrument suffers from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Converter", "Pickup", "leakage", "quantise", "wave"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """An analogue-to-digital converter: its bits and the voltage at either end of its range."""

    bits: int = 8
    full_scale: float = 1.0

    @property
    def step(self) -> float:
        """One converter step in V."""
        return float(2 * self.full_scale / 2**self.bits)

    @property
    def limits(self) -> tuple[float, float]:
        """Lowest and highest voltage that a code stands for."""
        return -self.full_scale, self.full_scale - self.step


@dataclass(frozen=True, slots=True, kw_only=True)
class Pickup:
    """Mains that couples into the leads: amplitude in V and mains frequency in Hz."""

    volt: float = 0.0
    mains: float = 50.0


def quantise(converter: Converter, voltage: NDArray[np.float64]) -> NDArray[np.float64]:
    """Round to converter steps and clip at the ends of the range.

    Parameters
    ----------
    voltage : (N,) float, V

    Returns
    -------
    (N,) float, V
    """
    codes = np.round(voltage / converter.step)
    half = 2 ** (converter.bits - 1)
    return np.asarray(np.clip(codes, -half, half - 1) * converter.step)


def wave(
    pickup: Pickup, time: NDArray[np.float64], generator: np.random.Generator
) -> NDArray[np.float64]:
    """Mains voltage over a record, with the phase it happens to have.

    Parameters
    ----------
    time : (N,) float, s

    Returns
    -------
    (N,) float, V
    """
    phase = generator.uniform(0, 2 * np.pi)
    return np.asarray(pickup.volt * np.sin(2 * np.pi * pickup.mains * time + phase))


def leakage(
    pickup: Pickup, frequency: NDArray[np.float64], span: float, generator: np.random.Generator
) -> NDArray[np.complex128]:
    """Phasor in V that mains leaves in a reading averaged over ``span`` seconds.

    A rectangular window of length T passes a tone that lies df away with sin(pi df T)/(pi df T);
    the phase is whatever the mains has when the reading starts.

    Parameters
    ----------
    frequency : (N,) float, Hz

    Returns
    -------
    (N,) complex, V

    Notes
    -----
    Source: transform of the rectangular window (common practice).
    """
    phase = generator.uniform(0, 2 * np.pi, size=frequency.shape)
    window = np.sinc((frequency - pickup.mains) * span)
    return np.asarray(pickup.volt * window * np.exp(1j * phase))
