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

from benchapp.capture import ComplexArray, FloatArray, Noise, NoiseKind

__all__ = ["View", "view"]

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
class View:
    """One sweep seen in the domain of its noise.

    ``measured`` (N,) is the impedance; ``spread`` (N,), where given, is the rms of its complex
    error in ohm and replaces the domain of ``kind``.
    """

    kind: NoiseKind
    reference: float
    measured: ComplexArray
    spread: FloatArray | None = None

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
        if self.spread is not None:
            return (self.measured - model) / self.spread, slopes * (model / self.spread)
        if self.kind not in _TRANSFORMS:
            return self.measured / model - 1.0, slopes
        transform = _TRANSFORMS[self.kind]
        seen, _ = transform(self.measured, self.reference)
        expected, factor = transform(model, self.reference)
        return seen - expected, slopes * (factor * model)

    def far(self, model: ComplexArray, slopes: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Do the same for a model that may be far away: ln(z / Z) where noise is relative."""
        if self.spread is None and self.kind not in _TRANSFORMS:
            return np.log(self.measured / model), slopes
        return self.weigh(model, slopes)

    def sensitivity(self) -> FloatArray:
        """|dT/dZ| at the measured impedance: the weight of a residual in ohm."""
        if self.spread is not None:
            return 1.0 / self.spread
        if self.kind not in _TRANSFORMS:
            return np.asarray(1.0 / np.abs(self.measured))
        return np.asarray(np.abs(_TRANSFORMS[self.kind](self.measured, self.reference)[1]))

    def take(self, points: NDArray[np.bool_]) -> View:
        """Give the same view of a part of the points."""
        spread = None if self.spread is None else self.spread[points]
        return replace(self, measured=self.measured[points], spread=spread)


def view(noise: Noise, measured: ComplexArray) -> View:
    """See a sweep in the domain of its noise; unknown noise is taken as relative at first."""
    return View(kind=noise.kind, reference=noise.reference, measured=measured)
