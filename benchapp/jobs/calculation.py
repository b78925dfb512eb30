"""The longer calculations: tanks drawn at random, coils with corners or wanted turns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from benchapp.coil import (
    SHAPES,
    CoilResult,
    Conductor,
    Design,
    Deviation,
    Plate,
    Wanted,
    calculate,
    turns_for,
)
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.tank import Simulation, StackUp, simulate

__all__ = ["CoilAnswer", "ComputeCoil", "SimulateTanks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulateTanks:
    """Draw tanks at random; the same seed gives the same tanks."""

    stack_up: StackUp
    units: int = 1_000_000
    seed: int = 1

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Simulation:
        """Draw them."""
        stop_if(cancelled)
        progress("drawing tanks at random", 0.0)
        return simulate(self.stack_up, np.random.default_rng(self.seed), self.units)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilAnswer:
    """A computed coil, and the turns for a wanted inductance where they were asked for."""

    result: CoilResult
    wanted: Wanted | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ComputeCoil:
    """Compute everything about a coil of a shape of `benchapp.coil.SHAPES`.

    ``values`` are those of the shape's entries in SI units, ``inductance`` (H) is a wanted one
    for which turns are to be found.
    """

    shape: str
    values: Mapping[str, float | str | None]
    conductor: Conductor = field(default_factory=Conductor)
    frequencies: tuple[float, ...] = ()
    plate: Plate | None = None
    deviations: Mapping[str, Deviation] = field(default_factory=dict)
    inductance: float | None = None

    @property
    def is_quick(self) -> bool:
        """Whether it is done within a few milliseconds: no corners, no search for turns."""
        return not self.deviations and self.inductance is None

    def build(self, turns: float | None = None) -> Design:
        """Make the design, with another number of turns where one is given."""
        changed = {} if turns is None else {"turns": turns}
        return SHAPES[self.shape].build({**self.values, **changed})

    def __call__(self, progress: Progress, cancelled: Cancelled) -> CoilAnswer:
        """Compute it."""
        stop_if(cancelled)
        progress("computing the coil", 0.0)
        answer = CoilAnswer(
            result=calculate(
                self.build(),
                self.conductor,
                frequencies=self.frequencies,
                plate=self.plate,
                deviations=self.deviations,
            )
        )
        if self.inductance is None:
            return answer
        stop_if(cancelled)
        progress("finding the turns", 0.5)
        return replace(answer, wanted=turns_for(self.build, self.inductance))
