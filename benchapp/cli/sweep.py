"""``benchapp sweep``: a sweep from an instrument, or why the instrument does not answer."""

from __future__ import annotations

import argparse
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchapp.capture import Capture, Conditions, Sweep, Transient
from benchapp.checks import Facts
from benchapp.cli import ACCEPTED, UNDECIDED, UNREADABLE
from benchapp.cli.choices import add_examination, examination_from, print_json
from benchapp.cli.command import Command
from benchapp.cli.compare import show_verdict
from benchapp.cli.correction import (
    add_corrections,
    corrected_by,
    correction_json,
    correction_lines,
    corrections,
)
from benchapp.cli.fit import fit_json, fit_lines
from benchapp.cli.interrupt import on_interrupt
from benchapp.cli.progress import shown_progress
from benchapp.cli.reference import show_gate
from benchapp.errors import CaptureError, FileAccessError, FitError, UsageError
from benchapp.fixture import Corrected, Corrections
from benchapp.instruments import Examined, Plan, Taken, load_profile
from benchapp.jobs import (
    CheckReference,
    ComparePart,
    Discover,
    Examination,
    ExamineAddress,
    OpenNominal,
    OpenReference,
    RecordNotes,
    SaveCaptures,
    StationGate,
    TakeSweep,
    facts_of_fixture,
    facts_of_reference,
    facts_of_sweep,
    not_cancelled,
    silent,
)
from benchapp.jobs.report import refuse_existing
from benchapp.units import format_quantity, parse_quantity

__all__ = ["BIAS_CAUTION", "COMMAND", "RINGING_CAUTION"]

BENCH = "bench"
"""This word in place of an address starts the simulated bench for one act; ``bench:open`` puts
another of its parts into the clip."""

BIAS_CAUTION = (
    "DC bias: a coil under bias gives a dangerous voltage when it is disconnected. Do not touch "
    "or disconnect the part before the bias is reported off. Follow the rules of your workplace; "
    "if unsure, ask the responsible person."
)
RINGING_CAUTION = (
    "Resonance: a tank that rings, or is driven at its resonance, can carry many times the drive "
    "voltage. Do not touch it, use probes rated for that, and keep the scope's earth connected. "
    "Follow the rules of your workplace; if unsure, ask the responsible person."
)
_RINGING = ("gain-phase", "ring-down")
_QUANTITIES = (
    ("start", "Hz", "lowest frequency: 114kHz"),
    ("stop", "Hz", "highest frequency: 154kHz"),
    ("level", "V", "test level, rms: 0.5V"),
    ("bias", "V", "DC bias; a caution is printed before"),
    ("range", "ohm", "hold the range that ends here; left out: the instrument chooses"),
    ("settle", "s", "wait this long after each change of frequency; left out: from Q"),
    ("series", "ohm", "measured value of the known resistor, for a scope and generator"),
    ("window", "s", "length of a ring-down record"),
    ("temperature", "degC", "temperature of the part, for the record"),
)


def _configure(parser: argparse.ArgumentParser) -> None:
    where = parser.add_argument_group("which instrument")
    where.add_argument("--profile", metavar="P", help="its profile: a name, or a file")
    where.add_argument(
        "--resource",
        metavar="R",
        help="its VISA address; 'bench', or 'bench:open' and so on, is the simulated bench",
    )
    where.add_argument("--backend", default="", help="another VISA library than the built-in one")
    where.add_argument(
        "--doctor", metavar="R", help="test this address step by step, and measure nothing"
    )
    where.add_argument(
        "--discover", action="store_true", help="list the addresses that VISA finds (broadcasts)"
    )
    what = parser.add_argument_group("what is measured")
    for name, unit, words in _QUANTITIES:
        what.add_argument(f"--{name}", metavar="V" if unit == "V" else unit.upper(), help=words)
    what.add_argument("--points", type=int, default=201, help="number of points (201)")
    what.add_argument("--average", type=int, metavar="N", help="readings averaged per point")
    what.add_argument("--spacing", choices=("log", "linear"), default="linear")
    what.add_argument("--direction", choices=("up", "down", "both"), default="up")
    what.add_argument(
        "--find", action="store_true", help="look for the resonance, lay the points around it"
    )
    what.add_argument(
        "--allow-over-limit",
        action="store_true",
        help="confirm a level or bias above the profile's caution",
    )
    what.add_argument("--part", metavar="SERIAL", help="serial number, for the record")
    what.add_argument("--fixture", help="how the part is held, for the record")
    what.add_argument("--surroundings", help="what lies near the part, for the record")
    add_corrections(parser)
    add_examination(parser)
    then = parser.add_argument_group("what is done with it")
    then.add_argument("--out", metavar="FILE.csv", help="save it")
    then.add_argument(
        "--force",
        "--overwrite",
        action="store_true",
        help="write over FILE.csv if it is there already",
    )
    then.add_argument("--fit", action="store_true", help="fit it: L, C, Q, ESR")
    then.add_argument("--nominal", metavar="DESIGN.toml", help="judge it against this design")
    then.add_argument(
        "--reference-coil",
        metavar="COIL.toml",
        help="it is the daily check of this reference coil: keep it, and say whether lot work is "
        "open (see 'benchapp reference')",
    )
    then.add_argument(
        "--gate",
        metavar="COIL.toml",
        help="this is the station's reference coil: what its last check says counts in the checks",
    )
    then.add_argument("--who", default="", metavar="NAME", help="who makes that check")
    then.add_argument(
        "--record", metavar="ADDRESS", default="", help="the record that keeps its checks"
    )
    then.add_argument("--json", action="store_true", help="print one JSON object per result")


