"""Many sweeps with one circuit: what `fit` gives for each of them, at a fraction of the time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.capture import ComplexArray, FloatArray, Noise, Sweep
from benchapp.circuit import CIRCUITS, Circuit
from benchapp.errors import FitError
from benchapp.fit.blocks import Grid, has_block
from benchapp.fit.honesty import EXCESS, determined
from benchapp.fit.product import products_of
from benchapp.fit.quick import Quick, quick
from benchapp.fit.result import Fit
from benchapp.fit.solve import check_size
from benchapp.fit.sweep import fit_sweep

__all__ = ["BatchFit", "fit_batch"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchFit:
    """The results of many sweeps, one row each.

    ``names`` and ``units`` of the columns: the elements, then what follows from them.
    ``values`` and ``u`` (N, P) are not-a-number where the data do not determine a value.
    ``accepted`` (N,) where the fit settled and the circuit describes the data. ``noise`` (N,) is
    the rms of the complex relative error, ``dof`` (N,) the degrees of freedom for Student's t,
    ``set_aside`` (N,) how many points were not used.
    """

    circuit: str
    names: tuple[str, ...]
    units: tuple[str, ...]
    values: FloatArray
    u: FloatArray
    accepted: NDArray[np.bool_]
    noise: FloatArray
    dof: NDArray[np.int64]
    set_aside: NDArray[np.int64]


def fit_batch(
    frequency: ArrayLike | Sequence[ArrayLike],
    impedance: ArrayLike | Sequence[ArrayLike],
    circuit: str,
    *,
    noise: Noise | None = None,
) -> BatchFit:
    """Fit many sweeps with one circuit.

    Sweeps of one grid share the sums over it and are fitted in blocks; what does not settle
    there, or looks unusual, is fitted as `fit` does it. Rows agree with `fit` to rounding.

    Parameters
    ----------
    frequency : (M,) float, Hz, or a sequence of N such arrays
        One grid for all, or a grid for each sweep; equal grids are fitted together.
    impedance : (N, M) complex, ohm, or a sequence of N arrays
    circuit : str
        A name of `benchapp.circuit.CIRCUITS`.
    noise : Noise, optional
        How the noise scales, the same for all; unknown where left out.

    Returns
    -------
    BatchFit

    Raises
    ------
    FitError
        When the circuit does not exist or there are too few points.
    CaptureError
        When an array is not a sweep: not finite, not rising, of another length.
    """
    if circuit not in CIRCUITS:
        raise FitError(
            f"circuit: must be one of {', '.join(CIRCUITS)} for a batch (got {circuit}).",
            hint="Name the circuit that all sweeps share.",
        )
    kind = noise or Noise()
    groups = list(_groups(frequency, impedance))
    table = _Table.empty(CIRCUITS[circuit], sum(rows.size for _, rows, _ in groups))
    for grid, rows, z in groups:
        if not rows.size:
            continue
        first = Sweep(frequency=grid, impedance=z[0], noise=kind)
        check_size(table.circuit, np.ones(first.frequency.size, dtype=np.bool_))
        _fit_group(table, first, rows, z)
    return table.result()


def _groups(
    frequency: ArrayLike | Sequence[ArrayLike], impedance: ArrayLike | Sequence[ArrayLike]
) -> Iterator[tuple[FloatArray, NDArray[np.intp], ComplexArray]]:
    """Give each grid, the rows that have it, and their impedances (n, M)."""
    if np.ndim(frequency[0]) == 0:  # type: ignore[index]
        z = np.asarray(impedance, dtype=np.complex128)
        if z.ndim != 2:
            raise FitError(
                f"impedance: must have one row for each sweep (got shape {z.shape}).",
                hint="Give an array of sweeps by points, or a grid for each sweep.",
            )
        yield np.asarray(frequency, dtype=np.float64), np.arange(len(z)), z
        return
    grids = [np.asarray(grid, dtype=np.float64) for grid in frequency]  # type: ignore[union-attr]
    sweeps = [np.asarray(z, dtype=np.complex128) for z in impedance]  # type: ignore[union-attr]
    if len(grids) != len(sweeps):
        raise FitError(
            f"frequency: must have one grid for each sweep (got {len(grids)} for {len(sweeps)}).",
            hint="Give one grid for all, or as many grids as sweeps.",
        )
    same: dict[bytes, list[int]] = {}
    for row, grid in enumerate(grids):
        same.setdefault(grid.tobytes(), []).append(row)
    for rows in same.values():
        yield grids[rows[0]], np.array(rows), np.stack([sweeps[row] for row in rows])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Table:
    """The columns of a result while they are filled."""

    circuit: Circuit
    names: tuple[str, ...]
    units: tuple[str, ...]
    values: FloatArray
    u: FloatArray
    accepted: NDArray[np.bool_]
    noise: FloatArray
    dof: NDArray[np.int64]
    set_aside: NDArray[np.int64]

    @classmethod
    def empty(cls, circuit: Circuit, count: int) -> _Table:
        names, units, *_ = circuit.powers
        return cls(
            circuit=circuit,
            names=names,
            units=units,
            values=np.full((count, len(names)), np.nan),
            u=np.full((count, len(names)), np.nan),
            accepted=np.zeros(count, dtype=np.bool_),
            noise=np.full(count, np.nan),
            dof=np.zeros(count, dtype=np.int64),
            set_aside=np.zeros(count, dtype=np.int64),
        )

    def put(self, rows: NDArray[np.intp], found: Quick, grid: Grid) -> None:
        """Enter what the quick way accepted."""
        values, slopes = self.circuit.decode(found.point, grid.scale)
        made, u = products_of(self.circuit, values, slopes, found.covariance)
        good = determined(made, u)
        self.values[rows] = np.where(good, made, np.nan)
        self.u[rows] = np.where(good, u, np.nan)
        self.accepted[rows] = True
        self.noise[rows] = np.sqrt(2.0 * found.variance)
        self.dof[rows] = 2 * grid.y.size - found.point.shape[1]

    def put_one(self, row: int, fit: Fit) -> None:
        """Enter one careful fit."""
        for estimate in fit.results:
            place = self.names.index(estimate.name)
            self.values[row, place] = estimate.value
            self.u[row, place] = np.nan if estimate.u is None else estimate.u
        self.accepted[row] = fit.describes
        self.noise[row] = np.nan if fit.noise is None else fit.noise
        self.dof[row] = fit.dof
        self.set_aside[row] = len(fit.set_aside)

    def result(self) -> BatchFit:
        columns = {entry.name: getattr(self, entry.name) for entry in fields(self)}
        return BatchFit(**{**columns, "circuit": self.circuit.name})


def _fit_group(table: _Table, first: Sweep, rows: NDArray[np.intp], z: ComplexArray) -> None:
    """Fit the sweeps of one grid: in blocks, then one by one what needs it."""
    size = first.frequency.size
    done = np.zeros(len(z), dtype=np.bool_)
    if first.noise.kind in ("relative", "unknown") and has_block(table.circuit):
        grid = Grid(first.frequency)
        found = quick(table.circuit, grid, z, any_kind=first.noise.kind == "unknown")
        done = found.accepted
        if first.noise.level is not None:
            done &= np.sqrt(2.0 * found.variance) <= EXCESS * first.noise.level
        table.put(rows[done], found.take(done), grid)
    for row in np.flatnonzero(~done).tolist():
        sweep = Sweep(frequency=first.frequency, impedance=z[row], noise=first.noise)
        every = np.ones(size, dtype=np.bool_)
        table.put_one(int(rows[row]), fit_sweep(sweep, table.circuit.name, every, advise=False))
