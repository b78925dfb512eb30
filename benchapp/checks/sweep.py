"""Checks of a sweep itself: points, edges, signs, and what its method can resolve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Noise, Response, Sweep
from benchapp.checks.value import Check, Evidence, Sighting, counted, frequency_used, resonance
from benchapp.units import format_quantity

__all__ = ["CHECKS"]

_WINDOW = 9


def _coarse(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    found, frequency = resonance(evidence), frequency_used(evidence)
    if found is None or frequency is None:
        return
    f0, width = found
    inside = int(np.count_nonzero(np.abs(frequency - f0) <= width / 2))
    capture = evidence.capture
    bare = isinstance(capture, Response) and not capture.has_phase
    if frequency[0] < f0 < frequency[-1] and inside < limit["magnitude" if bare else "complex"]:
        step = format_quantity(width / 10, "Hz", digits=2)
        yield Sighting(
            seen=f"The half-power band of {format_quantity(width, 'Hz', digits=3)} around "
            f"{format_quantity(f0, 'Hz')} holds {counted(inside, 'point')}.",
            advice=f"Sweep {format_quantity(f0 - 3 * width, 'Hz', digits=5)} to "
            f"{format_quantity(f0 + 3 * width, 'Hz', digits=5)} in steps of {step}.",
        )


def _edge(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    found, frequency = resonance(evidence), frequency_used(evidence)
    if found is None or frequency is None:
        return
    f0, width = found
    low, high = float(frequency[0]), float(frequency[-1])
    reach = {name: _covered(f0, width, low, high, limit[name]) for name in ("least", "enough")}
    if reach["enough"]:
        return
    near, word = (low, "lower") if f0 - low < high - f0 else (high, "upper")
    beyond = f0 < low or f0 > high
    place = "lies outside the sweep, beyond its" if beyond else "lies close to the sweep's"
    away = abs(f0 - near) / width
    yield Sighting(
        seen=f"The resonance at {format_quantity(f0, 'Hz')} {place} {word} end "
        f"({away:.2g} bandwidths away).",
        level="note" if reach["least"] else None,
    )


def _covered(f0: float, width: float, low: float, high: float, times: float) -> bool:
    """Tell whether so many bandwidths are covered on both sides (at most an octave below)."""
    return low <= max(f0 - times * width, f0 / 2) and high >= f0 + times * width


def _phase_sign(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    if not isinstance(capture, Sweep):
        return
    x, r = capture.impedance.imag, capture.impedance.real
    reactive = np.abs(x) > 2 * np.abs(r)
    pairs = reactive[1:] & reactive[:-1] & (np.sign(x[1:]) == np.sign(x[:-1]))
    rise = np.diff(x)[pairs]
    if rise.size < limit["pairs"]:
        return
    falling = float(np.abs(rise[rise < 0]).sum() / max(np.abs(rise).sum(), 1e-300))
    if falling > limit["share"]:
        yield Sighting(
            seen=f"Away from resonance the reactance falls over {100 * falling:.0f} % of its way.",
            points=tuple(int(point) for point in np.flatnonzero(pairs)),
        )


def _mean(values: NDArray[np.float64], window: int) -> NDArray[np.float64]:
    """Give the running mean (N,), over shorter windows at the ends."""
    ones = np.ones(min(window, values.size))
    return np.asarray(
        np.convolve(values, ones, "same") / np.convolve(np.ones_like(values), ones, "same")
    )


def _negative(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    if not isinstance(capture, Sweep) or capture.frequency.size < _WINDOW:
        return
    used = np.flatnonzero(evidence.fit.used)
    if used.size < _WINDOW:
        return
    z = capture.impedance[used]
    share = z.real / np.maximum(
        np.abs(z), 1e-300
    )  # its noise is even where that of the impedance is relative
    bends = np.diff(share, 2) ** 2 / 6
    scatter = np.sqrt(_mean(np.pad(bends, 1, mode="edge"), 3 * _WINDOW) / _WINDOW)
    points = used[_mean(share, _WINDOW) < -limit["sigma"] * scatter]
    if points.size >= limit["points"]:
        lowest = points[np.argmin(capture.impedance.real[points])]
        yield Sighting(
            seen=f"The resistance is negative at {counted(points.size, 'point')}, "
            f"down to {format_quantity(float(capture.impedance.real[lowest]), 'ohm')} at "
            f"{format_quantity(float(capture.frequency[lowest]), 'Hz')}.",
            points=tuple(int(point) for point in points),
        )


def _relative_error(z: NDArray[np.complex128], noise: Noise, error: float) -> NDArray[np.float64]:
    """|dZ / Z| for a relative error of a transmission, or an error of a reflection."""
    size, port = np.abs(z), noise.reference
    if noise.kind == "reflection":
        return np.asarray(error * np.abs(z + port) ** 2 / (2 * port * size))
    if noise.kind == "series-through":
        return np.asarray(error * np.abs(1 + 2 * port / z))
    return np.asarray(error * np.abs(1 + 2 * z / port))


_THROUGH = ("series-through", "shunt-through")


def _outside_method(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    if not isinstance(capture, Sweep) or capture.noise.kind not in ("reflection", *_THROUGH):
        return
    wrong = _relative_error(capture.impedance, capture.noise, limit["error"])
    outside = np.flatnonzero(wrong > limit["relative"])
    share = outside.size / wrong.size
    if share > limit["share"]:
        yield Sighting(
            seen=f"At {100 * share:.0f} % of the points 1 % in the S-parameter makes more than "
            f"{100 * limit['relative']:.0f} % in |Z| (up to {100 * float(wrong.max()):.2g} %).",
            points=tuple(int(point) for point in outside),
        )


def _esr_from_reflection(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    if not isinstance(capture, Sweep) or capture.noise.kind != "reflection":
        return
    z = evidence.fit.fitted
    resistance = np.maximum(z.real, 1e-300)
    error = _relative_error(z, capture.noise, limit["error"]) * np.abs(z) / resistance
    best = int(np.argmin(error))
    if error[best] > limit["relative"]:
        at = format_quantity(float(capture.frequency[best]), "Hz")
        yield Sighting(
            seen=f"1 % in the reflection makes {100 * float(error[best]):.3g} % in the "
            f"resistance even where it shows best, at {at}.",
        )


def _second_resonance(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    frequency = frequency_used(evidence)
    if frequency is None or evidence.fit.describes or frequency.size < 4 * _WINDOW:
        return
    power = np.abs(evidence.fit.residual[evidence.fit.used]) ** 2
    order = np.argsort(power)[::-1]
    few = order[: max(int(limit["part"] * power.size), 3)]
    low, high = int(few.min()), int(few.max())
    compact = high - low < limit["span"] * power.size
    if compact and power[low : high + 1].sum() > limit["share"] * power.sum():
        used = np.flatnonzero(evidence.fit.used)
        yield Sighting(
            seen=f"Most of the misfit lies between {format_quantity(float(frequency[low]), 'Hz')} "
            f"and {format_quantity(float(frequency[high]), 'Hz')}.",
            points=tuple(int(point) for point in used[low : high + 1]),
        )


_LINES = "V = I Z at the ports of a two-port between equal impedances; common practice"

CHECKS = (
    Check(
        id="sweep-too-coarse",
        level="warn",
        condition="fewer than 2 points lie in the half-power band (5 where only a magnitude is "
        "known)",
        text="Width and Q then rest on the flanks alone: read from the peak, the width of one "
        "point in the band is 27 % off, of two 10 %, of five 2 %.",
        advice="Sweep again in finer steps.",
        thresholds={"complex": 2, "magnitude": 5},
        look=_coarse,
    ),
    Check(
        id="resonance-at-edge",
        level="warn",
        condition="less than one bandwidth is covered on either side of the resonance (a note "
        "below two)",
        text="Half of the curve is extrapolated from the other half.",
        advice="Widen the sweep to two bandwidths or more on both sides.",
        thresholds={"least": 1, "enough": 2},
        look=_edge,
    ),
    Check(
        id="phase-sign",
        level="stop",
        condition="away from resonance the reactance falls with frequency over more than 70 % of "
        "its way",
        text="The reactance of a passive part rises; a coil was probably read as a capacitor.",
        advice="Invert the sign of the phase when reading the file, or check the instrument's "
        "sign convention.",
        source="R. M. Foster, A reactance theorem, Bell System Technical Journal 3 (1924) 259",
        thresholds={"share": 0.7, "pairs": 10},
        look=_phase_sign,
    ),
    Check(
        id="negative-resistance",
        level="stop",
        condition="the mean resistance of neighbouring points lies more than 5 of its standard "
        "deviations below zero",
        text="No passive part has that: ESR, Q and D from this capture mean nothing.",
        advice="Repeat open, short and load, check the phase of the channels, and look whether "
        "the right port method was chosen.",
        thresholds={"sigma": 5, "points": 3},
        look=_negative,
    ),
    Check(
        id="outside-method-range",
        level="warn",
        condition="at more than half of the points an error of 1 % in the S-parameter makes more "
        "than 10 % in |Z|",
        text="A reflection at 50 ohm resolves about 3 to 900 ohm, series-through from 11 ohm up, "
        "shunt-through up to 225 ohm.",
        advice="Use the method that suits the impedance: series-through for large, shunt-through "
        "for small.",
        source=_LINES,
        thresholds={"error": 0.01, "relative": 0.10, "share": 0.5},
        look=_outside_method,
    ),
    Check(
        id="resistance-from-reflection",
        level="warn",
        condition="an error of 1 % in the reflection makes more than 20 % in the resistance at "
        "every point",
        text="dR = |dS| (X^2 + Z0^2) / (2 Z0): L can be read this way, ESR and Q cannot.",
        advice="Take Q from a resonance or a ring-down, or measure through the part.",
        source=_LINES,
        thresholds={"error": 0.01, "relative": 0.20},
        look=_esr_from_reflection,
    ),
    Check(
        id="second-resonance",
        level="warn",
        condition="the fit does not describe the data, and four fifths of the misfit lie in one "
        "fifth of the sweep",
        text="Another resonance there, a tank nearby or the fixture, disturbs this one.",
        advice="Look at those points; leave them out, clear the surroundings, or try the circuit "
        "coupled-pair.",
        thresholds={"part": 0.05, "span": 0.2, "share": 0.8},
        look=_second_resonance,
    ),
)
