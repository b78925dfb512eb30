"""What is to be measured, checked against what the instrument can do before it is switched."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Conditions
from benchapp.errors import UsageError
from benchapp.instruments.profile import Profile, Span
from benchapp.units import format_quantity

__all__ = ["Plan", "around", "check", "coarse_grid", "fine_grid", "settling"]

FloatArray = NDArray[np.float64]
SETTLED = 2.2  # Q/f0 after a change of frequency 0.1 % of it is left: exp(-2.2 pi)
SPARE = 1.1  # the search for the resonance knows Q to a tenth
BANDWIDTHS = 6.0  # to either side of the resonance in the fine sweep
LOWEST_Q = 3.0  # below it the fine sweep is wide and logarithmic
WIDE = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What to measure.

    ``start`` and ``stop`` (Hz) bound the sweep of ``points``; with ``zoom`` a coarse sweep of
    ``coarse_points`` looks for the resonance first and the points are laid around it. ``level``
    and ``bias`` are in V, None leaves the instrument's own. ``range_upper`` holds a range: its
    end in ohm, on a scope in V; None lets the instrument choose. ``expected_q`` sets how long to
    wait after a change of frequency until Q is known; ``settle`` in s replaces that. ``retries``
    is how often a broken link is taken up again. ``consent`` confirms a level or bias that the
    profile cautions against. ``series_ohm`` is the measured value of the known resistor,
    ``samples`` the length of a scope record, ``window`` its time in s for a ring-down.
    """

    start: float
    stop: float
    points: int = 201
    spacing: Literal["log", "linear"] = "log"
    zoom: bool = True
    coarse_points: int = 61
    direction: Literal["up", "down", "both"] = "up"
    level: float | None = None
    bias: float | None = None
    averages: int | None = None
    range_upper: float | None = None
    expected_q: float = 100.0
    settle: float | None = None
    retries: int = 2
    consent: bool = False
    series_ohm: float | None = None
    samples: int = 2000
    window: float = 500e-6
    part: str | None = None
    conditions: Conditions = field(default_factory=Conditions)


def check(plan: Plan, profile: Profile) -> None:
    """Refuse what the instrument cannot do, and what needs consent.

    Raises
    ------
    UsageError
        With the value, the limit, and what to do.
    """
    if not 0 < plan.start < plan.stop < np.inf and profile.method != "ring-down":
        raise UsageError(
            f"sweep: must rise from a first to a last frequency above zero (got {plan.start:g} "
            f"to {plan.stop:g} Hz).",
            hint="Give the lower frequency first.",
        )
    if min(plan.points, plan.coarse_points, plan.samples) < 2:
        raise UsageError(
            f"sweep: must have at least two points (got {plan.points}, coarse "
            f"{plan.coarse_points}, samples {plan.samples}).",
            hint="Ask for more points.",
        )
    limits = profile.limits
    if profile.method != "ring-down":
        _within("frequency", plan.start, limits.frequency, "Hz")
        _within("frequency", plan.stop, limits.frequency, "Hz")
    size = plan.samples if "record" in profile.send else plan.points
    for name, value, span, unit in (
        ("level", plan.level, limits.level, "V"),
        ("bias", plan.bias, limits.bias, "V"),
        ("averages", plan.averages, limits.averages, "1"),
        ("points", size, limits.points, "1"),
    ):
        if value is not None:
            _settable(name, profile)
            _within(name, float(value), span, unit)
    if profile.method == "gain-phase" and not plan.series_ohm:
        raise UsageError(
            "known resistor: its measured value must be given for this method (got none).",
            hint="Measure the resistor and type its value in ohm.",
        )
    _cautious(plan, profile)


def _settable(name: str, profile: Profile) -> None:
    if name != "points" and name not in profile.send:
        raise UsageError(
            f"{name}: must be left to the instrument with this profile (got a value).",
            hint=f"Set it at the instrument, or add {name} to [send] of the profile.",
        )


def _within(name: str, value: float, span: Span | None, unit: str) -> None:
    if span is not None and not span[0] <= value <= span[1]:
        low, high = (format_quantity(bound, unit) for bound in span)
        raise UsageError(
            f"{name}: must be from {low} to {high} with this instrument (got "
            f"{format_quantity(value, unit)}).",
            hint="Choose a value that it can do, or another instrument.",
        )


def _cautious(plan: Plan, profile: Profile) -> None:
    limits = profile.limits
    for name, value, caution in (
        ("level", plan.level, limits.caution_level),
        ("bias", plan.bias, limits.caution_bias),
    ):
        if value is not None and caution is not None and value > caution and not plan.consent:
            raise UsageError(
                f"{name}: must be confirmed above {format_quantity(caution, 'V')} (got "
                f"{format_quantity(value, 'V')}).",
                hint="Check that part, fixture and people are ready for it, then confirm it. "
                "A coil under bias gives a dangerous voltage when it is disconnected.",
                consent=True,
            )


def coarse_grid(plan: Plan) -> FloatArray:
    """Frequencies of the search, or of the whole sweep without one."""
    count = plan.coarse_points if plan.zoom else plan.points
    return _grid(plan.start, plan.stop, count, plan.spacing)


def fine_grid(plan: Plan, f0: float, Q: float) -> FloatArray:
    """Frequencies around a resonance: six bandwidths to either side, within the sweep.

    Source: common practice; ten or more points then lie within the half-power bandwidth.
    """
    low, high = around(f0, Q)
    spacing: Literal["log", "linear"] = "log" if LOWEST_Q > Q else "linear"
    return _grid(max(plan.start, low), min(plan.stop, high), plan.points, spacing)


def around(f0: float, Q: float) -> Span:
    """Give the first and last frequency of a fine sweep."""
    if Q < LOWEST_Q:
        return f0 / WIDE, f0 * WIDE
    half = min(BANDWIDTHS / Q, 0.9)
    return f0 * (1 - half), f0 * (1 + half)


def _grid(low: float, high: float, count: int, spacing: str) -> FloatArray:
    make = np.geomspace if spacing == "log" else np.linspace
    return np.asarray(make(low, high, count))


def settling(
    plan: Plan,
    profile: Profile,
    frequency: float,
    resonance: Span | None,
    before: float | None = None,
) -> float:
    """Give the wait in s after a change of frequency: then 0.1 % of the new reading is left.

    At least a tenth above 2.2 Q/f0; longer where the reading changes by more than itself, as on
    the way down from a peak. ``resonance`` is (f0, Q) where known; until then the plan's Q at the
    present frequency. ``before`` is the frequency in Hz that was set before.

    Source: a resonance follows with tau = Q/(pi f0); ln(1000) = 2.2 pi; its reading against that
    at f0 is 1/(1 + jQ(f/f0 - f0/f)) (common practice).
    """
    own = profile.settle
    if plan.settle is not None:
        return max(own, plan.settle)
    f0, Q = resonance or (frequency, plan.expected_q)
    change = 1.0 if before is None else _change(before / f0, frequency / f0, Q)
    return max(own, SPARE * Q / f0 * (SETTLED + math.log(change) / math.pi))


def _change(before: float, now: float, Q: float) -> float:
    """Give the change of a resonance's reading as a fraction of the smaller one, at least 1."""
    here, there = (complex(1, Q * (x - 1 / x)) for x in (now, before))
    return max(1.0, abs(here - there) / min(abs(here), abs(there)))
