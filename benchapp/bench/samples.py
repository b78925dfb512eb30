"""Make the sample captures: ``python -m benchapp.bench.samples FOLDER``.

Every file comes from the simulated bench with a seed of its own, so the same files come out byte
for byte. Beside each file FILE stands FILE.toml: where it comes from, the true values, and what
must be read from it. A folder FOLDER of captures is described by FOLDER.toml.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np

from benchapp.bench import analyser, layout, meter, scenario, scope
from benchapp.bench.converter import Converter
from benchapp.bench.device import Device, Setup, draw

__all__ = ["SAMPLES", "Sample", "files", "main"]

LOT = "ga12_lot"
LOT_SEED = 1200
LOT_PARTS = 13
LOT_BAD = 9  # the part of the lot with a shorted turn
UNITS = MappingProxyType(
    {"L": "H", "C": "F", "R": "ohm", "Rdc": "ohm", "Rac": "ohm/sqrt(Hz)", "f0": "Hz"}
    | {"Q": "1", "tau": "s"}
)
CONDITIONS = ("Test level: 1 V", "Temperature: 23 degC", "Fixture: four-terminal clip")
Rng = np.random.Generator


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One sample file: its seed, its maker, and what its description says.

    ``within`` are the relative tolerances in which a reading must find the true values.
    """

    name: str
    seed: int
    make: Callable[[Rng], bytes]
    about: str
    kind: str
    circuit: str
    noise: str
    points: int
    true: dict[str, float]
    within: dict[str, float]
    set_aside: int = 0


def _true(device: Device) -> dict[str, float]:
    values = {element.name: element.value for element in device.elements}
    root = np.sqrt(values["L"] * values["C"])
    values["f0"] = float(1 / (2 * np.pi * root))
    if "R" in values:
        values["Q"] = float(np.sqrt(values["L"] / values["C"]) / values["R"])
    return values


def _tank_sweep(rng: Rng) -> bytes:
    frequency = np.linspace(114e3, 154e3, 401)
    readings = meter.measure(meter.Meter(), Setup(device=scenario.TANK), frequency, rng)
    return layout.resistance_table(readings, ("Part: GA-12 serial 0147", *CONDITIONS))


def _tank_german(rng: Rng) -> bytes:
    frequency = np.linspace(120e3, 149e3, 291)
    readings = meter.measure(meter.Meter(), Setup(device=scenario.TANK), frequency, rng)
    preamble = (
        ("Prüfling", "GA-12 Nr. 0147"),
        ("Messpegel", "1 V"),
        ("Temperatur", "23 °C"),
        ("Meßaufnahme", "Vierleiterklemme"),
    )
    return layout.german_table(readings, preamble)


def _tank_status(rng: Rng) -> bytes:
    held = meter.Meter(ranges=(meter.MeterRange(upper_ohm=95e3),), held=0, bits=16)
    readings = meter.measure(
        held, Setup(device=scenario.TANK), np.linspace(124e3, 144e3, 201), rng
    )
    return layout.parallel_table(readings)


def _coil_sweep(rng: Rng) -> bytes:
    frequency = np.round(np.geomspace(1e3, 600e3, 201), 1)
    lcr = meter.Meter(noise=5e-4)
    readings = meter.measure(lcr, Setup(device=scenario.COIL), frequency, rng)
    preamble = ("Part: GA-12 serial 0147, coil alone", *CONDITIONS)
    return layout.coil_table(readings, preamble)


def _series_touchstone(rng: Rng) -> bytes:
    frequency = np.linspace(114e3, 154e3, 401)
    vna = analyser.Analyser(noise=2e-4)
    ratio = analyser.measure(vna, Setup(device=scenario.SERIES), "reflection", frequency, rng)
    comments = ("GA-12 serial 0147, coil and capacitor in series", "level -10 dBm, 23 degC")
    return layout.touchstone(frequency, ratio, vna.reference, comments)


def _ring_down(rng: Rng) -> bytes:
    record = scope.record_decay(_scope(), Setup(device=scenario.TANK), rng)
    preamble = (
        ("Record", "single shot, CH1, pick-up loop"),
        ("Vertical step (V)", f"{record.converter.step:.10g}"),
        ("Sample interval (s)", f"{1 / _scope().rate:.3E}"),
    )
    return layout.scope_table(record, preamble)


def _scope() -> scope.Scope:
    converter = Converter(bits=8, full_scale=1.25)
    return scope.Scope(converter=converter, noise=3e-3, offset=0.012, samples=2500)


def _ring_truth() -> dict[str, float]:
    swing = scope.ringing(scenario.TANK, _scope())
    return {"f0": swing.f0, "Q": swing.Q, "tau": swing.tau}


