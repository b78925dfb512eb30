"""Circuits solved by an independent general-purpose circuit simulator.

Truth  : ngspice-39 (package ngspice 39.3+ds-1 of Debian 12), a descendant of the SPICE of the
         University of California; licence BSD. The numbers here are its output for netlists of
         our own, so they carry no licence of theirs.
Made by: ``python -m tests.truth.spice.make`` (runs the simulator; not needed by any test).
Files  : NAME.cir is the netlist, NAME.csv its result. Lines ``* element NAME VALUE UNIT`` of the
         netlist name the circuit elements and are copied into the header of the result.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FOLDER = Path(__file__).parent
SWEEPS = (
    "series_rlc",
    "parallel_rlc",
    "tank_q80",
    "tank_q3",
    "coil",
    "inductor",
    "capacitor",
    "coupled_pair",
)
RING_DOWN = "ring_down"
PRINTED = 1e-9  # of |Z|: half a unit in the tenth digit of R and of X is at most 0.7e-9 together
RING_DOWN_ERROR = 5e-6  # of the first volt: phase error of the rule over 32 periods


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """One simulator result: its circuit, element values in SI units, and the columns."""

    circuit: str
    elements: dict[str, float]
    x: NDArray[np.float64]
    y: NDArray[np.complex128]


def load(name: str) -> Solved:
    """Read NAME.csv: impedance in ohm over frequency in Hz, or voltage in V over time in s."""
    text = (FOLDER / f"{name}.csv").read_text()
    facts = [line[2:].split() for line in text.splitlines() if line.startswith("# ")]
    circuit = next(words[1] for words in facts if words[0] == "circuit")
    elements = {words[1]: float(words[2]) for words in facts if words[0] == "element"}
    rows = [line for line in text.splitlines() if line[:1].isdigit()]
    table = np.array([[float(cell) for cell in row.split(",")] for row in rows])
    y = table[:, 1] + 1j * (table[:, 2] if table.shape[1] > 2 else 0)
    return Solved(circuit=circuit, elements=elements, x=table[:, 0], y=y)
