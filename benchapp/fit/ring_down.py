"""Fit the free decay of a tank in a scope record: f0, Q and tau, and L and R where C is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray, Transient
from benchapp.errors import FitError
from benchapp.fit.clipping import Rails, rails
from benchapp.fit.codes import codes
from benchapp.fit.decay import Burst, Decay, bend, solve, swing
from benchapp.fit.honesty import LIMIT, whiteness
from benchapp.fit.onset import around, settle
from benchapp.fit.opinion import opinions
from benchapp.fit.result import Fit, Remark
from benchapp.fit.trigger import Span, find, in_doubt, take
from benchapp.units import Estimate, format_quantity

__all__ = ["fit_ring_down"]

BoolArray = NDArray[np.bool_]

TWO_PI = 2 * math.pi

_FEWEST = 24
_ROUNDS = 4
_BENT = 25.0  # chi square (2 degrees of freedom) of a changing rate or frequency: 4e-6 by chance
_SWINGS = 30.0  # chi square (4 degrees of freedom) by which a decay must beat a constant
_ALIKE = 4.0  # normal score of the correlation of neighbours
_LINE = 13.0  # of a spectral line over its mean, above ln(lines): 2e-6 by chance
_DITHERED = 0.35  # noise in converter steps above which the steps look like noise
_FINE = 4.0  # converter steps of amplitude below which they do not


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    """All bursts fitted together."""

    spans: tuple[Span, ...]
    kept: BoolArray
    bursts: tuple[Burst, ...]
    decay: Decay
    ends: Rails


def fit_ring_down(
    capture: Transient,
    *,
    fix: Mapping[str, Estimate] | None = None,
    band: tuple[float, float] | None = None,
    set_aside: Collection[int] = (),
) -> Fit:
    """Fit the free decay in a record; the trigger instant and the bursts are found.

    Parameters
    ----------
    capture : Transient
    fix : mapping, optional
        'C': the capacitance in F, then L and the series R follow; or 'L' in H, then C and R.
    band : (float, float), Hz, optional
        Where to look for the frequency, if another swing is stronger.
    set_aside : collection of int, optional
        Samples (0-based) that are not to be used.

    Returns
    -------
    Fit
        Circuit 'ring-down' with f0 (undamped), Q and tau. ``fitted`` holds the curve in V (the
        offset outside the bursts), ``noise`` is the rms residual over the largest amplitude.

    Raises
    ------
    FitError
        When there are too few samples or something is to be held that is no part of this.

    Notes
    -----
    v = exp(-t/tau) (a cos wd t + b sin wd t) + c, by least squares of the samples, with its own
    a, b, c for each burst. 1/tau = alpha, w0^2 = wd^2 + alpha^2, Q = w0/(2 alpha) = pi f0 tau,
    hence fd = f0 sqrt(1 - 1/(4 Q^2)). With C: L = 1/(w0^2 C), R = 2 L/tau. Samples that the
    converter cut off are set aside by the voltage expected, not by their own. Where rate or
    frequency change along the decay, the fit does not describe the data.

    Source: second-order linear circuit, common practice; D. C. Rife, R. R. Boorstyn, IEEE
    Transactions on Information Theory 20 (1974) 591-598 for the spectral start.
    """
    known = _checked(fix or {})
    trusted = np.ones(capture.time.size, dtype=np.bool_)
    trusted[list(set_aside)] = False
    part = replace(capture, time=capture.time[trusted], voltage=capture.voltage[trusted])
    _long_enough(part, band)
    found = find(part.time, part.voltage, rails(part), band)
    if found is None:
        return _nothing(capture, known)
    fit = _conclude(capture, _placed(_together(part, *found), trusted), known)
    return replace(fit, opinions=opinions(capture, fit))


def _checked(fix: Mapping[str, Estimate]) -> Mapping[str, Estimate]:
    for name, estimate in fix.items():
        if name not in _HELD:
            raise FitError(
                f"known element: must be one of {', '.join(_HELD)} for a ring-down (got {name}).",
                hint="Give the capacitance that the coil rings with.",
            )
        if not estimate.value > 0:
            raise FitError(
                f"known element {name}: must be above zero (got {estimate.value:g}).",
                hint="Give the value with its unit, for example 868 pF.",
            )
    if len(fix) > 1:
        raise FitError(
            "known elements: must be C or L, not both (got both).",
            hint="A ring-down finds the other one.",
        )
    return fix


def _long_enough(capture: Transient, band: tuple[float, float] | None) -> None:
    if capture.time.size < _FEWEST:
        raise FitError(
            f"record: must have at least {_FEWEST} samples for a ring-down "
            f"(got {capture.time.size}).",
            hint="Record some periods with ten samples or more in each.",
        )
    if band is not None and not 0 <= band[0] < band[1]:
        raise FitError(
            f"band: must rise from its first to its second frequency "
            f"(got {band[0]:g} to {band[1]:g} Hz).",
            hint="Give the lower frequency first.",
        )


def _together(capture: Transient, spans: tuple[Span, ...], start: Decay) -> _Solved:
    """Fit all bursts with one rate and frequency, clipped samples set aside."""
    time, voltage, ends = capture.time, capture.voltage, rails(capture)
    kept = ~ends.reached(voltage)
    decay = start
    for _ in range(_ROUNDS):
        bursts = tuple(take(time, voltage, span, kept) for span in spans)
        decay = solve(bursts, decay.rate, decay.omega)
        expected = _curve(time, spans, bursts, decay)
        ends = ends.confirmed(expected, voltage, decay.noise)
        again = ~(ends.beyond(expected, decay.noise) | ends.reached(voltage))
        fewest = min(np.count_nonzero(again[span.start : span.stop]) for span in spans)
        if np.array_equal(again, kept) or fewest < _FEWEST // 2:
            break
        kept = again
    solved = _Solved(spans=spans, kept=kept, bursts=bursts, decay=decay, ends=ends)
    return replace(solved, decay=_settled(capture, solved))


def _settled(capture: Transient, solved: _Solved) -> Decay:
    """Use what codes and clipped samples tell, and leave the first sample open."""
    decay, time = solved.decay, capture.time
    if not (decay.converged and decay.rate > 0):
        return decay
    step = _step(capture)
    known = step if step < math.inf else None
    seen = codes(capture.voltage, solved.ends, decay.noise, known, solved.kept)
    interval = float(np.median(np.diff(time)))
    period, onsets, first = TWO_PI / decay.omega / interval, [], 0
    for span in solved.spans:
        doubt = in_doubt(capture.voltage, solved.ends, span, period, decay.rate * interval)
        onsets.append(around((span.start, span.stop), doubt, first, seen))
        first = span.stop
    origins = [float(burst.time[0]) for burst in solved.bursts]
    return settle(time, seen, onsets, origins, decay)


def _placed(solved: _Solved, trusted: BoolArray) -> _Solved:
    """Give spans and kept samples their places in the whole record."""
    places = np.flatnonzero(trusted)
    kept = np.zeros(trusted.size, dtype=np.bool_)
    kept[places] = solved.kept
    spans = tuple(
        Span(start=int(places[span.start]), stop=int(places[span.stop - 1]) + 1)
        for span in solved.spans
    )
    return replace(solved, spans=spans, kept=kept)


def _curve(
    time: FloatArray, spans: tuple[Span, ...], bursts: tuple[Burst, ...], decay: Decay
) -> FloatArray:
    """Give the curve at every sample: the decay within the spans, the offset before them."""
    expected = np.full(time.size, float(decay.linear[-1][2]))
    start = 0
    for place, (span, burst) in enumerate(zip(spans, bursts, strict=True)):
        expected[start : span.start] = decay.linear[place][2]
        part = slice(span.start, span.stop)
        expected[part] = swing(decay, place, time[part] - burst.time[0])
        start = span.stop
    return expected


def _nothing(capture: Transient, known: Mapping[str, Estimate]) -> Fit:
    """Answer for a record in which nothing swings."""
    size = capture.time.size
    more = tuple(value.name for name in known for value in _HELD[name](1.0, 1.0, 1.0))
    return Fit(
        kind="transient",
        circuit="ring-down",
        digest=capture.digest,
        elements=("fd", "alpha", *known),
        values=np.array([0.0, 0.0, *(estimate.value for estimate in known.values())]),
        covariance=np.zeros((2 + len(known), 2 + len(known))),
        fixed=tuple(known),
        results=(),
        undetermined=("f0", "Q", "tau", *more),
        describes=False,
        converged=False,
        noise=None,
        dof=0,
        used=np.zeros(size, dtype=np.bool_),
        fitted=np.full(size, capture.voltage.mean(), dtype=np.complex128),
        residual=np.zeros(size, dtype=np.complex128),
        remarks=(Remark(name="no ring-down", text="Nothing in this record swings and decays."),),
    )


def _conclude(capture: Transient, solved: _Solved, known: Mapping[str, Estimate]) -> Fit:
    """Put a fitted decay into words."""
    decay, noise_only = solved.decay, _is_noise(capture, solved)
    bent, change = bend(decay, solved.bursts)
    swings, straight = _swings(solved), bent <= _BENT
    results, undetermined = _results(decay, known)
    if not swings:
        undetermined = (*(estimate.name for estimate in results), *undetermined)
        results = ()
    fitted = _curve(capture.time, solved.spans, solved.bursts, decay)
    inside = np.zeros(capture.time.size, dtype=np.bool_)
    for span in solved.spans:
        inside[span.start : span.stop] = True
    cut = solved.ends.reached(capture.voltage) | solved.ends.beyond(fitted, decay.noise)
    clipped = tuple(int(point) for point in np.flatnonzero(inside & cut))
    elements, values, covariance = _elements(decay, known)
    return Fit(
        kind="transient",
        circuit="ring-down",
        digest=capture.digest,
        elements=elements,
        values=values,
        covariance=covariance,
        fixed=tuple(known),
        results=results,
        undetermined=undetermined,
        describes=decay.converged and noise_only and straight and swings,
        converged=decay.converged,
        noise=decay.noise / max(math.hypot(factors[0], factors[1]) for factors in decay.linear),
        dof=decay.dof,
        used=inside & solved.kept,
        fitted=fitted.astype(np.complex128),
        residual=((capture.voltage - fitted) / decay.noise).astype(np.complex128),
        remarks=_remarks(
            capture,
            solved,
            None if straight else change,
            clipped=clipped,
            noise=noise_only,
            swings=swings,
        ),
    )


def _elements(
    decay: Decay, known: Mapping[str, Estimate]
) -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    """Damped frequency in Hz and decay rate in 1/s, and what was held."""
    held = list(known.values())
    values = np.array([decay.omega / TWO_PI, decay.rate, *(entry.value for entry in held)])
    covariance = np.zeros((values.size, values.size))
    order = np.ix_([1, 0], [1, 0])
    covariance[:2, :2] = decay.covariance[order] / np.array([[TWO_PI**2, TWO_PI], [TWO_PI, 1.0]])
    for place, entry in enumerate(held, start=2):
        covariance[place, place] = (entry.u or 0.0) ** 2
    return ("fd", "alpha", *known), values, covariance


def _remarks(
    capture: Transient,
    solved: _Solved,
    change: float | None,
    *,
    clipped: tuple[int, ...],
    noise: bool,
    swings: bool,
) -> tuple[Remark, ...]:
    """Say which part of the record was used and what speaks against the result."""
    if not swings:
        text = "Nothing in this record swings and decays clearly above the noise."
        return (Remark(name="no ring-down", text=text),)
    remarks = [_window(capture, solved)]
    if clipped:
        text = f"{len(clipped)} samples at the end of the range were set aside as clipped."
        remarks.append(Remark(name="clipped", text=text, points=clipped))
    if solved.decay.rate <= 3 * math.sqrt(max(float(solved.decay.covariance[0, 0]), 0.0)):
        text = "The swing hardly falls within the record: a longer one is needed for Q."
        remarks.append(Remark(name="steady", text=text))
    if change is not None:
        text = (
            f"The decay is not even: its rate changes by {change:+.1%} over the first time "
            "constant. Q depends on the amplitude, or there are two swings; a smaller amplitude "
            "or a shorter part of the record would tell."
        )
        remarks.append(Remark(name="uneven decay", text=text))
    elif not noise:
        text = "The residuals are not noise: another signal or a second swing is in the record."
        remarks.append(Remark(name="residuals", text=text))
    return tuple(remarks)


def _window(capture: Transient, solved: _Solved) -> Remark:
    first = solved.spans[0]
    start = format_quantity(float(capture.time[first.start]), "s")
    longest = max(float(burst.time[-1] - burst.time[0]) for burst in solved.bursts)
    count = len(solved.spans)
    bursts = "one burst" if count == 1 else f"{count} bursts, fitted together"
    text = (
        f"The free decay begins at {start} and is followed for "
        f"{longest * max(solved.decay.rate, 0.0):.2g} time constants; {bursts}."
    )
    return Remark(name="window", text=text)


def _step(capture: Transient) -> float:
    """Give the converter's step: as stated, or the smallest distance of two samples."""
    if capture.step_volt is not None:
        return capture.step_volt
    levels = np.unique(capture.voltage)
    return float(np.min(np.diff(levels), initial=math.inf))


