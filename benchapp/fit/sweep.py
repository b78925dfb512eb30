"""Fit one impedance sweep with one circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray, Sweep
from benchapp.circuit import Circuit
from benchapp.circuit.model import TWO_PI
from benchapp.errors import FitError
from benchapp.fit.honesty import LIMIT, Whiteness, determined, whiteness
from benchapp.fit.noise import View, view
from benchapp.fit.refine import Optimum, refine
from benchapp.fit.result import Fit, Remark
from benchapp.fit.start import starts
from benchapp.units import Estimate

__all__ = ["Solved", "conclude", "needed", "solve"]

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """A circuit fitted to some points of a sweep, before it is put into words.

    ``values`` (P,) and ``covariance`` (P, P) of the elements, SI units; ``optimum`` None where
    nothing was found.
    """

    circuit: Circuit
    scale: float
    used: BoolArray
    view: View
    optimum: Optimum | None
    values: FloatArray
    covariance: FloatArray
    fixed: tuple[str, ...] = ()


def needed(circuit: Circuit) -> int:
    """Give the fewest points that can be fitted: one number more than there are elements."""
    return (len(circuit.elements) + 2) // 2


def solve(
    sweep: Sweep,
    circuit: Circuit,
    used: BoolArray,
    *,
    fix: Mapping[str, Estimate] | None = None,
) -> Solved:
    """Fit a circuit to the used points of a sweep.

    Parameters
    ----------
    sweep : Sweep
    circuit : Circuit
    used : (N,) bool
    fix : mapping, optional
        Elements that are known, with their own uncertainty.

    Returns
    -------
    Solved

    Raises
    ------
    FitError
        When there are too few points, or an element to fix is not in the circuit.
    """
    _check(circuit, int(np.count_nonzero(used)), fix or {})
    omega = TWO_PI * sweep.frequency[used]
    scale = float(np.exp(np.log(omega).mean()))
    seen = view(sweep.noise, sweep.impedance[used])
    found = refine(circuit.kernel, omega / scale, seen, starts(circuit, omega / scale, seen))
    if found is not None and fix:
        return _held(circuit, omega, scale, used, seen, found, fix)
    return _solved(circuit, scale, used, seen, found)


def _check(circuit: Circuit, points: int, fix: Mapping[str, Estimate]) -> None:
    if points < needed(circuit):
        raise FitError(
            f"sweep: must have at least {needed(circuit)} points for the {len(circuit.elements)} "
            f"elements of {circuit.name} (got {points}).",
            hint="Measure more points, widen the band, or choose a circuit with fewer elements.",
        )
    for name, estimate in fix.items():
        if name not in circuit.elements:
            raise FitError(
                f"known element: must be one of {', '.join(circuit.elements)} for {circuit.name} "
                f"(got {name}).",
                hint="Name an element of the circuit, or choose a circuit that has it.",
            )
        if not estimate.value > 0:
            raise FitError(
                f"known element {name}: must be above zero (got {estimate.value:g}).",
                hint="Give the value with its unit, for example 868 pF.",
            )
    if len(fix) == len(circuit.elements):
        raise FitError(
            f"known elements: must leave at least one to be found (got all of {circuit.name}).",
            hint="Leave one element free.",
        )


def _solved(
    circuit: Circuit, scale: float, used: BoolArray, seen: View, found: Optimum | None
) -> Solved:
    size = len(circuit.elements)
    values, covariance = np.zeros(size), np.zeros((size, size))
    if found is not None:
        with np.errstate(all="ignore"):
            values, slopes = circuit.decode(found.point, scale)
            covariance = slopes @ found.covariance @ slopes.T
    return Solved(
        circuit=circuit,
        scale=scale,
        used=used,
        view=seen,
        optimum=found,
        values=values,
        covariance=covariance,
    )


def _held(
    circuit: Circuit,
    omega: FloatArray,
    scale: float,
    used: BoolArray,
    seen: View,
    free: Optimum,
    fix: Mapping[str, Estimate],
) -> Solved:
    """Refit with some elements held; their own variance is carried into the others."""
    names = circuit.elements
    held = np.array([name in fix for name in names])
    base = np.abs(circuit.decode(free.point, scale)[0])
    base[held] = [fix[name].value for name in names if name in fix]
    own = np.array([(fix[name].u or 0.0) if name in fix else 0.0 for name in names]) / base

    def whole(part: FloatArray) -> FloatArray:
        relative = np.ones(len(names))
        relative[~held] = part
        return relative

    def all_slopes(y: FloatArray, relative: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        p = circuit.encode(base * relative, scale)
        model, slopes = circuit.kernel(y, p)
        by_value = np.linalg.solve(circuit.decode(p, scale)[1].T, slopes)
        relative_slopes: ComplexArray = by_value * base[:, None]
        return model, relative_slopes

    def kernel(y: FloatArray, part: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        model, slopes = all_slopes(y, whole(part))
        return model, np.ascontiguousarray(slopes[~held])

    y = omega / scale
    found = refine(kernel, y, seen, [np.ones(int(np.count_nonzero(~held)))])
    if found is None:
        return _solved(circuit, scale, used, seen, None)
    relative = whole(found.point)
    weighted = seen.weigh(*all_slopes(y, relative))[1]
    pull = (found.slopes.conj() @ weighted[held].T).real
    spread = np.zeros((len(names), int(np.count_nonzero(held))))
    spread[held] = np.eye(spread.shape[1])
    spread[~held] = -found.covariance / max(found.variance, 1e-300) @ pull
    covariance = (spread * own[held] ** 2) @ spread.T
    covariance[np.ix_(~held, ~held)] += found.covariance
    return Solved(
        circuit=circuit,
        scale=scale,
        used=used,
        view=seen,
        optimum=found,
        values=base * relative,
        covariance=covariance * np.outer(base, base),
        fixed=tuple(name for name in names if name in fix),
    )


def conclude(sweep: Sweep, solved: Solved, remarks: tuple[Remark, ...] = ()) -> Fit:
    """Put a solved sweep into words: results, what is not determined, and whether it fits."""
    circuit, found = solved.circuit, solved.optimum
    results, undetermined = _results(solved)
    model, residual = _everywhere(sweep, solved)
    white = whiteness(residual[solved.used], _excess(sweep, found))
    converged = found is not None and found.converged
    noise = None
    if found is not None:
        relative = sweep.impedance[solved.used] / model[solved.used] - 1.0
        noise = float(np.sqrt(np.vdot(relative, relative).real * 2.0 / found.dof))
    return Fit(
        kind="sweep",
        circuit=circuit.name,
        digest=sweep.digest,
        elements=circuit.elements,
        values=solved.values,
        covariance=solved.covariance,
        fixed=solved.fixed,
        results=results,
        undetermined=undetermined,
        describes=converged and white.describes,
        converged=converged,
        noise=noise,
        dof=found.dof if found is not None else 0,
        used=solved.used,
        fitted=model,
        residual=residual,
        remarks=(*remarks, *_remarks(solved, white, undetermined)),
    )


def _excess(sweep: Sweep, found: Optimum | None) -> float | None:
    if found is None or sweep.noise.level is None or sweep.noise.kind == "unknown":
        return None
    return float(np.sqrt(2.0 * found.variance)) / sweep.noise.level


def _everywhere(sweep: Sweep, solved: Solved) -> tuple[ComplexArray, ComplexArray]:
    """Model and normalised residual at every point of the sweep, used or not."""
    found = solved.optimum
    if found is None:
        return sweep.impedance, np.zeros_like(sweep.impedance)
    spread = float(np.sqrt(found.variance)) or 1.0
    if solved.used.all():
        return found.model, np.asarray(found.residual / spread)
    model = solved.circuit.impedance(sweep.frequency, solved.values)
    seen = view(sweep.noise, sweep.impedance)
    residual, _ = seen.weigh(model, model[None, :])
    return model, np.asarray(residual / spread)


def _results(solved: Solved) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    circuit = solved.circuit
    names = (*circuit.elements, *circuit.products)
    if solved.optimum is None:
        return (), names
    values = solved.values
    units = (*circuit.units, *(product.unit for product in circuit.products.values()))
    exponents = np.vstack(
        [np.eye(values.size)] + [[product.exponents] for product in circuit.products.values()]
    )
    factors = [1.0] * values.size + [product.factor for product in circuit.products.values()]
    with np.errstate(all="ignore"):
        positive = np.where(values > 0, values, np.nan)
        logs = np.where(exponents != 0, exponents * np.log(positive), 0.0).sum(axis=1)
        slopes = np.where(exponents != 0, exponents / positive, 0.0)
        found = np.array(factors) * np.exp(logs)
        variance = np.einsum("ki,ij,kj->k", slopes, solved.covariance, slopes)
        u = found * np.sqrt(np.maximum(variance, 0.0))
    good = determined(found, u)
    results = tuple(
        Estimate(name=name, value=value, u=error, unit=unit)
        for name, value, error, unit, ok in zip(
            names, found.tolist(), u.tolist(), units, good.tolist(), strict=True
        )
        if ok
    )
    return results, tuple(name for name, ok in zip(names, good, strict=True) if not ok)


def _remarks(
    solved: Solved, white: Whiteness, undetermined: tuple[str, ...]
) -> tuple[Remark, ...]:
    remarks = []
    if solved.optimum is None or not solved.optimum.converged:
        text = "The fit did not settle: treat these values as a rough guess, or measure again."
        remarks.append(Remark(name="not-converged", text=text))
    elif not white.describes:
        remarks.append(Remark(name="misfit", text=_misfit(solved.circuit, white)))
    if undetermined:
        text = (
            f"The sweep does not determine {', '.join(undetermined)}: the uncertainty is above "
            f"{LIMIT:.0%}. Widen the band or take more points where it shows."
        )
        remarks.append(Remark(name="undetermined", text=text))
    return tuple(remarks)


def _misfit(circuit: Circuit, white: Whiteness) -> str:
    reasons = []
    if white.runs < -3.5 or white.lag_one > 4.0:
        reasons.append("the deviations follow one another instead of scattering")
    if white.excess is not None and white.excess > 1.15:
        reasons.append(f"the scatter is {white.excess:.1f} times the instrument's noise")
    text = f"The circuit ({circuit.title}) does not describe the data: {' and '.join(reasons)}."
    return text + (f" Try {circuit.richer}." if circuit.richer else "")
