"""Lone points that leap from a smooth curve: a value may have lost or changed a digit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from benchapp.readers.axis import Run
from benchapp.readers.notes import Notes

__all__ = ["doubt_leaps", "leaps"]

_FEWEST = 12
_NEIGHBOURS = 4
_RATIO = 4.0
_SMALLEST = 3e-4
_SMALLEST_AT_END = 0.5
"""At the ends the curve is continued, not bridged, which is sure of large leaps only."""
_MOST = 3
_SUSPECTS = 8
_NEAR = 6
_MOST_POINTS = 100_000


def doubt_leaps(run: Run, notes: Notes, *, relative: bool) -> None:
    """Say which points of a run stand alone beside a curve that is smooth without them.

    Parameters
    ----------
    run : Run
        In rising order; its first column of values is looked at.
    notes : Notes
    relative : bool
        Compare ratios of values (impedances, which span decades) rather than differences.
    """
    values = run.values[:, 0]
    for row in leaps(run.axis, values, relative=relative):
        reason = "it leaps from a curve that is smooth without it; a value may have lost a digit"
        notes.assume("point", f"line {run.lines[row]} kept as written", reason, 0.5)


def leaps(
    axis: NDArray[np.float64], values: NDArray[np.complex128], *, relative: bool
) -> list[int]:
    """Give the places of lone points off the curve; empty where the whole is rough.

    Each point is compared with the cubic through its four nearest neighbours. One counts whose
    distance is several times as large as that of every point near it once it has been replaced,
    so that noise, which is rough at many points, shows none; nor does a point across which a
    resonance turns the phase.

    Parameters
    ----------
    axis : (N,) float
        Strictly rising.
    values : (N,) complex
    relative : bool
        Compare logarithms.

    Source: common practice (leave-one-out residuals of a local polynomial).
    """
    if not _FEWEST <= axis.size <= _MOST_POINTS:
        return []
    curve = _logarithm(values) if relative else values / (np.abs(values).max() or 1.0)
    if curve is None or not np.all(np.isfinite(curve)):
        return []
    places, weights = _cubics(axis)
    gain = np.sqrt(1 + np.sum(weights**2, axis=1))
    least = np.where(_turns(values), np.inf, _SMALLEST)
    least[[0, -1]] = _SMALLEST_AT_END
    found: list[int] = []
    while len(found) < _MOST:
        expected = np.einsum("ij,ij->i", weights, curve[places])
        off = np.abs(curve - expected)
        rough = off / gain
        suspects = [
            row
            for row in np.argsort(rough)[-_SUSPECTS:]
            if off[row] > least[row] and _beside(rough, row, places) * _RATIO < rough[row]
        ]
        rated = [
            (_standing(curve, expected[row], row, places, weights) * gain[row] / off[row], row)
            for row in suspects
        ]
        share, row = min(rated, default=(1.0, 0))
        if share * _RATIO >= 1:
            break
        found.append(int(row))
        curve = np.where(np.arange(curve.size) == row, expected[row], curve)
    return sorted(found)


def _beside(rough: NDArray[np.float64], row: int, places: NDArray[np.int64]) -> float:
    """Give the largest distance near a point that stays when the point is replaced."""
    near = slice(max(row - _NEAR, 0), row + _NEAR + 1)
    stays = (places[near] != row).all(axis=1)
    stays[row - near.start] = False
    return float(rough[near][stays].max(initial=0.0))


def _standing(
    curve: NDArray[np.complex128],
    value: complex,
    row: int,
    places: NDArray[np.int64],
    weights: NDArray[np.float64],
) -> float:
    """Give the largest distance that is left near a point once it has been replaced."""
    near = np.arange(max(row - _NEAR, 0), min(row + _NEAR + 1, curve.size))
    mended = curve.copy()
    mended[row] = value
    left = np.abs(mended[near] - np.sum(weights[near] * mended[places[near]], axis=1))
    return float((left / np.sqrt(1 + np.sum(weights[near] ** 2, axis=1))).max())


def _logarithm(values: NDArray[np.complex128]) -> NDArray[np.complex128] | None:
    if np.any(values == 0):
        return None
    angle = np.unwrap(np.angle(values))
    return np.asarray(np.log(np.abs(values)) + 1j * angle, dtype=np.complex128)


def _turns(values: NDArray[np.complex128]) -> NDArray[np.bool_]:
    """Tell where the neighbours differ by a quarter turn or more: a resonance fits between."""
    turned = np.zeros(values.size, dtype=bool)
    turned[1:-1] = (values[2:] * values[:-2].conj()).real <= 0
    return turned


def _cubics(axis: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Give for each point its four neighbours (N, 4) and their weights by Lagrange's formula."""
    size = axis.size
    first = np.clip(np.arange(size) - _NEIGHBOURS // 2, 0, size - _NEIGHBOURS - 1)
    window = first[:, None] + np.arange(_NEIGHBOURS + 1)
    places = window[window != np.arange(size)[:, None]].reshape(size, _NEIGHBOURS)
    x = (axis[places] - axis[:, None]) / np.ptp(axis[window], axis=1)[:, None]
    weights = np.ones_like(x)
    for one in range(_NEIGHBOURS):
        for other in range(_NEIGHBOURS):
            if one != other:
                weights[:, one] *= x[:, other] / (x[:, other] - x[:, one])
    return places, weights
