"""``benchapp bench``: the simulated bench on a port of this computer, until it is stopped."""

from __future__ import annotations

import argparse
import threading

from benchapp.bench.offer import INSTRUMENTS, PARTS, Offer, fault_from
from benchapp.cli import ACCEPTED
from benchapp.cli.choices import print_json
from benchapp.cli.command import Command
from benchapp.cli.interrupt import on_interrupt
from benchapp.errors import UsageError
from benchapp.units import parse_quantity

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    instruments = "; ".join(f"{name}: {title}" for name, (title, _) in INSTRUMENTS.items())
    parts = "; ".join(f"{name}: {title}" for name, (title, _) in PARTS.items())
    parser.add_argument("--instrument", default="lcr", choices=list(INSTRUMENTS), help=instruments)
    parser.add_argument("--part", default="tank", choices=list(PARTS), help=parts)
    parser.add_argument("--seed", default=1, type=int, help="what noise and spread come from")
    parser.add_argument("--port", default=0, type=int, help="0 (the default) takes any free one")
    parser.add_argument(
        "--fault",
        action="append",
        default=[],
        metavar="KIND@NUMBER",
        help="spoil this reply (counted from 1): drop@20, stall@5",
    )
    parser.add_argument("--for", dest="duration", metavar="TIME", help="stop by itself after 10s")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _run(options: argparse.Namespace) -> int:
    if options.seed < 0:
        raise UsageError(
            f"--seed: must not be below zero (got {options.seed}).", hint="For example --seed 7"
        )
    seconds = None if options.duration is None else parse_quantity(options.duration, "s").value
    offer = Offer(
        instrument=options.instrument,
        part=options.part,
        seed=options.seed,
        port=options.port,
        faults=tuple(fault_from(text) for text in options.fault),
    )
    stopped = threading.Event()
    with offer.server() as server, on_interrupt(stopped.set):
        if options.json:
            print_json(_as_json(offer, server.address))
        else:
            print("\n".join(_lines(offer, server.address)), flush=True)
        stopped.wait(seconds)
    return ACCEPTED


def _as_json(offer: Offer, address: str) -> dict[str, object]:
    return {
        "schema": "benchapp.bench/1",
        "address": address,
        "instrument": offer.instrument,
        "profiles": list(INSTRUMENTS[offer.instrument][1]),
        "part": offer.part,
        "seed": offer.seed,
    }


def _lines(offer: Offer, address: str) -> list[str]:
    title, profiles = INSTRUMENTS[offer.instrument]
    lines = [
        f"simulated {title} at {address}",
        f"  in the clip: {PARTS[offer.part][0]}",
        f"  profile: {' or '.join(profiles) or 'none comes with the program; write one'}",
    ]
    if profiles:
        lines.append(
            f"  try: benchapp sweep --profile {profiles[0]} --resource {address} "
            "--start 114kHz --stop 154kHz --points 101"
        )
    return [*lines, "Ctrl+C stops it."]


COMMAND = Command(
    summary=(
        "Run a simulated instrument with a part in its clip on a port of this computer, until it "
        "is stopped. Nothing is real, and nothing outside this computer can reach it."
    ),
    configure=_configure,
    run=_run,
)
