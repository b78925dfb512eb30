"""Fits with elements that are known, whose own uncertainty is carried into the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.errors import FitError
from benchapp.fit.points import BoolArray, Solved
from benchapp.fit.refine import Optimum, refine
from benchapp.units import Estimate

__all__ = ["check_known", "hold"]

Known = Mapping[str, Estimate]


def check_known(circuit: Circuit, fix: Known) -> None:
    """Refuse known elements that a circuit has not, or that leave nothing to be found.

    Raises
    ------
    FitError
        When an element is not in the circuit, is not above zero, or none is left free.
    """
    for name, estimate in fix.items():
        if name not in circuit.elements:
            raise FitError(
                f"known element: must be one of {', '.join(circuit.elements)} for {circuit.name} "
                f"(got {name}).",
                hint="Name an element of the circuit, or choose a circuit that has it.",
            )
        if not estimate.value > 0:
            raise FitError(
                f"known element {name}: must be above zero (got {estimate.value:g}).",
                hint="Give the value with its unit, for example 868 pF.",
            )
    if len(fix) == len(circuit.elements):
        raise FitError(
            f"known elements: must leave at least one to be found (got all of {circuit.name}).",
            hint="Leave one element free.",
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """A circuit in its free elements, each relative to ``base``."""

    circuit: Circuit
    scale: float
    base: FloatArray
    held: BoolArray

    def values(self, part: FloatArray) -> FloatArray:
        """All elements, SI units."""
        relative = np.ones(self.base.size)
        relative[~self.held] = part
        return self.base * relative

    def slopes(self, y: FloatArray, part: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """Z and d ln Z by all elements, relative to ``base``; not finite where there are none."""
        try:
            p = self.circuit.encode(self.values(part), self.scale)
            model, slopes = self.circuit.kernel(y, p)
            by_value = np.linalg.solve(self.circuit.decode(p, self.scale)[1].T, slopes)
        except (ValueError, np.linalg.LinAlgError):
            # A step went where an element is zero or below: no circuit is there.
            model = np.full(y.size, np.nan, dtype=np.complex128)
            by_value = np.full((self.base.size, y.size), np.nan, dtype=np.complex128)
        return model, np.asarray(by_value * self.base[:, None])

    def kernel(self, y: FloatArray, part: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """Z and d ln Z by the free elements."""
        model, slopes = self.slopes(y, part)
        return model, np.ascontiguousarray(slopes[~self.held])


def hold(free: Solved, fix: Known) -> Solved:
    """Fit again with some elements held.

    Parameters
    ----------
    free : Solved
        The fit without known elements, whose points and weights are used.
    fix : mapping of str to Estimate

    Returns
    -------
    Solved
        With the covariance of all elements. Of the free ones it is V + S W S', V from the
        noise, W the variances of the known ones, and S = -V J'K how they pull (J, K: slopes of
        the model by the free and by the known elements, in units of the noise).

    Notes
    -----
    Source: JCGM 100:2008 (GUM), 5.1.2, applied to the solution of the normal equations.
    """
    if free.optimum is None:
        return free
    names = free.circuit.elements
    held = np.array([name in fix for name in names])
    base = np.abs(free.values)
    base[held] = [fix[name].value for name in names if name in fix]
    base[~np.isfinite(base) | (base == 0)] = 1.0
    part = _Part(circuit=free.circuit, scale=free.points.grid.scale, base=base, held=held)
    y, view = free.points.grid.y, free.points.view
    found = refine(part.kernel, y, view, [np.ones(int(np.count_nonzero(~held)))])
    fixed = tuple(name for name in names if name in fix)
    if found is None:
        return replace(free, optimum=None, fixed=fixed, clean=False)
    known = np.array([fix[name].u or 0.0 for name in fixed]) / base[held]
    weighted = view.weigh(*part.slopes(y, found.point))[1]
    return replace(
        free,
        optimum=found,
        values=part.values(found.point),
        slopes=np.diag(base),
        spread=_covariance(found, weighted, held, known),
        fixed=fixed,
        clean=False,
    )


def _covariance(
    found: Optimum, slopes: ComplexArray, held: BoolArray, known: FloatArray
) -> FloatArray:
    spread = np.zeros((held.size, known.size))
    spread[held] = np.eye(known.size)
    if found.variance > 0:
        pull = (found.slopes.conj() @ slopes[held].T).real
        spread[~held] = -found.covariance / found.variance @ pull
    covariance: FloatArray = (spread * known**2) @ spread.T
    covariance[np.ix_(~held, ~held)] += found.covariance
    return covariance