def _is_noise(capture: Transient, solved: _Solved) -> bool:
    """Look for structure in the residuals, where steps of the converter cannot make it.

    Neighbours must not be alike, and no line may stand out of the spectrum (Fisher's test). The
    number of runs says nothing here: few levels of the converter make the signs uneven.
    """
    decay, step = solved.decay, _step(capture)
    rest = decay.residual
    if decay.noise < _DITHERED * step < math.inf:
        height = [
            math.hypot(factors[0], factors[1]) * np.exp(-decay.rate * (burst.time - burst.time[0]))
            for burst, factors in zip(solved.bursts, decay.linear, strict=True)
        ]
        rest = rest[np.concatenate(height) > _FINE * step]
    if rest.size < _FEWEST or float(rest @ rest) < 0.5 * rest.size * decay.noise**2:
        return True
    half = rest.size // 2
    alike = whiteness(rest[:half] + 1j * rest[half : 2 * half]).lag_one
    power = np.abs(np.fft.rfft(rest)[1:-1]) ** 2
    line = float(power.max() / max(power.mean(), 1e-300)) - math.log(power.size)
    return alike <= _ALIKE and line <= _LINE


def _swings(solved: _Solved) -> bool:
    """Whether a decaying swing explains the samples clearly better than constants do."""
    rest = solved.decay.residual
    plain = sum(float(np.sum((b.voltage - b.voltage.mean()) ** 2)) for b in solved.bursts)
    power = max(float(rest @ rest), 1e-300)
    return rest.size * math.log(max(plain, 1e-300) / power) > _SWINGS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Value:
    """A result with its gradient by (rate, omega, known element)."""

    name: str
    value: float
    gradient: tuple[float, float, float]
    unit: str


