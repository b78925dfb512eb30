"""The instrument's part of the uncertainty, carried through the fit.

A fit with weights W solves Re(J* W r) = 0. A small systematic change d of ln Z at the points used
therefore moves the fitted elements by

    dp = (J' W J)^-1 J' W d        (real and imaginary parts stacked),

exactly to first order. Each stated bound becomes one or more such changes of unit size, times its
standard uncertainty; they add to the covariance of the fit as u^2 dp dp', so that every quantity
that follows from the elements gets its combined uncertainty with all correlations.

Source: JCGM 100:2008, 5.1.2 and 5.2.2, with F.1.2.3 (common systematic effects as correlation),
applied to the normal equations of the fit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Sweep
from benchapp.circuit import Circuit
from benchapp.fit import Fit, quantity
from benchapp.fit.departure import departure
from benchapp.fit.honesty import whiteness
from benchapp.fit.quantity import circuit_of
from benchapp.uncertainty.accuracy import Accuracy, Stated
from benchapp.uncertainty.budget import Budget, Term
from benchapp.units import Estimate

__all__ = ["budget", "combine", "described", "holds", "response"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_STEP = 1e-7  # of the frequency, far below the width of any resonance
_HUGE = 1e100  # no slope of a part that was measured comes near it
_SMALL = 1e-6  # keeps a probing covariance within the limit at which no value is given
_TIME_BASE = MappingProxyType(
    {"f0": 1.0, "SRF": 1.0, "BW": 1.0, "tau": -1.0, "L": -2.0, "R": -1.0}
)
"""Powers of the frequency in the results of a ring-down or response (L and R from a known C)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """The points that a fit used: frequency (N,), model (N,) ohm, circuit and its values."""

    frequency: FloatArray
    model: ComplexArray
    circuit: Circuit
    values: FloatArray

    @property
    def omega(self) -> FloatArray:
        """Angular frequency (N,) in rad/s."""
        return 2 * np.pi * self.frequency


Shape = Callable[[_Seen], tuple[ComplexArray, ...]]
"""Changes of ln Z (N,) by one unit of an input, one for each of its independent components."""


def _by_frequency(seen: _Seen) -> ComplexArray:
    """D ln Z / d ln f of the model."""
    above, below = (
        seen.circuit.impedance(seen.frequency * (1 + step), seen.values)
        for step in (_STEP, -_STEP)
    )
    return np.asarray(np.log(above / below) / (2 * _STEP))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """How an entry of an accuracy acts on a reading, and what makes it smaller."""

    name: str
    shape: Shape
    remedy: str
    by_range: bool = False


def _ones(seen: _Seen) -> ComplexArray:
    return np.ones(seen.frequency.size, dtype=np.complex128)


_SOURCES: Mapping[str, _Source] = MappingProxyType(
    {
        "reading": _Source(
            name="reading of the instrument",
            shape=lambda seen: (_ones(seen),),
            remedy="Correct the readings with a reference of this size, or use a better meter.",
            by_range=True,
        ),
        "phase": _Source(
            name="phase of the instrument",
            shape=lambda seen: (1j * _ones(seen),),
            remedy="Take Q from a resonance or a ring-down, which need no phase.",
            by_range=True,
        ),
        "series": _Source(
            name="series floor of the range",
            shape=lambda seen: (1 / seen.model, np.asarray(1j / seen.model)),
            remedy="Choose a lower range, or measure where |Z| is larger.",
            by_range=True,
        ),
        "parallel": _Source(
            name="parallel floor of the range",
            shape=lambda seen: (-seen.model, np.asarray(-1j * seen.model)),
            remedy="Choose a higher range, or measure where |Z| is smaller.",
            by_range=True,
        ),
        "delay": _Source(
            name="delay between the channels",
            shape=lambda seen: (np.asarray(1j * seen.omega, dtype=np.complex128),),
            remedy="Set the cable length, or measure the delay on a resistor.",
        ),
        "frequency": _Source(
            name="frequency of the instrument",
            shape=lambda seen: (_by_frequency(seen),),
            remedy="Lock the instrument to a better time base.",
        ),
        "reference": _Source(
            name="reference coil",
            shape=lambda seen: (_ones(seen),),
            remedy="Have the reference calibrated more closely.",
        ),
        "fixture_ohm": _Source(
            name="fixture's series resistance",
            shape=lambda seen: (1 / seen.model,),
            remedy="Repeat the short compensation with clean four-terminal contacts.",
        ),
        "fixture_henry": _Source(
            name="fixture's series inductance",
            shape=lambda seen: (1j * seen.omega / seen.model,),
            remedy="Repeat the short compensation with a short of known inductance.",
        ),
        "fixture_farad": _Source(
            name="fixture's stray capacitance",
            shape=lambda seen: (-1j * seen.omega * seen.model,),
            remedy="Repeat the open compensation with the clips as far apart as on the part.",
        ),
        "fixture_siemens": _Source(
            name="fixture's leakage",
            shape=lambda seen: (-seen.model,),
            remedy="Clean the fixture and repeat the open compensation.",
        ),
        "drift": _Source(
            name="temperature of the instrument",
            shape=lambda seen: (_ones(seen),),
            remedy="Measure nearer to the temperature of calibration.",
        ),
    }
)
_PART = "temperature of the part"
_PART_REMEDY = "Let the part settle longer, and measure its temperature more closely."


