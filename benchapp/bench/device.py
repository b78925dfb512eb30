"""Parts on the bench: a circuit with temperature, level dependence and spread, in a fixture."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.bench.fixture import Fixture, through
from benchapp.circuit import CIRCUITS
from benchapp.errors import UsageError

__all__ = [
    "REFERENCE_CELSIUS",
    "Core",
    "Device",
    "Element",
    "Setup",
    "draw",
    "impedance",
    "seen",
    "settling_time",
]

REFERENCE_CELSIUS = 23.0
ROUNDS = 6  # of solving for the current that sets the inductance that sets the current
ACROSS = ("tank", "coil", "coupled-pair")  # the clips are across the coil, not in line with it
SERIES_LOSS = {"coil": "Rdc"}  # the element that a core's loss adds to, where it is not R


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One circuit element: its value in SI units at 23 degC and how it varies.

    ``per_kelvin`` is the relative change per kelvin, ``spread`` the relative standard deviation
    from part to part.
    """

    name: str
    value: float
    per_kelvin: float = 0.0
    spread: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Core:
    """A magnetic core whose inductance grows with current: L (1 + growth * I_peak).

    The hysteresis resistance that goes with it is 4/(3 pi) * omega L * growth * I_peak.

    Source: Rayleigh's law of magnetisation, mu = mu_i + nu H, and its loss angle
    4/(3 pi) nu H / mu (common practice for ferrites far below saturation).
    """

    growth_per_ampere: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A part: the circuit it is, the values of the circuit's elements, and its core.

    Raises
    ------
    UsageError
        When the elements are not those of the circuit.
    """

    circuit: str
    elements: tuple[Element, ...]
    core: Core = field(default_factory=Core)
    name: str = ""

    def __post_init__(self) -> None:
        if self.circuit not in CIRCUITS:
            raise UsageError(
                f"bench part: circuit must be a known one (got {self.circuit!r}).",
                hint=f"Choose one of {', '.join(CIRCUITS)}.",
            )
        wanted, given = CIRCUITS[self.circuit].elements, tuple(e.name for e in self.elements)
        if sorted(wanted) != sorted(given):
            raise UsageError(
                f"bench part: elements must be {' '.join(wanted)} (got {' '.join(given)}).",
                hint=f"Give each element of {self.circuit} once.",
            )

    def value(self, name: str) -> float:
        """Give one element's value at 23 degC."""
        return next(element.value for element in self.elements if element.name == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """A part in its fixture at a temperature: what an instrument finds at its terminals.

    ``device`` may be a plain resistance in ohm: 0 is a short, `OPEN` an empty fixture.
    """

    device: Device | float
    fixture: Fixture = field(default_factory=Fixture)
    temperature_celsius: float = REFERENCE_CELSIUS
    contact_ohm: float = 0.0


def settling_time(device: Device | float) -> float:
    """Time constant in s with which the part's amplitude follows a change; 0 if it does not ring.

    tau = 2L/R = Q/(pi f0), or 2RC where R lies across. A resistance that varies with frequency
    counts with its value at the resonance.

    Source: second-order linear circuit, common practice.
    """
    if not isinstance(device, Device):
        return 0.0
    values = {element.name: element.value for element in device.elements}
    if not {"L", "C"} <= set(values):
        return 0.0
    if device.circuit == "parallel-rlc":
        return 2 * values["R"] * values["C"]
    resonance = 1 / (2 * np.pi * np.sqrt(values["L"] * values["C"]))
    loss = values[SERIES_LOSS.get(device.circuit, "R")]
    return float(2 * values["L"] / (loss + values.get("Rac", 0.0) * np.sqrt(resonance)))


def draw(design: Device, generator: np.random.Generator, *, name: str = "") -> Device:
    """Make one part of a design: every element varied by its own spread."""
    elements = tuple(
        replace(element, value=element.value * (1 + element.spread * generator.standard_normal()))
        for element in design.elements
    )
    return replace(design, elements=elements, name=name or design.name)


def impedance(
    device: Device | float,
    frequency: ArrayLike,
    *,
    temperature_celsius: float = REFERENCE_CELSIUS,
    volt: ArrayLike = 0.0,
) -> NDArray[np.complex128]:
    """Impedance of the part at a temperature, with ``volt`` rms across it.

    Parameters
    ----------
    frequency : (N,) float, Hz
    volt : float or (N,) float, V
        Without a core it has no effect.

    Returns
    -------
    (N,) complex, ohm
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    if not isinstance(device, Device):
        return np.full(f.shape, device, dtype=np.complex128)
    values = _warmed(device, temperature_celsius)
    if not device.core.growth_per_ampere:
        return _solve(device, f, values)
    volts = np.broadcast_to(np.asarray(volt, dtype=np.float64), f.shape)
    points = [_driven(device, f[i : i + 1], values, float(volts[i])) for i in range(f.size)]
    return np.concatenate(points)


def seen(setup: Setup, frequency: ArrayLike, *, volt: ArrayLike = 0.0) -> NDArray[np.complex128]:
    """Impedance at the instrument's terminals: the part, its contacts and the fixture.

    Parameters
    ----------
    frequency : (N,) float, Hz
    volt : float or (N,) float, V rms across the part

    Returns
    -------
    (N,) complex, ohm
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    part = impedance(setup.device, f, temperature_celsius=setup.temperature_celsius, volt=volt)
    return through(setup.fixture, f, part + setup.contact_ohm)


def _warmed(device: Device, temperature_celsius: float) -> dict[str, float]:
    rise = temperature_celsius - REFERENCE_CELSIUS
    return {e.name: e.value * (1 + e.per_kelvin * rise) for e in device.elements}


def _solve(
    device: Device, f: NDArray[np.float64], values: dict[str, float]
) -> NDArray[np.complex128]:
    circuit = CIRCUITS[device.circuit]
    ordered = np.array([values[name] for name in circuit.elements])
    return np.asarray(circuit.impedance(f, ordered), dtype=np.complex128)


def _driven(
    device: Device, f: NDArray[np.float64], values: dict[str, float], volt: float
) -> NDArray[np.complex128]:
    omega = float(2 * np.pi * f[0])
    loss = SERIES_LOSS.get(device.circuit, "R")
    z, now = _solve(device, f, values), dict(values)
    for _ in range(ROUNDS):
        branch = complex(now[loss], omega * now["L"]) if device.circuit in ACROSS else z[0]
        growth = device.core.growth_per_ampere * np.sqrt(2) * volt / abs(branch)
        hysteresis = 4 / (3 * np.pi) * omega * values["L"] * growth
        now |= {"L": values["L"] * (1 + growth), loss: values[loss] + hysteresis}
        z = _solve(device, f, now)
    return z
