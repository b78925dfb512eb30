"""Fits: a capture in, values with their uncertainty out, and what the data do not say."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Response, Sweep, Transient
from benchapp.errors import FitError
from benchapp.fit.batch import BatchFit, fit_batch
from benchapp.fit.peaks import Peak, find_peaks
from benchapp.fit.quantity import QUANTITIES, curve, quantity
from benchapp.fit.result import Alternative, Fit, Opinion, Remark
from benchapp.fit.sweep import fit_sweep
from benchapp.units import Estimate

__all__ = [
    "QUANTITIES",
    "Alternative",
    "BatchFit",
    "Fit",
    "Opinion",
    "Peak",
    "Remark",
    "curve",
    "find_peaks",
    "fit",
    "fit_batch",
    "quantity",
]


def fit(
    capture: Capture,
    circuit: str = "auto",
    *,
    fix: Mapping[str, Estimate] | None = None,
    band: tuple[float, float] | None = None,
    set_aside: Collection[int] = (),
    advise: bool = True,
) -> Fit:
    """Fit one capture. No start values are needed.

    Parameters
    ----------
    capture : Sweep, Response or Transient
    circuit : str
        A name of `benchapp.circuit.CIRCUITS`, 'resonance' for a response, 'ring-down' for a
        transient, or 'auto'.
    fix : mapping of str to Estimate, optional
        Elements that are known, with their own standard uncertainty.
    band : (float, float), Hz, optional
        Use only the points from the first to the second frequency.
    set_aside : collection of int, optional
        Points (0-based) that a person does not trust: they are not used, and stay in the result.
    advise : bool
        Whether to look for what would describe a sweep that the circuit does not, which takes
        longer than the fit.

    Returns
    -------
    Fit
        Also where the data are hopeless: look at ``converged``, ``describes``, ``undetermined``.

    Raises
    ------
    FitError
        When the circuit does not exist or does not suit the capture, there are too few points,
        a known element is not in the circuit, or a point set aside is not in the capture.
    """
    _within_reach(capture, set_aside)
    if isinstance(capture, Response):
        from benchapp.fit.response import fit_response  # start-up: only where there is a response

        _suits(circuit, "resonance", "response")
        return fit_response(capture, fix=fix, band=band, set_aside=set_aside)
    if isinstance(capture, Transient):
        from benchapp.fit.ring_down import fit_ring_down  # start-up: only for a transient

        _suits(circuit, "ring-down", "transient")
        return fit_ring_down(capture, fix=fix, band=band, set_aside=set_aside)
    used = _within(capture, band)
    used[list(set_aside)] = False
    return fit_sweep(capture, circuit, used, fix, advise=advise)


def _within_reach(capture: Capture, set_aside: Collection[int]) -> None:
    size = (capture.time if isinstance(capture, Transient) else capture.frequency).size
    strange = [place for place in set_aside if not 0 <= place < size]
    if strange:
        raise FitError(
            f"set aside: must be points of the capture, 0 to {size - 1} (got {strange[0]}).",
            hint="Name the points of this capture, counted from 0.",
        )


def _suits(circuit: str, only: str, kind: str) -> None:
    if circuit not in ("auto", only):
        raise FitError(
            f"circuit: must be {only} for a {kind} (got {circuit}).",
            hint="Leave the circuit out, or convert the capture to an impedance first.",
        )


def _within(sweep: Sweep, band: tuple[float, float] | None) -> NDArray[np.bool_]:
    if band is None:
        return np.ones(sweep.frequency.size, dtype=np.bool_)
    low, high = band
    if not 0 <= low < high:
        raise FitError(
            f"band: must rise from its first to its second frequency "
            f"(got {low:g} to {high:g} Hz).",
            hint="Give the lower frequency first.",
        )
    return (sweep.frequency >= low) & (sweep.frequency <= high)
