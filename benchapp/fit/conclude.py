"""A solved sweep put into words: results, what is not determined, and whether it fits."""

from __future__ import annotations

import numpy as np

from benchapp.capture import ComplexArray
from benchapp.fit.honesty import LIMIT, Whiteness, determined
from benchapp.fit.points import Solved
from benchapp.fit.product import products_of
from benchapp.fit.result import Alternative, Fit, Remark
from benchapp.units import Estimate

__all__ = ["conclude"]


def conclude(
    solved: Solved,
    remarks: tuple[Remark, ...] = (),
    alternatives: tuple[Alternative, ...] = (),
    advice: str = "",
) -> Fit:
    """Make the result that a person sees.

    Parameters
    ----------
    solved : Solved
    remarks : tuple of Remark
        What is to be said first.
    alternatives : tuple of Alternative
        Other circuits that were tried.
    advice : str
        What may describe the data where the circuit does not.

    Returns
    -------
    Fit
    """
    circuit, points, found = solved.circuit, solved.points, solved.optimum
    results, undetermined = _results(solved)
    model, residual = _everywhere(solved)
    white = solved.whiteness()
    converged = found is not None and found.converged
    return Fit(
        kind="sweep",
        circuit=circuit.name,
        digest=points.sweep.digest,
        elements=circuit.elements,
        values=solved.values,
        covariance=solved.covariance,
        fixed=solved.fixed,
        results=results,
        undetermined=undetermined,
        describes=converged and white.describes,
        converged=converged,
        noise=_noise(solved),
        dof=found.dof if found is not None else 0,
        used=points.used,
        fitted=model,
        residual=residual,
        remarks=(*remarks, *_remarks(solved, white, undetermined, advice)),
        alternatives=alternatives,
    )


def _noise(solved: Solved) -> float | None:
    """Rms of the complex relative residual, put right for the elements found."""
    found = solved.optimum
    if found is None:
        return None
    relative = solved.points.view.measured / found.model
    relative -= 1.0
    return float(np.sqrt(np.vdot(relative, relative).real * 2.0 / found.dof))


def _everywhere(solved: Solved) -> tuple[ComplexArray, ComplexArray]:
    """Model and normalised residual at every point of the sweep, used or not."""
    found, points = solved.optimum, solved.points
    if found is None:
        return points.sweep.impedance, np.zeros_like(points.sweep.impedance)
    spread = float(np.sqrt(found.variance)) or 1.0
    if points.used.all():
        return found.model, np.asarray(found.residual / spread)
    model = solved.circuit.impedance(points.sweep.frequency, solved.values)
    return model, np.asarray(points.everywhere(model) / spread)


def _results(solved: Solved) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    circuit = solved.circuit
    if solved.optimum is None:
        return (), (*circuit.elements, *circuit.products)
    names, units, *_ = circuit.powers
    found, u = products_of(circuit, solved.values, solved.slopes, solved.spread)
    good = determined(found, u).tolist()
    results = tuple(
        Estimate(name=name, value=value, u=error, unit=unit)
        for name, value, error, unit, ok in zip(
            names, found.tolist(), u.tolist(), units, good, strict=True
        )
        if ok
    )
    return results, tuple(name for name, ok in zip(names, good, strict=True) if not ok)


def _remarks(
    solved: Solved, white: Whiteness, undetermined: tuple[str, ...], advice: str
) -> tuple[Remark, ...]:
    remarks = []
    if solved.optimum is None or not solved.optimum.converged:
        text = (
            "The fit did not settle: treat these values as a rough guess, or measure again. "
            f"{advice}"
        )
        remarks.append(Remark(name="not-converged", text=text.strip()))
    elif not white.describes:
        title = solved.circuit.title
        text = f"The circuit ({title}) does not describe the data: {white.reasons}. {advice}"
        remarks.append(Remark(name="misfit", text=text.strip()))
    if undetermined:
        text = (
            f"The sweep does not determine {', '.join(undetermined)}: the uncertainty is above "
            f"{LIMIT:.0%}. Widen the band or take more points where it shows."
        )
        remarks.append(Remark(name="undetermined", text=text))
    if solved.circuit.family == "coupled":
        text = (
            "A sweep of one side tells k, f2 and Q2 of the other: its inductance alone is not in "
            "the data, and the sign of k neither."
        )
        remarks.append(Remark(name="one-side", text=text))
    return tuple(remarks)
