"""Options that several commands share, and how they become values."""

from __future__ import annotations

import argparse
import json
import os
import sys
from typing import Any

from benchapp.checks import Acknowledgement, Facts
from benchapp.circuit import CIRCUITS
from benchapp.errors import UsageError
from benchapp.jobs import (
    EARLIER,
    Examination,
    FitChoices,
    OpenAccuracy,
    OpenFacts,
    OpenFile,
    OpenThresholds,
    answer_book,
    not_cancelled,
    silent,
    threshold_book,
)
from benchapp.readers import Answers, Reading
from benchapp.units import Estimate, parse_quantity

__all__ = [
    "add_answers",
    "add_examination",
    "add_fit_choices",
    "answers_from",
    "examination_from",
    "fit_choices_from",
    "print_json",
    "reading_of",
    "time_words",
]

_PORTS = ("reflection", "series-through", "shunt-through")
_ELEMENT_UNITS = {"L": "H", "C": "F", "R": "ohm", "Rdc": "ohm", "Rac": "ohm"}


def time_words(time: str) -> str:
    """Write a time of the record, to the second, with the zone that it is told in."""
    return f"{time[:19].replace('T', ' ')} UTC"


def print_json(value: dict[str, Any]) -> None:
    """Print one JSON object on one line; numbers that are not finite are refused."""
    print(json.dumps(value, ensure_ascii=False, allow_nan=False))


def add_answers(parser: argparse.ArgumentParser) -> None:
    """Add the options that answer what a file cannot say."""
    group = parser.add_argument_group("what the file may not say")
    group.add_argument(
        "--port", choices=_PORTS, help="how the part was connected to a network analyser"
    )
    group.add_argument(
        "--reference", metavar="OHM", help="port impedance of S-parameters, such as 50"
    )
    group.add_argument(
        "--answer",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="answer a question that 'benchapp read' lists",
    )
    group.add_argument(
        "--remember",
        action="store_true",
        help="use these answers for all files laid out alike from now on",
    )
    group.add_argument(
        "--as-new", action="store_true", help="use none of the answers that are remembered"
    )


def answers_from(options: argparse.Namespace) -> Answers:
    """Make the answers from the options.

    Raises
    ------
    UsageError
        When an answer has no equals sign.
    """
    given: dict[str, str] = {}
    for text in options.answer:
        name, equals, value = text.partition("=")
        if not equals:
            raise UsageError(
                f"--answer: must be NAME=VALUE (got {text!r}).",
                hint="'benchapp read FILE' lists the names.",
            )
        given[name.strip()] = value.strip()
    if options.port:
        given["port"] = options.port
    if options.reference:
        given["reference"] = str(parse_quantity(options.reference, "ohm").value)
    return Answers.from_mapping(given)


def reading_of(path: str, options: argparse.Namespace) -> Reading:
    """Read a file with the answers of the options and those that are remembered.

    Raises
    ------
    UsageError, FileAccessError, ReadError
        As `answers_from` and `OpenFile` do.
    """
    reading = OpenFile(
        path=path,
        answers=answers_from(options),
        book=None if options.as_new else answer_book(os.environ),
        remember=options.remember,
    )(silent, not_cancelled)
    for entry in reading.assumptions:
        if entry.subject == EARLIER:
            words = f"{path}: {entry.subject}: {entry.value} ({entry.reason})"
            print(f"benchapp: {words}", file=sys.stderr)
    return reading