def _run(options: argparse.Namespace) -> int:
    if options.discover:
        return _discover(options)
    if options.doctor is not None:
        return _doctor(options)
    for name in ("profile", "resource"):
        if getattr(options, name) is None:
            raise UsageError(
                f"--{name}: must be given (got nothing).",
                hint="For example: --profile lcr-points --resource TCPIP::192.0.2.7::5025::SOCKET",
            )
    _refuse_early(options)
    known = corrections(options)
    examination = examination_from(options)
    plan = _plan(options)
    if plan.bias:
        print(BIAS_CAUTION, file=sys.stderr)
    taken = _take(options, plan)
    done = _corrected(options, known, taken)
    if taken.captures and options.out:
        captures = taken.captures if done is None else _with_raw(taken, done)
        SaveCaptures(path=options.out, captures=captures, overwrite=options.force)(
            silent, not_cancelled
        )
    if options.json:
        shown = {} if done is None else {"corrections": correction_json(done)}
        print_json(_as_json(options, taken) | shown)
    else:
        steps = [] if done is None else correction_lines(done)
        print("\n".join([*_lines(options, taken), *steps]))
    _warn(taken)
    if done is None:
        return UNREADABLE
    examination = replace(
        examination,
        accuracy=examination.accuracy or taken.accuracy,
        facts=examination.facts.completed(_facts(options, taken, done, known)),
    )
    if options.reference_coil:
        return _checked(options, done.capture, examination)
    return _judged(options, taken, done.capture, examination)


def _facts(
    options: argparse.Namespace, taken: Taken, done: Corrected, known: Corrections
) -> Facts:
    """Give what the station knows beside the sweep; what a person stated goes before it."""
    found = facts_of_sweep(taken).completed(
        facts_of_fixture(done.raw, known.compensation, done.rule)
    )
    if not options.gate:
        return found
    reference = OpenReference(path=options.gate)(silent, not_cancelled)
    station = StationGate(reference=reference, notes=RecordNotes(address=options.record))
    return found.completed(facts_of_reference(station(silent, not_cancelled)))


def _corrected(options: argparse.Namespace, known: Corrections, taken: Taken) -> Corrected | None:
    """Correct what was taken; None, after saying why, where there is nothing or it cannot be."""
    if not taken.captures:
        return None
    try:
        return corrected_by(taken.captures[0], known, options, None)
    except CaptureError as error:
        print(f"benchapp: {error} The sweep is kept as it came.", file=sys.stderr)
        return None


def _with_raw(taken: Taken, done: Corrected) -> tuple[Capture, ...]:
    """Give what is saved: the corrected capture, if there is one, and all as they came."""
    changed = () if done.capture is done.raw else (done.capture,)
    return (*changed, *taken.captures)


def _refuse_early(options: argparse.Namespace) -> None:
    """Refuse before anything is switched on what would lose the sweep afterwards."""
    if options.nominal:
        OpenNominal(path=options.nominal)(silent, not_cancelled)
    for coil in (options.reference_coil, options.gate):
        if coil:
            OpenReference(path=coil)(silent, not_cancelled)
    if options.out is None:
        return
    path = Path(options.out)
    refuse_existing(options.out, overwrite=options.force)
    if not path.parent.is_dir():
        raise FileAccessError(
            f"{path.parent}: must be a folder (got none).", hint="Make it, or choose another."
        )