def _basic(rate: float, omega: float) -> tuple[_Value, ...]:
    w0 = math.hypot(rate, omega)
    steep = (-(omega**2) / (2 * rate**2 * w0), omega / (2 * rate * w0), 0.0)
    return (
        _Value(name="f0", value=w0 / TWO_PI, unit="Hz",
               gradient=(rate / w0 / TWO_PI, omega / w0 / TWO_PI, 0.0)),
        _Value(name="Q", value=w0 / (2 * rate), unit="1", gradient=steep),
        _Value(name="tau", value=1 / rate, unit="s", gradient=(-1 / rate**2, 0.0, 0.0)),
    )  # fmt: skip


def _other(rate: float, omega: float, known: float) -> tuple[float, tuple[float, float, float]]:
    """1/(w0^2 known) and its gradient: the inductance to a capacitance, or the other way."""
    square = rate**2 + omega**2
    value = 1 / (square * known)
    gradient = (-2 * rate / square * value, -2 * omega / square * value, -value / known)
    return value, gradient


def _with_capacitance(rate: float, omega: float, C: float) -> tuple[_Value, ...]:
    L, by = _other(rate, omega, C)
    slope = (2 * L + 2 * rate * by[0], 2 * rate * by[1], 2 * rate * by[2])
    return (
        _Value(name="L", value=L, gradient=by, unit="H"),
        _Value(name="R", value=2 * rate * L, gradient=slope, unit="ohm"),
    )


