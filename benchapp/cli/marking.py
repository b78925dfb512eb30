"""``benchapp marking``: what stands on a part, what to write on it, what value to take."""

from __future__ import annotations

import argparse
import json
from typing import Any

from benchapp.cli import ACCEPTED
from benchapp.cli.command import Command
from benchapp.cli.reporting import add_report, check_report, write_calculation
from benchapp.errors import UsageError
from benchapp.marking import (
    KINDS,
    SERIES,
    UNIT_OF,
    Combination,
    Kind,
    Rating,
    Reading,
    best_pairs,
    cautions,
    describe,
    describe_pair,
    nearest,
    read_marking,
    write_marking,
)
from benchapp.marking.wording import plain
from benchapp.units import Quantity, format_quantity, parse_quantity

__all__ = ["COMMAND", "pair_json"]


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "code",
        nargs="*",
        metavar="CODE",
        help='what stands on the part, such as "103K 2J", 0.1, 4R7 or "brown black red gold"',
    )
    parser.add_argument("--kind", choices=KINDS, help="show only readings for this kind of part")
    parser.add_argument(
        "--write", metavar="VALUE", help='instead: how a part is marked, such as "100nF ±10%%"'
    )
    parser.add_argument(
        "--dc", metavar="VOLT", help="with --write: rated DC voltage, such as 630V"
    )
    parser.add_argument(
        "--prefer",
        metavar="VALUE",
        help="instead: the nearest preferred value, and the best two parts, for a wanted value",
    )
    parser.add_argument(
        "--series", default="E12", help=f"with --prefer: {', '.join(SERIES)} (default E12)"
    )
    parser.add_argument(
        "--voltage", metavar="VOLT", help="with --prefer: rms voltage, shared out to the two parts"
    )
    parser.add_argument(
        "--current", metavar="AMPERE", help="with --prefer: rms current, shared out likewise"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    add_report(parser)


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    chosen = [bool(options.code), options.write is not None, options.prefer is not None]
    if sum(chosen) != 1:
        raise UsageError(
            f"marking: must have one of CODE, --write or --prefer (got {sum(chosen)}).",
            hint='For example: benchapp marking "103K 2J"',
        )
    if options.write is not None:
        answer, lines = _write(options)
    elif options.prefer is not None:
        answer, lines = _prefer(options)
    else:
        answer, lines = _read(" ".join(options.code), options.kind)
    write_calculation(options, "marking", lines.split("\n"))
    print(json.dumps(answer, ensure_ascii=False, allow_nan=False) if options.json else lines)
    return ACCEPTED


def _read(code: str, kind: Kind | None) -> tuple[dict[str, Any], str]:
    marking = read_marking(code, kind)
    notes = cautions(marking.readings)
    answer = {
        "schema": "benchapp.marking/1",
        "code": code,
        "readings": [_reading_json(reading) for reading in marking.readings],
        "not_understood": list(marking.not_understood),
        "cautions": list(notes),
    }
    lines = [code]
    for reading in marking.readings:
        lines.append(f"  {_share(reading.likelihood):>5}  {describe(reading)}")
        lines.append(f"         {reading.why}")
    if marking.not_understood:
        lines.append(f"  not understood and set aside: {', '.join(marking.not_understood)}")
    lines += [f"  {note}" for note in notes]
    return answer, "\n".join(lines)


def _share(likelihood: float) -> str:
    """Write how likely a reading is beside the others; a single one has nothing beside it."""
    if likelihood == 1:
        return "only"
    percent = 100 * likelihood
    return ">99 %" if percent > 99 else "<1 %" if percent < 1 else f"{percent:.0f} %"


def _reading_json(reading: Reading) -> dict[str, Any]:
    rating = reading.rating
    return {
        "kind": reading.kind,
        "value": reading.value,
        "unit": reading.unit,
        "tolerance_low": reading.tolerance_low,
        "tolerance_high": reading.tolerance_high,
        "absolute_tolerance": reading.absolute_tolerance,
        "rating_volt": None if rating is None else rating.volt,
        "rating_kind": None if rating is None else rating.kind,
        "dielectric": None if reading.dielectric is None else reading.dielectric.name,
        "why": reading.why,
        "likelihood": reading.likelihood,
        "safety_class": reading.safety_class,
        "series": reading.series,
        "ratings": [
            {"volt": entry.volt, "kind": entry.kind, "text": entry.text}
            for entry in reading.ratings
        ],
    }


def _kind_of(quantity: Quantity, kind: Kind | None) -> Kind:
    """Tell the kind of part from the unit, and refuse a unit that does not fit ``--kind``."""
    fitting = next((name for name, unit in UNIT_OF.items() if unit == quantity.unit), kind)
    if fitting is None or (kind is not None and fitting != kind):
        raise UsageError(
            f"value: must be in F, H or ohm{f' for a {kind}' if kind else ''} "
            f"(got the unit '{quantity.unit}').",
            hint="Type for example 100nF, 4.7mH or 2.2kOhm.",
        )
    return fitting


def _write(options: argparse.Namespace) -> tuple[dict[str, Any], str]:
    quantity = parse_quantity(options.write)
    kind = _kind_of(quantity, options.kind)
    volt = None if options.dc is None else parse_quantity(options.dc, "V").value
    ratings = () if volt is None else (Rating(volt=volt, kind="dc", text=""),)
    symmetric = quantity.relative and quantity.low is not None
    reading = Reading(
        kind=kind,
        unit=UNIT_OF[kind],
        value=quantity.value,
        tolerance_low=quantity.low if symmetric else None,
        tolerance_high=quantity.high if symmetric else None,
        absolute_tolerance=None if quantity.relative else quantity.high,
        ratings=ratings,
    )
    written = write_marking(reading)
    answer = {
        "schema": "benchapp.written/1",
        "value": quantity.value,
        "unit": UNIT_OF[kind],
        "markings": [{"style": entry.style, "text": entry.text} for entry in written],
    }
    lines = [describe(reading), *(f"  {entry.text:<28} {entry.style}" for entry in written)]
    return answer, "\n".join(lines)


def _prefer(options: argparse.Namespace) -> tuple[dict[str, Any], str]:
    quantity = parse_quantity(options.prefer)
    kind = _kind_of(quantity, options.kind)
    unit = UNIT_OF[kind]
    voltage = None if options.voltage is None else parse_quantity(options.voltage, "V").value
    current = None if options.current is None else parse_quantity(options.current, "A").value
    single = nearest(quantity.value, options.series)
    pairs = best_pairs(quantity.value, options.series, kind)
    answer = {
        "schema": "benchapp.preferred/1",
        "wanted": quantity.value,
        "unit": unit,
        "series": single.series,
        "nearest": {"value": single.value, "error": single.error},
        "pairs": [pair_json(pair) for pair in pairs],
    }
    lines = [
        f"{plain(quantity.value, unit)} from {single.series}",
        f"  one {kind}: {plain(single.value, unit)} ({100 * single.error:+.3g} %)",
    ]
    for pair in pairs:
        lines.append(f"  {describe_pair(pair, unit)}")
        lines += [f"    {line}" for line in _stress_lines(pair, unit, voltage, current)]
    return answer, "\n".join(lines)


def pair_json(pair: Combination) -> dict[str, Any]:
    """Give a pair of parts in the form of the JSON outputs; shares are fractions of the whole."""
    return {
        "connection": pair.connection,
        "larger": pair.larger,
        "smaller": pair.smaller,
        "value": pair.value,
        "error": pair.error,
        "voltage_shares": [pair.larger_voltage, pair.smaller_voltage],
        "current_shares": [pair.larger_current, pair.smaller_current],
        "caution": pair.caution,
    }


def _stress_lines(
    pair: Combination, unit: str, voltage: float | None, current: float | None
) -> list[str]:
    volts = _shared((pair.larger_voltage, pair.smaller_voltage), voltage, "V")
    amperes = _shared((pair.larger_current, pair.smaller_current), current, "A")
    lines = [
        f"{plain(value, unit)}: {volt}, {ampere}"
        for value, volt, ampere in zip((pair.larger, pair.smaller), volts, amperes, strict=True)
    ]
    return lines + ([pair.caution] if pair.caution else [])


def _shared(shares: tuple[float, float], whole: float | None, unit: str) -> list[str]:
    if whole is None:
        word = {"V": "voltage", "A": "current"}[unit]
        return [f"{100 * share:.3g} % of the {word}" for share in shares]
    return [f"{format_quantity(share * whole, unit, digits=3)} rms" for share in shares]


COMMAND = Command(
    summary=(
        "Read the marking of a capacitor, inductor or resistor: every value, tolerance and rating "
        "that it can mean, most likely first, and why. Or, with --write, how such a part is "
        "marked; with --prefer, which preferred values come near a wanted one."
    ),
    configure=_configure,
    run=_run,
)
