"""The layouts in which the bench writes its captures: plain tables as instruments save them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from benchapp.bench.meter import Readings
from benchapp.bench.scope import Record

__all__ = [
    "coil_table",
    "german_table",
    "parallel_table",
    "resistance_table",
    "scope_table",
    "touchstone",
]


def _table(rows: Iterable[Sequence[str]], separator: str, end: str = "\n") -> str:
    return "".join(separator.join(row) + end for row in rows)


def resistance_table(readings: Readings, preamble: Sequence[str]) -> bytes:
    """Comma-separated R and X in ohm, with comment lines above."""
    head = [f"# {line}" for line in preamble] + ["Frequency (Hz),R (ohm),X (ohm)"]
    rows = [
        (f"{f:.8g}", f"{z.real:.7g}", f"{z.imag:.7g}")
        for f, z in zip(readings.frequency, readings.impedance, strict=True)
    ]
    return ("\n".join(head) + "\n" + _table(rows, ",")).encode("ascii")


def german_table(readings: Readings, preamble: Sequence[tuple[str, str]]) -> bytes:
    """Semicolons and decimal commas, |Z| in kOhm and phase in degrees, German words, cp1252."""
    rows: list[tuple[str, ...]] = [*preamble, ("",)]
    rows.append(("Frequenz (kHz)", "|Z| (kOhm)", "Phase (°)"))
    for f, z in zip(readings.frequency, readings.impedance, strict=True):
        cells = (f / 1e3, abs(z) / 1e3, np.degrees(np.angle(z)))
        rows.append(tuple(f"{cell:.7g}".replace(".", ",") for cell in cells))
    return _table(rows, ";", "\r\n").encode("cp1252")


def parallel_table(readings: Readings) -> bytes:
    """Tabs, a row of units, C_p and R_p, and a status column; overload as the meter sends it."""
    rows: list[tuple[str, ...]] = [("Freq", "Cp", "Rp", "Status"), ("Hz", "F", "ohm", "")]
    for f, z, status in zip(readings.frequency, readings.impedance, readings.status, strict=True):
        admittance = 1 / z
        pair = (admittance.imag / (2 * np.pi * f), 1 / admittance.real)
        cells = pair if status == 0 else (z.real, z.imag)
        rows.append((f"{f:.8g}", *(f"{cell:.7E}" for cell in cells), f"{status:+d}"))
    return _table(rows, "\t").encode("ascii")


def coil_table(readings: Readings, preamble: Sequence[str]) -> bytes:
    """Comma-separated series inductance in uH and Q, frequency in kHz, with key: value lines."""
    head = [*preamble, "", "Frequency [kHz],Ls [uH],Q"]
    rows = []
    for f, z in zip(readings.frequency, readings.impedance, strict=True):
        inductance = z.imag / (2 * np.pi * f) * 1e6
        rows.append((f"{f / 1e3:.8g}", f"{inductance:.8g}", f"{z.imag / z.real:.7g}"))
    return ("\n".join(head) + "\n" + _table(rows, ",")).encode("ascii")


def touchstone(
    frequency: NDArray[np.float64],
    ratio: NDArray[np.complex128],
    reference: float,
    comments: Sequence[str],
) -> bytes:
    """One-port Touchstone 1.1: kHz, S, real and imaginary part.

    Parameters
    ----------
    frequency : (N,) float, Hz
    ratio : (N,) complex
    reference : float, ohm
    comments : sequence of str

    Notes
    -----
    Source: Touchstone File Format Specification, IBIS Open Forum.
    """
    head = [*(f"! {line}" for line in comments), f"# kHz S RI R {reference:g}"]
    rows = [
        f"{f / 1e3:.8g} {s.real:.8f} {s.imag:.8f}" for f, s in zip(frequency, ratio, strict=True)
    ]
    return ("\n".join([*head, *rows]) + "\n").encode("ascii")


def scope_table(record: Record, preamble: Sequence[tuple[str, str]]) -> bytes:
    """Key, value lines and then time and voltage of one channel."""
    rows: list[tuple[str, ...]] = [*preamble, ("Time (s)", "CH1 (V)")]
    rows += [
        (f"{t:.7E}", f"{v:.10g}") for t, v in zip(record.time, record.voltage[0], strict=True)
    ]
    return _table(rows, ",").encode("ascii")
