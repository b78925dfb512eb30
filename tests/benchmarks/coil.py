"""Time of one live answer for each shape, and resistance against measured coils.

Run by hand: ``python -m tests.benchmarks.coil``. Prints tables, asserts nothing.
"""

from __future__ import annotations

import time

from benchapp.coil import SHAPES, Conductor, Solenoid, calculate, curves
from benchapp.units import Quantity

SPACINGS = (1.11, 1.25, 1.43, 1.67, 2.0, 2.5, 3.33, 5.0, 10.0)

# R over that of a lone wire at high frequency: R. G. Medhurst, Wireless Engineer 24 (1947) 35, by
# length over diameter and the spacings above. From memory.
MEDHURST = {
    0.2: (3.84, 2.83, 2.20, 1.77, 1.48, 1.29, 1.19, 1.08, 1.02),
    0.4: (3.99, 2.97, 2.28, 1.83, 1.54, 1.33, 1.21, 1.08, 1.03),
    1.0: (4.10, 3.17, 2.47, 1.94, 1.67, 1.45, 1.24, 1.10, 1.03),
    2.0: (3.36, 2.74, 2.32, 1.98, 1.74, 1.50, 1.28, 1.13, 1.04),
    4.0: (3.05, 2.60, 2.27, 2.01, 1.78, 1.54, 1.32, 1.15, 1.04),
    10.0: (2.93, 2.65, 2.27, 2.10, 1.83, 1.58, 1.35, 1.17, 1.04),
}


def show_times(repeats: int = 15) -> None:
    print(f"{'shape':<12}{'L alone, ms':>14}{'with one frequency':>20}")
    for name, shape in SHAPES.items():
        read = {entry.name: entry.read(entry.example) for entry in shape.entries}
        values = {n: v.value if isinstance(v, Quantity) else v for n, v in read.items()}
        design = shape.build(values)
        columns = []
        for frequencies in ((), (134.2e3,)):
            spent = []
            for _ in range(repeats):
                start = time.perf_counter()
                calculate(design, frequencies=frequencies)
                spent.append(time.perf_counter() - start)
            columns.append(1e3 * sorted(spent)[repeats // 2])
        print(f"{name:<12}{columns[0]:>14.2f}{columns[1]:>20.2f}")


def show_losses(turns: int = 30, diameter: float = 0.05) -> None:
    print("\ncomputed / measured R over that of a lone wire, by pitch over wire")
    print(f"{'length/D':<10}" + "".join(f"{spacing:>14}" for spacing in SPACINGS))
    for shape, measured in MEDHURST.items():
        line = f"{shape:<10}"
        for spacing, known in zip(SPACINGS, measured, strict=True):
            length = shape * diameter
            wire = length / turns / spacing
            coil = Solenoid(diameter=diameter, length=length, turns=turns, wire=wire)
            found = curves(coil, Conductor(), 1e-4, [1e9])
            ratio = 0.0 if found is None else found.resistance[0] / found.lone[0]
            line += f"{f'{ratio:.2f} / {known:.2f}':>14}"
        print(line)


if __name__ == "__main__":
    show_times()
    show_losses()