def _plan(options: argparse.Namespace) -> Plan:
    typed: dict[str, float | None] = {}
    for name, unit, _ in _QUANTITIES:
        text = getattr(options, name)
        typed[name] = None if text is None else parse_quantity(text, unit).value
    ring_down = typed["start"] is None and typed["stop"] is None
    if not ring_down and None in (typed["start"], typed["stop"]):
        raise UsageError(
            "--start and --stop: must be given together (got one of them).",
            hint="For example: --start 114kHz --stop 154kHz",
        )
    return Plan(
        start=typed["start"] or 0.0,
        stop=typed["stop"] or 0.0,
        points=options.points,
        spacing=options.spacing,
        zoom=options.find,
        direction=options.direction,
        level=typed["level"],
        bias=typed["bias"],
        averages=options.average,
        range_upper=typed["range"],
        settle=typed["settle"],
        consent=options.allow_over_limit,
        series_ohm=typed["series"],
        window=typed["window"] or Plan(start=1, stop=2).window,
        part=options.part,
        conditions=Conditions(
            temperature_celsius=typed["temperature"],
            fixture=options.fixture,
            surroundings=options.surroundings,
        ),
    )


@contextmanager
def _reached(resource: str, profile: str | None) -> Iterator[str]:
    """Give the address of a resource; ``bench`` is the simulated bench, for as long."""
    word, _, part = resource.partition(":")
    if word != BENCH:
        yield resource
        return
    from benchapp.bench.offer import Offer, instrument_for  # start-up: only for the bench

    name = profile or "lcr-points"
    offer = Offer(instrument=instrument_for(name), part=part or "tank", profile=name)
    with offer.server() as server:
        yield server.address


def _take(options: argparse.Namespace, plan: Plan) -> Taken:
    stopped = threading.Event()

    def stop() -> None:
        if not stopped.is_set():
            print("\nstopping: the output is switched off ...", file=sys.stderr)
        stopped.set()

    with _reached(options.resource, options.profile) as address, on_interrupt(stop):
        if load_profile(options.profile).method in _RINGING:
            print(RINGING_CAUTION, file=sys.stderr)
        job = TakeSweep(
            profile=options.profile, address=address, plan=plan, backend=options.backend
        )
        try:
            taken = job(shown_progress(), stopped.is_set)
        except UsageError as error:
            if not error.facts.get("consent"):
                raise
            raise UsageError(
                error.message, hint=f"{error.hint} To confirm it, add --allow-over-limit."
            ) from error
    if sys.stderr.isatty():
        print(file=sys.stderr)  # ends the line of the progress
    return taken


def _size(capture: Capture) -> int:
    axis = capture.time if isinstance(capture, Transient) else capture.frequency
    return int(axis.size)


def _lines(options: argparse.Namespace, taken: Taken) -> list[str]:
    lines = [capture.origin.source for capture in taken.captures[:1]]
    lines += [
        f"  {capture.origin.label}: {_size(capture)} points, {_span(capture)}"
        for capture in taken.captures
    ]
    if taken.resonance is not None:
        f0, quality = taken.resonance
        lines.append(f"  found: f0 {format_quantity(f0, 'Hz')}, Q {quality:.3g}")
    lines += [
        f"  set aside {format_quantity(one.frequency, 'Hz', digits=6)}: {one.why}"
        for one in taken.aside
    ]
    lines += [f"  note: {note}" for note in taken.notes]
    lines.append(f"  output {taken.ending.output}, bias {taken.ending.bias}")
    if taken.captures and options.out:
        lines.append(f"  saved as {options.out}")
    return lines


def _span(capture: Capture) -> str:
    axis, unit = (
        (capture.time, "s") if isinstance(capture, Transient) else (capture.frequency, "Hz")
    )
    first, last = (format_quantity(float(axis[at]), unit, digits=6) for at in (0, -1))
    return f"{first} to {last}"


def _warn(taken: Taken) -> None:
    """Say on standard error what went wrong and what a person must know."""
    if taken.trouble is not None:
        kept = sum(_size(capture) for capture in taken.captures[:1])
        kept_words = f"{kept} points are kept and marked as a part of a sweep." if kept else ""
        print(f"benchapp: {taken.trouble} {kept_words}".strip(), file=sys.stderr)
    for warning in taken.ending.warnings:
        print(f"benchapp: {warning}", file=sys.stderr)


