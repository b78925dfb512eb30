"""What the numbers themselves show: degrees or radians, decibels, the sign, passivity."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from benchapp.readers.axis import Run
from benchapp.readers.leap import doubt_leaps
from benchapp.readers.notes import Notes

__all__ = ["check_impedance", "check_scattering", "is_level", "phase_factor", "slope_of_phase"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

_DEGREE = math.pi / 180
_MOST_RADIANS = 2 * math.pi * 1.05


def slope_of_phase(frequency: Real, magnitude: Real, phase: Real) -> float | None:
    """Give the phase in units of what the slope of the magnitude asks for.

    A one-port without delay turns by 90 degrees for each decade per decade of magnitude:
    theta is about (pi/2) d ln|Z| / d ln f. The result is near 1 for radian, near 57 for degrees,
    negative for an inverted sign, and None where the magnitude is too flat to tell.

    Parameters
    ----------
    frequency, magnitude, phase : (N,) float
        In any order of frequency.

    Source: Bode, Network Analysis and Feedback Amplifier Design, 1945, chapter XIV
    (approximate form, from memory).
    """
    good = (frequency > 0) & (magnitude > 0) & np.isfinite(phase) & np.isfinite(magnitude)
    if good.sum() < 5:
        return None
    order = np.argsort(frequency[good], kind="stable")
    x, y = np.log(frequency[good][order]), np.log(magnitude[good][order])
    angle = phase[good][order]
    width = max(x.size // 20, 1)
    run = x[2 * width :] - x[: -2 * width]
    usable = run > 0
    if usable.sum() < 3:
        return None
    slope = (y[2 * width :] - y[: -2 * width])[usable] / run[usable]
    middle = angle[width : angle.size - width][usable]
    if np.sqrt(np.mean(slope**2)) < 0.1:
        return None
    return float(np.sum(slope * middle) / np.sum(slope**2) / (math.pi / 2))


def phase_factor(raw: Real, stated: float | None, slope: float | None, notes: Notes) -> float:
    """Give the factor from the phase as written to radian, by statement, answer or evidence.

    Parameters
    ----------
    raw : (N,) float
        Phase as written.
    stated : float or None
        Factor of the stated unit.
    slope : float or None
        Of `slope_of_phase`, with the phase as written.
    notes : Notes
    """
    answered = {"deg": _DEGREE, "rad": 1.0}.get(notes.answers.phase_unit or "")
    if answered is not None:
        return answered
    largest = float(np.nanmax(np.abs(raw), initial=0.0))
    shown = _shown_unit(largest, slope)
    if stated is not None:
        _doubt_stated(stated, shown, largest, notes)
        return stated
    if shown is not None:
        unit, reason = shown
        sure = largest > _MOST_RADIANS
        notes.assume("phase unit", unit, reason, 0.95 if sure else 0.85)
        return _DEGREE if unit == "deg" else 1.0
    notes.ask(
        "phase_unit",
        "Is the phase in degrees or in radian? It stays so small that both are possible.",
        proposed="deg",
        choices=("deg", "rad"),
    )
    return _DEGREE


def _shown_unit(largest: float, slope: float | None) -> tuple[str, str] | None:
    if largest > _MOST_RADIANS:
        return "deg", f"it reaches {largest:.4g}, more than a full turn in radian"
    if slope is not None and 0.12 < abs(slope) < 5:
        return "rad", "it fits the slope of the magnitude in radian, not in degrees"
    if slope is not None and 7 < abs(slope) < 290:
        return "deg", "it fits the slope of the magnitude in degrees, not in radian"
    if 1.4 < largest < 1.5709:
        return "rad", f"it ends at {largest:.4g}, a quarter turn in radian"
    return None


def _doubt_stated(
    stated: float, shown: tuple[str, str] | None, largest: float, notes: Notes
) -> None:
    name = "rad" if stated == 1.0 else "deg"
    if shown is None or shown[0] == name or (name == "rad" and largest > _MOST_RADIANS * 20):
        return
    notes.ask(
        "phase_unit",
        f"The heading says {name}, but the phase looks like {shown[0]}: {shown[1]}. "
        f"Which is right?",
        proposed=name,
        choices=("deg", "rad"),
    )


def is_level(raw: Real, stated: bool | None, notes: Notes) -> bool:  # noqa: FBT001
    """Tell whether a magnitude is in decibel, by statement, answer or evidence.

    Parameters
    ----------
    raw : (N,) float
        Magnitude as written.
    stated : bool or None
        Whether the file says dB (True) or linear (False), None where it says neither.
    notes : Notes
    """
    if notes.answers.level_unit is not None:
        return notes.answers.level_unit.lower() == "db"
    lowest = float(np.nanmin(raw, initial=np.inf))
    highest = float(np.nanmax(raw, initial=-np.inf))
    if stated is None:
        if lowest < 0:
            notes.assume("magnitude", "dB", f"a linear one is never negative ({lowest:.4g})", 0.9)
        else:
            notes.ask(
                "level_unit",
                "Is the magnitude in decibel or linear?",
                proposed="linear",
                choices=("dB", "linear"),
            )
        return lowest < 0
    if stated is False and lowest < 0:
        notes.ask(
            "level_unit",
            f"The heading says a linear magnitude, but it falls to {lowest:.4g}. Is it decibel?",
            proposed="dB",
            choices=("dB", "linear"),
        )
        return True
    if stated and lowest >= 0 and highest <= 1 and raw.size > 4 and highest - lowest > 0.05:
        notes.ask(
            "level_unit",
            f"The heading says decibel, but all values lie between 0 and 1 ({lowest:.3g} to "
            f"{highest:.3g}). Is the magnitude linear?",
            proposed="dB",
            choices=("dB", "linear"),
        )
    return stated


def check_impedance(run: Run, notes: Notes) -> Complex:
    """Look for what no part can do, and for an inverted sign; give the impedance as answered.

    Reactance of a part with low loss rises with frequency (Foster's reactance theorem): where it
    falls at most points, the sign of the phase is doubtful.

    Parameters
    ----------
    run : Run
        In rising order of frequency; its first column of values is the impedance in ohm.
    notes : Notes

    Source: Foster, Bell System Technical Journal 3 (1924) 259 (from memory).
    """
    impedance: Complex = run.values[:, 0]
    doubt_leaps(run, notes, relative=True)
    if notes.answers.sign == "inverted":
        return impedance.conj()
    negative = np.flatnonzero(impedance.real < -0.02 * np.abs(impedance))
    if negative.size > max(1, impedance.size // 50):
        seen = f"the resistance is negative at {negative.size} of {impedance.size} points"
        notes.assume("passive part", "doubtful", f"{seen}: check columns and calibration", 0.2)
    steep = np.abs(impedance.imag) > 3 * np.abs(impedance.real)
    both = steep[1:] & steep[:-1] & (impedance.imag[1:] * impedance.imag[:-1] > 0)
    if both.sum() >= 5 and notes.answers.sign is None:
        rising = np.diff(impedance.imag)[both] / np.abs(impedance.imag[1:][both])
        falling = int((rising < -1e-6).sum())
        if falling > 0.7 * both.sum():
            notes.ask(
                "sign",
                f"The reactance falls with frequency at {falling} of {int(both.sum())} points, "
                f"which no passive part does. Is the sign of the phase inverted?",
                proposed="as written",
                choices=("as written", "inverted"),
            )
    return impedance


def check_scattering(name: str, ratio: Complex, notes: Notes) -> None:
    """Look for an S-parameter above one, which no passive part has."""
    size = np.abs(ratio[np.isfinite(ratio)])
    largest = float(size.max(initial=0.0))
    if largest > 1.05:
        notes.assume(
            f"|{name}|",
            f"up to {largest:.4g}",
            "a passive part never reflects or passes more than 1: check dB, linear and format",
            0.3,
        )
