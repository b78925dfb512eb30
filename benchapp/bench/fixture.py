"""What lies between the part and the instrument: stray capacitance, leads and a cable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["OPEN", "Cable", "Fixture", "through"]

OPEN = 1e30  # ohm: nothing clipped in, yet a finite number
SPEED_OF_LIGHT = 299_792_458.0  # m/s, exact by definition of the metre
REFERENCE_FREQUENCY = 1e6  # Hz, at which a cable's loss is stated
NEPER = 20 / np.log(10)  # dB


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """A cable: length in m, wave impedance in ohm, speed as a fraction of light, skin loss.

    ``loss_db`` is the loss of one metre at 1 MHz; it grows with the square root of frequency.
    """

    length: float = 1.0
    impedance: float = 50.0
    speed: float = 0.66
    loss_db: float = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixture:
    """Stray elements: what stays when it is open (C, G) and when it is shorted (R, L).

    ``contact_ohm`` is the standard deviation of the contact resistance between insertions.
    """

    open_farad: float = 0.0
    open_siemens: float = 0.0
    short_ohm: float = 0.0
    short_henry: float = 0.0
    contact_ohm: float = 0.0
    cable: Cable | None = None


def through(
    fixture: Fixture, frequency: NDArray[np.float64], impedance: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Impedance seen through the fixture: open strays across the part, then leads, then cable.

    Parameters
    ----------
    frequency : (N,) float, Hz
    impedance : (N,) complex, ohm
        Zero is a short; `OPEN` is an open.

    Returns
    -------
    (N,) complex, ohm

    Notes
    -----
    Z1 = Z / (1 + Z Y_open); Z2 = Z1 + Z_short;
    Z3 = Zc (Z2 + Zc tanh(gamma l)) / (Zc + Z2 tanh(gamma l)).

    Source: transmission-line equation of any network-theory text (common practice).
    """
    omega = 2 * np.pi * frequency
    stray = fixture.open_siemens + 1j * omega * fixture.open_farad
    across = impedance / (1 + impedance * stray)
    lead = across + fixture.short_ohm + 1j * omega * fixture.short_henry
    return lead if fixture.cable is None else _along(fixture.cable, frequency, lead)


def _along(
    cable: Cable, frequency: NDArray[np.float64], impedance: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    loss = cable.loss_db / NEPER * np.sqrt(frequency / REFERENCE_FREQUENCY)
    phase = 2 * np.pi * frequency / (cable.speed * SPEED_OF_LIGHT)
    tangent = np.tanh((loss + 1j * phase) * cable.length)
    zc = cable.impedance
    return np.asarray(zc * (impedance + zc * tangent) / (zc + impedance * tangent))
