"""Whether a fitted circuit describes the data, and what the data do not determine."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.fit.departure import Departure

__all__ = [
    "EXCESS",
    "FEWEST_RUNS",
    "LAG_ONE",
    "LIMIT",
    "OFF",
    "Whiteness",
    "determined",
    "whiteness",
]

LIMIT = 0.3
"""Largest standard uncertainty of ln(value) at which a value counts as determined."""

FEWEST_RUNS = -4.0
"""Normal score of the number of runs below which deviations follow one another."""

LAG_ONE = 4.0
"""Normal score of the correlation of neighbours above which they do."""

EXCESS = 1.15
"""Largest noise found, over the noise the instrument is known to have."""

OFF = 2.5
"""Standard uncertainties of one component beyond which a point lies off."""

_TOGETHER = 5  # neighbours off in one direction: less than 1 in 10,000 sweeps by chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Whiteness:
    """Whether residuals look like noise.

    ``runs`` is the normal score of the number of runs of one sign, ``lag_one`` that of the
    correlation of neighbours, ``together`` the most neighbours that lie off in about the same
    direction, as at a second resonance that the circuit lacks; ``excess`` is the noise found
    over the instrument's, None where that is not known. ``departure`` is what they look like,
    where a known one stands out.
    """

    runs: float
    lag_one: float
    excess: float | None
    together: int = 0
    departure: Departure | None = None

    @property
    def structured(self) -> bool:
        """Whether the residuals hold more than scatter."""
        return self.chained or self.departure is not None

    @property
    def chained(self) -> bool:
        """Whether the residuals follow one another instead of scattering."""
        cluster = self.together >= _TOGETHER
        return self.runs < FEWEST_RUNS or self.lag_one > LAG_ONE or cluster

    @property
    def describes(self) -> bool:
        """Whether nothing speaks against the circuit."""
        noisy = self.excess is not None and self.excess > EXCESS
        return not (self.structured or noisy)

    @property
    def reasons(self) -> str:
        """What speaks against the circuit, in words."""
        reasons = []
        like = "" if self.departure is None else f"most like {self.departure.words}"
        if self.chained:
            chained = "the deviations follow one another instead of scattering"
            reasons.append(f"{chained}, {like}" if like else chained)
        elif like:
            reasons.append(f"the deviations are {like}")
        if self.excess is not None and self.excess > EXCESS:
            reasons.append(f"the scatter is {self.excess:.1f} times the instrument's noise")
        return " and ".join(reasons)


def whiteness(residual: ComplexArray, excess: float | None = None) -> Whiteness:
    """Look for structure in residuals, in order of frequency.

    Parameters
    ----------
    residual : (N,) complex
    excess : float, optional
        Noise found over the noise that the instrument is known to have.

    Returns
    -------
    Whiteness

    Notes
    -----
    Runs: A. Wald, J. Wolfowitz, "On a test whether two samples are from the same population",
    Annals of Mathematical Statistics 11 (1940) 147-162; the two components are counted
    together. Lag one: sum x_i x_i+1 / sqrt(sum x_i^2 x_i+1^2), normal for independent noise even
    where its size changes.
    """
    if residual.size < 4:
        return Whiteness(runs=0.0, lag_one=0.0, excess=excess)
    parts = np.stack((residual.real, residual.imag))
    products = parts[:, 1:] * parts[:, :-1]
    spread = math.sqrt(float(np.vdot(products, products)))
    lag_one = float(products.sum()) / spread if spread > 0 else 0.0
    return Whiteness(
        runs=_runs(parts > 0), lag_one=lag_one, excess=excess, together=_together(residual)
    )


def _together(residual: ComplexArray) -> int:
    """Count the longest row of neighbours that lie off, each within 90 degrees of the last."""
    off = np.abs(residual) > OFF * math.sqrt(float(np.mean(np.abs(residual) ** 2)) / 2.0)
    along = (residual[1:] * residual[:-1].conj()).real > 0
    linked = np.concatenate(([False], off[1:] & off[:-1] & along, [False]))
    breaks = np.flatnonzero(~linked)
    longest = int(np.diff(breaks).max()) - 1
    return longest + 1 if longest else int(off.any())


def _runs(above: NDArray[np.bool_]) -> float:
    size = above.shape[1]
    changes = float(np.count_nonzero(above[:, 1:] != above[:, :-1]))
    expected, spread = 0.0, 0.0
    for count in (np.count_nonzero(above[0]), np.count_nonzero(above[1])):
        twice = 2.0 * count * (size - count) / size
        expected += twice
        spread += twice * (twice - 1.0) / (size - 1.0)
    return (changes - expected) / math.sqrt(spread) if spread > 0 else -math.inf


def determined(values: FloatArray, u: FloatArray) -> NDArray[np.bool_]:
    """Tell which positive values the data determine: u / value <= 0.3."""
    with np.errstate(all="ignore"):
        return np.isfinite(values) & (values > 0) & (u <= LIMIT * values)
