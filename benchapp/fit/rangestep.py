"""Steps of the measuring range: a run of points that are all off by one factor.

Source of the test: generalised likelihood ratio of a change in the mean, M. Basseville, I. V.
Nikiforov, Detection of Abrupt Changes (1993), chapter 2, with the circuit's own slopes projected
out, so that what the elements can explain is left to them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray
from benchapp.fit.noise import View
from benchapp.fit.refine import Optimum

__all__ = ["RangeStep", "find_range_step"]

_SHORTEST = 5
_LONGEST = 0.4  # of all points
_EDGES = 64
_CLEAR = 60.0  # twice the log-likelihood gained, beyond any chance among all pairs of edges


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeStep:
    """From ``first`` to ``last`` point all is ``factor`` times what the rest says.

    ``drop`` is by how much the sum of the squared residuals falls with it.
    """

    first: int
    last: int
    factor: complex
    drop: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sums:
    """Running sums over the points: weights, slopes of the circuit, and residuals.

    ``slopes`` (2, P, N + 1) are products of the circuit's slopes with a real and an imaginary
    change of ln Z, in coordinates where the normal matrix is one; ``pull`` (2, N + 1) those of
    the residual; ``weight`` (N + 1,).
    """

    weight: FloatArray
    slopes: FloatArray
    pull: FloatArray

    def gain(
        self, first: NDArray[np.intp], last: NDArray[np.intp]
    ) -> tuple[FloatArray, FloatArray]:
        """Give the drop of the sum of squares, and the change of ln Z (2,), of each block."""
        slopes = self.slopes[:, :, last] - self.slopes[:, :, first]
        pull = self.pull[:, last] - self.pull[:, first]
        weight = self.weight[last] - self.weight[first]
        real = weight - np.sum(slopes[0] ** 2, axis=0)
        imag = weight - np.sum(slopes[1] ** 2, axis=0)
        cross = -np.sum(slopes[0] * slopes[1], axis=0)
        floor = 1e-9 * np.maximum(weight, 1e-300)
        det = np.maximum(real * imag - cross**2, floor**2)
        change = np.stack((imag * pull[0] - cross * pull[1], real * pull[1] - cross * pull[0]))
        change /= det
        return np.sum(change * pull, axis=0), change


def _sums(view: View, found: Optimum) -> _Sums:
    ones = np.ones((1, found.model.size), dtype=np.complex128)
    weight = view.weigh(found.model, ones)[1][0]
    root = np.linalg.cholesky(found.covariance / max(found.variance, 1e-300))
    slopes = root.T @ found.slopes
    products = np.conj(slopes) * weight
    pull = np.conj(weight) * found.residual

    def running(rows: FloatArray) -> FloatArray:
        lead = np.zeros((*rows.shape[:-1], 1))
        return np.concatenate((lead, np.cumsum(rows, axis=-1)), axis=-1)

    return _Sums(
        weight=running(np.abs(weight) ** 2),
        slopes=running(np.stack((products.real, -products.imag))),
        pull=running(np.stack((pull.real, pull.imag))),
    )


def _best(
    sums: _Sums, firsts: NDArray[np.intp], lasts: NDArray[np.intp]
) -> tuple[int, int, float]:
    size = sums.weight.size - 1
    first, last = (grid.ravel() for grid in np.meshgrid(firsts, lasts, indexing="ij"))
    long = (last - first >= _SHORTEST) & (last - first <= max(_LONGEST * size, _SHORTEST))
    if not long.any():
        return 0, 0, 0.0
    first, last = first[long], last[long]
    gain, _ = sums.gain(first, last)
    place = int(np.argmax(gain))
    return int(first[place]), int(last[place]), float(gain[place])


def find_range_step(view: View, found: Optimum) -> RangeStep | None:
    """Find the run of points that one factor would bring into line.

    Parameters
    ----------
    view : View
    found : Optimum
        The fit to all points.

    Returns
    -------
    RangeStep or None
        None where no run gains clearly more than chance.
    """
    size = found.model.size
    if size < 4 * _SHORTEST or found.exact:
        return None
    sums = _sums(view, found)
    edges = np.unique(np.linspace(0, size, min(size, _EDGES) + 1).round().astype(np.intp))
    first, last, _ = _best(sums, edges, edges)
    around = np.arange(-(size // _EDGES) - 1, size // _EDGES + 2)
    near = [np.unique(np.clip(place + around, 0, size)) for place in (first, last)]
    first, last, gain = _best(sums, near[0], near[1])
    rest = float(np.vdot(found.residual, found.residual).real) - gain
    if not gain > _CLEAR * max(rest, 0.0) / (2 * size):
        return None
    _, change = sums.gain(np.array([first]), np.array([last]))
    factor = 1.0 + complex(change[0, 0], change[1, 0])
    return RangeStep(first=first, last=last - 1, factor=factor, drop=gain)
