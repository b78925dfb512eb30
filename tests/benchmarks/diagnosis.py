"""How often faults and causes of disagreement are named rightly. Prints tables.

Run: python -m tests.benchmarks.diagnosis [faulty parts] [good parts] [pairs]
"""

from __future__ import annotations

import math
import sys
import time
from collections import Counter
from dataclasses import replace

import numpy as np

from benchapp.bench import Core, Device, Element, Fixture, Setup, meter, scope
from benchapp.bench.faulty import FAULTS, draw_build, measured, sound, vary
from benchapp.capture import Conditions, Sweep, Transient
from benchapp.diagnosis import Subject, explain, hypotheses
from benchapp.fit import fit
from benchapp.nominal import Outcome, judge, nominal_from

KIND = {"turn-missing": "turn-count", "turn-extra": "turn-count"}
SWEEPS = {
    "wide": ("coil", np.geomspace(2e3, 600e3, 201)),
    "around the resonance": ("coil", np.linspace(114e3, 154e3, 201)),
}
F0 = 134.2e3


def design(build, circuit, *, ferrite, told=True):
    """Give the design of a build: tolerances as on a drawing, and how it is made."""
    part = sound(build)
    esr = part.Rdc + part.Rac * math.sqrt(F0)
    limits = {
        "L": {"nominal": f"{part.L:.6g} H", "tolerance": "±3 %"},
        "f0": {"nominal": f"{F0:g} Hz", "tolerance": "±1.5 %"},
        "ESR": {"nominal": f"{esr:.6g} ohm", "tolerance": "±12 %", "at": f"{F0:g} Hz"},
        "DCR": {"nominal": f"{part.Rdc:.6g} ohm", "tolerance": "±6 %"},
    }
    made = {"turns": build.turns, "strands": build.strands}
    made["core"] = "ferrite" if ferrite else "air"
    return nominal_from(
        {
            "title": "drawn design",
            "circuit": circuit,
            "limits": limits,
            "construction": made if told else {},
        }
    )


def _swept(part, frequency, rng):
    return Sweep(frequency=frequency, impedance=measured(part, frequency, rng))


def _faulty(kind, sweep, rng, *, told):
    """Draw a part with a fault that lies outside its limits, and diagnose it."""
    circuit, frequency = SWEEPS[sweep]
    while True:
        ferrite = kind == "ferrite" or rng.random() < 0.3
        build = draw_build(rng, ferrite=ferrite)
        nominal = design(build, circuit, ferrite=ferrite, told=told)
        capture = _swept(vary(FAULTS[kind](build, rng), rng), frequency, rng)
        found = fit(capture, circuit)
        if judge(nominal, found, capture).outcome is not Outcome.PASS:
            diagnosis = hypotheses(nominal, found, capture)
            if diagnosis.reason != "the part is within its limits":
                return diagnosis


def faults(count, sweep, *, told):
    """Print how often each kind of fault is first and among the first two."""
    rng = np.random.default_rng(600)
    first, second, named = Counter(), Counter(), Counter()
    kinds = list(FAULTS)
    each = count // len(kinds)
    start = time.perf_counter()
    for kind in kinds:
        for _ in range(each):
            diagnosis = _faulty(kind, sweep, rng, told=told)
            ranked = [KIND.get(entry.id, entry.id) for entry in diagnosis.hypotheses]
            ranked = list(dict.fromkeys(ranked))
            first[kind] += ranked[:1] == [kind]
            second[kind] += kind in ranked[:2]
            named[kind, ranked[0] if ranked else diagnosis.reason] += 1
    stated = "construction stated" if told else "construction not stated"
    print(f"{each * len(kinds)} faulty parts, sweep {sweep}, {stated}")
    for kind in kinds:
        print(f"  {kind:<18} first {first[kind] / each:6.1%}  in two {second[kind] / each:6.1%}")
    total = each * len(kinds)
    print(
        f"  {'all':<18} first {sum(first.values()) / total:6.1%}"
        f"  in two {sum(second.values()) / total:6.1%}"
        f"  ({1e3 * (time.perf_counter() - start) / total:.0f} ms each)"
    )
    for (kind, name), times in sorted(named.items()):
        if kind != name:
            print(f"    {kind} taken for {name}: {times}")


