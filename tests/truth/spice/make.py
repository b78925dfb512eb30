"""Run the simulator on every netlist here and write the results beside them."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

from tests.truth.spice import FOLDER, RING_DOWN, SWEEPS

HEADERS = {True: "Time (s),Voltage (V)", False: "Frequency (Hz),R (ohm),X (ohm)"}
KEEP_EVERY = {True: 1250, False: 1}


def version() -> str:
    """Give the simulator's own name and version."""
    run = subprocess.run(["ngspice", "--version"], capture_output=True, text=True, check=True)
    return next(word for word in run.stdout.split() if word.startswith("ngspice-"))


def solve(netlist: Path) -> list[list[float]]:
    """Give the columns that the netlist writes, row by row."""
    with tempfile.TemporaryDirectory() as folder:
        output, deck = Path(folder, "out.txt"), Path(folder, "deck.cir")
        deck.write_text(netlist.read_text().replace("$output", str(output)))
        subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, check=True)
        return [[float(cell) for cell in row.split()] for row in output.read_text().splitlines()]


def write(name: str) -> None:
    """Solve one netlist and write its result."""
    netlist = FOLDER / f"{name}.cir"
    notes = [line[2:] for line in netlist.read_text().splitlines() if line.startswith("* ")]
    transient = name == RING_DOWN
    rows = solve(netlist)[:: KEEP_EVERY[transient]]
    lines = [f"# {version()}, batch mode, netlist {netlist.name}"]
    lines += [f"# {note}" for note in notes] + [HEADERS[transient]]
    lines += [",".join([f"{x:.14g}", *(f"{cell:.10g}" for cell in y)]) for x, *y in rows]
    (FOLDER / f"{name}.csv").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    for each in (*SWEEPS, RING_DOWN):
        write(each)
