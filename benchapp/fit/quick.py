"""Many sweeps of one grid at once, or one sweep quickly: closed-form start, then exact steps.

One step is enough where it can be shown to end at the optimum: by how far it goes in every
coordinate, against the curvature that the noise makes room for. Other sweeps take more.

Nothing here depends on which sweeps share a block, so that one sweep alone gives what it gives
among thousands. What does not settle, or looks unusual, is left to the slower way.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import ComplexArray, FloatArray
from benchapp.circuit import Circuit
from benchapp.fit.blocks import Block, Grid, block, inverse
from benchapp.fit.departure import ALARM, FEWEST, SEEN, normal_score
from benchapp.fit.screen import even

__all__ = ["Quick", "quick"]

_BLOCK = 25_000
"""Points at a time: so many that the calls weigh little, so few that all stays in the cache."""

_WORK = 8
"""Arrays of work space."""

_STEPS = 4
_CLOSE = 0.02  # of a standard uncertainty, before the last step
_CURVED = 0.01  # of a standard uncertainty, what a step may miss by


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quick:
    """What sweeps gave.

    ``point`` (n, P) coordinates; ``covariance`` (n, P, P) of them; ``variance`` (n,) per real
    component of the relative residual; ``close`` (n,) where the optimum was reached, ``accepted``
    where besides nothing asks for a closer look.
    """

    point: FloatArray
    covariance: FloatArray
    variance: FloatArray
    accepted: NDArray[np.bool_]
    close: NDArray[np.bool_]

    @classmethod
    def empty(cls, count: int, size: int) -> Quick:
        """Make room for sweeps of a circuit with so many elements."""
        return cls(
            point=np.empty((count, size)),
            covariance=np.empty((count, size, size)),
            variance=np.empty(count),
            accepted=np.zeros(count, dtype=np.bool_),
            close=np.zeros(count, dtype=np.bool_),
        )

    def put(self, rows: slice | NDArray[np.intp], part: Quick) -> None:
        """Enter what some of the sweeps gave."""
        for entry in fields(Quick):
            getattr(self, entry.name)[rows] = getattr(part, entry.name)

    def take(self, rows: NDArray[np.bool_]) -> Quick:
        """Give some of the sweeps."""
        return Quick(**{entry.name: getattr(self, entry.name)[rows] for entry in fields(Quick)})


def quick(circuit: Circuit, grid: Grid, impedance: ComplexArray, *, any_kind: bool) -> Quick:
    """Fit sweeps whose noise is relative, block by block in the same work space.

    Parameters
    ----------
    circuit : Circuit
        Of the series, parallel or shunted family.
    grid : Grid
    impedance : (N, M) complex, ohm
    any_kind : bool
        The noise may be of another kind: then sweeps where it looks so are not accepted.

    Returns
    -------
    Quick
    """
    count, size = impedance.shape
    step = min(max(_BLOCK // size, 1), count)
    space = np.empty(_WORK * step * size)
    found = Quick.empty(count, len(circuit.elements))
    rows: NDArray[np.intp] | None = None
    with np.errstate(all="ignore"):
        for _ in range(_STEPS):
            seen = []
            for begin in range(0, count if rows is None else rows.size, step):
                some = slice(begin, begin + step) if rows is None else rows[begin : begin + step]
                z = impedance[some]
                data = block(circuit, grid, z, space[: _WORK * z.size].reshape(_WORK, *z.shape))
                if rows is None:
                    found.point[some] = _begin(data)
                seen.append(_look(data, found.point[some], any_kind=any_kind))
            every = slice(None) if rows is None else rows
            found.put(every, _settle(data, found.point[every], seen))
            rows = np.flatnonzero(~found.close)
            if not rows.size:
                break
    return found


def _begin(data: Block) -> FloatArray:
    """Give start values, one step on where they are rough."""
    point = data.start()
    if data.rough:
        look = data.normal(point, data.look(point))
        point = point + np.einsum("npq,nq->np", inverse(look.hessian), look.gradient)
    return point


_Seen = tuple[FloatArray, FloatArray, FloatArray, NDArray[np.bool_]]


def _look(data: Block, point: FloatArray, *, any_kind: bool) -> _Seen:
    """Give sums, what the residuals make with ln y (2, n), their power and whether all is even."""
    sums = data.look(point)
    parts, level, room = data.residual()
    good, power = even(parts, level, room, any_kind=any_kind)
    return sums, parts @ data.grid.log, power, good


def _settle(data: Block, point: FloatArray, seen: list[_Seen]) -> Quick:
    """Take a Gauss-Newton step, and judge the residuals where it begins."""
    sums, pulls, power, good = (
        each[0] if len(each) == 1 else np.concatenate(each, axis=-1)
        for each in zip(*seen, strict=True)
    )
    look = data.normal(point, sums)
    count, size, log = point.shape[1], data.grid.y.size, data.grid.log
    right = np.concatenate((look.gradient[:, :, None], look.slants), axis=2)
    spread = inverse(look.hessian)
    solved = spread @ right
    gain, *taken = np.einsum("npk,npk->kn", solved, right)
    step = solved[:, :, 0]
    dof = max(2.0 * size - count, 1.0)
    variance = (power - gain) / dof
    bend = (np.abs(step) * np.sqrt(np.einsum("npp->np", look.hessian))).sum(axis=1) ** 2
    close = (gain <= count * variance) & (bend <= _CURVED * np.sqrt(variance))
    close |= gain <= _CLOSE**2 * count * variance
    if dof >= FEWEST:
        left = pulls + np.einsum("npk,np->kn", look.slants, step)
        whole = log @ log
        apart = 1.0 - np.stack(taken) / whole
        share = np.where(apart > SEEN, left**2 / (whole * apart), 0.0) / (power - gain)
        good &= (normal_score(share, dof) <= ALARM).all(axis=0)
    return Quick(
        point=point + step,
        covariance=spread * variance[:, None, None],
        variance=variance,
        accepted=close & good,
        close=close,
    )