def _inside(part, build):
    """Tell whether the true values of a part keep the limits of its design."""
    right = sound(build)
    f0 = 1 / (2 * math.pi * math.sqrt(part.L * part.C))
    esr, asked = (each.Rdc + each.Rac * math.sqrt(F0) for each in (part, right))
    ratios = ((part.L / right.L, 0.03), (f0 / F0, 0.015), (esr / asked, 0.12))
    return all(abs(r - 1) <= t for r, t in (*ratios, (part.Rdc / right.Rdc, 0.06)))


def good(count, sweep):
    """Print how many good parts, whose true values keep the limits, have a fault claimed."""
    rng = np.random.default_rng(300)
    circuit, frequency = SWEEPS[sweep]
    claimed = outside = 0
    for _ in range(count):
        ferrite = bool(rng.random() < 0.3)
        build = draw_build(rng, ferrite=ferrite)
        part = vary(sound(build), rng)
        while not _inside(part, build):
            part = vary(sound(build), rng)
        capture = _swept(part, frequency, rng)
        nominal = design(build, circuit, ferrite=ferrite)
        diagnosis = hypotheses(nominal, fit(capture, circuit), capture)
        claimed += diagnosis.best is not None
        outside += diagnosis.reason != "the part is within its limits"
    print(f"{count} good parts, sweep {sweep}: {outside} outside a limit, {claimed} claimed")


CONDITIONS = {"level_volt": 1.0, "temperature_celsius": 23.0}


def _tank(rng, *, low=25.0, high=120.0):
    """Draw a tank for the bench: L, C, and a loss for its Q; copper and polypropylene."""
    henry, q = 10 ** rng.uniform(-3.7, -2.3), 10 ** rng.uniform(math.log10(low), math.log10(high))
    farad = 1 / (henry * (2 * math.pi * rng.uniform(100e3, 160e3)) ** 2)
    values = {"L": henry, "C": farad, "R": math.sqrt(henry / farad) / q}
    slopes = {"L": 0.0, "C": -250e-6, "R": 0.00393}
    return Device(
        circuit="tank",
        elements=tuple(
            Element(name=name, value=value, per_kelvin=slopes[name])
            for name, value in values.items()
        ),
    )


def _frequencies(device, points=201):
    henry, farad, ohm = (device.value(name) for name in "LCR")
    f0 = 1 / (2 * math.pi * math.sqrt(henry * farad))
    half = min(0.12 + 3 * ohm / math.sqrt(henry / farad), 0.6)
    return np.linspace(f0 * (1 - half), f0 * (1 + half), points)


def _take(setup, rng, name, *, level=1.0, circuit="tank", frequency=None, said=CONDITIONS):
    frequency = _frequencies(setup.device) if frequency is None else frequency
    seen = meter.measure(meter.Meter(level_volt=level), setup, frequency, rng)
    capture = Sweep(frequency=frequency, impedance=seen.impedance, conditions=Conditions(**said))
    return Subject(name=name, capture=capture, fit=fit(capture, circuit))


def _ring(device, rng, ohm):
    """Record the ring-down of a tank under a probe, long enough for its Q."""
    tau = 2 * device.value("L") / device.value("R")
    instrument = scope.Scope(probe_ohm=ohm, rate=2500 / (6 * tau), samples=2500)
    record = scope.record_decay(instrument, Setup(device=device), rng)
    capture = Transient(time=record.time, voltage=record.voltage[0])
    return Subject(name="scope", capture=capture, fit=fit(capture))


