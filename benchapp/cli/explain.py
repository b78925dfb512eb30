"""``benchapp explain``: why two captures of one part disagree."""

from __future__ import annotations

import argparse
from typing import Any

from benchapp.cli import ACCEPTED, UNDECIDED
from benchapp.cli.choices import (
    add_answers,
    add_examination,
    add_fit_choices,
    examination_from,
    fit_choices_from,
    print_json,
    reading_of,
)
from benchapp.cli.command import Command
from benchapp.diagnosis import Disagreement
from benchapp.jobs import ComparePart, ExplainParts, not_cancelled, silent

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="captures of one part")
    add_fit_choices(parser)
    add_answers(parser)
    add_examination(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object per pair")


def _run(options: argparse.Namespace) -> int:
    examination, choices = examination_from(options), fit_choices_from(options)
    parts = []
    for path in options.files:
        reading = reading_of(path, options)
        parts += [
            ComparePart(
                capture=capture,
                path=path,
                reading=reading,
                choices=choices,
                examination=examination,
            )(silent, not_cancelled)
            for capture in reading.captures
        ]
    said = ExplainParts(parts=tuple(parts))(silent, not_cancelled)
    for entry in said:
        if options.json:
            print_json(_as_json(entry))
        else:
            print("\n".join(_lines(entry)))
    return ACCEPTED if all(entry.agree or entry.causes for entry in said) else UNDECIDED


def _as_json(entry: Disagreement) -> dict[str, Any]:
    return {
        "schema": "benchapp.explain/1",
        "first": entry.first,
        "second": entry.second,
        "agree": entry.agree,
        "reason": entry.reason,
        "differences": list(entry.differences),
        "causes": [
            {
                "id": cause.id,
                "title": cause.title,
                "share": cause.share,
                "size": cause.size,
                "next_test": cause.next_test,
            }
            for cause in entry.causes
        ],
    }


def _lines(entry: Disagreement) -> list[str]:
    lines = [f"{entry.second} against {entry.first}: {entry.reason}"]
    lines += [f"  {words}" for words in entry.differences]
    for cause in entry.causes:
        lines.append(f"  {100 * cause.share:3.0f} %  {cause.title}: {cause.size}")
        lines.append(f"         {cause.next_test}")
    return lines


COMMAND = Command(
    summary=(
        "Compare captures of one part and say which single cause explains their difference: "
        "loading, fixture capacitance, level, temperature, the definition of f0, the scale of the "
        "readings, or none of these. Exit status: 0 agreement or a named cause, 3 not explained."
    ),
    configure=_configure,
    run=_run,
)
