"""Smooth departures of data from a circuit: a slope of the gain, a contact, a lead, a stray.

What such a departure would do to the impedance is known up to its size. A score test asks for
each of them whether the residuals hold it beyond what the elements could take up: one number
for each sweep, where tests of randomness need a departure that shows in single points.
Source: C. R. Rao, "Large sample tests of statistical hypotheses concerning several parameters
with applications to problems of estimation", Proc. Cambridge Philosophical Society 44 (1948)
50-57; in regression it is the test of an added variable.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from benchapp.capture import ComplexArray, FloatArray
from benchapp.units import Estimate, format_estimate

__all__ = [
    "ALARM",
    "FEWEST",
    "SEEN",
    "Added",
    "Departure",
    "added",
    "departure",
    "normal_score",
]

ALARM = 4.0
"""Normal score of a departure from which it speaks against the circuit."""

SEEN = 1e-4
"""Share of the power of a departure that the elements must leave for it to be looked for."""

FEWEST = 6
"""Degrees of freedom from which departures are looked for."""

_COVERAGE = 2.0
_ALIKE = 12.0  # twice the log-likelihood between departures that are told apart
_LEAST = 1e-2  # of a point's residual that the fit leaves

Shape = Callable[[FloatArray, ComplexArray], ComplexArray]


def _decades(omega: FloatArray, _z: ComplexArray) -> ComplexArray:
    decades = np.log10(omega)
    return np.asarray(decades - decades.mean(), dtype=np.complex128)


_SHAPES: Mapping[str, tuple[str, Shape]] = {
    "gain": ("1", _decades),
    "phase": ("deg", lambda omega, z: 1j * math.pi / 180.0 * _decades(omega, z)),
    "contact": ("ohm", lambda _omega, z: 1.0 / z),
    "lead": ("H", lambda omega, z: 1j * omega / z),
    "leakage": ("S", lambda _omega, z: -z),
    "stray": ("F", lambda omega, z: -1j * omega * z),
}
"""Relative change of the impedance by one unit of each departure."""

_WORDS = {
    "gain": "a gain that changes by {size} per decade of frequency",
    "phase": "a phase that turns by {size} per decade of frequency",
    "contact": "a resistance of {size} in series, as of a contact",
    "lead": "an inductance of {size} in series, as of a lead",
    "leakage": "a conductance of {size} across it, as of leakage or core loss",
    "stray": "a capacitance of {size} across it, as of a fixture",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """What the residuals look most like, how large it is, and its normal score.

    ``drop`` is by how much the sum of the squared residuals falls with it; ``others`` are those
    that explain the residuals nearly as well.
    """

    name: str
    size: Estimate
    score: float
    drop: float
    others: tuple[Departure, ...] = ()

    @property
    def words(self) -> str:
        """The departure in words, and those that the data do not tell it from."""
        return " or ".join(one.alone for one in (self, *self.others))

    @property
    def alone(self) -> str:
        """The departure in words."""
        size = self.size
        if size.unit == "1":
            told = f"{100 * size.value:+.2g} ± {200 * (size.u or 0.0):.1g} %"
        else:
            told = format_estimate(size, _COVERAGE)
        return _WORDS[self.name].format(size=told)


def normal_score(share: ArrayLike, dof: float) -> FloatArray:
    """Turn a share of the squared residuals into a normal score.

    Parameters
    ----------
    share : float
        Of the sum of the squared residuals, what one direction holds.
    dof : float
        Degrees of freedom of the sum.

    Notes
    -----
    t^2 = (dof - 1) share / (1 - share) is Student's, n = dof - 1, and
    z = (8 n + 1) / (8 n + 3) sqrt(n ln(1 + t^2 / n)) nearly normal. Source: D. L. Wallace,
    "Bounds on normal approximations to Student's and the chi-square distributions", Annals of
    Mathematical Statistics 30 (1959) 1121-1130.
    """
    n = dof - 1.0
    narrow = np.log1p(-np.clip(share, 0.0, 1.0 - 1e-15))
    return np.asarray((8.0 * n + 1.0) / (8.0 * n + 3.0) * np.sqrt(-n * narrow))


def departure(
    frequency: FloatArray, model: ComplexArray, residual: ComplexArray, slopes: ComplexArray
) -> Departure | None:
    """Name the departure that residuals hold beyond doubt.

    Parameters
    ----------
    frequency : (N,) float, Hz
    model : (N,) complex, ohm
    residual : (N,) complex
        In any domain where the noise is nearly of one size.
    slopes : (1 + P, N) complex
        Of the model in that domain: first by ln Z itself, then by all that was fitted.

    Returns
    -------
    Departure or None
        The one that explains most, of those with a score above `ALARM`.
    """
    omega = 2.0 * math.pi * frequency
    with np.errstate(all="ignore"):
        shapes = [shape(omega, model) * slopes[0] for _, shape in _SHAPES.values()]
        seen = added(residual, slopes[1:], shapes)
    found = [
        Departure(
            name=name,
            size=Estimate(name=name, value=one.size, u=one.u, unit=unit),
            score=one.score,
            drop=one.drop,
        )
        for (name, (unit, _)), one in zip(_SHAPES.items(), seen, strict=True)
        if one.score > ALARM
    ]
    if not found:
        return None
    best, *rest = sorted(found, key=lambda one: -one.drop)
    left = float(np.vdot(residual, residual).real) - best.drop
    close = best.drop - _ALIKE * left / (2 * residual.size)
    return replace(best, others=tuple(one for one in rest if one.drop >= close))


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """A shape added to a fit: its size, standard uncertainty and score, and the sum it explains.

    ``drop`` is by how much the sum of the squared residuals falls.
    """

    size: float
    u: float
    score: float
    drop: float


_NOTHING = Added(size=0.0, u=math.inf, score=0.0, drop=0.0)


def added(residual: ComplexArray, slopes: ComplexArray, shapes: list[ComplexArray]) -> list[Added]:
    """Look at each shape as if it were added to a fit.

    The score is the lower of two: with noise of one size, and with the noise that each point
    shows, which holds where some points have more noise than others.

    Parameters
    ----------
    residual : (N,) complex
    slopes : (P, N) complex
        By what was fitted, at its optimum.
    shapes : list of (N,) complex

    Returns
    -------
    list of Added
        The score is 0 where the elements take up a shape, or points are too few.

    Notes
    -----
    Source of the second: J. G. MacKinnon, H. White, "Some heteroskedasticity-consistent
    covariance matrix estimators with improved finite sample properties", Journal of
    Econometrics 29 (1985) 305-325, the jackknife's.
    """
    columns = _real(slopes)
    basis, _ = np.linalg.qr((columns / np.linalg.norm(columns, axis=1)[:, None]).T)
    rest = _real(residual[None, :])[0]
    rest = rest - basis @ (basis.T @ rest)
    dof = rest.size - columns.shape[0]
    power = float(rest @ rest)
    if dof < FEWEST or not (np.isfinite(basis).all() and power > 0):
        return [_NOTHING] * len(shapes)
    kept = 1.0 - np.einsum("ij,ij->i", basis, basis)
    return [_score(_real(shape[None, :])[0], basis, rest, kept) for shape in shapes]


def _score(shape: FloatArray, basis: FloatArray, rest: FloatArray, kept: FloatArray) -> Added:
    left = shape - basis @ (basis.T @ shape)
    seen = float(left @ left)
    if not seen > SEEN * float(shape @ shape):
        return _NOTHING
    pull, power, dof = float(left @ rest), float(rest @ rest), rest.size - basis.shape[1]
    size, drop = pull / seen, pull * pull / seen
    alone = (rest - size * left) / np.maximum(kept - left * left / seen, _LEAST)
    own = abs(pull) / max(float(np.linalg.norm(left * alone)), 1e-300)
    u = math.sqrt(max(power - drop, 0.0) / (dof - 1) / seen)
    score = min(float(normal_score(drop / power, dof)), own)
    return Added(size=size, u=u, score=score, drop=drop)


def _real(values: ComplexArray) -> FloatArray:
    flat: FloatArray = np.ascontiguousarray(values).view(np.float64)
    return flat
