"""Fit an impedance sweep: one circuit, or the one that the data ask for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS, Circuit
from benchapp.errors import FitError
from benchapp.fit.choice import CANDIDATES, criterion, name_for, others, rank, renamed
from benchapp.fit.conclude import conclude
from benchapp.fit.held import check_known, hold
from benchapp.fit.points import BoolArray, Points, Solved
from benchapp.fit.result import Fit, Remark
from benchapp.fit.solve import check_size, needed, reconsider
from benchapp.units import Estimate

__all__ = ["fit_sweep"]

_SMALLEST, _LARGEST = 1e-15, 1e21  # ohm


def fit_sweep(
    sweep: Sweep, circuit: str, used: BoolArray, fix: Mapping[str, Estimate] | None = None
) -> Fit:
    """Fit the used points of a sweep.

    Parameters
    ----------
    sweep : Sweep
    circuit : str
        A name of `benchapp.circuit.CIRCUITS`, or 'auto'.
    used : (N,) bool
    fix : mapping of str to Estimate, optional
        Known elements. With 'auto' only circuits that have them all are tried.

    Returns
    -------
    Fit

    Raises
    ------
    FitError
        When the circuit does not exist, there are too few points, or known elements do not suit.
    """
    known = fix or {}
    circuits = _wanted(circuit, int(np.count_nonzero(used)), known)
    if len(circuits) == 1:
        check_size(circuits[0], used)
        check_known(circuits[0], known)
    usable, remarks = _meaningful(sweep, used)
    if np.count_nonzero(usable) < needed(circuits[-1]):
        return conclude(Solved.at(circuits[0], Points.of(sweep, used), None), remarks)
    ranked, more = _ranked(Points.of(sweep, usable), circuits, known)
    if circuit != "auto":
        return conclude(ranked[0], (*remarks, *more))
    alternatives, doubts = others(ranked)
    best = renamed(ranked[0], name_for(ranked[0]))
    return conclude(best, (*remarks, *more, *doubts), alternatives)


def _meaningful(sweep: Sweep, used: BoolArray) -> tuple[BoolArray, tuple[Remark, ...]]:
    """Leave out points whose impedance nothing can have."""
    size = np.abs(sweep.impedance)
    usable = (size > _SMALLEST) & (size < _LARGEST)
    if usable.all():
        return used, ()
    places = tuple(int(point) for point in np.flatnonzero(used & ~usable))
    text = f"{len(places)} points have an impedance of zero or beyond any meaning: set aside."
    return used & usable, (Remark(name="no-impedance", text=text, points=places),)


def _wanted(circuit: str, count: int, known: Mapping[str, Estimate]) -> list[Circuit]:
    if circuit != "auto":
        if circuit not in CIRCUITS:
            raise FitError(
                f"circuit: must be one of auto, {', '.join(CIRCUITS)} for an impedance sweep "
                f"(got {circuit}).",
                hint="Leave it out to let the data choose.",
            )
        return [CIRCUITS[circuit]]
    wanted = [
        candidate
        for candidate in map(CIRCUITS.__getitem__, CANDIDATES)
        if count >= needed(candidate)
        and set(known) <= set(candidate.elements)
        and len(known) < len(candidate.elements)
    ]
    if not wanted:
        raise FitError(
            "sweep: must have points enough, and there must be a circuit with the known elements "
            f"(got {count} points and {', '.join(known) or 'no known element'}).",
            hint="Measure more points, or name the circuit.",
        )
    return wanted


def _ranked(
    points: Points, circuits: Sequence[Circuit], known: Mapping[str, Estimate]
) -> tuple[list[Solved], tuple[Remark, ...]]:
    """Solve with all circuits, and again where the points ask for other weights."""
    ranked = rank(points, circuits)
    changed = reconsider(ranked)
    remarks: tuple[Remark, ...] = ()
    if changed is not None:
        points, remarks = changed
        ranked = rank(points, circuits)
    if known:
        ranked = sorted((hold(solved, known) for solved in ranked), key=criterion)
    return ranked, remarks
