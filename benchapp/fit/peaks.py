"""Several resonances in one sweep: found, counted and listed.

Sums of more and more resonances are fitted by vector fitting, each begun at the peaks of what the
last one left; the information criterion says where to stop. The poles are then refined together,
which gives their uncertainty, and a resonance must stand out of the noise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchapp.capture import ComplexArray, FloatArray, Sweep
from benchapp.circuit.model import TWO_PI
from benchapp.errors import FitError
from benchapp.fit.honesty import LIMIT
from benchapp.fit.noise import View
from benchapp.fit.points import BoolArray, Points
from benchapp.fit.poles import Resonances, fit_poles, peak_places
from benchapp.fit.refine import Optimum, polish
from benchapp.units import Estimate

__all__ = ["FEWEST_FOR_PEAKS", "Peak", "find_peaks"]

FEWEST_FOR_PEAKS = 10
"""Points that a search for resonances needs."""

_MOST = 8
_STANDS_OUT = 5.0
_REST = 2
_NEAR = 10
_LEAST_Q = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """One resonance: its undamped frequency, quality factor, and share of |Z| at its top."""

    f0: Estimate
    q: Estimate
    height: Estimate


def find_peaks(sweep: Sweep, used: BoolArray | None = None) -> tuple[Peak, ...]:
    """Find the resonances of a sweep.

    Parameters
    ----------
    sweep : Sweep
    used : (N,) bool, optional
        Points to be used, all where left out.

    Returns
    -------
    tuple of Peak
        By rising frequency; empty where there is none.

    Raises
    ------
    FitError
        When there are too few points.

    Notes
    -----
    Each is a pair of poles p of Z(s): f0 = |p| / 2 pi, Q = |p| / (2 |Re p|), height |r / Re p|
    with the residue r.
    """
    every = np.ones(sweep.frequency.size, dtype=np.bool_)
    points = Points.of(sweep, every if used is None else used)
    if points.grid.y.size < FEWEST_FOR_PEAKS:
        raise FitError(
            f"sweep: must have at least {FEWEST_FOR_PEAKS} points to look for resonances "
            f"(got {points.grid.y.size}).",
            hint="Measure more points.",
        )
    y = points.grid.y
    found = _count(y, points.view)
    best = None if found is None else _refined(found, y, points.view)
    return () if best is None else _peaks(best, y, points.grid.scale)


def _count(y: FloatArray, view: View) -> Resonances | None:
    """Fit the resonances that the peaks show, then more or fewer while the criterion falls."""
    z, weight = view.measured, view.sensitivity()
    places = [place for place in peak_places(z, _MOST) if _rises(z, place)]
    best, lowest = _tried(y, z, weight, _seeds(y, places))
    for _ in range(_MOST):
        rest = z if best is None else z - best.impedance(y)
        place = int(np.argmax(np.abs(rest * weight)))
        poles = np.empty(0, dtype=np.complex128) if best is None else best.poles
        more, value = _tried(y, z, weight, np.append(poles, _seeds(y, [place])))
        if value >= lowest:
            break
        best, lowest = more, value
    while best is not None:
        weakest = int(np.argmin(_heights(best, y, z)))
        fewer, value = _tried(y, z, weight, np.delete(best.poles, weakest))
        if value >= lowest:
            break
        best, lowest = fewer, value
    return best


def _rises(z: ComplexArray, place: int) -> bool:
    """Tell whether a local maximum rises out of the scatter of the points around it."""
    level = np.log(np.abs(z))
    scatter = float(np.median(np.abs(np.diff(level, 2)))) / 1.65
    near = level[max(place - _NEAR, 0) : place + _NEAR + 1]
    return float(level[place] - near.min()) > _STANDS_OUT * scatter


def _seeds(y: FloatArray, places: list[int]) -> ComplexArray:
    spacing = np.gradient(y)
    width = np.maximum(0.01 * y, 0.5 * spacing)
    return np.asarray(-width[places] + 1j * y[places])


def _tried(
    y: FloatArray, z: ComplexArray, weight: FloatArray, start: ComplexArray
) -> tuple[Resonances | None, float]:
    """Fit some resonances and give the criterion; None stands for a smooth curve without any."""
    found = fit_poles(y, z, weight, start, rest=_REST)
    count = 4 * found.poles.size + _REST
    if count > z.size:
        return None, math.inf
    size = 2 * z.size
    value = size * math.log(max(found.cost, 1e-28) / size) + count * math.log(size)
    return (found if found.poles.size else None), value


def _heights(found: Resonances, y: FloatArray, z: ComplexArray) -> FloatArray:
    """Height of each resonance over |Z| at its place."""
    level = np.interp(found.poles.imag, y, np.abs(z))
    return np.asarray(np.abs(found.residues / found.poles.real) / level)


def _kernel(y: FloatArray, p: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Z and d ln Z / dp of a sum of resonances: p = (Re p, Im p, Re r, Im r) each, then d, e."""
    s = 1j * y
    z = p[-2] + p[-1] * s
    rows = np.empty((p.size, y.size), dtype=np.complex128)
    for k in range(0, p.size - _REST, 4):
        pole, residue = complex(p[k], p[k + 1]), complex(p[k + 2], p[k + 3])
        left, right = 1.0 / (s - pole), 1.0 / (s - pole.conjugate())
        z = z + residue * left + residue.conjugate() * right
        rows[k + 2], rows[k + 3] = left + right, 1j * (left - right)
        steep_left, steep_right = residue * left**2, residue.conjugate() * right**2
        rows[k], rows[k + 1] = steep_left + steep_right, 1j * (steep_left - steep_right)
    rows[-2], rows[-1] = 1.0, s
    return np.asarray(z), rows / z


