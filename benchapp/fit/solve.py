"""From the points of a sweep to the values of one circuit: the quick way, then the careful one."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from benchapp.capture import ComplexArray
from benchapp.circuit import Circuit
from benchapp.errors import FitError
from benchapp.fit.blocks import has_block
from benchapp.fit.honesty import Whiteness
from benchapp.fit.noise import Law
from benchapp.fit.points import BoolArray, Points, Solved
from benchapp.fit.quick import Quick, quick
from benchapp.fit.rangestep import RangeStep, find_range_step
from benchapp.fit.refine import Optimum, refine
from benchapp.fit.result import Remark
from benchapp.fit.spread import follows_level, law_of, one_port_law
from benchapp.fit.start import starts
from benchapp.fit.wild import scattered, suspicious, without_wild

__all__ = ["check_size", "needed", "reweigh", "set_aside", "settled", "solve", "spoilt"]

_ROUNDS = 4
_WIDE = 0.2  # relative deviation that no noise of a bench has
_AS_EVEN = 2.0  # scatter within a range step over that of the rest


def needed(circuit: Circuit) -> int:
    """Give the fewest points that can be fitted: one number more than there are elements."""
    return (len(circuit.elements) + 2) // 2


def check_size(circuit: Circuit, used: BoolArray) -> None:
    """Refuse a sweep that has fewer points than a circuit needs.

    Raises
    ------
    FitError
        When there are too few points.
    """
    count = int(np.count_nonzero(used))
    if count < needed(circuit):
        raise FitError(
            f"sweep: must have at least {needed(circuit)} points for the {len(circuit.elements)} "
            f"elements of {circuit.name} (got {count}).",
            hint="Measure more points, widen the band, or choose a circuit with fewer elements.",
        )


def solve(points: Points, circuit: Circuit) -> Solved:
    """Fit a circuit to points with the weights that they have.

    Parameters
    ----------
    points : Points
    circuit : Circuit

    Returns
    -------
    Solved
    """
    fast = _quick(points, circuit)
    if fast is not None and fast.accepted[0]:
        return Solved.at(circuit, points, _optimum(points, circuit, fast), clean=True)
    y = points.grid.y
    found = refine(circuit.kernel, y, points.view, starts(circuit, y, points.view))
    return Solved.at(circuit, points, found)


def _quick(points: Points, circuit: Circuit) -> Quick | None:
    """Take the fast way where noise is relative, or may be."""
    view = points.view
    relative = view.kind in ("relative", "unknown") and view.law is None
    if not relative or not has_block(circuit):
        return None
    return quick(circuit, points.grid, view.measured[None, :], any_kind=points.unknown)


def _optimum(points: Points, circuit: Circuit, found: Quick) -> Optimum:
    """Give what the fast way found as the slow way does."""
    point = found.point[0]
    model, slopes = circuit.kernel(points.grid.y, point)
    residual, slopes = points.view.weigh(model, slopes)
    return Optimum(
        point=point,
        covariance=found.covariance[0],
        variance=float(found.variance[0]),
        residual=residual,
        model=model,
        slopes=slopes,
        dof=2 * points.grid.y.size - point.size,
        offset=0.0,
    )


def settled(solved: Solved) -> bool:
    """Tell whether nothing speaks against a fit: it reached the optimum and left even noise."""
    found = solved.optimum
    return solved.clean or (
        found is not None
        and found.converged
        and (found.exact or not suspicious(found.residual))
        and not solved.whiteness().structured
    )


def spoilt(solved: Solved) -> bool:
    """Tell whether wild points may be behind what a fit left."""
    found = solved.optimum
    if found is None or not found.converged or suspicious(found.residual):
        return True
    away = np.abs(solved.points.view.measured / found.model - 1.0)
    return float(np.sqrt(np.mean(away**2))) > _WIDE


def reweigh(solved: Solved) -> Points | None:
    """Give the points with weights found from the residuals, where those ask for it."""
    evened = None if solved.clean else _evened(solved)
    return None if evened is None else evened.points


def set_aside(ranked: Sequence[Solved]) -> tuple[Points, Remark] | None:
    """Ask whether some points do not belong to the sweep: a step of the range, or wild points.

    Parameters
    ----------
    ranked : sequence of Solved
        The same points solved with one circuit or several, the best first.

    Returns
    -------
    (Points, Remark) or None
        The points to be used instead, and what is to be said. None where no circuit describes
        what is left.
    """
    for explain in (_agreed, _stepped, _left) if spoilt(ranked[0]) else (_stepped,):
        for solved in ranked:
            agreed = explain(solved)
            if agreed is not None:
                return agreed
    return None


def _evened(solved: Solved) -> Solved | None:
    """Find the weights from the residuals where the kind of noise is not known.

    Fit, regress the squared residuals, weigh by the result, and fit again.
    """
    found, points = solved.optimum, solved.points
    if found is None or not (points.unknown and found.converged):
        return None
    if not follows_level(found.residual, found.model):
        return None
    best = _by_law(solved, found, law_of)
    if best is None or not settled(best):
        other = _by_law(solved, found, one_port_law)
        best = other if other is not None and settled(other) else best
    return best


def _by_law(
    solved: Solved, found: Optimum, first: Callable[[ComplexArray, ComplexArray], Law]
) -> Solved | None:
    """Fit by a first law of the noise, then by the laws that the deviations show."""
    points, best, law_from = solved.points, None, first
    for _ in range(_ROUNDS):
        law = law_from(points.view.measured - found.model, found.model)
        if not law.parts[1:].any():  # relative after all
            break
        trial = points.weighed(law)
        after = refine(solved.circuit.kernel, points.grid.y, trial.view, [found.point])
        if after is None or not after.converged:
            break
        best, found, law_from = Solved.at(solved.circuit, trial, after), after, law_of
    return best


def _stepped(solved: Solved) -> tuple[Points, Remark] | None:
    """Set a run of points aside that one factor brings into line with a fit to the rest."""
    points, found = solved.points, solved.optimum
    if found is None or not found.converged:
        return None
    step = find_range_step(points.view, found)
    if step is None or _slanted(solved, found, step):
        return None
    kept = np.ones(points.grid.y.size, dtype=np.bool_)
    kept[step.first : step.last + 1] = False
    fewer = points.keep(kept)
    part = solve(fewer, solved.circuit)
    if part.optimum is None or not settled(part):
        return None
    frequency = points.sweep.frequency[points.used & ~fewer.used]
    ratio = points.view.measured[~kept] / solved.circuit.impedance(frequency, part.values)
    apart, rest = ratio / ratio.mean() - 1.0, part.points.view.measured / part.optimum.model - 1.0
    if np.mean(np.abs(apart) ** 2) > _AS_EVEN**2 * np.mean(np.abs(rest) ** 2):
        return None
    return fewer, _range_remark(points, replace(step, factor=complex(ratio.mean())))


def _slanted(solved: Solved, found: Optimum, step: RangeStep) -> bool:
    """Tell whether a smooth departure explains as much as a step, which has three numbers more."""
    smooth = solved.whiteness().departure
    if smooth is None:
        return False
    return step.drop < smooth.drop + 3 * found.variance * math.log(2 * found.residual.size)


def _agreed(solved: Solved) -> tuple[Points, Remark] | None:
    """Set wild points aside, where most points agree on one answer without them."""
    return _without_wild(solved, lambda white: white.structured)


def _left(solved: Solved) -> tuple[Points, Remark] | None:
    """Set wild points aside even where the others hold a smooth departure, which is then told.

    To use the wild ones because of it would be worse.
    """
    return _without_wild(solved, lambda white: white.chained)


def _without_wild(
    solved: Solved, refused: Callable[[Whiteness], bool]
) -> tuple[Points, Remark] | None:
    points, circuit = solved.points, solved.circuit
    agreed = without_wild(circuit, points.grid.y, points.view, solved.optimum)
    if agreed is None:
        return None
    kept, _ = agreed
    if kept.all() or not scattered(kept):
        return None
    fewer = points.keep(kept)
    part = solve(fewer, circuit)
    return None if refused(part.whiteness()) else (fewer, _wild_remark(points, fewer))


def _wild_remark(points: Points, fewer: Points) -> Remark:
    places = tuple(int(point) for point in np.flatnonzero(points.used & ~fewer.used))
    verb = "point was" if len(places) == 1 else "points were"
    text = f"{len(places)} wild {verb} set aside: the others agree without."
    return Remark(name="wild-points", text=text, points=places)


def _range_remark(points: Points, step: RangeStep) -> Remark:
    used = np.flatnonzero(points.used)
    places = used[step.first : step.last + 1]
    frequency = points.sweep.frequency[places]
    text = (
        f"From {frequency[0]:.6g} Hz to {frequency[-1]:.6g} Hz the impedance is "
        f"{abs(step.factor):.4f} times what the rest says, as after a change of measuring range. "
        "These points were set aside."
    )
    return Remark(name="range-step", text=text, points=tuple(int(place) for place in places))
