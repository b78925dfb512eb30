"""The domain in which the noise of an impedance is even, and residuals and weights there.

An impedance computed from an S-parameter has noise that is even in that parameter, and anything
but even in ohm. A fit therefore compares measured and model in the domain where the noise has
one size. All domains here are smooth functions T of the impedance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray, NoiseKind

__all__ = ["Law", "View", "shapes"]

_REFERENCE = 50.0

Transform = Callable[[ComplexArray, float], tuple[ComplexArray, ComplexArray]]


def _absolute(z: ComplexArray, reference: float) -> tuple[ComplexArray, ComplexArray]:  # noqa: ARG001 - one signature
    return z, np.ones_like(z)


def _reflection(z: ComplexArray, reference: float) -> tuple[ComplexArray, ComplexArray]:
    """S11 = (Z - Zr) / (Z + Zr)."""
    inverse = 1.0 / (z + reference)
    return (z - reference) * inverse, 2.0 * reference * inverse**2


def _series_through(z: ComplexArray, reference: float) -> tuple[ComplexArray, ComplexArray]:
    """S21 = 2 Zr / (2 Zr + Z)."""
    inverse = 1.0 / (z + 2.0 * reference)
    return 2.0 * reference * inverse, -2.0 * reference * inverse**2


def _shunt_through(z: ComplexArray, reference: float) -> tuple[ComplexArray, ComplexArray]:
    """S21 = 2 Z / (2 Z + Zr)."""
    inverse = 1.0 / (2.0 * z + reference)
    return 2.0 * z * inverse, 2.0 * reference * inverse**2


_TRANSFORMS: dict[NoiseKind, Transform] = {
    "absolute": _absolute,
    "reflection": _reflection,
    "series-through": _series_through,
    "shunt-through": _shunt_through,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Law:
    """A law of the noise found from data: variance as a sum of three kinds.

    ``parts`` (3,) weigh |Z|^2, 1 and |(Z + Zr)^2 / (2 Zr)|^2 with Zr = 50 ohm; ``floor`` is the
    smallest variance over |Z|^2. ``spread`` (N,) is the rms of the complex error in ohm where
    it was last evaluated.
    """

    parts: FloatArray
    floor: float
    spread: FloatArray

    def of(self, model: ComplexArray) -> Law:
        """Evaluate the law at an impedance (N,) in ohm."""
        level = np.abs(model) ** 2
        variance = np.maximum(self.parts @ shapes(model), self.floor)
        return replace(self, spread=np.sqrt(variance * level))


def shapes(model: ComplexArray) -> FloatArray:
    """Give the three kinds of variance over |Z|^2 (3, N) for impedances (N,) in ohm."""
    level = np.abs(model) ** 2
    one_port = np.abs((model + _REFERENCE) ** 2 / (2.0 * _REFERENCE)) ** 2
    return np.stack((np.ones_like(level), 1.0 / level, one_port / level))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """One sweep seen in the domain of its noise.

    ``measured`` (N,) is the impedance; ``law``, where given, says how large its error is and
    replaces the domain of ``kind``; ``weight`` (N,), where given, multiplies
    the residuals.
    """

    kind: NoiseKind
    reference: float
    measured: ComplexArray
    law: Law | None = None
    weight: FloatArray | None = None

    def weigh(
        self, model: ComplexArray, slopes: ComplexArray
    ) -> tuple[ComplexArray, ComplexArray]:
        """Give the residual and its slopes, to be used as if the weights were constant.

        Parameters
        ----------
        model : (N,) complex, ohm
        slopes : (P, N) complex
            d ln Z / dp.

        Returns
        -------
        residual : (N,) complex
            T(measured) - T(model); z / Z - 1 where the noise is relative.
        (P, N) complex
            dT / dp.
        """
        residual, slopes = self._weigh(model, slopes)
        if self.weight is not None:
            return residual * self.weight, slopes * self.weight
        return residual, slopes

    def _weigh(
        self, model: ComplexArray, slopes: ComplexArray
    ) -> tuple[ComplexArray, ComplexArray]:
        if self.law is not None:
            spread = self.law.spread
            return (self.measured - model) / spread, slopes * (model / spread)
        if self.kind not in _TRANSFORMS:
            return self.measured / model - 1.0, slopes
        transform = _TRANSFORMS[self.kind]
        seen, _ = transform(self.measured, self.reference)
        expected, factor = transform(model, self.reference)
        return seen - expected, slopes * (factor * model)

    def far(self, model: ComplexArray, slopes: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Do the same for a model that may be far away: ln(z / Z) where noise is relative."""
        if self.law is None and self.kind not in _TRANSFORMS:
            return np.log(self.measured / model), slopes
        return self.weigh(model, slopes)

    def sensitivity(self) -> FloatArray:
        """|dT/dZ| at the measured impedance: the weight of a residual in ohm."""
        if self.law is not None:
            return 1.0 / self.law.spread
        if self.kind not in _TRANSFORMS:
            return np.asarray(1.0 / np.abs(self.measured))
        return np.asarray(np.abs(_TRANSFORMS[self.kind](self.measured, self.reference)[1]))

    def power(self, model: ComplexArray) -> float:
        """Give the mean square of what the model itself is in this domain, |dT / d ln Z|^2."""
        if self.law is None and self.kind not in _TRANSFORMS:
            return 1.0
        _, slopes = self._weigh(model, np.ones((1, model.size), dtype=np.complex128))
        return float(np.vdot(slopes, slopes).real) / model.size

    def take(self, points: NDArray[np.bool_] | NDArray[np.intp]) -> View:
        """Give the same view of a part of the points."""
        law = None if self.law is None else replace(self.law, spread=self.law.spread[points])
        weight = None if self.weight is None else self.weight[points]
        return replace(self, measured=self.measured[points], law=law, weight=weight)