def response(fit: Fit, capture: Sweep, change: ComplexArray) -> FloatArray:
    """Say how far the fitted elements move when ln Z changes at the points used.

    Parameters
    ----------
    fit : Fit
        Of ``capture``, with a circuit.
    capture : Sweep
    change : (N,) complex
        Change of ln Z at the N points used; small against 1.

    Returns
    -------
    (P,) float, SI units
        Zero for elements that were fixed.

    Notes
    -----
    dp = (J' W J)^-1 J' W d, see the head of this module.
    """
    seen = _seen(fit, capture)
    return np.asarray(_solve(fit, capture, seen, change[None, :])[0])


def _seen(fit: Fit, capture: Sweep) -> _Seen:
    circuit = circuit_of(fit)
    assert circuit is not None  # noqa: S101 - asked for sweeps fitted with a circuit only
    return _Seen(
        frequency=capture.frequency[fit.used],
        model=fit.fitted[fit.used],
        circuit=circuit,
        values=fit.values,
    )


def _slopes(seen: _Seen) -> ComplexArray:
    """D ln Z / d element (P, N); infinite where the circuit has none there."""
    try:
        return seen.circuit.gradient(seen.frequency, seen.values)
    except np.linalg.LinAlgError:
        return np.full((seen.values.size, seen.frequency.size), np.inf, dtype=np.complex128)


def _weights(fit: Fit, capture: Sweep) -> FloatArray:
    """Weight (N,) of each point used: normalised residual over relative deviation."""
    deviation = np.abs(capture.impedance[fit.used] / fit.fitted[fit.used] - 1.0)
    residual = np.abs(fit.residual[fit.used])
    told = (deviation > 1e-12) & (residual > 0)
    if not told.any():
        return np.ones(deviation.size)
    weights = np.full(deviation.size, float(np.median(residual[told] / deviation[told])))
    weights[told] = residual[told] / deviation[told]
    return weights


def _solve(fit: Fit, capture: Sweep, seen: _Seen, changes: ComplexArray) -> FloatArray:
    """Answers (K, P) of the elements to changes (K, N) of ln Z."""
    free = np.array([name not in fit.fixed for name in fit.elements])
    scale = np.where(fit.values[free] != 0, np.abs(fit.values[free]), 1.0)
    weights = _weights(fit, capture)
    slopes = _slopes(seen)[free] * scale[:, None] * weights
    matrix = np.concatenate((slopes.real, slopes.imag), axis=1).T
    right = np.concatenate(((changes * weights).real, (changes * weights).imag), axis=1).T
    answer = np.zeros((changes.shape[0], fit.values.size))
    answer[:, free] = _least_squares(matrix, right).T * scale
    return answer


def _least_squares(matrix: FloatArray, right: FloatArray) -> FloatArray:
    """Solve; where the numbers leave the range of doubles nothing is known: infinite."""
    unknown = np.full((matrix.shape[1], right.shape[1]), np.inf)
    if not (np.isfinite(matrix).all() and np.isfinite(right).all()):
        return unknown
    if max(np.abs(matrix).max(initial=0.0), np.abs(right).max(initial=0.0)) > _HUGE:
        return unknown
    return np.asarray(np.linalg.lstsq(matrix, right, rcond=None)[0])


