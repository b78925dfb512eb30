"""The points of a sweep that a fit uses, with their weights, and a circuit fitted to them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray, Sweep
from benchapp.circuit import Circuit
from benchapp.fit.blocks import Grid
from benchapp.fit.departure import Departure, departure
from benchapp.fit.honesty import Whiteness, whiteness
from benchapp.fit.noise import Law, View
from benchapp.fit.refine import Optimum

__all__ = ["BoolArray", "Points", "Solved"]

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Points of a sweep, seen in the domain of their noise.

    ``used`` (N,) marks them among all N points of the sweep.
    """

    sweep: Sweep
    used: BoolArray
    grid: Grid
    view: View

    @classmethod
    def of(cls, sweep: Sweep, used: BoolArray) -> Points:
        """Take the used points of a sweep; unknown noise is seen as relative at first."""
        whole = bool(used.all())
        z = sweep.impedance if whole else sweep.impedance[used]
        grid = Grid(sweep.frequency if whole else sweep.frequency[used])
        view = View(kind=sweep.noise.kind, reference=sweep.noise.reference, measured=z)
        return cls(sweep=sweep, used=used, grid=grid, view=view)

    @property
    def unknown(self) -> bool:
        """Whether nobody said, and nobody found, how the noise scales."""
        return self.view.kind == "unknown" and self.view.law is None

    @property
    def frequency(self) -> FloatArray:
        """Frequencies of the points, Hz."""
        return np.asarray(self.sweep.frequency[self.used])

    def keep(self, kept: BoolArray) -> Points:
        """Give some of these points."""
        used = self.used.copy()
        used[self.used] = kept
        return Points.of(self.sweep, used)

    def weighed(self, law: Law) -> Points:
        """Give the same points with weights from a law of the noise."""
        return replace(self, view=replace(self.view, law=law))

    def everywhere(self, model: ComplexArray) -> ComplexArray:
        """Give the residual at every point of the sweep, used or not, of a model (N,) in ohm."""
        whole = replace(self.view, measured=self.sweep.impedance)
        if whole.law is not None:
            whole = replace(whole, law=whole.law.of(model))
        return whole.weigh(model, model[None, :])[0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """A circuit fitted to points, before it is put into words.

    ``values`` (P,) of the elements, SI units; ``slopes`` (P, Q) are their derivatives by the
    quantities whose covariance ``spread`` (Q, Q) is known: the coordinates of the fit, or the
    elements themselves. ``optimum`` is None where nothing was found. ``clean`` where the quick
    way saw nothing that asks for a closer look.
    """

    circuit: Circuit
    points: Points
    optimum: Optimum | None
    values: FloatArray
    slopes: FloatArray
    spread: FloatArray
    fixed: tuple[str, ...] = ()
    clean: bool = False

    @classmethod
    def at(
        cls, circuit: Circuit, points: Points, optimum: Optimum | None, *, clean: bool = False
    ) -> Solved:
        """Turn coordinates into values of the elements."""
        size = len(circuit.elements)
        values, slopes, spread = np.zeros(size), np.eye(size), np.zeros((size, size))
        if optimum is not None:
            spread = optimum.covariance
            with np.errstate(all="ignore"):
                values, slopes = circuit.decode(optimum.point, points.grid.scale)
        return cls(
            circuit=circuit,
            points=points,
            optimum=optimum,
            values=values,
            slopes=slopes,
            spread=spread,
            clean=clean,
        )

    def whiteness(self) -> Whiteness:
        """Look for structure in the residuals; where their law was found, in relative ones too.

        A law can hide a misfit that grows with the impedance as noise would.
        """
        found, noise = self.optimum, self.points.sweep.noise
        if found is None or found.exact:
            return Whiteness(runs=0.0, lag_one=0.0, excess=None)
        excess = None
        if noise.level is not None and noise.kind != "unknown":
            excess = math.sqrt(2.0 * found.variance) / noise.level
        if self.clean:
            return Whiteness(runs=0.0, lag_one=0.0, excess=excess)
        white = whiteness(found.residual, excess)
        view = self.points.view
        if not white.structured and view.law is not None:
            white = whiteness(np.asarray(view.measured / found.model - 1.0), excess)
        return replace(white, departure=self._departure(found))

    def _departure(self, found: Optimum) -> Departure | None:
        """Ask whether the residuals hold what the circuit lacks, or an instrument adds."""
        itself = np.ones((1, found.model.size), dtype=np.complex128)
        slopes = np.concatenate((self.points.view.weigh(found.model, itself)[1], found.slopes))
        return departure(self.points.frequency, found.model, found.residual, slopes)

    @property
    def covariance(self) -> FloatArray:
        """Covariance (P, P) of the elements, SI units."""
        with np.errstate(all="ignore"):
            return np.asarray(self.slopes @ self.spread @ self.slopes.T)
