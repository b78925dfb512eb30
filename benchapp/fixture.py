"""What a fixture, a cable, a probe and a source do to a reading, and how to take it away.

Every correction gives a new capture with one more `Step` in its history; the raw capture stays.
Nothing is extrapolated, and compensation data are interpolated only where they are smooth enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray, Response, Step, Sweep
from benchapp.errors import CaptureError
from benchapp.units import Estimate, format_quantity

__all__ = [
    "RULE",
    "Compensation",
    "Validity",
    "added_capacitor",
    "compensate",
    "compensated_uncertainty",
    "drift",
    "open_short",
    "two_probes",
    "validity",
    "without_delay",
    "without_probe",
    "without_series_resistance",
]

RULE = 100.0  # open above, short below the part by this factor (common practice)
SMOOTH = 1e-3  # greatest error of |Z| that interpolating compensation data may cause
TWO_PI = 2 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compensation:
    """Readings of the empty fixture, of the shorted one, and of a known load in it.

    ``load_value`` is the load's true impedance in ohm, one number or one for each frequency of
    ``load``. What was not done is None.
    """

    opened: Sweep | None = None
    shorted: Sweep | None = None
    load: Sweep | None = None
    load_value: complex | ComplexArray | None = None

    def __post_init__(self) -> None:
        if self.opened is None and self.shorted is None:
            raise CaptureError(
                "compensation: must have an open or a short reading (got neither).",
                hint="Measure the empty fixture, then the shorted one.",
            )
        complete = self.opened is not None and self.shorted is not None
        if (self.load is None) != (self.load_value is None) or (
            self.load is not None and not complete
        ):
            raise CaptureError(
                "compensation: a load must come with its true value, and with open and short "
                "(got only part of them).",
                hint="Give all of open, short, load and its value, or leave the load out.",
            )

    @property
    def words(self) -> str:
        """Name what was done: ``open, short``."""
        done = (("open", self.opened), ("short", self.shorted), ("load", self.load))
        return ", ".join(name for name, sweep in done if sweep is not None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Validity:
    """The rule of 100 over frequency.

    ``open_ratio`` is open over part and ``short_ratio`` part over short, each (N,), None where
    that was not done; ``valid`` (N,) marks where both are above 100. Elsewhere the compensation
    may double the error instead of removing it.
    """

    frequency: FloatArray
    open_ratio: FloatArray | None
    short_ratio: FloatArray | None
    valid: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Standards:
    """Compensation data at the frequencies of a sweep: what was not done is ideal."""

    opened: ComplexArray | None
    shorted: ComplexArray
    load: ComplexArray | None = None
    value: ComplexArray | None = None
    interpolated: bool = field(default=False)


def compensate(sweep: Sweep, compensation: Compensation) -> Sweep:
    """Take the fixture away from a sweep.

    Parameters
    ----------
    sweep : Sweep
    compensation : Compensation
        At the sweep's own frequencies; other ones are interpolated between where the data allow.

    Returns
    -------
    Sweep
        With one more step that says what was done and what it changed.

    Raises
    ------
    CaptureError
        When the compensation does not reach over the sweep, or is too coarse to interpolate.

    Notes
    -----
    Without load: Z = (Zm - Zs)/(1 - (Zm - Zs)/(Zo - Zs)), exact for leads in series with strays
    across the part. With load: Z = Zl (Zo - Zlm)(Zm - Zs)/((Zlm - Zs)(Zo - Zm)), exact for any
    linear two-port between instrument and part, a cable included.

    Source: open/short/load compensation of impedance meters (common practice); both follow from
    the bilinear map of a two-port.
    """
    at = _standards(sweep, compensation)
    measured = sweep.impedance
    if at.load is not None and at.opened is not None and at.value is not None:
        corrected = (
            at.value
            * (at.opened - at.load)
            * (measured - at.shorted)
            / ((at.load - at.shorted) * (at.opened - measured))
        )
    elif at.opened is not None:
        rest = measured - at.shorted
        corrected = rest / (1 - rest / (at.opened - at.shorted))
    else:
        corrected = measured - at.shorted
    note = "interpolated" if at.interpolated else "at its own frequencies"
    return _changed(sweep, corrected, "compensation", f"{compensation.words}, {note}")


def compensated_uncertainty(
    sweep: Sweep, compensation: Compensation, relative: float
) -> FloatArray:
    """Give the standard uncertainty of a compensated sweep that comes from noise.

    Parameters
    ----------
    sweep : Sweep
        As measured.
    compensation : Compensation
        With open and short; a load as well where there is one.
    relative : float
        Rms complex relative error of every reading, of part and of standards alike.

    Returns
    -------
    (N,) float, ohm
        Rms complex error.

    Raises
    ------
    CaptureError
        Without open and short, and as for `compensate`.

    Notes
    -----
    d ln Z by each reading, from the formula of `compensate`; the true value of the load counts
    as exact.

    Source: law of propagation, JCGM 100:2008 clause 5.1.
    """
    at = _standards(sweep, compensation)
    if at.opened is None or compensation.shorted is None:
        raise CaptureError(
            "uncertainty of a compensation: must have open and short (got one of them).",
            hint="Measure the other one too.",
        )
    above, below = at.opened - sweep.impedance, sweep.impedance - at.shorted
    whole = at.opened - at.shorted
    load = at.load
    slopes = [(sweep.impedance, 1 / below + 1 / above)]
    if load is None:
        slopes.append((at.opened, 1 / whole - 1 / above))
        slopes.append((at.shorted, -1 / below + 1 / whole))
    else:
        slopes.append((at.opened, 1 / (at.opened - load) - 1 / above))
        slopes.append((at.shorted, -1 / below + 1 / (load - at.shorted)))
        slopes.append((load, -1 / (at.opened - load) - 1 / (load - at.shorted)))
    squares = sum(np.abs(reading * slope) ** 2 for reading, slope in slopes)
    corrected = compensate(sweep, compensation).impedance
    return np.asarray(relative * np.sqrt(squares) * np.abs(corrected))


def validity(sweep: Sweep, compensation: Compensation) -> Validity:
    """Hold the rule of 100 against a sweep: open above, short below the part by that factor.

    Raises
    ------
    CaptureError
        As for `compensate`.

    Notes
    -----
    Source: common practice of impedance meters.
    """
    at = _standards(sweep, compensation)
    part = np.abs(compensate(sweep, compensation).impedance)
    opened = None if at.opened is None else np.abs(at.opened) / part
    shorted = None
    if compensation.shorted is not None:
        shorted = part / np.maximum(np.abs(at.shorted), np.finfo(float).tiny)
    valid = np.ones(part.shape, dtype=np.bool_)
    for ratio in (opened, shorted):
        valid &= True if ratio is None else ratio > RULE
    return Validity(frequency=sweep.frequency, open_ratio=opened, short_ratio=shorted, valid=valid)


def drift(before: Compensation, again: Compensation, sweep: Sweep) -> FloatArray:
    """Tell how much a part's |Z| would change if the fixture were nulled again.

    Parameters
    ----------
    before, again : Compensation
        The one in use, and a re-check of the same fixture.
    sweep : Sweep
        A part as measured.

    Returns
    -------
    (N,) float
        Relative change of |Z|.

    Raises
    ------
    CaptureError
        As for `compensate`.
    """
    first, second = (np.abs(compensate(sweep, each).impedance) for each in (before, again))
    return np.asarray(second / first - 1)


def without_delay(capture: Sweep | Response, delay: float) -> Sweep | Response:
    """Take away a lossless matched line of a one-way delay in s in front of the part.

    Parameters
    ----------
    capture : Sweep or Response
        A response must be a reflection or transmission; a sweep is turned as a reflection at the
        port impedance of its noise.
    delay : float, s

    Notes
    -----
    A reflection passes the line twice: S exp(+j 4 pi f delay); a transmission once per port:
    the same factor where both ports have the line.

    Source: transmission-line theory (common practice).
    """
    turn = np.exp(2j * TWO_PI * capture.frequency * delay)
    if isinstance(capture, Response):
        if capture.kind == "gain" or not capture.has_phase:
            raise CaptureError(
                f"port delay: needs an S-parameter with phase (got {capture.kind}"
                f"{'' if capture.has_phase else ' without phase'}).",
                hint="Save reflection or transmission with its phase.",
            )
        detail = f"{format_quantity(delay, 's')} one way"
        moved: Response = capture.with_step(
            Step(name="port delay", detail=detail), ratio=capture.ratio * turn
        )
        return moved
    reference = capture.noise.reference
    gamma = (capture.impedance - reference) / (capture.impedance + reference) * turn
    corrected = reference * (1 + gamma) / (1 - gamma)
    detail = f"{format_quantity(delay, 's')} one way at {format_quantity(reference, 'ohm')}"
    return _changed(capture, corrected, "port delay", detail)


def without_probe(sweep: Sweep, *, farad: float, ohm: float = math.inf) -> Sweep:
    """Take away a probe, or any known load, that lay across the part.

    Parameters
    ----------
    sweep : Sweep
    farad : float, F
    ohm : float

    Notes
    -----
    1/Z = 1/Zm - j 2 pi f C - 1/R. Source: common practice.
    """
    load = 1 / ohm + 1j * TWO_PI * sweep.frequency * farad
    corrected = np.asarray(1 / (1 / sweep.impedance - load), dtype=np.complex128)
    words = [format_quantity(farad, "F")]
    if math.isfinite(ohm):
        words.append(format_quantity(ohm, "ohm"))
    return _changed(sweep, corrected, "probe", " and ".join(words) + " across the part")


def without_series_resistance(sweep: Sweep, ohm: float) -> Sweep:
    """Take away a source or sense resistance that was measured in line with the part."""
    detail = f"{format_quantity(ohm, 'ohm')} in line with the part"
    return _changed(sweep, sweep.impedance - ohm, "series resistance", detail)


def two_probes(one: Estimate, two: Estimate) -> Estimate:
    """Give the resonance without a probe from those with one probe and with two equal ones.

    Raises
    ------
    CaptureError
        When the second probe did not lower the resonance.

    Notes
    -----
    1/f0^2 = 2/f1^2 - 1/f2^2, because each probe adds the same to L C.

    Source: common practice; follows from f = 1/(2 pi sqrt(LC)).
    """
    f1, f2 = one.value, two.value
    inverse = 2 / f1**2 - 1 / f2**2
    if not f2 < f1 or inverse <= 0:
        raise CaptureError(
            f"two probes: the second must lower the resonance a little (got {f1:.6g} Hz with one "
            f"and {f2:.6g} Hz with two).",
            hint="Use two equal probes at the same setting, and measure again.",
        )
    f0 = inverse**-0.5
    u = _combined((2 * f0**3 / f1**3, one.u), (f0**3 / f2**3, two.u))
    return Estimate(name="f0", value=f0, u=u, unit="Hz")


def added_capacitor(
    without: Estimate, loaded: Estimate, capacitor: Estimate
) -> tuple[Estimate, Estimate]:
    """Give L and C of a tank or coil from its resonance without and with a known capacitor.

    Returns
    -------
    Estimate, H
    Estimate, F

    Raises
    ------
    CaptureError
        When the capacitor did not lower the resonance.

    Notes
    -----
    L = (1/f2^2 - 1/f1^2)/(4 pi^2 Ca), C = Ca f2^2/(f1^2 - f2^2).

    Source: common practice; follows from f = 1/(2 pi sqrt(LC)).
    """
    f1, f2, ca = without.value, loaded.value, capacitor.value
    if not 0 < f2 < f1 or ca <= 0:
        raise CaptureError(
            f"added capacitor: must lower the resonance (got {f1:.6g} Hz without and {f2:.6g} Hz "
            f"with {ca:.3g} F).",
            hint="Put it across the tank, and measure again.",
        )
    fall = f1**2 - f2**2
    inductance = fall / (f1**2 * f2**2 * TWO_PI**2 * ca)
    capacitance = ca * f2**2 / fall
    u_l = _combined(
        (inductance * 2 * f2**2 / (f1 * fall), without.u),
        (inductance * 2 * f1**2 / (f2 * fall), loaded.u),
        (inductance / ca, capacitor.u),
    )
    u_c = _combined(
        (capacitance * 2 * f1 / fall, without.u),
        (capacitance * 2 * f1**2 / (f2 * fall), loaded.u),
        (capacitance / ca, capacitor.u),
    )
    return (
        Estimate(name="L", value=inductance, u=u_l, unit="H"),
        Estimate(name="C", value=capacitance, u=u_c, unit="F"),
    )


def open_short(
    measured: ComplexArray, opened: ComplexArray, shorted: ComplexArray
) -> ComplexArray:
    """Take pads and leads away from a two-port.

    Parameters
    ----------
    measured, opened, shorted : (N, 2, 2) complex, S
        Admittance matrices of the part in its fixture, of the fixture without it, and of the
        fixture with a short in its place.

    Returns
    -------
    (N, 2, 2) complex, S

    Notes
    -----
    Y = ((Ym - Yo)^-1 - (Ys - Yo)^-1)^-1, computed as (Ys - Yo)(Ys - Ym)^-1 (Ym - Yo), which
    keeps the digits where the series part is nearly singular.

    Source: M. C. A. M. Koolen, J. A. M. Geelen, M. P. J. G. Versleijen, IEEE BCTM 1991, 188-191
    (from memory); the general form is common practice.
    """
    return np.asarray((shorted - opened) @ np.linalg.solve(shorted - measured, measured - opened))


def _changed(sweep: Sweep, corrected: ComplexArray, name: str, what: str) -> Sweep:
    """Give the corrected sweep, with a step that tells the greatest change."""
    change = np.abs(corrected / sweep.impedance - 1)
    place = int(np.argmax(change))
    before, after = abs(sweep.impedance[place]), abs(corrected[place])
    detail = (
        f"{what}; greatest change of Z {change[place]:.2%} at "
        f"{format_quantity(float(sweep.frequency[place]), 'Hz')}: |Z| "
        f"{format_quantity(float(before), 'ohm')} became {format_quantity(float(after), 'ohm')}"
    )
    changed: Sweep = sweep.with_step(Step(name=name, detail=detail), impedance=corrected)
    return changed


def _standards(sweep: Sweep, compensation: Compensation) -> _Standards:
    opened, shorted, load = compensation.opened, compensation.shorted, compensation.load
    given = [each for each in (opened, shorted, load) if each is not None]
    value = compensation.load_value
    if load is not None and value is not None:
        spread = np.broadcast_to(np.asarray(value, dtype=np.complex128), load.frequency.shape)
        value = _at(sweep, load.frequency, spread, "load", admittance=False)
    return _Standards(
        opened=None if opened is None else _reading(sweep, opened, "open", admittance=True),
        shorted=np.zeros_like(sweep.impedance)
        if shorted is None
        else _reading(sweep, shorted, "short", admittance=False),
        load=None if load is None else _reading(sweep, load, "load", admittance=False),
        value=None if value is None else np.asarray(value),
        interpolated=any(not _same_grid(sweep, each.frequency) for each in given),
    )


def _same_grid(sweep: Sweep, frequency: FloatArray) -> bool:
    same_size = frequency.size == sweep.frequency.size
    return same_size and bool(np.allclose(frequency, sweep.frequency, rtol=1e-6, atol=0))


def _reading(sweep: Sweep, standard: Sweep, name: str, *, admittance: bool) -> ComplexArray:
    return _at(sweep, standard.frequency, standard.impedance, name, admittance=admittance)


def _at(
    sweep: Sweep, frequency: FloatArray, impedance: ComplexArray, name: str, *, admittance: bool
) -> ComplexArray:
    """Give compensation data at the sweep's frequencies.

    Real part and reactance over frequency are interpolated: resistance and inductance of a
    short, conductance and capacitance of an open are nearly constant.
    """
    if _same_grid(sweep, frequency):
        return impedance
    low, high = frequency[0] * (1 - 1e-9), frequency[-1] * (1 + 1e-9)
    if sweep.frequency[0] < low or sweep.frequency[-1] > high:
        raise CaptureError(
            f"{name} compensation: must reach over the sweep, from "
            f"{format_quantity(float(sweep.frequency[0]), 'Hz')} to "
            f"{format_quantity(float(sweep.frequency[-1]), 'Hz')} (got "
            f"{format_quantity(float(frequency[0]), 'Hz')} to "
            f"{format_quantity(float(frequency[-1]), 'Hz')}).",
            hint="Null the fixture over the whole sweep; nothing is extrapolated.",
        )
    stored = 1 / impedance if admittance else impedance
    _smooth(sweep, frequency, stored, name, admittance=admittance)
    found = _between(sweep.frequency, frequency, stored)
    return 1 / found if admittance else found


def _between(at: FloatArray, frequency: FloatArray, stored: ComplexArray) -> ComplexArray:
    real = np.interp(at, frequency, stored.real)
    slope = np.interp(at, frequency, stored.imag / frequency)
    return np.asarray(real + 1j * slope * at)


def _smooth(
    sweep: Sweep, frequency: FloatArray, stored: ComplexArray, name: str, *, admittance: bool
) -> None:
    """Refuse to interpolate where leaving a point out would change the part too much.

    The error of linear interpolation at a left-out point is four times that between neighbours.
    """
    inner = frequency[1:-1]
    guessed = np.array(
        [
            _between(inner[i : i + 1], frequency[[i, i + 2]], stored[[i, i + 2]])[0]
            for i in range(inner.size)
        ]
    )
    part = np.abs(_between(inner, sweep.frequency, sweep.impedance)) if inner.size else inner
    miss = np.abs(guessed - stored[1:-1]) / 4
    error = miss * part if admittance else miss / np.maximum(part, np.finfo(float).tiny)
    covered = (inner >= sweep.frequency[0]) & (inner <= sweep.frequency[-1])
    worst = float(np.max(error[covered], initial=0.0))
    if inner.size < 3 or worst > SMOOTH:
        raise CaptureError(
            f"{name} compensation: must be dense enough to interpolate within {SMOOTH:.1%} (got "
            f"{frequency.size} points, error {worst:.1%}).",
            hint="Null the fixture at the frequencies of the sweep.",
        )


def _combined(*parts: tuple[float, float | None]) -> float | None:
    if any(u is None for _, u in parts):
        return None
    return math.sqrt(sum((slope * (u or 0.0)) ** 2 for slope, u in parts))