def _fixture(rng):
    device = _tank(rng)
    farad = device.value("C") * 10 ** rng.uniform(-2.7, -0.7)
    clipped = Setup(device=device, fixture=Fixture(open_farad=farad))
    return _take(Setup(device=device), rng, "A"), _take(clipped, rng, "B")


def _loaded(rng):
    device = _tank(rng)
    ohm = device.value("L") / device.value("C") / device.value("R")
    across = ohm / 10 ** rng.uniform(-1.3, 0.0)
    if rng.random() < 0.3 and device.value("L") / device.value("R") > 1e-5:
        return _take(Setup(device=device), rng, "A"), _ring(device, rng, across)
    clipped = Setup(device=device, fixture=Fixture(open_siemens=1 / across))
    return _take(Setup(device=device), rng, "A"), _take(clipped, rng, "B")


def _levels(rng):
    device = replace(_tank(rng), core=Core(growth_per_ampere=1.0))
    current = math.sqrt(2) / math.sqrt(device.value("L") / device.value("C"))
    device = replace(device, core=Core(growth_per_ampere=10 ** rng.uniform(-2.2, -1.3) / current))
    both = (1.0, 0.1) if rng.random() < 0.5 else (0.1, 1.0)
    told = rng.random() < 0.5
    said = [{**CONDITIONS, "level_volt": volt if told else None} for volt in both]
    return tuple(
        _take(Setup(device=device), rng, name, level=volt, said=entry)
        for name, volt, entry in zip("AB", both, said, strict=True)
    )


def _warm(rng):
    device, kelvin = _tank(rng), rng.uniform(5, 40) * rng.choice([-1, 1])
    told = rng.random() < 0.5
    said = [{**CONDITIONS, "temperature_celsius": 23 + k if told else None} for k in (0, kelvin)]
    return (
        _take(Setup(device=device), rng, "A", said=said[0]),
        _take(Setup(device=device, temperature_celsius=23 + kelvin), rng, "B", said=said[1]),
    )


def _defined(rng):
    device = _tank(rng, low=4.0, high=12.0)
    frequency = _frequencies(device)
    middle = frequency[frequency.size // 2]
    near = np.linspace(0.96 * middle, 1.04 * middle, 201)
    setup = Setup(device=device)
    return _take(setup, rng, "A"), _take(setup, rng, "B", circuit="parallel-rlc", frequency=near)


def _same(rng):
    device = _tank(rng)
    if rng.random() < 0.3:
        return _take(Setup(device=device), rng, "A"), _ring(device, rng, math.inf)
    return _take(Setup(device=device), rng, "A"), _take(Setup(device=device), rng, "B")


PLANTED = {
    "fixture-capacitance": _fixture,
    "loading": _loaded,
    "level": _levels,
    "temperature": _warm,
    "definition-of-f0": _defined,
}


def pairs(count):
    """Print how often the planted cause is named, and that none is named where none is."""
    rng = np.random.default_rng(200)
    each, named = count // len(PLANTED), Counter()
    right = 0
    for kind, plant in PLANTED.items():
        hits = 0
        for _ in range(each):
            (said,) = explain(plant(rng))
            name = said.cause.id if said.cause else said.reason
            hits += name == kind
            named[kind, name] += name != kind
        right += hits
        print(f"  {kind:<20} named {hits / each:6.1%}")
    print(f"{each * len(PLANTED)} pairs with one planted cause: named {right / each / 5:.1%}")
    for (kind, name), times in sorted(named.items()):
        if times:
            print(f"    {kind} taken for {name}: {times}")
    clean = sum(explain(_same(rng))[0].cause is None for _ in range(count))
    print(f"{count} pairs without a cause: none named {clean / count:.1%}")


def main(parts: int, sound_parts: int, couples: int) -> None:
    """Print all tables."""
    pairs(couples)
    for sweep in SWEEPS:
        faults(parts, sweep, told=True)
        good(sound_parts, sweep)
    faults(parts, "wide", told=False)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    main(*(numbers + [600, 300, 200][len(numbers) :]))
