"""Which circuit the data ask for.

The Bayesian information criterion, 2N ln(S / 2N) + P ln(2N), weighs the sum S of the squared
residuals in the domain of the noise against the number P of elements; the lowest is chosen. An
element that the data leave undetermined counts for more, so that chance alone adds none.
Source: G. Schwarz, "Estimating the dimension of a model", Annals of Statistics 6 (1978)
461-464.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from benchapp.circuit import CIRCUITS, EXTENDED, Circuit
from benchapp.fit.honesty import determined
from benchapp.fit.points import Points, Solved
from benchapp.fit.refine import ROUNDING
from benchapp.fit.result import Alternative, Remark
from benchapp.fit.solve import solve

__all__ = [
    "CANDIDATES",
    "RICHER",
    "criterion",
    "name_for",
    "others",
    "rank",
    "renamed",
]

CANDIDATES = ("inductor", "series-rlc", "parallel-rlc", "tank", "coil")
"""Circuits that are tried; series-rlc stands for the capacitor too, whose impedance it has."""

RICHER = (EXTENDED["coil"], CIRCUITS["coupled-pair"])
"""Circuits that are tried where none of those describes the data."""

_AMBIGUOUS = 6.0
_DOUBT = 4.0
_IMPOSSIBLE = 3.0
_MOSTLY = 2.0 / 3.0  # of the span in log frequency


def rank(points: Points, circuits: Sequence[Circuit]) -> list[Solved]:
    """Fit circuits to the same points, the one with the lowest criterion first.

    Parameters
    ----------
    points : Points
    circuits : sequence of Circuit

    Returns
    -------
    list of Solved
    """
    solved = [solve(points, circuit) for circuit in circuits]
    return sorted(solved, key=criterion) if len(solved) > 1 else solved


def criterion(solved: Solved) -> float:
    """Give the information criterion, infinite for a fit that failed or is impossible."""
    found = solved.optimum
    if found is None or not found.converged or _impossible(solved):
        return math.inf
    residual, _ = solved.points.view.far(found.model, found.slopes)
    count = 2 * residual.size
    rounding = ROUNDING * solved.points.view.power(found.model)
    power = max(float(np.vdot(residual, residual).real), rounding * count)
    free = len(solved.circuit.elements) - len(solved.fixed)
    doubtful = np.count_nonzero(~_determined(solved))
    return count * math.log(power / count) + free * math.log(count) + _DOUBT * doubtful


def _impossible(solved: Solved) -> bool:
    """Tell whether an element is negative beyond doubt."""
    with np.errstate(all="ignore"):
        u = np.sqrt(np.maximum(solved.covariance.diagonal(), 0.0))
        return bool(np.any(solved.values < -_IMPOSSIBLE * u))


def name_for(solved: Solved) -> Circuit:
    """Tell a capacitor from a series circuit, which has the same impedance, by its reactance.

    A capacitor is capacitive over most of the sweep.
    """
    if solved.circuit.name != "series-rlc":
        return solved.circuit
    x, y = solved.points.view.measured.imag, solved.points.grid.y
    span = np.gradient(np.log(y)) if x.size > 1 else np.ones(1)
    capacitive = float(span[x < 0].sum() / span.sum())
    return CIRCUITS["capacitor" if capacitive > _MOSTLY else "series-rlc"]


def others(ranked: Sequence[Solved]) -> tuple[tuple[Alternative, ...], tuple[Remark, ...]]:
    """List the circuits that were not chosen, and say which of them the data do not exclude.

    A richer circuit whose additional element is not determined is the chosen one again, and
    makes no doubt.
    """
    lowest = criterion(ranked[0])
    alternatives, near = [], []
    for solved in ranked[1:]:
        difference = criterion(solved) - lowest
        if not math.isfinite(difference):
            continue
        name = name_for(solved).name
        alternatives.append(Alternative(circuit=name, bic_difference=difference))
        if difference < _AMBIGUOUS and _determined(solved).all():
            near.append(name)
    return tuple(alternatives), _ambiguity(name_for(ranked[0]).name, near)


def _determined(solved: Solved) -> NDArray[np.bool_]:
    u = np.sqrt(np.maximum(solved.covariance.diagonal(), 0.0))
    return determined(solved.values, u)


def _ambiguity(name: str, near: list[str]) -> tuple[Remark, ...]:
    if not near:
        return ()
    text = (
        f"The data do not tell {name} from {' or '.join(near)}: name the circuit if you know it, "
        "or sweep a wider band."
    )
    return (Remark(name="ambiguous", text=text),)


def renamed(solved: Solved, circuit: Circuit) -> Solved:
    """Give the same fit under another circuit with the same impedance."""
    if circuit is solved.circuit:
        return solved
    order = [solved.circuit.elements.index(element) for element in circuit.elements]
    return replace(
        solved,
        circuit=circuit,
        values=solved.values[order],
        slopes=solved.slopes[order],
    )
