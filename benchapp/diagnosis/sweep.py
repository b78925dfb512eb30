"""Circuits of faulty parts fitted to a whole sweep, where the circuit of the design misses it.

Three are tried: the part of the design with other values, the same with a closed turn coupled to
its coil, and the same with a capacitor that has losses. What the design says about good parts
enters as if it had been measured, so that few points suffice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Sweep
from benchapp.diagnosis.expectation import Expectation
from benchapp.errors import FitError
from benchapp.fit.honesty import whiteness
from benchapp.fit.least_squares import minimise

__all__ = ["MODELS", "Model", "Tried", "impedance", "try_models"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_STEP = 1e-6
_FIRST_NOISE = 0.01
_LEAST_NOISE = 1e-5
_ROUNDS = 3
_BASE = 4  # ln L, ln C, ln of the loss at direct current and of that which grows
_SPLIT = 0.5
_MOST_XI = math.log(100.0)  # reactance over resistance of a closed turn of wire
_FREE = 3.0  # standard deviation of ln of a value about which the design says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """A circuit: the values it has beyond ln L, ln C and both losses, and where to start.

    ``loose`` are the values that a fault of this kind may change at will; the others stay
    within the scatter of good parts. ``starts`` give the last values, the first being those of
    the design.
    """

    id: str
    size: int
    loose: tuple[int, ...]
    starts: tuple[tuple[float, ...], ...]


MODELS: Mapping[str, Model] = MappingProxyType(
    {
        model.id: model
        for model in (
            Model(id="plain", size=4, loose=(0, 1, 2, 3), starts=((),)),
            Model(
                id="shorted-turn",
                size=6,
                loose=(4, 5),
                starts=tuple(
                    (math.log(k2), math.log(xi)) for k2 in (0.1, 0.4) for xi in (0.2, 1.0, 5.0)
                ),
            ),
            Model(
                id="wrong-capacitor",
                size=5,
                loose=(1, 4),
                starts=((math.log(1e-3),), (math.log(1e-2),)),
            ),
        )
    }
)
"""The circuits that are tried, by the kind of fault that they stand for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tried:
    """One circuit fitted: its values p (P,), their covariance, and whether it describes the data.

    ``score`` is the Bayesian information criterion, lower for the better.
    """

    id: str
    values: FloatArray
    covariance: FloatArray
    noise: float
    describes: bool
    score: float


def impedance(
    name: str, p: FloatArray, frequency: FloatArray, expected: Expectation
) -> ComplexArray:
    """Give the impedance (N,) in ohm of one of `MODELS`.

    Parameters
    ----------
    name : str
    p : (P,) float
        ln(L / L0), ln(C / C0), ln of both parts of the loss over those of the design, then of a
        closed turn ln k^2 and ln(w0 tau), of a capacitor ln tan(delta).
    frequency : (N,) float, Hz

    Notes
    -----
    Branch R(f) + jwL + w^2 k^2 L tau / (1 + jw tau) across C (1 - j tan(delta)), R(f) of a
    part at direct current and one that grows with the square root of frequency. Source: two
    coupled circuits, network theory.
    """
    w0 = 2 * math.pi * expected.frequency
    ratio = frequency / expected.frequency
    jw = 1j * w0 * ratio
    henry, farad = expected.L * math.exp(p[0]), (expected.C or 0.0) * math.exp(p[1])
    dc = expected.dc_share
    loss = dc * math.exp(p[2]) + (1 - dc) * math.exp(p[3]) * np.sqrt(ratio)
    branch = (expected.loss or 0.0) * loss + jw * henry
    tangent = 0.0
    if name == "shorted-turn":
        tau = math.exp(p[5]) / w0
        branch = branch - jw**2 * math.exp(p[4]) * henry * tau / (1 + jw * tau)
    elif name == "wrong-capacitor":
        tangent = math.exp(p[4])
    return np.asarray(1 / (1 / branch + jw * farad * (1 - 1j * tangent)))


