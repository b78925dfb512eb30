"""``benchapp export``: results for other tools, and bundles that verify."""

from __future__ import annotations

import argparse
from pathlib import Path

from benchapp.cli import ACCEPTED
from benchapp.cli.choices import (
    add_answers,
    add_examination,
    add_fit_choices,
    examination_from,
    fit_choices_from,
    reading_of,
)
from benchapp.cli.command import Command
from benchapp.cli.reporting import add_issue, issue_choices_from
from benchapp.errors import UsageError
from benchapp.jobs import (
    EXPORTS,
    ComparePart,
    ExportParts,
    JudgedPart,
    OpenBundle,
    OpenNominal,
    not_cancelled,
    silent,
)

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="captures, or one bundle to open")
    forms = "; ".join(f"{name}: {words}" for name, words in EXPORTS.items())
    parser.add_argument("--as", dest="kind", choices=tuple(EXPORTS), help=forms)
    parser.add_argument("--out", metavar="FILE", help="where to write it")
    parser.add_argument("--nominal", metavar="DESIGN.toml", help="judge the parts by this design")
    parser.add_argument(
        "--verify", action="store_true", help="FILE is a bundle: check every byte of it"
    )
    parser.add_argument(
        "--into", metavar="FOLDER", help="with --verify: unpack it into a new folder"
    )
    add_fit_choices(parser)
    add_answers(parser)
    add_examination(parser)
    add_issue(parser)


def _run(options: argparse.Namespace) -> int:
    if options.verify:
        return _verify(options)
    if options.kind is None or options.out is None:
        raise UsageError(
            "export: must have --as and --out (got not both).",
            hint="For example: --as csv --out results.csv",
        )
    given = {Path(path).resolve() for path in options.files}
    if Path(options.out).resolve() in given:
        raise UsageError(
            f"--out: must not be a file that is read (got {options.out!r}).",
            hint="Name another file: captures are never written over.",
        )
    parts = tuple(part for path in options.files for part in _parts(path, options))
    job = ExportParts(
        parts=parts, kind=options.kind, choices=issue_choices_from(options, options.out)
    )
    print(f"{job(silent, not_cancelled)}: {EXPORTS[options.kind]}")
    return ACCEPTED


def _parts(path: str, options: argparse.Namespace) -> list[JudgedPart]:
    nominal = None
    if options.nominal is not None:
        nominal = OpenNominal(path=options.nominal)(silent, not_cancelled)
    reading = reading_of(path, options)
    return [
        ComparePart(
            capture=capture,
            path=path,
            nominal=nominal,
            reading=reading,
            choices=fit_choices_from(options),
            examination=examination_from(options),
        )(silent, not_cancelled)
        for capture in reading.captures
    ]


def _verify(options: argparse.Namespace) -> int:
    for path in options.files:
        bundle = OpenBundle(path=path, into=options.into or "")(silent, not_cancelled)
        made = f"{bundle.manifest.get('software', '')} {bundle.manifest.get('time', '')}".strip()
        print(f"{path}: {len(bundle.files)} files as they were written ({made})")
        for name, data in bundle.files.items():
            print(f"  {name}  {len(data)} bytes")
    return ACCEPTED


COMMAND = Command(
    summary=(
        "Write captures and their results for other tools: tables, JSON, Touchstone, subcircuits "
        "for simulators, or a bundle of all that another installation opens and verifies."
    ),
    configure=_configure,
    run=_run,
)