RELATIVE = "rms of the complex error 0.1 % of |Z|"
SAMPLES = (
    Sample(
        name="ga12_tank.csv",
        seed=1201,
        make=_tank_sweep,
        about="GA-12 tank, sweep of R and X over frequency",
        kind="sweep",
        circuit="tank",
        noise=RELATIVE,
        points=401,
        true=_true(scenario.TANK),
        within={"L": 4e-4, "C": 4e-4, "R": 2e-3, "f0": 2e-5, "Q": 2e-3},
    ),
    Sample(
        name="ga12_tank_german.csv",
        seed=1202,
        make=_tank_german,
        about="the same tank with decimal commas, |Z| in kOhm and phase, German words",
        kind="sweep",
        circuit="tank",
        noise=RELATIVE,
        points=291,
        true=_true(scenario.TANK),
        within={"L": 4e-4, "C": 4e-4, "R": 2e-3, "f0": 2e-5, "Q": 2e-3},
    ),
    Sample(
        name="ga12_tank_status.txt",
        seed=1203,
        make=_tank_status,
        about="the same tank, C_p and R_p with a units row; range held, overload at the peak",
        kind="sweep",
        circuit="tank",
        noise=RELATIVE,
        points=201,
        set_aside=4,
        true=_true(scenario.TANK),
        within={"L": 6e-4, "C": 6e-4, "R": 2e-3, "f0": 2e-5, "Q": 2e-3},
    ),
    Sample(
        name="ga12_coil.csv",
        seed=1204,
        make=_coil_sweep,
        about="the coil alone, L_s and Q, from 1 kHz to 600 kHz, below its self-resonance",
        kind="sweep",
        circuit="coil",
        noise="rms of the complex error 0.05 % of |Z|",
        points=201,
        true=_true(scenario.COIL),
        within={"L": 3e-4, "C": 6e-3, "f0": 3e-3, "Rdc": 5e-3, "Rac": 0.02},
    ),
    Sample(
        name="ga12_series.s1p",
        seed=1205,
        make=_series_touchstone,
        about="coil and capacitor in series, reflection at 50 ohm, one-port Touchstone",
        kind="sweep",
        circuit="series-rlc",
        noise="rms of the complex error 0.0002 in S",
        points=401,
        true=_true(scenario.SERIES),
        within={"L": 2e-4, "C": 2e-4, "R": 6e-4, "f0": 2e-5, "Q": 6e-4},
    ),
    Sample(
        name="ga12_ring_down.csv",
        seed=1206,
        make=_ring_down,
        about="ring-down of the tank on a scope of 8 bit, pick-up loop, no probe on the part",
        kind="transient",
        circuit="ring-down",
        noise="3 mV rms and converter steps of 9.765625 mV",
        points=2500,
        true=_ring_truth(),
        within={"f0": 3e-5, "Q": 5e-3, "tau": 5e-3},
    ),
)


def files() -> Iterator[tuple[str, bytes]]:
    """Give every file of the sample folder: its path in the folder and its content."""
    yield "ga12.toml", scenario.NOMINAL.encode()
    yield "bench_meter.accuracy.toml", _accuracy().encode()
    yield "ga12_reference.toml", scenario.REFERENCE.encode()
    for sample in SAMPLES:
        yield sample.name, sample.make(np.random.default_rng(sample.seed))
        yield f"{sample.name}.toml", _describe(sample).encode()
    yield from _lot()


def _lot() -> Iterator[tuple[str, bytes]]:
    rng = np.random.default_rng(LOT_SEED)
    frequency = np.linspace(119e3, 149e3, 151)
    parts = []
    for number in range(1, LOT_PARTS + 1):
        part = draw(scenario.DESIGN, rng)
        if number == LOT_BAD:
            part = scenario.SHORTED_TURN
        serial = f"{200 + number:04d}"
        readings = meter.measure(meter.Meter(), Setup(device=part), frequency, rng)
        preamble = (f"Part: GA-12 serial {serial}", *CONDITIONS)
        yield f"{LOT}/{serial}.csv", layout.resistance_table(readings, preamble)
        parts.append(_part_lines(serial, part))
    text = "\n".join([*_origin("thirteen tanks of one lot", LOT_SEED, RELATIVE), "", *parts])
    yield f"{LOT}.toml", text.encode()


def _accuracy() -> str:
    """Accuracy of the simulated meter with steps between its ranges, at k = 2."""
    ends = ", ".join(f'"{end:g} ohm"' for end in meter.RANGES_OHM)
    bounds = {
        "reading": f"±{200 * meter.RANGE_GAIN:g} %",
        "phase": f"±{np.degrees(2 * meter.RANGE_PHASE):.4f} deg",
    }
    lines = ['title = "LCR meter of the simulated bench"', "", "[instrument]"]
    lines += [
        f'{name} = {{ bound = "{bound}", distribution = "normal", coverage = 2 }}'
        for name, bound in bounds.items()
    ]
    lines.append(f"ranges = [{ends}]  # each has errors of its own")
    return "\n".join(lines) + "\n"


def _origin(about: str, seed: int, noise: str) -> list[str]:
    return [
        f'about = "{about}"',
        'source = "simulated bench of this project, no real part"',
        'maker = "python -m benchapp.bench.samples"',
        f"seed = {seed}",
        f'noise = "{noise}"',
    ]


def _values(title: str, values: dict[str, float]) -> list[str]:
    lines = [f"[{title}]"]
    lines += [f"{name} = {value:.9g}  # {UNITS[name]}" for name, value in values.items()]
    return lines


def _part_lines(serial: str, part: Device) -> str:
    bad = part is scenario.SHORTED_TURN
    state = "outside: one turn shorted" if bad else "inside"
    title = f'parts."{serial}"'
    lines = [f"[{title}]", f'limits = "{state}"', *_values(f"{title}.true", _true(part))]
    return "\n".join(lines) + "\n"


def _describe(sample: Sample) -> str:
    lines = _origin(sample.about, sample.seed, sample.noise)
    lines += ["", *_values("true", sample.true), "", "[read]", f'kind = "{sample.kind}"']
    lines += [f"points = {sample.points}", f"set_aside = {sample.set_aside}", "", "[fit]"]
    lines += [f'circuit = "{sample.circuit}"', "", "[fit.within]  # of the true value"]
    lines += [f"{name} = {fraction:g}" for name, fraction in sample.within.items()]
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> None:
    """Write the sample folder."""
    parser = argparse.ArgumentParser(
        prog="python -m benchapp.bench.samples",
        description="Write the sample captures; the same files come out every time.",
    )
    parser.add_argument("folder", type=Path, help="where to write, made if missing")
    folder: Path = parser.parse_args(arguments).folder
    for name, content in files():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


if __name__ == "__main__":
    main()
