"""Which circuit the data ask for.

The Bayesian information criterion, 2N ln(S / 2N) + P ln(2N), weighs the sum S of the squared
residuals in the domain of the noise against the number P of elements; the lowest is chosen.
Source: G. Schwarz, "Estimating the dimension of a model", Annals of Statistics 6 (1978)
461-464.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS
from benchapp.errors import FitError
from benchapp.fit.honesty import determined
from benchapp.fit.result import Alternative, Fit, Remark
from benchapp.fit.sweep import BoolArray, Solved, conclude, needed, solve
from benchapp.units import Estimate

__all__ = ["CANDIDATES", "choose"]

CANDIDATES = ("inductor", "series-rlc", "parallel-rlc", "tank", "coil")
"""Circuits that are tried; series-rlc stands for the capacitor too, whose impedance it has."""

_AMBIGUOUS = 6.0
_IMPOSSIBLE = 3.0
_MOSTLY = 2.0 / 3.0  # of the span in log frequency


def choose(sweep: Sweep, used: BoolArray, fix: Mapping[str, Estimate] | None = None) -> Fit:
    """Fit the circuit that the data ask for, and say which others they do not exclude.

    Parameters
    ----------
    sweep : Sweep
    used : (N,) bool
    fix : mapping, optional
        Known elements; only circuits that have them all are tried.

    Returns
    -------
    Fit

    Raises
    ------
    FitError
        When no circuit can be fitted.
    """
    points = int(np.count_nonzero(used))
    wanted = [
        circuit
        for circuit in map(CIRCUITS.__getitem__, CANDIDATES)
        if points >= needed(circuit) and set(fix or ()) <= set(circuit.elements)
    ]
    if not wanted:
        raise FitError(
            f"sweep: must have points enough, and a circuit with the known elements "
            f"(got {points} points and {', '.join(fix or ()) or 'no known element'}).",
            hint="Measure more points or name the circuit.",
        )
    ranked = sorted(
        (
            (_criterion(solved), solved)
            for solved in (solve(sweep, c, used, fix=fix) for c in wanted)
        ),
        key=lambda pair: pair[0],
    )
    lowest, best = ranked[0]
    names = {solved.circuit.name: _name(sweep, solved) for _, solved in ranked}
    others = tuple(
        Alternative(circuit=names[solved.circuit.name], bic_difference=value - lowest)
        for value, solved in ranked[1:]
        if math.isfinite(value)
    )
    named = replace(best, circuit=CIRCUITS[names[best.circuit.name]])
    if named.circuit.name == "capacitor":
        named = solve(sweep, named.circuit, used, fix=fix)
    near = [
        names[solved.circuit.name]
        for value, solved in ranked[1:]
        if value - lowest < _AMBIGUOUS and _all_determined(solved)
    ]
    fit = conclude(sweep, named, _ambiguity(named.circuit.name, near))
    return replace(fit, alternatives=others)


def _criterion(solved: Solved) -> float:
    found = solved.optimum
    if found is None or not found.converged or _impossible(solved):
        return math.inf
    residual, _ = solved.view.far(found.model, found.model[None, :])
    count = 2 * residual.size
    power = max(float(np.vdot(residual, residual).real), 1e-28 * count)
    free = len(solved.circuit.elements) - len(solved.fixed)
    return count * math.log(power / count) + free * math.log(count)


def _impossible(solved: Solved) -> bool:
    """Tell whether an element is negative beyond doubt."""
    with np.errstate(all="ignore"):
        u = np.sqrt(np.maximum(solved.covariance.diagonal(), 0.0))
        return bool(np.any(solved.values < -_IMPOSSIBLE * u))


def _all_determined(solved: Solved) -> bool:
    """Tell whether every element counts: one that does not makes no other circuit of it."""
    u = np.sqrt(np.maximum(solved.covariance.diagonal(), 0.0))
    return bool(determined(solved.values, u).all())


def _name(sweep: Sweep, solved: Solved) -> str:
    """Tell a capacitor from a series circuit, which has the same impedance, by its reactance."""
    if solved.circuit.name != "series-rlc":
        return solved.circuit.name
    x = sweep.impedance.imag[solved.used]
    span = np.gradient(np.log(sweep.frequency[solved.used])) if x.size > 1 else np.ones(1)
    capacitive = float(span[x < 0].sum() / span.sum())
    return "capacitor" if capacitive > _MOSTLY else "series-rlc"


def _ambiguity(name: str, near: list[str]) -> tuple[Remark, ...]:
    if not near:
        return ()
    text = (
        f"The data do not tell {name} from {' or '.join(near)}: name the circuit if you know it, "
        "or sweep a wider band."
    )
    return (Remark(name="ambiguous", text=text),)
