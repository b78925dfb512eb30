"""What a fit gives back: values with their uncertainty, and what the data do not determine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from benchapp.units import Estimate

__all__ = ["Alternative", "Fit", "Opinion", "Remark"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One plain sentence about a fit, with the points (0-based) it speaks of."""

    name: str
    text: str
    points: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """Another circuit that was tried: its BIC minus that of the chosen one (>= 0)."""

    circuit: str
    bic_difference: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Opinion:
    """The same quantity found by an independent method, and whether it agrees with the fit."""

    method: str
    estimate: Estimate
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """The result of fitting one capture. A bad fit is an answer, not an exception.

    ``elements`` names the circuit elements in the order of ``values`` (P,) and of ``covariance``
    (P, P), SI units; fixed elements are included, with the variance that was given for them.
    ``results`` holds what the data determine, ``undetermined`` names what they do not.
    ``used`` (N,) bool marks the points fitted; ``fitted`` (N,) complex is the model at every
    point of the capture; ``residual`` (N,) complex is (measured - fitted) divided by the
    standard uncertainty of one component, so that a good fit scatters with variance 1 in each.
    ``noise`` is the rms of the complex error found over the used points: relative to the value
    at each point of a sweep, to the largest value of a response or a transient.
    """

    kind: Literal["sweep", "response", "transient"]
    circuit: str
    digest: str
    elements: tuple[str, ...]
    values: NDArray[np.float64]
    covariance: NDArray[np.float64]
    fixed: tuple[str, ...] = ()
    results: tuple[Estimate, ...]
    undetermined: tuple[str, ...] = ()
    describes: bool
    converged: bool
    noise: float | None
    dof: int
    used: NDArray[np.bool_]
    fitted: NDArray[np.complex128]
    residual: NDArray[np.complex128]
    remarks: tuple[Remark, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    opinions: tuple[Opinion, ...] = ()

    def __post_init__(self) -> None:
        for name in ("values", "covariance", "used", "fitted", "residual"):
            array = np.array(getattr(self, name), copy=True)
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild through the constructor, so that arrays come back read-only."""
        return _rebuild, ({name: getattr(self, name) for name in self.__slots__},)

    @property
    def estimates(self) -> Mapping[str, Estimate]:
        """What the data determine, by name."""
        return MappingProxyType({estimate.name: estimate for estimate in self.results})

    @property
    def set_aside(self) -> tuple[int, ...]:
        """Points (0-based) that were read but not used."""
        return tuple(int(point) for point in np.flatnonzero(~self.used))


def _rebuild(values: dict[str, Any]) -> Fit:
    return Fit(**values)
