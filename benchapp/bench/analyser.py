"""A simulated two-port network analyser: reflection, series-through and shunt-through."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.bench.device import Setup, seen

__all__ = ["Analyser", "Method", "measure", "parameter"]

Method = Literal["reflection", "series-through", "shunt-through"]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Analyser:
    """A network analyser.

    ``noise`` is the rms complex error of an S-parameter, ``directivity`` a constant leak added
    to it, ``delay`` the one-way delay in s between the calibration plane and the part (it turns
    a reflection twice, a transmission once per port).
    """

    reference: float = 50.0
    level_volt: float = 0.2
    noise: float = 1e-4
    directivity: complex = 0.0
    delay: float = 0.0


def reflection(impedance: ComplexArray, reference: float) -> ComplexArray:
    """S11 = (Z - Zr)/(Z + Zr) of a part from port 1 to ground."""
    return np.asarray((impedance - reference) / (impedance + reference))


def series_through(impedance: ComplexArray, reference: float) -> ComplexArray:
    """S21 = 2 Zr/(2 Zr + Z) of a part between the ports."""
    return np.asarray(2 * reference / (2 * reference + impedance))


def shunt_through(impedance: ComplexArray, reference: float) -> ComplexArray:
    """S21 = 2 Z/(2 Z + Zr) of a part from the joined ports to ground."""
    return np.asarray(2 * impedance / (2 * impedance + reference))


METHODS = MappingProxyType(
    {
        "reflection": reflection,
        "series-through": series_through,
        "shunt-through": shunt_through,
    }
)


def parameter(method: Method, impedance: ComplexArray, reference: float) -> ComplexArray:
    """S-parameter of an impedance in one of the three arrangements.

    Parameters
    ----------
    impedance : (N,) complex, ohm
    reference : float, ohm

    Returns
    -------
    (N,) complex

    Notes
    -----
    Source: network theory, two-port with equal real port impedances (common practice).
    """
    return METHODS[method](impedance, reference)


def measure(
    analyser: Analyser,
    setup: Setup,
    method: Method,
    frequency: ArrayLike,
    generator: np.random.Generator,
) -> ComplexArray:
    """Measure a part: the S-parameter of the chosen arrangement at every point.

    Parameters
    ----------
    frequency : (N,) float, Hz

    Returns
    -------
    (N,) complex
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    true = parameter(method, seen(setup, f, volt=analyser.level_volt), analyser.reference)
    turn = np.exp(-4j * np.pi * f * analyser.delay)
    pair = generator.standard_normal((2, f.size))
    noise = analyser.noise / np.sqrt(2) * (pair[0] + 1j * pair[1])
    return np.asarray(true * turn + analyser.directivity + noise)