def _as_json(options: argparse.Namespace, taken: Taken) -> dict[str, Any]:
    resonance = taken.resonance
    return {
        "schema": "benchapp.sweep/1",
        "resource": options.resource,
        "profile": options.profile,
        "file": options.out if taken.captures else None,
        "partial": taken.partial,
        "trouble": None if taken.trouble is None else str(taken.trouble),
        "output": taken.ending.output,
        "bias": taken.ending.bias,
        "warnings": list(taken.ending.warnings),
        "resonance": None if resonance is None else {"f0": resonance[0], "Q": resonance[1]},
        "set_aside": [{"frequency": one.frequency, "why": one.why} for one in taken.aside],
        "notes": list(taken.notes),
        "captures": [_capture_json(capture) for capture in taken.captures],
    }


def _capture_json(capture: Capture) -> dict[str, Any]:
    origin = capture.origin
    found: dict[str, Any] = {
        "label": origin.label,
        "instrument": origin.source,
        "taken": origin.taken,
        "part": origin.part,
        "points": _size(capture),
        "digest": capture.digest,
    }
    if isinstance(capture, Sweep):
        found["frequency"] = capture.frequency.tolist()
        found["R"] = capture.impedance.real.tolist()
        found["X"] = capture.impedance.imag.tolist()
    elif isinstance(capture, Transient):
        found["time"] = capture.time.tolist()
        found["voltage"] = capture.voltage.tolist()
    return found


def _checked(options: argparse.Namespace, capture: Capture, examination: Examination) -> int:
    """Take a sweep as the daily check of the reference coil, and give the exit status."""
    reference = OpenReference(path=options.reference_coil)(silent, not_cancelled)
    found = CheckReference(
        reference=reference,
        capture=capture,
        notes=RecordNotes(address=options.record),
        accuracy=examination.accuracy,
        who=options.who,
    )(silent, not_cancelled)
    return show_gate(reference, found.gate, json=options.json)


def _judged(
    options: argparse.Namespace, taken: Taken, capture: Capture, examination: Examination
) -> int:
    """Fit and judge what was taken, as far as that was asked for, and give the exit status."""
    status = UNDECIDED if taken.partial else ACCEPTED
    if not (options.fit or options.nominal):
        return status
    nominal = None
    if options.nominal:
        nominal = OpenNominal(path=options.nominal)(silent, not_cancelled)
    try:
        part = ComparePart(
            capture=capture, path=options.out or "", nominal=nominal, examination=examination
        )(silent, not_cancelled)
    except FitError as error:
        print(f"benchapp: {error}", file=sys.stderr)
        return UNREADABLE
    if options.fit and options.json:
        print_json(fit_json(part))
    elif options.fit:
        print("\n".join(fit_lines(part)))
    if nominal is not None:
        return status or show_verdict(part, json=options.json)
    return status if part.fit.describes else UNDECIDED


def _doctor(options: argparse.Namespace) -> int:
    """Show each step of the examination as it is done."""

    def show(step: Examined) -> None:
        mark = "well" if step.well else "TROUBLE"
        print(f"  {step.step}: {mark}: {step.found}", flush=True)
        if step.advice:
            print(f"      {step.advice}", flush=True)

    with _reached(options.doctor, options.profile) as address:
        watch = (lambda _step: None) if options.json else show
        steps = ExamineAddress(
            address=address, profile=options.profile, watch=watch, backend=options.backend
        )(silent, not_cancelled)
    if options.json:
        names = ("step", "well", "found", "advice", "seconds")
        shown = [{name: getattr(step, name) for name in names} for step in steps]
        print_json({"schema": "benchapp.doctor/1", "resource": options.doctor, "steps": shown})
    return ACCEPTED if all(step.well for step in steps) else UNREADABLE


def _discover(options: argparse.Namespace) -> int:
    found = Discover(backend=options.backend or "@py")(silent, not_cancelled)
    if options.json:
        print_json({"schema": "benchapp.discover/1", "resources": list(found)})
    else:
        print("\n".join(found) or "nothing was found", flush=True)
        print("  raw network sockets are never found: type their address", file=sys.stderr)
    return ACCEPTED


COMMAND = Command(
    summary=(
        "Take a sweep from an instrument. The output is on only while it measures; Ctrl+C stops "
        "it, keeps the points so far, and switches the output off."
    ),
    configure=_configure,
    run=_run,
)
