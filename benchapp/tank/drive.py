"""The driven tank: currents, voltages and watts over frequency, and its place in a band."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import QuantityError
from benchapp.tank.resonance import half_power_edges, resonance
from benchapp.tank.sums import Elements, elements_of
from benchapp.tank.value import Band, Drive, Spread, TankDesign, TankSums

__all__ = [
    "BandPlace",
    "Driven",
    "OperatingPoint",
    "Response",
    "drive_tank",
    "fundamental",
    "operate",
    "peak",
    "place_in_band",
    "respond",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complexfloating[Any, Any]]

_FUNDAMENTAL = MappingProxyType(
    {"half-bridge": math.sqrt(2) / math.pi, "full-bridge": 2 * math.sqrt(2) / math.pi}
)


def fundamental(drive: Drive) -> float | None:
    """Give the rms of the fundamental of the source voltage, V; None for a current source.

    A square wave between 0 and V has sqrt(2)/pi V = 0.450 V, one between -V and V twice that.
    Source: Fourier series of the square wave.
    """
    return None if drive.form == "current" else _FUNDAMENTAL.get(drive.form, 1.0) * drive.size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response:
    """A driven tank over frequency; all values rms.

    ``impedance`` and ``phase_degrees`` are those at the tank's terminals, with its load. Arrays
    are (N,) float: Hz, V, A, ohm, W. ``powers`` names what takes the power.
    """

    frequency: FloatArray
    impedance: FloatArray
    phase_degrees: FloatArray
    source_current: FloatArray
    tank_voltage: FloatArray
    coil_voltage: FloatArray
    coil_current: FloatArray
    capacitor_voltage: FloatArray
    capacitor_current: FloatArray
    powers: MappingProxyType[str, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """A driven tank at one frequency (Hz, V, A, ohm, W; rms). ``powers`` sums to ``power``.

    ``side`` tells what the source sees: 'inductive' (above the resonance of a series tank),
    'capacitive', or 'resistive' within one degree.
    """

    frequency: float
    impedance: float
    phase_degrees: float
    side: Literal["inductive", "capacitive", "resistive"]
    source_current: float
    tank_voltage: float
    coil_voltage: float
    coil_current: float
    capacitor_voltage: float
    capacitor_current: float
    power: float
    powers: MappingProxyType[str, float]


def respond(elements: Elements, drive: Drive, frequency: ArrayLike) -> Response:
    """Work out currents, voltages and powers of the driven tank.

    Parameters
    ----------
    elements : Elements
    drive : Drive
        A current source feeds the tank's terminals; the source resistance then takes no part.
    frequency : (N,) float, Hz

    Returns
    -------
    Response
        Harmonics of a bridge are not included: near the resonance the tank filters them.

    Raises
    ------
    QuantityError
        When the current has no bound: no resistance, at the resonance.
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    volt = fundamental(drive)
    if volt is None:
        elements = replace(elements, source=0.0)
    phasors = _phasors(elements, f, volt, drive.size)
    if not np.all(np.isfinite(phasors.source)):
        raise QuantityError(
            "driven tank: must have a resistance somewhere (got none at its resonance).",
            hint="State the coil's resistance or Q.",
        )
    omega = 2 * np.pi * f
    coil, capacitor, source = (
        np.abs(phasors.coil),
        np.abs(phasors.capacitor),
        np.abs(phasors.source),
    )
    reactive = np.abs(elements.capacitor - 1j / (omega * elements.capacitance))
    return Response(
        frequency=f,
        impedance=np.abs(phasors.tank),
        phase_degrees=np.degrees(np.angle(phasors.tank)),
        source_current=source,
        tank_voltage=np.abs(phasors.voltage),
        coil_voltage=coil * np.abs(elements.coil + 1j * omega * elements.inductance),
        coil_current=coil,
        capacitor_voltage=capacitor * reactive,
        capacitor_current=capacitor,
        powers=MappingProxyType(
            {
                "coil": coil**2 * elements.coil,
                "capacitor": capacitor**2 * elements.capacitor,
                "joints": coil**2 * elements.joints,
                "sense resistor": source**2 * elements.sense,
                "source": source**2 * elements.source,
                "load": _load_power(elements, phasors),
            }
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Phasors:
    """Tank impedance (ohm), tank voltage (V), and the three currents (A), complex (N,)."""

    tank: ComplexArray
    voltage: ComplexArray
    source: ComplexArray
    coil: ComplexArray
    capacitor: ComplexArray


def _phasors(
    elements: Elements, frequency: FloatArray, volt: float | None, ampere: float
) -> _Phasors:
    omega = 2 * np.pi * frequency
    coil: ComplexArray = elements.coil + elements.joints + 1j * omega * elements.inductance
    capacitor: ComplexArray = elements.capacitor - 1j / (omega * elements.capacitance)
    tank: ComplexArray
    if elements.circuit == "series":
        tank = coil + capacitor + (elements.load or 0.0)
    else:
        admittance = np.reciprocal(coil) + np.reciprocal(capacitor)
        tank = np.reciprocal(admittance + (1 / elements.load if elements.load else 0.0))
    source: ComplexArray
    if volt is None:
        source = np.full(frequency.shape, ampere, dtype=np.complex128)
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            source = np.divide(volt, tank + elements.outer_resistance)
    voltage = source * tank
    series = elements.circuit == "series"
    return _Phasors(
        tank=tank,
        voltage=voltage,
        source=source,
        coil=source if series else voltage / coil,
        capacitor=source if series else voltage / capacitor,
    )


def _load_power(elements: Elements, phasors: _Phasors) -> FloatArray:
    if elements.load is None:
        return np.zeros(phasors.tank.shape)
    if elements.circuit == "series":
        return np.asarray(np.abs(phasors.source) ** 2 * elements.load)
    return np.asarray(np.abs(phasors.voltage) ** 2 / elements.load)


@dataclass(frozen=True, slots=True, kw_only=True)
class Driven:
    """A driven tank at its working frequency and where it is stressed most.

    ``point`` is at the drive frequency, ``unloaded`` the same with the load taken away (equal to
    ``point`` without a load), ``resonance`` at f0 as loaded, ``resonance_unloaded`` without load.
    ``highest_voltage`` and ``highest_current`` are the operating points in the band (at the drive
    frequency alone where no band was given) at which the capacitor has most of each.
    """

    point: OperatingPoint
    unloaded: OperatingPoint
    resonance: OperatingPoint
    resonance_unloaded: OperatingPoint
    highest_voltage: OperatingPoint
    highest_current: OperatingPoint
    notes: tuple[str, ...] = ()


def drive_tank(design: TankDesign, sums: TankSums) -> Driven | None:
    """Work out the driven tank of a design.

    Parameters
    ----------
    design : TankDesign
    sums : TankSums
        Of the same design.

    Returns
    -------
    Driven or None
        None without a drive, and where currents or voltages hang on a loss that is not stated:
        only a series tank driven by a current does without the coil's.
    """
    drive, f0 = design.drive, sums.frequency.nominal
    if drive is None:
        return None
    elements = elements_of(
        design.losses, design.circuit, sums.inductance.nominal, sums.capacitance.nominal
    )
    if not _determined(drive, sums, elements):
        return None
    bare = replace(elements, load=None)
    frequency = drive.frequency or f0
    point = operate(elements, drive, frequency)
    highest = (point, point)
    if design.band is not None and design.band.low is not None and design.band.high is not None:
        highest = peak(elements, drive, (design.band.low, design.band.high))
    return Driven(
        point=point,
        unloaded=operate(bare, drive, frequency),
        resonance=operate(elements, drive, f0),
        resonance_unloaded=operate(bare, drive, f0),
        highest_voltage=highest[0],
        highest_current=highest[1],
        notes=(*_side_notes(drive, point), *_power_notes(sums)),
    )


def _power_notes(sums: TankSums) -> tuple[str, ...]:
    missing = [
        name
        for name, resistance in (
            ("coil's", sums.coil_resistance),
            ("capacitor's", sums.capacitor_resistance),
        )
        if resistance is None
    ]
    if not missing:
        return ()
    return (f"The watts leave out the {' and the '.join(missing)}, which is not stated.",)


def _determined(drive: Drive, sums: TankSums, elements: Elements) -> bool:
    """Tell whether the stated losses bound currents and voltages at the resonance."""
    series = sums.circuit == "series"
    if series and drive.form == "current":
        return True
    if sums.coil_resistance is None:
        return False
    damping = elements.tank_resistance
    if series:
        return damping + elements.outer_resistance > 0
    return damping > 0


def _side_notes(drive: Drive, point: OperatingPoint) -> tuple[str, ...]:
    if drive.form not in _FUNDAMENTAL:
        return ()
    notes = ["Only the fundamental of the bridge's square wave is counted."]
    if point.side == "capacitive":
        notes.append(
            "The drive is on the capacitive side: the bridge's switches turn on hard. Usual is "
            "the inductive side, for a series tank a drive above its resonance."
        )
    return tuple(notes)


def operate(elements: Elements, drive: Drive, frequency: float) -> OperatingPoint:
    """Give the driven tank at one frequency.

    Parameters
    ----------
    elements : Elements
    drive : Drive
    frequency : float, Hz

    Returns
    -------
    OperatingPoint
    """
    found = respond(elements, drive, [frequency])
    phase = float(found.phase_degrees[0])
    powers = {name: float(power[0]) for name, power in found.powers.items()}
    return OperatingPoint(
        frequency=frequency,
        impedance=float(found.impedance[0]),
        phase_degrees=phase,
        side=_side(elements, float(found.impedance[0]), phase),
        source_current=float(found.source_current[0]),
        tank_voltage=float(found.tank_voltage[0]),
        coil_voltage=float(found.coil_voltage[0]),
        coil_current=float(found.coil_current[0]),
        capacitor_voltage=float(found.capacitor_voltage[0]),
        capacitor_current=float(found.capacitor_current[0]),
        power=sum(powers.values()),
        powers=MappingProxyType(powers),
    )


def _side(
    elements: Elements, impedance: float, phase: float
) -> Literal["inductive", "capacitive", "resistive"]:
    reactance = impedance * math.sin(math.radians(phase))
    ohms = math.sqrt(elements.inductance / elements.capacitance)
    if abs(phase) <= 1 or abs(reactance) < 1e-9 * ohms:
        return "resistive"
    return "inductive" if phase > 0 else "capacitive"


def peak(
    elements: Elements, drive: Drive, band: tuple[float, float]
) -> tuple[OperatingPoint, OperatingPoint]:
    """Find where in a band capacitor voltage and capacitor current are greatest.

    Parameters
    ----------
    elements : Elements
    drive : Drive
    band : (float, float), Hz

    Returns
    -------
    (OperatingPoint, OperatingPoint)
        At the greatest capacitor voltage and at the greatest capacitor current; found on a grid
        that is dense around the resonance and refined twice (frequency to 1 part in 10^6).
    """
    grid = _grid(elements, band)
    return (
        operate(elements, drive, _highest(elements, drive, grid, "capacitor_voltage")),
        operate(elements, drive, _highest(elements, drive, grid, "capacitor_current")),
    )


def _grid(elements: Elements, band: tuple[float, float]) -> FloatArray:
    f0 = resonance(elements.inductance, elements.capacitance)
    z_tank = math.sqrt(elements.inductance / elements.capacitance)
    q = z_tank / max(elements.tank_resistance, 1e-6 * z_tank)
    low, high = half_power_edges(f0, q)
    width = high - low
    dense = np.linspace(f0 - 10 * width, f0 + 10 * width, 401)
    grid = np.concatenate((np.linspace(*band, 201), dense, [f0]))
    return np.unique(np.clip(grid, *band))


def _highest(elements: Elements, drive: Drive, grid: FloatArray, quantity: str) -> float:
    for _ in range(3):
        values = getattr(respond(elements, drive, grid), quantity)
        best = int(np.argmax(values))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
        centre = float(grid[best])
        grid = np.unique(np.append(np.linspace(low, high, 101), centre))
    return centre


@dataclass(frozen=True, slots=True, kw_only=True)
class BandPlace:
    """Where a resonance lies in its band.

    Margins are distances to the nearer end in Hz, positive inside: of the nominal resonance, of
    the root-sum-square and of the worst-case range; None where there is no tolerance. ``nearer``
    is that end.
    """

    inside: bool
    nearer: Literal["low", "high"]
    margin: float
    margin_fraction: float
    margin_rss: float | None = None
    margin_worst: float | None = None

    @property
    def words(self) -> str:
        """The place in words."""
        if not self.inside:
            return f"outside, beyond the {'lower' if self.nearer == 'low' else 'upper'} end"
        if self.margin_worst is None:
            return "inside (no tolerance given)"
        if self.margin_worst >= 0:
            return "inside, also at worst"
        if self.margin_rss is not None and self.margin_rss >= 0:
            return "inside, but outside when all tolerances add up"
        return "inside, but tolerances lead outside"


def place_in_band(frequency: Spread, band: Band) -> BandPlace:
    """Tell whether a resonance keeps to its band, and by how much.

    Parameters
    ----------
    frequency : Spread, Hz
    band : Band

    Returns
    -------
    BandPlace
    """

    def distance(low: float, high: float) -> tuple[float, Literal["low", "high"]]:
        below = math.inf if band.low is None else low - band.low
        above = math.inf if band.high is None else band.high - high
        return (below, "low") if below <= above else (above, "high")

    margin, nearer = distance(frequency.nominal, frequency.nominal)
    worst = rss = None
    if frequency.low is not None and frequency.high is not None:
        worst = distance(frequency.low, frequency.high)[0]
    if frequency.rss_low is not None and frequency.rss_high is not None:
        rss = distance(frequency.rss_low, frequency.rss_high)[0]
    return BandPlace(
        inside=margin >= 0,
        nearer=nearer,
        margin=margin,
        margin_fraction=margin / frequency.nominal,
        margin_rss=rss,
        margin_worst=worst,
    )
