"""A tank as it is designed, and what follows from the design."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchapp.errors import QuantityError, UsageError
from benchapp.units import Quantity, format_quantity

__all__ = ["Band", "Circuit", "Drive", "Losses", "Spread", "TankDesign", "TankSums"]

Circuit = Literal["series", "parallel"]


_SMALLEST, _LARGEST = 1e-18, 1e18


def _check(name: str, value: float | None, unit: str, *, zero: bool) -> None:
    """Refuse what no bench has: it would only lead to overflow further on."""
    if value is None or _SMALLEST <= value <= _LARGEST or (zero and value == 0):
        return
    raise QuantityError(
        f"{name}: must be {'zero or more' if zero else 'above zero'} and of a possible size "
        f"(got {value!r}).",
        hint=f"Give {unit}, or leave it out when it is not known.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """Where a tank loses power. None is *not stated*, and is never taken for zero silently.

    Of ``coil_resistance`` (ohm, series, at the resonance) and ``coil_q`` give at most one, so also
    of ``capacitor_resistance`` (ESR, ohm) and ``loss_tangent``. ``joints`` is contacts and leads;
    ``source`` the generator's or bridge's resistance and ``sense`` the resistor that measures the
    current, both in series with the tank; ``load`` is in series with the coil of a series tank
    (for example the resistance that a work-piece reflects) and across a parallel tank.
    """

    coil_resistance: float | None = None
    coil_q: float | None = None
    capacitor_resistance: float | None = None
    loss_tangent: float | None = None
    joints: float | None = None
    source: float | None = None
    sense: float | None = None
    load: float | None = None

    def __post_init__(self) -> None:
        for name in ("coil_resistance", "capacitor_resistance", "joints", "source", "sense"):
            _check(name.replace("_", " "), getattr(self, name), "ohms", zero=True)
        _check("coil Q", self.coil_q, "a plain number", zero=False)
        _check("loss tangent", self.loss_tangent, "a plain number", zero=True)
        _check("load", self.load, "ohms", zero=False)
        if self.coil_resistance is not None and self.coil_q is not None:
            raise UsageError(
                "coil loss: must be its resistance or its Q (got both).",
                hint="Leave one of them out; each follows from the other.",
            )
        if self.capacitor_resistance is not None and self.loss_tangent is not None:
            raise UsageError(
                "capacitor loss: must be its ESR or its tan delta (got both).",
                hint="Leave one of them out; each follows from the other.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What drives the tank.

    ``form`` 'sine': ``size`` is the open-circuit rms voltage; 'half-bridge' and 'full-bridge':
    ``size`` is the DC supply of a square-wave bridge, of which the fundamental counts; 'current':
    ``size`` is the rms current into the tank's terminals. ``frequency`` None means at the
    resonance. ``bias`` is the DC voltage on the capacitor.
    """

    form: Literal["sine", "half-bridge", "full-bridge", "current"]
    size: float
    frequency: float | None = None
    bias: float = 0.0

    def __post_init__(self) -> None:
        _check("drive", self.size, "volts or amperes", zero=False)
        _check("drive frequency", self.frequency, "hertz", zero=False)
        _check("DC on the capacitor", abs(self.bias), "volts", zero=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The frequencies that the resonance must keep to, Hz; one side may be open (None)."""

    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        _check("lower end of the band", self.low, "hertz", zero=False)
        _check("upper end of the band", self.high, "hertz", zero=False)
        if self.low is None and self.high is None:
            raise UsageError("band: must have an end (got none).", hint="Give 132kHz..136kHz.")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise UsageError(
                f"band: must run from low to high (got {self.low:g} to {self.high:g} Hz).",
                hint="Give the lower frequency first.",
            )


_UNITS = {"inductance": "henries", "capacitance": "farads", "frequency": "hertz"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TankDesign:
    """A tank: any two of inductance (H), capacitance (F) and resonance (Hz), and its losses.

    The quantities may carry tolerances. ``frequency`` is the wanted undamped resonance.
    """

    inductance: Quantity | None = None
    capacitance: Quantity | None = None
    frequency: Quantity | None = None
    circuit: Circuit = "series"
    losses: Losses = Losses()
    drive: Drive | None = None
    band: Band | None = None

    def __post_init__(self) -> None:
        given = {
            name: quantity
            for name, quantity in (
                ("inductance", self.inductance),
                ("capacitance", self.capacitance),
                ("frequency", self.frequency),
            )
            if quantity is not None
        }
        if len(given) != 2:
            raise UsageError(
                f"tank: must be given two of L, C and f (got {len(given)}).",
                hint="The third is worked out, for example from L = 1.62 mH and f = 134.2 kHz.",
            )
        for name, quantity in given.items():
            _check(name, quantity.value, _UNITS[name], zero=False)
            if quantity.lower is not None and quantity.lower <= 0:
                shown = format_quantity(quantity.lower, quantity.unit)
                raise QuantityError(
                    f"{name}: must stay above zero over its tolerance (got down to {shown}).",
                    hint="Check the tolerance.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A value and how far tolerances let it go: at worst, and as root sum of squares.

    The bounds are None where no tolerance was given.
    """

    nominal: float
    unit: str
    low: float | None = None
    high: float | None = None
    rss_low: float | None = None
    rss_high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TankSums:
    """What follows from a design. What it does not determine is None, with a note saying why.

    Frequencies in Hz, resistances in ohm, times in s. ``q`` is the tank alone (coil, capacitor,
    joints), ``q_loaded`` with source, sense resistor and load as well; bandwidths and decay times
    likewise. ``zero_phase`` and ``peak_frequency`` (where |Z| is greatest, of a parallel tank; of
    a series tank both are f0, where |Z| is least) belong to the tank alone, as does
    ``terminal_impedance``, |Z| there. ``edges`` are the half-power frequencies of the tank alone.
    ``decay_time`` is tau of the amplitude, ``decay_cycles`` how many cycles until it is 1/e.
    """

    inductance: Spread
    capacitance: Spread
    frequency: Spread
    circuit: Circuit
    derived: Literal["L", "C", "f0"]
    z_tank: float
    coil_resistance: float | None = None
    capacitor_resistance: float | None = None
    resistance: float | None = None
    q_coil: float | None = None
    q_capacitor: float | None = None
    q: float | None = None
    q_loaded: float | None = None
    bandwidth: float | None = None
    bandwidth_loaded: float | None = None
    edges: tuple[float, float] | None = None
    zero_phase: float | None = None
    peak_frequency: float | None = None
    terminal_impedance: float | None = None
    damped_frequency: float | None = None
    log_decrement: float | None = None
    decay_time: float | None = None
    decay_time_loaded: float | None = None
    decay_cycles: float | None = None
    notes: tuple[str, ...] = ()