def _refined(found: Resonances, y: FloatArray, view: View) -> Optimum | None:
    each = np.stack(
        (found.poles.real, found.poles.imag, found.residues.real, found.residues.imag), axis=1
    )
    best = polish(_kernel, y, view, np.concatenate((each.ravel(), found.rest)))
    return best if best is not None and best.converged else None


def _peaks(best: Optimum, y: FloatArray, scale: float) -> tuple[Peak, ...]:
    """Put the poles into words; those that the data do not show are left out."""
    peaks = []
    for k in range(0, best.point.size - _REST, 4):
        pole, residue = complex(*best.point[k : k + 2]), complex(*best.point[k + 2 : k + 4])
        block = best.covariance[k : k + 4, k : k + 4]
        size, damping = abs(pole), abs(pole.real)
        q, height = size / (2.0 * damping), abs(residue) / damping
        by_size = np.array([pole.real, pole.imag, 0.0, 0.0]) / size
        by_damping = np.array([1.0 / pole.real, 0.0, 0.0, 0.0])
        by_residue = np.array([0.0, 0.0, residue.real, residue.imag]) / abs(residue) ** 2
        slopes = np.stack(
            (
                by_size * scale / TWO_PI,
                q * (by_size / size - by_damping),
                height * (by_residue - by_damping),
            )
        )
        u = np.sqrt(np.maximum((slopes @ block * slopes).sum(axis=1), 0.0))
        inside = y[0] <= size <= y[-1] and q >= _LEAST_Q
        if inside and u[1] <= LIMIT * q and u[2] <= height / _STANDS_OUT:
            peaks.append(
                Peak(
                    f0=Estimate(name="f0", value=size * scale / TWO_PI, u=float(u[0]), unit="Hz"),
                    q=Estimate(name="Q", value=q, u=float(u[1]), unit="1"),
                    height=Estimate(name="|Z|", value=height, u=float(u[2]), unit="ohm"),
                )
            )
    return tuple(sorted(peaks, key=lambda peak: peak.f0.value))