def add_fit_choices(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose how a capture is fitted."""
    group = parser.add_argument_group("how it is fitted")
    group.add_argument(
        "--circuit",
        default="auto",
        choices=["auto", *CIRCUITS, "resonance", "ring-down"],
        help="equivalent circuit; auto lets the data choose",
    )
    group.add_argument(
        "--fix",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a known element, with its tolerance if it has one: C=868pF or 'C=868pF ±1%%'",
    )
    group.add_argument(
        "--band", metavar="LOW..HIGH", help="fit this part of the sweep: 120kHz..150kHz"
    )


def fit_choices_from(options: argparse.Namespace) -> FitChoices:
    """Make the choices from the options.

    Raises
    ------
    UsageError, QuantityError
        When an element or the band cannot be understood.
    """
    return FitChoices(
        circuit=options.circuit,
        fix=tuple(_fixed(text) for text in options.fix),
        band=None if options.band is None else _band(options.band),
    )


def add_examination(parser: argparse.ArgumentParser) -> None:
    """Add the options that say how a result is looked at."""
    group = parser.add_argument_group("how it is examined")
    group.add_argument(
        "--accuracy",
        metavar="FILE.toml",
        help="how accurate the instrument is, or its profile if that says so; without it U holds "
        "the scatter only",
    )
    group.add_argument(
        "--checks",
        metavar="FILE.toml",
        help="thresholds of the checks that differ from the usual; without it those kept in the "
        "settings hold",
    )
    group.add_argument(
        "--facts",
        metavar="FILE.toml",
        help="what is known beside the capture: dwell, probe, open and short, calibration ...",
    )
    group.add_argument(
        "--acknowledge",
        action="append",
        default=[],
        metavar="CHECK=NAME:REASON",
        help="accept a warning, with your name and the reason: it stays in the result",
    )


def examination_from(options: argparse.Namespace) -> Examination:
    """Make the examination from the options.

    Raises
    ------
    UsageError, FileAccessError
        When a file cannot be read, or an acknowledgement lacks a part.
    """
    accuracy = None
    if options.accuracy is not None:
        accuracy = OpenAccuracy(path=options.accuracy)(silent, not_cancelled)
    if options.checks is not None:
        changes = OpenThresholds(path=options.checks)(silent, not_cancelled)
    else:
        changes = threshold_book(os.environ).changes()
    facts = Facts()
    if options.facts is not None:
        facts = OpenFacts(path=options.facts)(silent, not_cancelled)
    return Examination(
        facts=facts,
        accuracy=accuracy,
        thresholds=changes,
        acknowledged=tuple(_acknowledgement(text) for text in options.acknowledge),
    )


def _acknowledgement(text: str) -> Acknowledgement:
    check, equals, rest = text.partition("=")
    name, colon, reason = rest.partition(":")
    if not equals or not colon:
        raise UsageError(
            f"--acknowledge: must be CHECK=NAME:REASON (got {text!r}).",
            hint="For example: --acknowledge 'resonance-at-edge=A. Brandt: coarse search only'",
        )
    return Acknowledgement(check=check.strip(), name=name.strip(), reason=reason.strip())


def _fixed(text: str) -> Estimate:
    name, equals, value = text.partition("=")
    name = name.strip()
    if not equals or name not in _ELEMENT_UNITS:
        raise UsageError(
            f"--fix: must be ELEMENT=VALUE (got {text!r}).",
            hint=f"Elements: {', '.join(_ELEMENT_UNITS)}. For example: --fix C=868pF",
        )
    known = parse_quantity(value, _ELEMENT_UNITS[name])
    lower, upper = known.lower, known.upper
    # A tolerance stated without a distribution is taken as rectangular (JCGM 100:2008, 4.3.7).
    u = 0.0 if lower is None or upper is None else (upper - lower) / 12**0.5
    return Estimate(name=name, value=known.value, u=u, unit=known.unit)


def _band(text: str) -> tuple[float, float]:
    low, dots, high = text.partition("..")
    if not dots:
        raise UsageError(
            f"--band: must be LOW..HIGH (got {text!r}).", hint="For example: --band 120kHz..150kHz"
        )
    band = (parse_quantity(low, "Hz").value, parse_quantity(high, "Hz").value)
    if not 0 <= band[0] < band[1]:
        raise UsageError(
            f"--band: LOW must be below HIGH (got {text!r}).",
            hint="For example: --band 120kHz..150kHz",
        )
    return band