def described(fit: Fit, capture: Capture, accuracy: Accuracy | None) -> bool:
    """Tell whether a fit describes its data once the instrument's stated errors are allowed for.

    A meter of low noise shows its own error of phase, or the steps between its ranges, as
    structure in the residuals. Errors of the stated size are estimated along with the fit, each
    held to its standard uncertainty; what is left must look like noise.

    Notes
    -----
    Least squares of residual / noise - sum a_i s_i with a_i ~ N(0, 1), s_i the change that one
    standard uncertainty causes beyond what the elements take up.
    """
    if fit.describes or accuracy is None or not fit.converged:
        return fit.describes
    if not isinstance(capture, Sweep) or circuit_of(fit) is None or not fit.used.any():
        return False
    seen = _seen(fit, capture)
    with np.errstate(all="ignore"):
        rows = _shares(fit, capture, seen, accuracy)
    matrix = np.concatenate((rows.real, rows.imag), axis=1).T
    residual = fit.residual[fit.used]
    right = np.concatenate((residual.real, residual.imag))
    held = np.vstack((matrix, np.eye(rows.shape[0])))
    sizes = _least_squares(held, np.concatenate((right, np.zeros(rows.shape[0])))[:, None])[:, 0]
    if not np.isfinite(sizes).all():
        return False
    left = np.asarray(residual - rows.T @ sizes)
    itself = _weights(fit, capture)[None, :].astype(np.complex128)
    slopes = np.concatenate((itself, rows))
    return whiteness(left).describes and not departure(seen.frequency, seen.model, left, slopes)


def _shares(fit: Fit, capture: Sweep, seen: _Seen, accuracy: Accuracy) -> ComplexArray:
    """Rows (K, N) over the noise: one standard uncertainty of each error, and the elements."""
    weights, free = _weights(fit, capture), np.array([n not in fit.fixed for n in fit.elements])
    shapes = [
        accuracy.stated[key].u * change * weights
        for key in accuracy.stated
        if key in _SOURCES
        for change in _by_ranges(_SOURCES[key], seen, accuracy.ranges)
    ]
    slopes = _slopes(seen)[free] * weights
    slopes = slopes * np.where(seen.values[free] != 0, seen.values[free], 1.0)[:, None] / _SMALL
    return np.concatenate((np.array(shapes).reshape(-1, weights.size), slopes))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Effect:
    """One entry's effect on the elements: rows (K, P), each one standard uncertainty."""

    name: str
    rows: FloatArray
    dof: float
    remedy: str


def _effects(fit: Fit, capture: Capture, accuracy: Accuracy | None) -> Iterator[_Effect]:
    if accuracy is None or not isinstance(capture, Sweep) or circuit_of(fit) is None:
        return
    seen = _seen(fit, capture)
    sound = (np.isfinite(entry).all() for entry in (fit.covariance, fit.values, seen.model))
    if not seen.frequency.size or not all(sound) or not seen.model.all():
        return
    for key, stated in accuracy.stated.items():
        if key in _SOURCES:
            source = _SOURCES[key]
            size = stated.u * (accuracy.drift_kelvin if key == "drift" else 1.0)
            with np.errstate(all="ignore"):
                changes = _by_ranges(source, seen, accuracy.ranges)
                rows = size * _solve(fit, capture, seen, changes)
            yield _Effect(name=source.name, rows=rows, dof=stated.dof, remedy=source.remedy)
    if accuracy.part_kelvin is not None:
        yield _part_effect(fit, accuracy.part_kelvin, dict(accuracy.part_per_kelvin))


def _by_ranges(source: _Source, seen: _Seen, ranges: tuple[float, ...]) -> ComplexArray:
    """Give changes (K, N): the shapes of a source, by ranges where each has its own error."""
    shapes = np.stack(source.shape(seen))
    if not source.by_range or not ranges:
        return shapes
    place = np.minimum(np.searchsorted(ranges, np.abs(seen.model)), len(ranges) - 1)
    parts = [np.where(place == index, shapes, 0.0) for index in np.unique(place)]
    return np.concatenate(parts)


_SKIN = 0.5  # power of the resistivity in the resistance by skin effect