def try_models(expected: Expectation, capture: Sweep) -> tuple[Tried, ...]:
    """Fit every circuit to a sweep.

    Parameters
    ----------
    expected : Expectation
        With a known C and loss; without them nothing is tried.
    capture : Sweep

    Returns
    -------
    tuple of Tried
        The best first; empty where nothing can be tried.
    """
    if expected.C is None or expected.loss is None:
        return ()
    found = (_try(model, expected, capture) for model in MODELS.values())
    return tuple(sorted((each for each in found if each is not None), key=lambda e: e.score))


def _try(model: Model, expected: Expectation, capture: Sweep) -> Tried | None:
    known = (expected.L_spread, expected.C_spread, *_loss_spreads(expected), _FREE, _FREE)
    spread = np.array([_FREE if i in model.loose else known[i] for i in range(model.size)])
    best: Tried | None = None
    for start in model.starts:
        for first in _first_ends(model, expected, capture):
            end = _descend(model, expected, capture, np.array([*first, *start]), spread)
            if end is not None and (best is None or end.score < best.score):
                best = end
    return best


def _loss_spreads(expected: Expectation) -> tuple[float, float]:
    """Give standard deviations of ln of both losses; wide where only the sum is known."""
    if expected.dc is None:
        return _SPLIT, _SPLIT
    return expected.dc_spread, expected.loss_spread / max(1 - expected.dc_share, 0.1)


def _first_ends(
    model: Model, expected: Expectation, capture: Sweep
) -> tuple[tuple[float, ...], ...]:
    """Start values of ln L, ln C and both losses: the design's, and C from the highest |Z|."""
    design = (0.0,) * _BASE
    if 1 not in model.loose:
        return (design,)
    peak = float(capture.frequency[int(np.argmax(np.abs(capture.impedance)))])
    farad = 1 / (expected.L * (2 * math.pi * peak) ** 2)
    return design, (0.0, math.log(farad / (expected.C or farad)), 0.0, 0.0)


def _descend(
    model: Model, expected: Expectation, capture: Sweep, start: FloatArray, spread: FloatArray
) -> Tried | None:
    offset = start.copy()
    offset[:_BASE] = 0.0
    noise = _FIRST_NOISE
    p = start
    for _ in range(_ROUNDS):
        residual, jacobian = _problem(model, expected, capture, (offset, spread, noise))
        try:
            with np.errstate(all="ignore"):
                solution = minimise(residual, jacobian, p, iterations=60, tolerance=1e-2)
        except (FitError, np.linalg.LinAlgError, OverflowError):
            return None
        p = solution.parameters
        off = _off(model.id, p, expected, capture)
        noise = max(float(np.sqrt(np.mean(np.abs(off) ** 2))), _LEAST_NOISE)
    points = 2 * capture.frequency.size
    return Tried(
        id=model.id,
        values=p,
        covariance=solution.covariance,
        noise=noise,
        describes=whiteness(off).describes and not _lossless(model.id, p),
        score=points * math.log(noise) + 0.5 * model.size * math.log(points),
    )


def _lossless(name: str, p: FloatArray) -> bool:
    """Tell a turn without resistance: it only takes inductance away, as anything may."""
    return name == "shorted-turn" and float(p[5]) > _MOST_XI


def _off(name: str, p: FloatArray, expected: Expectation, capture: Sweep) -> ComplexArray:
    """Ln of measured over expected impedance (N,)."""
    with np.errstate(all="ignore"):
        model = impedance(name, np.clip(p, -40, 40), capture.frequency, expected)
        return np.asarray(np.log(capture.impedance / model))


Problem = Callable[[FloatArray], FloatArray]


def _problem(
    model: Model,
    expected: Expectation,
    capture: Sweep,
    known: tuple[FloatArray, FloatArray, float],
) -> tuple[Problem, Problem]:
    """Give residuals, of the data and of what is known beforehand, and their Jacobian."""
    centre, spread, noise = known

    def residual(p: FloatArray) -> FloatArray:
        off = _off(model.id, p, expected, capture) / noise * math.sqrt(2)
        return np.concatenate((off.real, off.imag, (p - centre) / spread))

    def jacobian(p: FloatArray) -> FloatArray:
        steps = _STEP * np.eye(p.size)
        columns = [(residual(p + step) - residual(p - step)) / (2 * _STEP) for step in steps]
        return np.stack(columns, axis=1)

    return residual, jacobian
