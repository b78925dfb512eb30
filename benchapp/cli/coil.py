"""``benchapp coil``: inductance, resistance and Q of a coil from its geometry."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.cli import ACCEPTED
from benchapp.cli.command import Command
from benchapp.cli.reporting import add_report, check_report, write_calculation
from benchapp.coil import (
    CONDUCTOR_ENTRIES,
    MATERIALS,
    PLATE_ENTRIES,
    SHAPES,
    WIRE_SERIES,
    CoilResult,
    Computed,
    Conductor,
    Design,
    Deviation,
    Entry,
    Plate,
    Shape,
    Wanted,
    WireSize,
    calculate,
    curves,
    turns_for,
    wire_table,
)
from benchapp.errors import QuantityError, UsageError
from benchapp.units import Quantity, format_quantity, parse_quantity

__all__ = ["COMMAND"]

_WIDE = 10.0
_SWEEP_POINTS = 25
_ALWAYS = ("L", "M", "k", "C_self", "SRF", "wire_length", "R_dc")
_NAMES = {
    "L": "inductance L",
    "L_plate": "L with the plate",
    "M": "mutual inductance M",
    "k": "coupling k",
    "L1": "inductance L1",
    "L2": "inductance L2",
    "C_self": "self-capacitance",
    "SRF": "self-resonance",
    "wire_length": "length of wire",
    "R_dc": "DC resistance",
    "R_ac": "AC resistance",
    "Q": "Q of the winding",
    "skin_depth": "skin depth",
    "L_apparent": "L as it reads",
    "Q_apparent": "Q as it reads",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Given:
    """What was typed, understood."""

    values: dict[str, float | str | None]
    deviations: dict[str, Deviation]
    remarks: tuple[str, ...]


def _configure(parser: argparse.ArgumentParser) -> None:
    shapes = parser.add_subparsers(dest="shape", required=True, metavar="SHAPE")
    for shape in SHAPES.values():
        chosen = shapes.add_parser(
            shape.name,
            help=shape.title,
            description=(
                f"{shape.title}. Lengths with their unit (50mm), wire also as a gauge (AWG24), "
                "each with a tolerance if it has one: '50mm ±0.2mm'."
            ),
        )
        _add_shape(chosen, shape)
        add_report(chosen)
    wires = shapes.add_parser("wires", help="table of wire sizes", description="Wire sizes.")
    wires.add_argument("--series", choices=tuple(WIRE_SERIES), default="awg")
    wires.add_argument("--material", choices=tuple(MATERIALS), default="copper")
    wires.add_argument("--temperature", metavar="DEGC", default="20 degC")
    wires.add_argument("--json", action="store_true", help="print one JSON object")
    add_report(wires)


def _add_shape(parser: argparse.ArgumentParser, shape: Shape) -> None:
    solves = _has_turns(shape)
    for entry in shape.entries:
        free = (solves and entry.name == "turns") or (shape.name, entry.name) == (
            "solenoid",
            "length",
        )
        _add_entry(parser, entry, "--" + entry.name, required=entry.required and not free)
    if shape.name == "solenoid":
        parser.add_argument("--pitch", metavar="LENGTH", help="from turn to turn, for --length")
    if solves:
        parser.add_argument("--want", metavar="L", help="find the turns for this inductance")
    parser.add_argument(
        "--at",
        action="append",
        default=[],
        metavar="FREQ",
        help="resistance and Q at this frequency; may be repeated",
    )
    if shape.name not in {"pair", "planar"}:
        parser.add_argument(
            "--sweep", metavar="LOW..HIGH", help="a table of resistance and Q: 10kHz..1MHz"
        )
    wire = parser.add_argument_group("conductor")
    for entry in CONDUCTOR_ENTRIES:
        flag = "--" + entry.name.removesuffix("_celsius")
        _add_entry(wire, entry, flag, required=False)
    plate = parser.add_argument_group("plate of ferrite or metal near one end")
    for entry in PLATE_ENTRIES:
        flag = "--plate" if entry.name == "kind" else "--" + entry.name
        _add_entry(plate, entry, flag, required=False)
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _has_turns(shape: Shape) -> bool:
    return any(entry.name == "turns" for entry in shape.entries)


def _add_entry(parser: Any, entry: Entry, flag: str, *, required: bool) -> None:
    parser.add_argument(
        flag,
        required=required,
        choices=entry.choices or None,
        metavar=None if entry.choices else {"m": "LENGTH", "1": "N"}.get(entry.unit, "DEGC"),
        dest=("plate_" if entry in PLATE_ENTRIES else "") + entry.name,
        help=f"{entry.help} (such as {entry.example})",
    )


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    if options.shape == "wires":
        return _wires(options)
    shape = SHAPES[options.shape]
    given = _read(options, shape)
    wanted = _wanted(options, shape, given)
    if wanted is not None:
        given.values["turns"] = _nearest_turns(wanted, parse_quantity(options.want, "H").value)
    design = _build(options, shape, given)
    conductor = _conductor(options)
    result = calculate(
        design,
        conductor,
        frequencies=[parse_quantity(text, "Hz").value for text in options.at],
        plate=_plate(options),
        deviations=given.deviations,
    )
    swept = _sweep(getattr(options, "sweep", None), design, conductor, result)
    lines = [*_lines(shape, given, result, wanted), *_sweep_lines(swept)]
    write_calculation(options, f"coil: {shape.title}", lines)
    if options.json:
        answer = _as_json(design, conductor, result, wanted, given.remarks)
        if swept is not None:
            answer["sweep"] = {name: values.tolist() for name, values in swept.items()}
        print(json.dumps(answer, ensure_ascii=False, allow_nan=False))
    else:
        print("\n".join(lines))
    return ACCEPTED


def _read(options: argparse.Namespace, shape: Shape) -> _Given:
    values: dict[str, float | str | None] = {}
    deviations: dict[str, Deviation] = {}
    wide = []
    for entry in shape.entries:
        text = getattr(options, entry.name)
        read = None if text is None else entry.read(text)
        values[entry.name] = read.value if isinstance(read, Quantity) else read
        if not isinstance(read, Quantity):
            continue
        if read.lower is not None and read.upper is not None:
            low, high = read.lower - read.value, read.upper - read.value
            deviations[entry.name] = Deviation(low=low, high=high)
        if entry.unit == "m" and read.value >= _WIDE:
            wide.append(f"--{entry.name} {text} is {format_quantity(read.value, 'm')}")
    remarks = tuple(f"{text}: a number without a unit is taken as metres." for text in wide)
    return _Given(values=values, deviations=deviations, remarks=remarks)


def _build(options: argparse.Namespace, shape: Shape, given: _Given) -> Design:
    """Make the design; a pitch stands for the length of a solenoid."""
    values = dict(given.values)
    if shape.name == "solenoid":
        if (options.pitch is None) == (values["length"] is None):
            raise UsageError(
                "coil solenoid: must have one of --length and --pitch (got "
                f"{'none' if options.pitch is None else 'both'}).",
                hint="The length is the number of turns times the pitch.",
            )
        turns = values["turns"]
        if options.pitch is not None and isinstance(turns, int | float):
            pitch = parse_quantity(options.pitch, "m")
            values["length"] = turns * pitch.value
            if pitch.lower is not None and pitch.upper is not None:
                low, high = pitch.lower - pitch.value, pitch.upper - pitch.value
                given.deviations["length"] = Deviation(low=turns * low, high=turns * high)
    return shape.build(values)


def _wanted(options: argparse.Namespace, shape: Shape, given: _Given) -> Wanted | None:
    if getattr(options, "want", None) is None:
        return None
    if given.values["turns"] is not None:
        raise UsageError(
            "coil: must have one of --turns and --want (got both).",
            hint="Leave out --turns to have them found.",
        )

    def build(turns: int) -> Design:
        filled = _Given(values={**given.values, "turns": turns}, deviations={}, remarks=())
        return _build(options, shape, filled)

    return turns_for(build, parse_quantity(options.want, "H").value)


def _nearest_turns(wanted: Wanted, inductance: float) -> float:
    """Choose the whole number of turns whose inductance is nearest.

    Raises
    ------
    QuantityError
        When the wire of the turns that it takes does not fit.
    """
    if wanted.above is None and wanted.below is not None:
        turns, reached = wanted.below
        raise QuantityError(
            f"--want: must be within reach of the winding (got {_value(inductance, 'H')}, but "
            f"{turns} turns, the most that fit, give {_value(reached, 'H')}).",
            hint="Take thinner wire, more room or a larger diameter.",
        )
    both = [entry for entry in (wanted.below, wanted.above) if entry is not None]
    return min(both, key=lambda entry: abs(entry[1] - inductance))[0]


def _number(entry: Entry, text: str | None) -> float | str | None:
    read = None if text is None else entry.read(text)
    return read.value if isinstance(read, Quantity) else read


def _conductor(options: argparse.Namespace) -> Conductor:
    read = {
        entry.name: _number(entry, getattr(options, entry.name)) for entry in CONDUCTOR_ENTRIES
    }
    given: dict[str, Any] = {name: value for name, value in read.items() if value is not None}
    if "strands" in given:
        strands = given["strands"]
        if strands != int(strands):
            raise QuantityError(
                f"strands: must be a whole number (got {strands:g}).", hint="Count the strands."
            )
        given["strands"] = int(strands)
    return Conductor(**given)


def _plate(options: argparse.Namespace) -> Plate | None:
    read = {
        entry.name: _number(entry, getattr(options, "plate_" + entry.name))
        for entry in PLATE_ENTRIES
    }
    given: dict[str, Any] = {name: value for name, value in read.items() if value is not None}
    if not given:
        return None
    if "kind" not in given or "gap" not in given:
        raise UsageError(
            "coil: a plate must have its kind and its gap (got only one of --plate and --gap).",
            hint="For example: --plate ferrite --gap 2mm",
        )
    return Plate(**given)


def _sweep(
    text: str | None, design: Design, conductor: Conductor, result: CoilResult
) -> dict[str, NDArray[np.float64]] | None:
    """Compute resistance, inductance and Q over a band, evenly spaced in its logarithm.

    Raises
    ------
    UsageError
        When the band is none, or the coil has no wire.
    """
    if text is None:
        return None
    low, dots, high = text.partition("..")
    ends = [parse_quantity(end, "Hz").value for end in (low, high)] if dots else []
    if not ends or not 0 < ends[0] < ends[1]:
        raise UsageError(
            f"--sweep: must be LOW..HIGH with LOW below HIGH (got {text!r}).",
            hint="For example: --sweep 10kHz..1MHz",
        )
    inductance = result.get("L")
    found = None
    if inductance is not None:
        band = np.geomspace(ends[0], ends[1], _SWEEP_POINTS)
        found = curves(design, conductor, inductance.value, band)
    if found is None:
        raise UsageError(
            "--sweep: must have a wire of known diameter (got none).",
            hint="Give --wire, the bare diameter or a gauge.",
        )
    return {
        "frequency": found.frequency,
        "L": found.inductance,
        "R_ac": found.resistance,
        "Q": found.quality,
    }


def _sweep_lines(swept: dict[str, NDArray[np.float64]] | None) -> list[str]:
    if swept is None:
        return []
    lines = ["", f"  {'frequency':>12}{'L':>14}{'R':>14}{'Q':>10}"]
    for row in zip(*swept.values(), strict=True):
        frequency, henry, ohm, quality = (float(value) for value in row)
        lines.append(
            f"  {_value(frequency, 'Hz'):>12}{_value(henry, 'H'):>14}"
            f"{_value(ohm, 'ohm'):>14}{quality:>10.4g}"
        )
    return lines


def _value(value: float, unit: str, u: float | None = None) -> str:
    return format_quantity(value, unit, u)


def _quantity_json(entry: Computed) -> dict[str, Any]:
    found: dict[str, Any] = {
        "value": entry.value,
        "unit": entry.unit,
        "method": entry.method,
        "error_percent": entry.error_percent,
    }
    if entry.low is not None:
        found |= {"low": entry.low, "high": entry.high}
    if entry.u is not None:
        found["u"] = entry.u
    if entry.source:
        found["source"] = entry.source
    return found


def _difference(entry: Computed, result: CoilResult) -> float | None:
    best = result.get(entry.quantity, entry.at)
    return None if best is None else 100 * (entry.value / best.value - 1)


def _as_json(
    design: Design,
    conductor: Conductor,
    result: CoilResult,
    wanted: Wanted | None,
    remarks: tuple[str, ...],
) -> dict[str, Any]:
    steady = {entry.quantity: entry for entry in result.quantities if entry.at is None}
    answer: dict[str, Any] = {
        "schema": "benchapp.coil/1",
        "shape": result.shape,
        "given": {name: value for name, value in asdict(design).items() if value is not None},
        "conductor": asdict(conductor),
    }
    for name in dict.fromkeys([*_ALWAYS, *steady]):
        answer[name] = _quantity_json(steady[name]) if name in steady else None
    answer["approximations"] = [
        {
            "quantity": entry.quantity,
            **_quantity_json(entry),
            "difference_percent": _difference(entry, result),
            "frequency": entry.at,
        }
        for entry in result.approximations
    ]
    answer["at"] = [
        {
            "frequency": at,
            **{e.quantity: _quantity_json(e) for e in result.quantities if e.at == at},
        }
        for at in _frequencies(result)
    ]
    if wanted is not None:
        answer["wanted"] = {
            "turns": wanted.turns,
            "below": _turns_json(wanted.below),
            "above": _turns_json(wanted.above),
        }
    answer["remarks"] = [*remarks, *result.remarks]
    return answer


def _turns_json(entry: tuple[int, float] | None) -> dict[str, Any] | None:
    return None if entry is None else {"turns": entry[0], "L": entry[1]}


def _frequencies(result: CoilResult) -> list[float]:
    return list(dict.fromkeys(entry.at for entry in result.quantities if entry.at is not None))


def _lines(shape: Shape, given: _Given, result: CoilResult, wanted: Wanted | None) -> list[str]:
    lines = [shape.title]
    if wanted is not None:
        lines += _wanted_lines(wanted)
    lines += _section(result, None)
    for at in _frequencies(result):
        lines += ["", f"at {_value(at, 'Hz')}", *_section(result, at)]
    lines += ["", *(f"  {text}" for text in (*given.remarks, *result.remarks))]
    return lines


def _wanted_lines(wanted: Wanted) -> list[str]:
    rows = [entry for entry in (wanted.below, wanted.above) if entry is not None]
    between = "" if wanted.turns is None else f"  {wanted.turns:.2f} turns would meet it exactly"
    found = [f"  {turns} turns give {_value(reached, 'H')}" for turns, reached in rows]
    return [*found, between, ""] if between else [*found, ""]


def _section(result: CoilResult, at: float | None) -> list[str]:
    lines = []
    for entry in result.quantities:
        if entry.at != at:
            continue
        lines.append(_line(entry, entry.method + _error(entry)))
        if entry.low is not None and entry.high is not None:
            low, high = (_value(bound, entry.unit) for bound in (entry.low, entry.high))
            lines.append(f"  {'':<20}{low} to {high}")
    beside = [entry for entry in result.approximations if entry.at == at]
    if beside:
        lines.append("  beside it:")
    for entry in beside:
        difference = _difference(entry, result)
        apart = "" if difference is None else f", {difference:+.3g} %"
        lines.append(_line(entry, entry.method + _error(entry) + apart))
    return lines


def _line(entry: Computed, words: str) -> str:
    shown = _value(entry.value, entry.unit, entry.u)
    return f"  {_NAMES[entry.quantity]:<20}{shown:<12}  {words}"


def _error(entry: Computed) -> str:
    if entry.error_percent is None:
        return ""
    if entry.error_percent == 0:
        return ", exact"
    return f", within {max(entry.error_percent, 0.01):.2g} %"


def _wires(options: argparse.Namespace) -> int:
    temperature = parse_quantity(options.temperature, "degC").value
    rows = wire_table(
        options.series, Conductor(material=options.material, temperature_celsius=temperature)
    )
    lines = _wire_lines(options.series, options.material, temperature, rows)
    write_calculation(options, "wires", lines)
    if options.json:
        answer = {
            "schema": "benchapp.wires/1",
            "series": options.series,
            "material": options.material,
            "temperature_celsius": temperature,
            "wires": [
                {
                    "name": row.name,
                    "diameter": row.diameter,
                    "area": row.area,
                    "resistance_per_metre": row.resistance_per_metre,
                }
                for row in rows
            ],
        }
        print(json.dumps(answer, ensure_ascii=False, allow_nan=False))
    else:
        print("\n".join(lines))
    return ACCEPTED


def _wire_lines(
    series: str, material: str, temperature: float, rows: tuple[WireSize, ...]
) -> list[str]:
    head = f"{WIRE_SERIES[series]}; {material} at {temperature:g} degC"
    lines = [head, f"  {'size':<10}{'bare mm':>10}{'mm²':>12}{'ohm/m':>12}"]
    return lines + [
        f"  {row.name:<10}{1e3 * row.diameter:>10.4g}{1e6 * row.area:>12.4g}"
        f"{row.resistance_per_metre:>12.4g}"
        for row in rows
    ]


COMMAND = Command(
    summary=(
        "Inductance of a coil from its geometry, exact where a formula or a convergent integral "
        "exists, with the handbook formulas beside it; self-capacitance, resistance and Q; "
        "coupling of two coils; turns for a wanted inductance; tolerances; wire tables."
    ),
    configure=_configure,
    run=_run,
)
