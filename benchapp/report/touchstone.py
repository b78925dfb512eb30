"""Impedance and reflection as Touchstone files that network tools read."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Response, Sweep
from benchapp.errors import UsageError

__all__ = ["one_port", "touchstone_of"]


def touchstone_of(capture: Capture, notes: tuple[str, ...] = ()) -> str:
    """Write a capture as one port: impedance as Z, a reflection as S, in full digits.

    Raises
    ------
    UsageError
        When it is neither.
    """
    if isinstance(capture, Sweep):
        return one_port(capture.frequency, capture.impedance, "Z", 1.0, notes)
    if isinstance(capture, Response) and capture.kind == "reflection" and capture.has_phase:
        return one_port(capture.frequency, capture.ratio, "S", capture.reference, notes)
    raise UsageError(
        "Touchstone: must be a sweep of impedance, or a reflection with its phase "
        f"(got {type(capture).__name__.lower()}).",
        hint="Export it as CSV.",
    )


def one_port(
    frequency: NDArray[np.float64],
    values: NDArray[np.complex128],
    parameter: str,
    reference: float,
    notes: tuple[str, ...] = (),
) -> str:
    """Write one port, real and imaginary part.

    Parameters
    ----------
    frequency : (N,) float, Hz
    values : (N,) complex
        Normalised to ``reference`` where they are impedances.
    parameter : {'S', 'Z'}
    reference : float, ohm
    notes : tuple of str
        Comments at the head of the file.

    Notes
    -----
    Version 1.1 holds Z divided by the reference: with 1 ohm it is in ohm.
    Source: Touchstone File Format Specification, Rev 1.1 (option line, normalisation).
    """
    head = [f"! {re.sub('[^ -~]+', '?', note)}" for note in notes]
    option = f"# Hz {parameter} RI R {reference!r}"
    rows = [
        f"{f!r} {value.real!r} {value.imag!r}"
        for f, value in zip(frequency.tolist(), values.tolist(), strict=True)
    ]
    return "\n".join([*head, option, *rows, ""])
