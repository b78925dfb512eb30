"""Many sweeps of one grid at once, or one sweep quickly: closed-form start, then exact steps.

Nothing here depends on which sweeps share a block, so that one sweep alone gives what it gives
among thousands. What does not settle, or looks unusual, is left to the slower way.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.fit.blocks import Block, Grid, block, dot, solve_normal
from benchapp.fit.departure import ALARM, FEWEST, SEEN, normal_score
from benchapp.fit.screen import even

__all__ = ["BLOCK", "WORK", "Quick", "quick"]

BLOCK = 40_000
"""Points at a time: so many that the calls weigh little, so few that all stays in the cache."""

WORK = 9
"""Arrays of work space."""

_STEPS = 2
_CLOSE = 0.02  # of a standard uncertainty, before the last step


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quick:
    """What sweeps gave.

    ``point`` (n, P) coordinates; ``covariance`` (n, P, P) of them; ``variance`` (n,) per real
    component of the relative residual; ``accepted`` (n,) where the optimum was reached and
    nothing asks for a closer look.
    """

    point: FloatArray
    covariance: FloatArray
    variance: FloatArray
    accepted: NDArray[np.bool_]

    @classmethod
    def empty(cls, count: int, size: int) -> Quick:
        """Make room for sweeps of a circuit with so many elements."""
        return cls(
            point=np.empty((count, size)),
            covariance=np.empty((count, size, size)),
            variance=np.empty(count),
            accepted=np.zeros(count, dtype=np.bool_),
        )

    def put(self, begin: int, part: Quick) -> None:
        """Enter what a block gave, from a row on."""
        rows = slice(begin, begin + part.accepted.size)
        for entry in fields(Quick):
            getattr(self, entry.name)[rows] = getattr(part, entry.name)

    def take(self, rows: NDArray[np.bool_]) -> Quick:
        """Give some of the sweeps."""
        return Quick(**{entry.name: getattr(self, entry.name)[rows] for entry in fields(Quick)})


def quick(
    circuit: Circuit, grid: Grid, impedance: ComplexArray, *, any_kind: bool, work: FloatArray
) -> Quick:
    """Fit a block of sweeps whose noise is relative.

    Parameters
    ----------
    circuit : Circuit
        Of the series, parallel or shunted family.
    grid : Grid
    impedance : (n, M) complex, ohm
        About `BLOCK` points together.
    any_kind : bool
        The noise may be of another kind: then sweeps where it looks so are not accepted.
    work : (9, n, M) float
        Contiguous; overwritten.

    Returns
    -------
    Quick
    """
    with np.errstate(all="ignore"):
        data = block(circuit, grid, impedance, work)
        found, close = _settle(data, data.start(), any_kind=any_kind)
        again = np.flatnonzero(~close)
        if again.size:
            more, _ = _settle(data.part(again), found.point[again], any_kind=any_kind)
            for entry in fields(Quick):
                getattr(found, entry.name)[again] = getattr(more, entry.name)
    return found


def _settle(data: Block, point: FloatArray, *, any_kind: bool) -> tuple[Quick, NDArray[np.bool_]]:
    """Take a fixed number of Gauss-Newton steps; also tell who was close before the last."""
    count = point.shape[1]
    for _ in range(_STEPS - 1):
        look = data.look(point)
        point = point + solve_normal(look.hessian, look.gradient[:, :, None])[:, :, 0]
    look = data.look(point)
    right = np.empty((point.shape[0], count, count + 1))
    right[:, :, 0], right[:, :, 1:] = look.gradient, np.eye(count)
    solved = solve_normal(look.hessian, right)
    gain = dot(solved[:, :, 0], look.gradient)
    slants = data.slants()
    parts = data.residual()
    good, power = even(*parts, any_kind=any_kind)
    dof = max(2.0 * data.grid.y.size - count, 1.0)
    variance = (power - gain) / dof
    close = gain <= _CLOSE**2 * count * variance
    if dof >= FEWEST:
        log, taken = data.grid.log, slants @ solved[:, :, 1:]
        seen = 1.0 - np.einsum("nkp,nkp->nk", taken, slants) / (log @ log)
        pull = np.stack([part @ log for part in parts[:2]], axis=1) ** 2 / (log @ log)
        share = np.where(seen > SEEN, pull / seen, 0.0) / power[:, None]
        good &= (normal_score(share, dof) <= ALARM).all(axis=1)
    found = Quick(
        point=point + solved[:, :, 0],
        covariance=solved[:, :, 1:] * variance[:, None, None],
        variance=variance,
        accepted=close & good,
    )
    return found, close