def _with_inductance(rate: float, omega: float, L: float) -> tuple[_Value, ...]:
    C, by = _other(rate, omega, L)
    return (
        _Value(name="C", value=C, gradient=by, unit="F"),
        _Value(name="R", value=2 * rate * L, gradient=(2 * L, 0.0, 2 * rate), unit="ohm"),
    )


_HELD: dict[str, Callable[[float, float, float], tuple[_Value, ...]]] = {
    "C": _with_capacitance,
    "L": _with_inductance,
}


def _results(
    decay: Decay, known: Mapping[str, Estimate]
) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    """Tell what the data determine and what not."""
    if decay.rate <= 0:
        return _only_frequency(decay, known)
    values = _basic(decay.rate, decay.omega)
    covariance = np.zeros((3, 3))
    covariance[:2, :2] = decay.covariance
    for name, estimate in known.items():
        covariance[2, 2] = (estimate.u or 0.0) ** 2
        values += _HELD[name](decay.rate, decay.omega, estimate.value)
    found, missing = [], []
    for value in values:
        gradient = np.array(value.gradient)
        u = math.sqrt(max(float(gradient @ covariance @ gradient), 0.0))
        if u <= LIMIT * value.value:
            found.append(Estimate(name=value.name, value=value.value, u=u, unit=value.unit))
        else:
            missing.append(value.name)
    return tuple(found), tuple(missing)


def _only_frequency(
    decay: Decay, known: Mapping[str, Estimate]
) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    """Give the frequency of a swing that does not fall within the record."""
    u = math.sqrt(max(float(decay.covariance[1, 1]), 0.0)) / TWO_PI
    f0 = Estimate(name="f0", value=decay.omega / TWO_PI, u=u, unit="Hz")
    more = tuple(value.name for name in known for value in _HELD[name](1.0, 1.0, 1.0))
    return (f0,), ("Q", "tau", *more)
