"""Fit an impedance sweep: one circuit, or the one that the data ask for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS, Circuit
from benchapp.errors import FitError
from benchapp.fit.choice import CANDIDATES, RICHER, criterion, name_for, others, rank, renamed
from benchapp.fit.conclude import conclude
from benchapp.fit.held import check_known, hold
from benchapp.fit.peaks import FEWEST_FOR_PEAKS, find_peaks
from benchapp.fit.points import BoolArray, Points, Solved
from benchapp.fit.result import Fit, Remark
from benchapp.fit.solve import check_size, needed, reweigh, set_aside, settled, spoilt
from benchapp.units import Estimate

__all__ = ["fit_sweep"]

_SMALLEST, _LARGEST = 1e-15, 1e21  # ohm


def fit_sweep(
    sweep: Sweep,
    circuit: str,
    used: BoolArray,
    fix: Mapping[str, Estimate] | None = None,
    *,
    advise: bool = True,
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
    advise : bool
        Whether to look for what would describe data that the circuit does not.

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
    search = _Search(Points.of(sweep, usable), circuits, known)
    search.open, search.advises = circuit == "auto", advise
    return search.fit(remarks)


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
        for candidate in _plain_circuits()
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


class _Search:
    """The way from points to a fit: plain, with other weights, richer, or with fewer points."""

    def __init__(
        self, points: Points, circuits: Sequence[Circuit], known: Mapping[str, Estimate]
    ) -> None:
        self.points, self.circuits, self.known = points, circuits, known
        self.open, self.advises = False, True
        self.plain: list[Solved] = []
        self.remarks: tuple[Remark, ...] = ()
        self.advice = ""

    def fit(self, remarks: tuple[Remark, ...]) -> Fit:
        """Search, and put the result into words."""
        ranked = self._ranked()
        if self.known:
            ranked = sorted((hold(solved, self.known) for solved in ranked), key=criterion)
        if not self.open:
            return conclude(ranked[0], (*remarks, *self.remarks), advice=self.advice)
        alternatives, doubts = others(ranked)
        doubts = doubts if settled(ranked[0]) else ()
        best = renamed(ranked[0], name_for(ranked[0]))
        return conclude(best, (*remarks, *self.remarks, *doubts), alternatives, self.advice)

    def _ranked(self) -> list[Solved]:
        self.plain = rank(self.points, self.circuits)
        ranked = _weighed(self.plain)
        if settled(ranked[0]):
            return ranked
        steps = (self._fewer, self._richer) if spoilt(ranked[0]) else (self._richer, self._fewer)
        for step in steps:
            better = step()
            if better is not None:
                return better
        if self.advises and not self.advice:
            self.advice = _list_peaks(self.points)
        return ranked

    def _fewer(self) -> list[Solved] | None:
        """Set points aside that do not belong to the sweep."""
        if self.advice:
            return None
        found = set_aside(self.plain)
        if found is None:
            return None
        points, remark = found
        self.remarks = (remark,)
        return _weighed(rank(points, self.circuits))

    def _richer(self) -> list[Solved] | None:
        """Take a circuit with more elements, or name it where another one was asked for."""
        count, points = self.points.grid.y.size, self.points
        tried = [c for c in RICHER if needed(c) <= count and set(self.known) <= set(c.elements)]
        allowed = [c for c in tried if self.open or c.name == self.circuits[0].name]
        if allowed:
            best = _weighed(sorted((*self.plain, *rank(points, allowed)), key=criterion))
            if settled(best[0]):
                return best
        if self.advises and not self.open:
            rest = [c for c in (*_plain_circuits(), *tried) if needed(c) <= count]
            best = _weighed(rank(points, [c for c in rest if c not in self.circuits]))
            if settled(best[0]):
                name, title = name_for(best[0]).name, best[0].circuit.title
                self.advice = f"The circuit {name} ({title}) does."
        return None


def _plain_circuits() -> list[Circuit]:
    return [CIRCUITS[name] for name in CANDIDATES]


def _weighed(ranked: list[Solved]) -> list[Solved]:
    """Solve again with all circuits where the residuals ask for other weights.

    Weights found with one circuit may bring another to the front: they are then found again with
    that one, until it leads by its own weights.
    """
    best, lead = ranked, ranked[0]
    for _ in ranked:
        evened = reweigh(lead)
        if evened is None:
            break
        again = rank(evened, [solved.circuit for solved in ranked])
        if settled(again[0]) or not settled(best[0]):
            best = again
        name = again[0].circuit.name
        if name == lead.circuit.name:
            break
        lead = next(solved for solved in ranked if solved.circuit.name == name)
    return best


def _list_peaks(points: Points) -> str:
    """Say which resonances are seen, where there are several."""
    if points.grid.y.size < FEWEST_FOR_PEAKS:
        return ""
    peaks = find_peaks(points.sweep, points.used)
    if len(peaks) < 2:
        return ""
    places = ", ".join(f"{peak.f0.value:.6g} Hz (Q {peak.q.value:.3g})" for peak in peaks)
    return f"{len(peaks)} resonances are seen: {places}. Fit each within its own band."
