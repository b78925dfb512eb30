"""``benchapp tank``: the nominal sums of a tank."""

from __future__ import annotations

import argparse
import json
import re
from typing import NoReturn

import numpy as np

from benchapp.cli import ACCEPTED, REJECTED, UNDECIDED
from benchapp.cli.command import Command
from benchapp.cli.reporting import add_report, check_report, write_calculation
from benchapp.cli.tank_answer import TankAnswer, answer_json, answer_lines
from benchapp.errors import UsageError
from benchapp.marking import best_pairs, nearest
from benchapp.tank import (
    Band,
    CapacitorRatings,
    Contributor,
    Drive,
    Link,
    Losses,
    StackUp,
    StressCase,
    TankDesign,
    Temperature,
    drive_tank,
    link,
    place_in_band,
    simulate,
    solve,
    stack,
    stack_of,
    stress_cases,
)
from benchapp.tank.value import TankSums
from benchapp.units import Quantity, parse_number, parse_quantity, parse_tolerance

__all__ = ["COMMAND"]

_BRIDGES = {"half": "half-bridge", "full": "full-bridge"}


def _configure(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    add("--L", metavar="H", help="inductance, with tolerance where known: 1.62mH±3%%")
    add("--C", metavar="F", help="capacitance: 868pF±2%%")
    add("--f", metavar="HZ", help="wanted resonance: 134.2kHz; give two of L, C and f")
    add("--circuit", choices=("series", "parallel"), default="series", help="default series")
    _configure_losses(parser)
    _configure_drive(parser)
    _configure_tolerances(parser)
    _configure_ratings(parser)
    pair = parser.add_argument_group("power link of a coupled pair")
    pair.add_argument("--k", metavar="K", help="coupling; best efficiency and the load for it")
    pair.add_argument("--Q2", metavar="Q", help="unloaded Q of the receiving side")
    pair.add_argument("--L2", metavar="H", help="inductance of the receiving coil")
    add("--combine", metavar="SERIES", help="preferred capacitors near C: E12, E24 ...")
    add("--json", action="store_true", help="print one JSON object")
    add_report(parser)


def _configure_losses(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("losses (left out means not known)")
    group.add_argument("--R", metavar="OHM", help="series resistance of the coil at f0")
    group.add_argument("--coil-Q", metavar="Q", help="instead: Q of the coil at f0")
    group.add_argument("--esr", metavar="OHM", help="ESR of the capacitor at f0")
    group.add_argument("--tan-delta", metavar="D", help="instead: its loss tangent")
    group.add_argument("--joints", metavar="OHM", help="contacts and leads in the tank")
    group.add_argument("--source", metavar="OHM", help="resistance of the generator or bridge")
    group.add_argument("--sense", metavar="OHM", help="resistor that measures the current")
    group.add_argument(
        "--load", metavar="OHM", help="in series with the coil, or across a parallel tank"
    )


def _configure_drive(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("drive")
    group.add_argument(
        "--drive",
        metavar="SIZE",
        help='rms voltage 10V or current 20A, or DC supply of a bridge: "half 325V", "full 24V"',
    )
    group.add_argument("--at", metavar="HZ", help="drive frequency (default: the resonance)")
    group.add_argument("--bias", metavar="V", default="0V", help="DC voltage on the capacitor")
    group.add_argument(
        "--band", metavar="LOW..HIGH", help="where the resonance must lie: 132kHz..136kHz"
    )


def _configure_tolerances(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("tolerances")
    group.add_argument("--tempco-L", metavar="PPM", default="0", help="in 1e-6/K: 50, or 20..80")
    group.add_argument("--tempco-C", metavar="PPM", default="0", help='-250, or "-300 .. -200"')
    group.add_argument("--temperature", metavar="LOW..HIGH", help="range in °C: 0..60")
    group.add_argument("--reference", metavar="CELSIUS", default="23", help="default 23")
    group.add_argument(
        "--also",
        action="append",
        default=[],
        metavar='"NAME L|C TOLERANCE"',
        help='something else that moves L or C: "ageing C -1%% +2%%"',
    )
    group.add_argument("--units", metavar="N", help="simulate so many tanks: 1000000")
    group.add_argument("--seed", metavar="N", default="1", help="of the simulation (default 1)")
    group.add_argument(
        "--distribution", choices=("normal", "uniform", "triangular"), default="normal"
    )
    group.add_argument("--correlation", metavar="R", default="0", help="between L and C, -1 to 1")


def _configure_ratings(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("what the capacitor's maker allows")
    group.add_argument("--rated-dc", metavar="V", help="rated DC voltage")
    group.add_argument("--rated-ac", metavar="V", help="rated AC voltage at mains frequency")
    group.add_argument(
        "--curve", metavar="POINTS", help='AC voltage over frequency: "10kHz:250V 100kHz:90V"'
    )
    group.add_argument("--rated-current", metavar="A", help="rms")
    group.add_argument("--rated-slew", metavar="V/US", help="rated dV/dt in V/us: 50")
    group.add_argument("--rated-heat", metavar="W", help="rated dissipation")
    group.add_argument("--max-rise", metavar="K", help="allowed self-heating")
    group.add_argument("--thermal", metavar="K/W", help="thermal resistance, with --max-rise")


def _run(options: argparse.Namespace) -> int:
    check_report(options)
    design = _design(options)
    sums = solve(design)
    answer = _answer(options, design, sums)
    lines = answer_lines(answer)
    said = [line for line in lines if not line.startswith("caution: ")]
    write_calculation(options, "tank", said, answer.safety)
    if options.json:
        print(json.dumps(answer_json(answer), ensure_ascii=False, allow_nan=False))
    else:
        print("\n".join(lines))
    return _status(answer)


def _status(answer: TankAnswer) -> int:
    """Give the exit status: only a capacitor that was to be judged can be rejected."""
    if answer.ratings is None:
        return ACCEPTED
    outcomes = {case.stress.outcome for case in answer.cases}
    if "over" in outcomes:
        return REJECTED
    return UNDECIDED if "cannot be judged" in outcomes or not outcomes else ACCEPTED


def _answer(options: argparse.Namespace, design: TankDesign, sums: TankSums) -> TankAnswer:
    ratings = _ratings(options)
    if ratings is not None and design.drive is None:
        raise UsageError(
            "ratings of the capacitor: must come with --drive (got none).",
            hint="Say what drives the tank, for example --drive 10V.",
        )
    driven = drive_tank(design, sums)
    stacked = _stack(options, design, sums)
    cases: tuple[StressCase, ...] = ()
    if driven is not None:
        cases = stress_cases(design, sums, driven, ratings or CapacitorRatings())
    units = None if options.units is None else _whole("--units", options.units)
    simulation = None
    if units is not None:
        generator = np.random.default_rng(_whole("--seed", options.seed))
        simulation = simulate(stacked, generator, units)
    varied = bool(stacked.contributors) or stacked.temperature is not None
    wanted = sums.capacitance.nominal
    return TankAnswer(
        design=design,
        sums=sums,
        place=None if design.band is None else place_in_band(sums.frequency, design.band),
        stack=stack(stacked) if varied else None,
        stack_up=stacked,
        simulation=simulation,
        driven=driven,
        cases=cases,
        ratings=ratings,
        link=_link(options, sums),
        nearest=None if options.combine is None else nearest(wanted, options.combine),
        pairs=() if options.combine is None else best_pairs(wanted, options.combine, "capacitor"),
    )


def _quantity(text: str | None, unit: str) -> Quantity | None:
    return None if text is None else parse_quantity(text, unit)


def _value(text: str | None, unit: str) -> float | None:
    return None if text is None else parse_quantity(text, unit).value


def _number(text: str | None) -> float | None:
    return None if text is None else parse_number(text)


def _whole(name: str, text: str) -> int:
    number = parse_number(text)
    if number != int(number) or not 0 <= number <= 100_000_000:
        raise UsageError(
            f"{name}: must be a whole number from 0 to 100000000 (got {text}).",
            hint="Type for example 1000000.",
        )
    return int(number)


def _design(options: argparse.Namespace) -> TankDesign:
    return TankDesign(
        inductance=_quantity(options.L, "H"),
        capacitance=_quantity(options.C, "F"),
        frequency=_quantity(options.f, "Hz"),
        circuit=options.circuit,
        losses=Losses(
            coil_resistance=_value(options.R, "ohm"),
            coil_q=_number(options.coil_Q),
            capacitor_resistance=_value(options.esr, "ohm"),
            loss_tangent=_number(options.tan_delta),
            joints=_value(options.joints, "ohm"),
            source=_value(options.source, "ohm"),
            sense=_value(options.sense, "ohm"),
            load=_value(options.load, "ohm"),
        ),
        drive=_drive(options),
        band=_band(options.band),
    )


def _drive(options: argparse.Namespace) -> Drive | None:
    if options.drive is None:
        if options.at is not None:
            raise UsageError(
                "--at: must come with --drive (got no drive).", hint="Add --drive 10V."
            )
        return None
    at, bias = _value(options.at, "Hz"), parse_quantity(options.bias, "V").value
    first, _, rest = options.drive.strip().partition(" ")
    if first.lower().removesuffix("-bridge") in _BRIDGES:
        form = _BRIDGES[first.lower().removesuffix("-bridge")]
        size = parse_quantity(rest, "V").value
        return Drive(form=form, size=size, frequency=at, bias=bias)  # type: ignore[arg-type]
    quantity = parse_quantity(options.drive)
    if quantity.unit not in ("V", "A"):
        raise UsageError(
            f"--drive: must be in V or A (got '{options.drive}').",
            hint='Give 10V, 20A, "half 325V" or "full 24V".',
        )
    form = "sine" if quantity.unit == "V" else "current"
    return Drive(form=form, size=quantity.value, frequency=at, bias=bias)  # type: ignore[arg-type]


def _ends(name: str, text: str) -> tuple[str, str]:
    low, dots, high = text.partition("..")
    if not dots:
        _refuse_range(name, text)
    return low.strip(), high.strip()


def _refuse_range(name: str, text: str) -> NoReturn:
    raise UsageError(
        f"{name}: must be LOW..HIGH (got '{text}').", hint="For example 132kHz..136kHz or 0..60."
    )


def _band(text: str | None) -> Band | None:
    if text is None:
        return None
    low, high = _ends("--band", text)
    return Band(low=_value(low or None, "Hz"), high=_value(high or None, "Hz"))


def _ppm(name: str, text: str) -> tuple[float, float]:
    low, high = _ends(name, text) if ".." in text else (text, text)
    return 1e-6 * parse_number(low), 1e-6 * parse_number(high)


def _temperature(options: argparse.Namespace) -> Temperature | None:
    if options.temperature is None:
        return None
    low, high = (parse_number(end) for end in _ends("--temperature", options.temperature))
    return Temperature(
        inductance=_ppm("--tempco-L", options.tempco_L),
        capacitance=_ppm("--tempco-C", options.tempco_C),
        low_celsius=low,
        high_celsius=high,
        reference_celsius=parse_number(options.reference),
    )


def _contributor(text: str, distribution: str) -> Contributor:
    match = re.fullmatch(r"\s*(\S.*?)\s+([LC])\s+(.+)", text)
    if match is None:
        raise UsageError(
            f"--also: must be a name, L or C, and a tolerance (got '{text}').",
            hint='For example --also "ageing C -1% +2%".',
        )
    low, high, relative = parse_tolerance(match[3])
    if not relative:
        raise UsageError(
            f"--also: must have its tolerance in % (got '{text}').",
            hint='For example --also "ageing C -1% +2%".',
        )
    return Contributor(
        name=match[1],
        target="L" if match[2] == "L" else "C",
        low=low,
        high=high,
        distribution=distribution,  # type: ignore[arg-type]
    )


def _stack(options: argparse.Namespace, design: TankDesign, sums: TankSums) -> StackUp:
    return stack_of(
        sums,
        temperature=_temperature(options),
        distribution=options.distribution,
        correlation=parse_number(options.correlation),
        band=design.band,
        more=tuple(_contributor(text, options.distribution) for text in options.also),
    )


def _ratings(options: argparse.Namespace) -> CapacitorRatings | None:
    slew = _number(options.rated_slew)
    found = CapacitorRatings(
        dc_volt=_value(options.rated_dc, "V"),
        mains_volt=_value(options.rated_ac, "V"),
        curve=_curve(options.curve),
        current=_value(options.rated_current, "A"),
        slew=None if slew is None else 1e6 * slew,
        dissipation=_value(options.rated_heat, "W"),
        rise=_value(options.max_rise, "K"),
        thermal_resistance=_number(options.thermal),
    )
    return None if found == CapacitorRatings() else found


def _curve(text: str | None) -> tuple[tuple[float, float], ...]:
    if text is None:
        return ()
    points = []
    for word in re.split(r"[\s,;]+", text.strip()):
        frequency, colon, voltage = word.partition(":")
        if not colon:
            raise UsageError(
                f"--curve: must be points FREQUENCY:VOLTAGE (got '{word}').",
                hint='For example --curve "10kHz:250V 100kHz:90V".',
            )
        points.append((parse_quantity(frequency, "Hz").value, parse_quantity(voltage, "V").value))
    return tuple(points)


def _link(options: argparse.Namespace, sums: TankSums) -> Link | None:
    if options.k is None and options.Q2 is None and options.L2 is None:
        return None
    if options.k is None or options.Q2 is None or sums.q is None:
        raise UsageError(
            "power link: must have --k, --Q2 and this side's losses (got not all of them).",
            hint="Give also --R or --coil-Q of the sending coil.",
        )
    return link(
        parse_number(options.k),
        sums.q,
        parse_number(options.Q2),
        receiving_inductance=_value(options.L2, "H"),
        frequency=sums.frequency.nominal,
    )


COMMAND = Command(
    summary=(
        "Work out a tank from any two of L, C and f: resonance, Q and bandwidth, what tolerances "
        "do to it, and with a drive the currents, voltages and watts and whether the capacitor "
        "bears them."
    ),
    configure=_configure,
    run=_run,
)
