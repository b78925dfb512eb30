"""Stress on the tank's capacitor: five limits, kept apart."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

from benchapp.errors import QuantityError

__all__ = [
    "CapacitorDuty",
    "CapacitorRatings",
    "Outcome",
    "Stress",
    "StressLimit",
    "curve_voltage",
    "judge_stress",
]

Outcome = Literal["within", "near the limit", "over", "cannot be judged"]
_NEAR = 0.8
_MAINS = 1000.0
_WORST: tuple[Outcome, ...] = ("over", "cannot be judged", "near the limit", "within")


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorDuty:
    """What a capacitor has to bear: rms voltage at a frequency, and DC on top.

    ``loss_tangent`` is None where it is not known.
    """

    voltage: float
    frequency: float
    capacitance: float
    bias: float = 0.0
    loss_tangent: float | None = None

    @property
    def peak(self) -> float:
        """Greatest instantaneous voltage, sqrt(2) V + DC, V."""
        return math.sqrt(2) * self.voltage + abs(self.bias)

    @property
    def current(self) -> float:
        """Rms current 2 pi f C V, A."""
        return 2 * math.pi * self.frequency * self.capacitance * self.voltage

    @property
    def slew(self) -> float:
        """Greatest rate of change 2 pi f sqrt(2) V, V/s."""
        return 2 * math.pi * self.frequency * math.sqrt(2) * self.voltage

    @property
    def dissipation(self) -> float | None:
        """Heat 2 pi f C V^2 tan(delta), W; None without a loss tangent."""
        if self.loss_tangent is None:
            return None
        return self.current * self.voltage * self.loss_tangent


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacitorRatings:
    """What the maker allows. None is *not stated*.

    ``dc_volt``: DC rating. ``mains_volt``: AC rating at mains frequency. ``curve``: points
    (Hz, V rms) of the maker's curve of AC voltage over frequency, rising in frequency; between
    them it is interpolated in log-log, beyond its ends it says nothing. ``current``: rms, A.
    ``slew``: V/s. ``dissipation``: W. ``rise`` and ``thermal_resistance``: allowed self-heating
    in K and K/W.
    """

    dc_volt: float | None = None
    mains_volt: float | None = None
    curve: tuple[tuple[float, float], ...] = ()
    current: float | None = None
    slew: float | None = None
    dissipation: float | None = None
    rise: float | None = None
    thermal_resistance: float | None = None

    def __post_init__(self) -> None:
        numbers = {
            "rated DC voltage": self.dc_volt,
            "rated AC voltage": self.mains_volt,
            "rated current": self.current,
            "rated dV/dt": self.slew,
            "rated dissipation": self.dissipation,
            "allowed temperature rise": self.rise,
            "thermal resistance": self.thermal_resistance,
        }
        for name, value in numbers.items():
            if value is not None and not 0 < value < math.inf:
                raise QuantityError(
                    f"{name}: must be above zero and finite (got {value!r}).",
                    hint="Leave out what the maker does not state.",
                )
        rising = [frequency for frequency, _ in self.curve]
        sound = all(0 < f < math.inf and 0 < v < math.inf for f, v in self.curve)
        if not sound or rising != sorted(set(rising)) or len(self.curve) == 1:
            raise QuantityError(
                "derating curve: must have two or more points rising in frequency, all above zero "
                f"(got {list(self.curve)}).",
                hint="Read points off the maker's curve, for example 1kHz:250V 100kHz:90V.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class StressLimit:
    """One limit: what is seen, what is allowed, and the outcome; ``reason`` says why in words.

    ``seen`` or ``allowed`` is None where it is not known; ``use`` is their ratio.
    """

    name: str
    unit: str
    seen: float | None
    allowed: float | None
    outcome: Outcome
    reason: str

    @property
    def use(self) -> float | None:
        """Seen over allowed, None where one is missing."""
        if self.seen is None or self.allowed is None:
            return None
        return self.seen / self.allowed


@dataclass(frozen=True, slots=True, kw_only=True)
class Stress:
    """All five limits of one capacitor, and the worst outcome of them.

    One limit that cannot be judged leaves the whole unjudged, unless another is over.
    """

    limits: tuple[StressLimit, ...]
    outcome: Outcome


def curve_voltage(curve: tuple[tuple[float, float], ...], frequency: float) -> float | None:
    """Read a derating curve, log-log between its points.

    Parameters
    ----------
    curve : tuple of (float, float)
        (Hz, V rms), rising in frequency.
    frequency : float, Hz

    Returns
    -------
    float or None
        V rms; None outside the curve.
    """
    for (f1, v1), (f2, v2) in itertools.pairwise(curve):
        if f1 <= frequency <= f2:
            share = math.log(frequency / f1) / math.log(f2 / f1)
            return v1 * math.exp(share * math.log(v2 / v1))
    return None


def judge_stress(duty: CapacitorDuty, ratings: CapacitorRatings) -> Stress:
    """Judge a capacitor's duty against its ratings.

    Parameters
    ----------
    duty : CapacitorDuty
    ratings : CapacitorRatings

    Returns
    -------
    Stress
        The five limits in the order: peak voltage with DC, rms voltage at the frequency, rms
        current, dV/dt, dissipation. 80 % of a limit is near it.

    Notes
    -----
    Source: common practice of makers' film and ceramic capacitor guides. A DC rating is never used
    for AC, nor a mains rating above 1 kHz.
    """
    limits = (
        _limit("peak voltage with DC", "V", duty.peak, ratings.dc_volt, "DC rating"),
        _rms_voltage(duty, ratings),
        _limit("rms current", "A", duty.current, ratings.current, "rated current"),
        _limit("dV/dt", "V/s", duty.slew, ratings.slew, "rated dV/dt"),
        _heat(duty, ratings),
    )
    worst = min(limits, key=lambda limit: _WORST.index(limit.outcome))
    return Stress(limits=limits, outcome=worst.outcome)


def _limit(name: str, unit: str, seen: float, allowed: float | None, what: str) -> StressLimit:
    if allowed is None:
        reason = f"cannot be judged: {what} missing"
        outcome: Outcome = "cannot be judged"
    else:
        outcome = (
            "over" if seen > allowed else "near the limit" if seen >= _NEAR * allowed else "within"
        )
        reason = f"{float(f'{100 * seen / allowed:.3g}'):g} % of the {what}"
    return StressLimit(
        name=name, unit=unit, seen=seen, allowed=allowed, outcome=outcome, reason=reason
    )


def _rms_voltage(duty: CapacitorDuty, ratings: CapacitorRatings) -> StressLimit:
    name, unit = "rms voltage at the frequency", "V"
    if ratings.curve:
        allowed = curve_voltage(ratings.curve, duty.frequency)
        if allowed is not None:
            return _limit(name, unit, duty.voltage, allowed, "derating curve")
        low, high = ratings.curve[0][0], ratings.curve[-1][0]
        reason = f"cannot be judged: the derating curve covers {low:g} to {high:g} Hz only"
    elif ratings.mains_volt is not None and duty.frequency <= _MAINS:
        return _limit(name, unit, duty.voltage, ratings.mains_volt, "AC rating")
    else:
        reason = "cannot be judged: derating curve missing"
        if ratings.mains_volt is not None:
            reason += " (the AC rating holds at mains frequency)"
        elif ratings.dc_volt is not None:
            reason += " (a DC rating is no AC rating)"
    return StressLimit(
        name=name,
        unit=unit,
        seen=duty.voltage,
        allowed=None,
        outcome="cannot be judged",
        reason=reason,
    )


def _heat(duty: CapacitorDuty, ratings: CapacitorRatings) -> StressLimit:
    heat = duty.dissipation
    missing = [] if heat is not None else ["tan delta"]
    if heat is not None and ratings.dissipation is not None:
        return _limit("dissipation", "W", heat, ratings.dissipation, "rated dissipation")
    rise = ratings.thermal_resistance
    if heat is not None and rise is not None and ratings.rise is not None:
        return _limit("temperature rise", "K", heat * rise, ratings.rise, "allowed rise")
    if ratings.dissipation is None and (rise is None or ratings.rise is None):
        missing.append("rated dissipation, or allowed rise with thermal resistance,")
    return StressLimit(
        name="dissipation",
        unit="W",
        seen=heat,
        allowed=None,
        outcome="cannot be judged",
        reason=f"cannot be judged: {' and '.join(missing)} missing".replace(",  ", " "),
    )