def _part_effect(fit: Fit, kelvin: Stated, per_kelvin: Mapping[str, float]) -> _Effect:
    slopes = {"Rdc": per_kelvin.get("R", 0.0), "Rac": _SKIN * per_kelvin.get("R", 0.0)}
    slopes |= per_kelvin
    row = [
        value * slopes.get(name, 0.0)
        for name, value in zip(fit.elements, fit.values.tolist(), strict=True)
    ]
    return _Effect(
        name=_PART, rows=kelvin.u * np.array([row]), dof=kelvin.dof, remedy=_PART_REMEDY
    )


def holds(fit: Fit, accuracy: Accuracy | None) -> str:
    """Say what an uncertainty of this fit holds: 'scatter' or 'scatter and instrument'."""
    if accuracy is None or not accuracy.stated:
        return "scatter"
    reaches = circuit_of(fit) is not None or accuracy.frequency is not None
    return "scatter and instrument" if reaches else "scatter"


def combine(fit: Fit, capture: Capture, accuracy: Accuracy | None) -> Fit:
    """Widen the uncertainty of a fit by the instrument's part.

    Parameters
    ----------
    fit : Fit
        Of ``capture``.
    capture : Sweep, Response or Transient
    accuracy : Accuracy or None
        None, or an empty one, gives the fit back as it is.

    Returns
    -------
    Fit
        The same values, with combined covariance and uncertainties. What is no longer determined
        moves to ``undetermined``. Of a response or a ring-down only the frequency's accuracy is
        carried: their f0 and Q do not rest on the size or the phase of a reading.
    """
    if accuracy is None or not accuracy.stated:
        return fit
    if circuit_of(fit) is None:
        results = tuple(_with_time_base(entry, accuracy.frequency) for entry in fit.results)
        return replace(fit, results=results)
    covariance = fit.covariance.copy()
    for effect in _effects(fit, capture, accuracy):
        with np.errstate(all="ignore"):
            covariance += effect.rows.T @ effect.rows
    wide = replace(fit, covariance=covariance)
    found = {entry.name: quantity(wide, entry.name) for entry in fit.results}
    lost = tuple(name for name, entry in found.items() if entry is None)
    return replace(
        wide,
        results=tuple(entry for entry in found.values() if entry is not None),
        undetermined=(*fit.undetermined, *lost),
    )


def _with_time_base(entry: Estimate, frequency: Stated | None) -> Estimate:
    if frequency is None or entry.u is None:
        return entry
    part = _TIME_BASE.get(entry.name, 0.0) * entry.value * frequency.u
    return replace(entry, u=math.hypot(entry.u, part))


def budget(
    fit: Fit,
    capture: Capture,
    accuracy: Accuracy | None,
    name: str,
    at: float | None = None,
) -> Budget | None:
    """Give the budget of one quantity: the scatter of the fit, and each entry of the accuracy.

    Parameters
    ----------
    fit : Fit
        Of ``capture``, not yet combined.
    capture : Sweep, Response or Transient
    accuracy : Accuracy or None
    name : str
        As in `benchapp.fit.quantity`.
    at : float, Hz, optional

    Returns
    -------
    Budget or None
        None where the scatter alone, or an entry of the accuracy, leaves the quantity open.
    """
    own = quantity(fit, name, at)
    effects = list(_effects(fit, capture, accuracy))
    if own is None or own.u is None or not all(np.isfinite(e.rows).all() for e in effects):
        return None
    others = [
        Term(
            name=effect.name,
            contribution=_contribution(fit, effect.rows, name, at),
            dof=effect.dof,
            remedy=effect.remedy,
        )
        for effect in effects
    ]
    if circuit_of(fit) is None and accuracy is not None and accuracy.frequency is not None:
        source = _SOURCES["frequency"]
        part = abs(_TIME_BASE.get(name, 0.0) * own.value) * accuracy.frequency.u
        others.append(
            Term(
                name=source.name,
                contribution=part,
                dof=accuracy.frequency.dof,
                remedy=source.remedy,
            )
        )
    return Budget.of_fit(own, fit.dof, others)


def _contribution(fit: Fit, rows: FloatArray, name: str, at: float | None) -> float:
    """Give the standard uncertainty that an effect causes, probed with a small part of it."""
    size = _SMALL
    relative = np.abs(rows) / np.where(fit.values != 0, np.abs(fit.values), 1.0)
    size /= max(1.0, float(relative.max(initial=0.0)))
    part = size * rows
    probing = replace(fit, covariance=part.T @ part)
    found = quantity(probing, name, at)
    return 0.0 if found is None or found.u is None else found.u / size
