"""How often value ± U holds the true value, errors of the instrument included. Prints a table.

Run: python -m tests.benchmarks.coverage [parts]

Every part has its own instrument: gain, phase and floor of each range, stray capacitance of the
fixture, frequency and temperature of the part are drawn from what the accuracy states.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict

import numpy as np

from benchapp.bench import Device, Element, Fixture, Setup, draw, meter
from benchapp.bench.scenario import COPPER, DESIGN, POLYPROPYLENE
from benchapp.capture import Sweep
from benchapp.fit import fit, quantity
from benchapp.uncertainty import Accuracy, Stated, budget, combine, described, student_coverage

FREQUENCY = np.linspace(114e3, 154e3, 201)
F0 = 134.2e3
ENDS = (1e3, 10e3, 100e3, 1e6)
NORMAL = {"distribution": "normal"}
ACCURACY = Accuracy(
    ranges=ENDS,
    reading=Stated(bound=1e-3, **NORMAL),
    phase=Stated(bound=1e-3, **NORMAL),
    frequency=Stated(bound=2e-5, **NORMAL),
    fixture_farad=Stated(bound=3e-13, **NORMAL),
    part_kelvin=Stated(bound=1.0, **NORMAL),
    part_per_kelvin=(("C", POLYPROPYLENE), ("R", COPPER)),
)
RECTANGULAR = {
    "ranges": (),
    "reading": Stated(bound=1e-3),
    "frequency": Stated(bound=2e-5),
    "fixture_farad": Stated(bound=3e-13),
    "part_kelvin": Stated(bound=1.0),
}


def _error(stated: Stated, rng: np.random.Generator) -> float:
    if stated.distribution == "normal":
        return stated.u * rng.standard_normal()
    return stated.bound * rng.uniform(-1, 1)


def _measured(part: Device, accuracy: Accuracy, rng: np.random.Generator) -> Sweep:
    ends = accuracy.ranges or (np.inf,)
    ranges = tuple(
        meter.MeterRange(
            upper_ohm=end,
            gain=np.exp(_error(accuracy.reading, rng) + 1j * _error(accuracy.phase, rng)),
        )
        for end in ends
    )
    setup = Setup(
        device=part,
        fixture=Fixture(open_farad=_error(accuracy.fixture_farad, rng)),
        temperature_celsius=23.0 + _error(accuracy.part_kelvin, rng),
    )
    true = FREQUENCY * (1 + _error(accuracy.frequency, rng))
    seen = meter.measure(meter.Meter(ranges=ranges), setup, true, rng)
    return Sweep(frequency=FREQUENCY, impedance=seen.impedance)


def _truth(part: Device) -> dict[str, float]:
    henry, farad, ohm = (part.value(name) for name in "LCR")
    w = 2 * math.pi * F0
    branch = complex(ohm, w * henry)
    z = 1 / (1 / branch + 1j * w * farad)
    return {
        "L": henry,
        "C": farad,
        "R": ohm,
        "f0": 1 / (2 * math.pi * math.sqrt(henry * farad)),
        "Q": math.sqrt(henry / farad) / ohm,
        "|Z|": abs(z),
        "theta": math.degrees(np.angle(z)),
    }


def table(title: str, accuracy: Accuracy, count: int, seed: int) -> None:
    """Print the coverage of each quantity, with k for 95 % and with k = 2."""
    rng = np.random.default_rng(seed)
    design = Device(
        circuit="tank",
        elements=tuple(
            Element(name=e.name, value=e.value, per_kelvin=e.per_kelvin, spread=e.spread)
            for e in DESIGN.elements
        ),
    )
    hits: dict[str, list[tuple[bool, bool, bool]]] = defaultdict(list)
    plain = within = 0
    for _ in range(count):
        part = draw(design, rng)
        capture = _measured(part, accuracy, rng)
        found = fit(capture, "tank")
        plain += found.describes
        within += described(found, capture, accuracy)
        whole = combine(found, capture, accuracy)
        for name, true in _truth(part).items():
            at = F0 if name in ("|Z|", "theta") else None
            both, own = quantity(whole, name, at), quantity(found, name, at)
            dof = budget(found, capture, accuracy, name, at).dof
            off = abs(both.value - true)
            k = student_coverage(dof, 0.95)
            hits[name].append((off <= k * both.u, off <= 2 * both.u, off <= k * own.u))
    print(
        f"{title}: {count} parts, {plain} described by their fit, "
        f"{within} with the stated accuracy allowed for"
    )
    print(f"  {'':<6}{'k for 95 %':>11}{'k = 2':>9}{'scatter alone':>15}")
    for name, rows in hits.items():
        first, second, alone = np.mean(rows, axis=0)
        print(f"  {name:<6}{first:>11.1%}{second:>9.1%}{alone:>15.1%}")
    every = np.mean([rows for each in hits.values() for rows in each], axis=0)
    print(f"  {'all':<6}{every[0]:>11.1%}{every[1]:>9.1%}{every[2]:>15.1%}")


def main(count: int) -> None:
    """Print both tables: normal errors by range, and rectangular ones common to all points."""
    table("normal errors, each range its own", ACCURACY, count, 2000)
    values = {name: getattr(ACCURACY, name) for name in ACCURACY.__slots__} | RECTANGULAR
    table("rectangular errors, one range", Accuracy(**values), count, 2001)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
