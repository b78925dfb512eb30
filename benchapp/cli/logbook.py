"""``benchapp logbook``: list, show, export, verify, back up and merge the stored record."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from benchapp.cli import ACCEPTED, REJECTED
from benchapp.cli.choices import print_json, time_words
from benchapp.cli.command import Command
from benchapp.errors import RecordError, UsageError
from benchapp.fit.setting import FitChoices
from benchapp.jobs.again import RepeatEntry
from benchapp.jobs.logbook import (
    BackUpLogbook,
    LotsOf,
    MergeLogbook,
    OpenEntry,
    RefitEntry,
    SearchLogbook,
    VerifyLogbook,
)
from benchapp.jobs.progress import not_cancelled, silent
from benchapp.jobs.report import refuse_existing
from benchapp.jobs.search import FindParts
from benchapp.logbook import LotRow, PartEntry, PartRow, Search, StoredEntry, default_address
from benchapp.logbook.export import lot_json, part_json, table_text
from benchapp.nominal import Outcome
from benchapp.report.files import write_bytes
from benchapp.units import format_estimate, format_quantity

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    acts = parser.add_subparsers(dest="act", metavar="ACT", title="what to do", required=True)
    listing = acts.add_parser("list", help="list stored measurements, or the lots with --lots")
    listing.add_argument("--lots", action="store_true", help="list the lots instead")
    _add_search(listing)
    show = acts.add_parser("show", help="show one stored measurement with all that is kept of it")
    show.add_argument("id", type=int, metavar="ID", help="its number in the list")
    show.add_argument(
        "--again",
        action="store_true",
        help="fit and judge it with this version first; the old result stays beside the new one",
    )
    repeat = acts.add_parser(
        "repeat",
        help="work one stored measurement out again, from the bytes that were kept and as it was "
        "done then, and say whether every number is the same; nothing is written",
    )
    repeat.add_argument("id", type=int, metavar="ID", help="its number in the list")
    export = acts.add_parser(
        "export",
        help="write measurements to a table (.csv) or JSON (.json), or one file as it was read",
    )
    export.add_argument("out", metavar="OUT", help="a new file; its ending says the form")
    export.add_argument(
        "--raw", type=int, metavar="ID", help="write the very bytes that were read for this entry"
    )
    export.add_argument(
        "--force", action="store_true", help="write over a file that is there already"
    )
    _add_search(export)
    acts.add_parser("verify", help="find anything that was changed, removed, added or cut off")
    backup = acts.add_parser("backup", help="copy the record to a new file while it stays in use")
    backup.add_argument("out", metavar="OUT", help="a new file")
    merge = acts.add_parser(
        "merge", help="bring what another record holds into this one, without doubles"
    )
    merge.add_argument("source", metavar="FROM", help="the record to take from")
    for act in acts.choices.values():
        act.add_argument(
            "--record",
            metavar="ADDRESS",
            help="file, or postgresql+psycopg://user@host/database (default: BENCHAPP_RECORD, or "
            "the record in your data folder); the password comes from ~/.pgpass or PGPASSWORD",
        )
        act.add_argument("--json", action="store_true", help="print JSON, one object a line")


def _add_search(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("which measurements (all, where nothing is named)")
    group.add_argument(
        "--serial", metavar="TEXT", help="of this serial number; * in it stands for anything"
    )
    group.add_argument(
        "--part", metavar="TITLE", help="of this design, by its title; * stands for anything"
    )
    group.add_argument("--supplier", metavar="NAME", help="of lots of this supplier")
    group.add_argument("--order", metavar="TEXT", help="of lots of this order or date code")
    group.add_argument("--lot", metavar="KEY", help="of this lot, by its key in list --lots")
    group.add_argument("--since", metavar="TIME", help="from this UTC time on: 2026-03-01")
    group.add_argument("--until", metavar="TIME", help="before this UTC time: 2026-04-01")
    group.add_argument("--outcome", choices=[each.value for each in Outcome])
    group.add_argument("--limit", type=int, metavar="N", help="at most so many")


def _search(options: argparse.Namespace) -> Search:
    if options.limit is not None and options.limit < 1:
        raise UsageError(
            f"--limit: must be at least 1 (got {options.limit}).", hint="Leave it out for all."
        )
    stated = {name: getattr(options, name) for name in ("lot", "since", "until", "limit")}
    for name in ("serial", "part"):
        words = getattr(options, name)
        stated[f"{name}_like" if "*" in (words or "") else name] = words
    return Search(
        **stated,
        outcome=None if options.outcome is None else Outcome(options.outcome),
    )


def _found(options: argparse.Namespace, record: str) -> tuple[PartRow, ...]:
    """Look up the measurements that are wanted."""
    wanted = _search(options)
    if not (options.supplier or options.order):
        return SearchLogbook(record=record, wanted=wanted)(silent, not_cancelled)
    job = FindParts(
        record=record,
        wanted=wanted,
        lot=options.order or "",
        supplier=options.supplier or "",
    )
    return job(silent, not_cancelled).rows


def _list(options: argparse.Namespace, record: str) -> int:
    if options.lots:
        for lot in LotsOf(record=record)(silent, not_cancelled):
            print_json(lot_json(lot)) if options.json else _say(_lot_line(lot))
        return ACCEPTED
    for row in _found(options, record):
        print_json(part_json(row)) if options.json else _say(_part_line(row))
    return ACCEPTED


def _say(line: str) -> None:
    """Print a line of stored texts: a sign that would steer the terminal shows as a mark."""
    print("".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in line))


def _lot_line(lot: LotRow) -> str:
    form = lot.form
    ended = "open" if lot.conclusion is None else lot.conclusion.outcome
    delivery = ", ".join(text for text in (form.part, form.supplier, form.order) if text)
    begun = f"{lot.key:<16} {time_words(lot.time)}"
    return f"{begun}  {lot.measurements:>6} measured  {ended:<10}  {delivery}"


def _part_line(row: PartRow) -> str:
    attempt = "" if row.attempt == 1 else f" (attempt {row.attempt})"
    withdrawn = " withdrawn" if row.withdrawn else ""
    values = ", ".join(
        f"{name} {format_estimate(row.estimates[name])}"
        for name in ("L", "f0", "Q")
        if name in row.estimates
    )
    return (
        f"{row.id:>6}  {time_words(row.time)}  {row.serial}{attempt}  "
        f"{row.outcome.words}{withdrawn}  {values}"
    )


def _show(options: argparse.Namespace, record: str) -> int:
    if options.again:
        stored = RefitEntry(record=record, number=options.id)(silent, not_cancelled).stored
    else:
        stored = OpenEntry(record=record, number=options.id)(silent, not_cancelled)
    if options.json:
        print_json(_stored_json(stored))
    for line in () if options.json else _stored_lines(stored):
        _say(line)
    return ACCEPTED


def _stored_json(stored: StoredEntry) -> dict[str, Any]:
    entry = stored.entry
    return {
        "schema": "benchapp.record.entry/1",
        **{name: getattr(stored, name) for name in ("id", "key", "bench", "digest")},
        **{
            name: getattr(entry, name)
            for name in (
                *("lot", "serial", "attempt", "position", "time", "operator", "instrument"),
                *("path", "software", "retest_reason"),
            )
        },
        "sha256": None if entry.capture is None else entry.capture.origin.sha256,
        "revision": None if entry.nominal is None else entry.nominal.revision,
        "outcome": None if entry.verdict is None else entry.verdict.outcome.value,
        "answers": entry.answers.given,
        "sweep": entry.sweep,
        "choices": None if entry.basis is None else _choices_json(entry.basis.choices),
        "estimates": {} if entry.fit is None else _estimates(entry.fit.estimates),
        "checks": [
            {"id": each.id, "level": each.level, "text": each.text} for each in entry.findings
        ],
        "refits": [
            {
                "time": each.time,
                "software": each.software,
                "estimates": _estimates(each.fit.estimates),
            }
            for each in stored.refits
        ],
        "corrections": [
            {name: getattr(each, name) for name in ("time", "what", "name", "reason")}
            for each in stored.corrections
        ],
    }


def _choices_json(choices: FitChoices) -> dict[str, Any]:
    return {
        "circuit": choices.circuit,
        "fixed": _estimates({one.name: one for one in choices.fix}),
        "band": None if choices.band is None else list(choices.band),
        "set_aside": list(choices.set_aside),
    }


def _estimates(found: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: {"value": each.value, "u": each.u, "unit": each.unit} for name, each in found.items()
    }


def _stored_lines(stored: StoredEntry) -> list[str]:
    entry = stored.entry
    lines = [
        f"entry {stored.id} ({stored.key}) of bench {stored.bench}",
        f"  serial {entry.serial}, attempt {entry.attempt}, {time_words(entry.time)}",
        f"  measured by {entry.operator or 'not stated'}",
        f"  file {entry.path or '-'}, {len(entry.raw)} bytes kept",
        f"  instrument {entry.instrument or 'not stated'}, software {entry.software or '-'}",
    ]
    if entry.retest_reason:
        lines.append(f"  measured again because: {entry.retest_reason}")
    if entry.nominal is not None:
        lines.append(f"  design {entry.nominal.title} rev {entry.nominal.revision}")
    lines += _basis_lines(entry)
    if entry.capture is not None:
        lines += [f"  step {each.name}: {each.detail}" for each in entry.capture.history]
    if entry.fit is None:
        lines.append("  not fitted")
    else:
        lines += _result_lines(entry.fit.estimates, entry.verdict)
    lines += [f"  {each.level} {each.id}: {each.text}" for each in entry.findings]
    for again in stored.refits:
        lines.append(f"  fitted again {time_words(again.time)} with software {again.software}")
        lines += _result_lines(again.fit.estimates, again.verdict)
    for each in stored.corrections:
        lines.append(f"  {each.what}, {each.name}, {time_words(each.time)}: {each.reason}")
    return [*lines, f"  digest {stored.digest}"]


def _basis_lines(entry: PartEntry) -> list[str]:
    """Say by what the result came: the answers, the choices, the accuracy."""
    answers = ", ".join(f"{name} = {value}" for name, value in entry.answers.given.items())
    lines = [f"  read with {answers}"] if answers else []
    if entry.sweep is not None and entry.sweep > 1:
        lines.append(f"  capture {entry.sweep} of its file")
    basis = entry.basis
    if basis is None:
        return lines
    choices = basis.choices
    chosen = [f"{one.name} fixed at {format_estimate(one)}" for one in choices.fix]
    if choices.band is not None:
        low, high = (format_quantity(edge, "Hz", digits=6, padded=False) for edge in choices.band)
        chosen.append(f"band {low} to {high}")
    if choices.set_aside:
        chosen.append(f"{len(choices.set_aside)} points set aside by hand")
    lines.append(f"  fitted as {choices.circuit}{''.join(f', {each}' for each in chosen)}")
    if basis.accuracy is not None:
        lines.append(f"  accuracy {basis.accuracy.title}")
    return lines


def _result_lines(estimates: Mapping[str, Any], verdict: Any) -> list[str]:
    lines = [f"    {name:<4} {format_estimate(each)}" for name, each in estimates.items()]
    return lines if verdict is None else [*lines, f"    {verdict.outcome.words.upper()}"]


def _repeat(options: argparse.Namespace, record: str) -> int:
    found = RepeatEntry(record=record, number=options.id)(silent, not_cancelled)
    if options.json:
        print_json(
            {
                "schema": "benchapp.record.repeat/1",
                "id": found.stored.id,
                "start": found.start,
                "same": not found.differs,
                "differs": list(found.differs),
                "remarks": list(found.remarks),
            }
        )
        return REJECTED if found.differs else ACCEPTED
    same = "every number is the same to the last bit"
    _say(
        f"entry {found.stored.id}, from {found.start}: {'NOT THE SAME' if found.differs else same}"
    )
    for words in (*(f"differs: {each}" for each in found.differs), *found.remarks):
        _say(f"  {words}")
    return REJECTED if found.differs else ACCEPTED


def _export(options: argparse.Namespace, record: str) -> int:
    path = Path(options.out)
    refuse_existing(options.out, overwrite=options.force)
    if options.raw is not None:
        entry = OpenEntry(record=record, number=options.raw)(silent, not_cancelled).entry
        if not entry.raw:
            raise RecordError(
                f"entry {options.raw}: must have come from a file (got none that was kept).",
                hint="It was measured here, or its file was changed before it could be kept.",
            )
        return _written(options, path, entry.raw, 1)
    if path.suffix.lower() not in _FORMS:
        raise UsageError(
            f"{path}: must end in {' or '.join(_FORMS)} (got {path.suffix!r}).",
            hint="The ending says the form; --raw ID writes one file as it was read.",
        )
    rows = _found(options, record)
    return _written(options, path, _FORMS[path.suffix.lower()](rows), len(rows))


def _table(rows: tuple[PartRow, ...]) -> bytes:
    return table_text(rows).encode("utf-8-sig")  # the mark by which spreadsheets know UTF-8


def _lines(rows: tuple[PartRow, ...]) -> bytes:
    text = json.dumps([part_json(row) for row in rows], ensure_ascii=False, indent=1)
    return f"{text}\n".encode()


_FORMS: Mapping[str, Callable[[tuple[PartRow, ...]], bytes]] = MappingProxyType(
    {".csv": _table, ".json": _lines}
)


def _written(options: argparse.Namespace, path: Path, content: bytes, count: int) -> int:
    write_bytes(str(path), content)
    if options.json:
        print_json({"schema": "benchapp.record.export/1", "file": str(path), "entries": count})
    else:
        print(f"{path}: {count} written")
    return ACCEPTED


def _verify(options: argparse.Namespace, record: str) -> int:
    broken = VerifyLogbook(record=record)(silent, not_cancelled)
    if options.json:
        found = [{"where": each.where, "what": each.what} for each in broken]
        print_json({"schema": "benchapp.record.verify/1", "whole": not broken, "broken": found})
    elif not broken:
        print("everything stored is as it was kept.")
    for each in () if options.json else broken:
        print(f"{each.where}: {each.what}")
    return REJECTED if broken else ACCEPTED


def _backup(options: argparse.Namespace, record: str) -> int:
    path = BackUpLogbook(record=record, path=options.out)(silent, not_cancelled)
    if options.json:
        print_json({"schema": "benchapp.record.backup/1", "file": path})
    else:
        print(f"{path}: copied")
    return ACCEPTED


def _merge(options: argparse.Namespace, record: str) -> int:
    merged = MergeLogbook(source=options.source, record=record)(silent, not_cancelled)
    if options.json:
        counts = {"copied": merged.copied, "present": merged.present}
        print_json({"schema": "benchapp.record.merge/1", **counts})
    else:
        print(f"{merged.copied} entries brought over, {merged.present} were there already.")
    return ACCEPTED


_ACTS: Mapping[str, Callable[[argparse.Namespace, str], int]] = MappingProxyType(
    {
        "list": _list,
        "show": _show,
        "repeat": _repeat,
        "export": _export,
        "verify": _verify,
        "backup": _backup,
        "merge": _merge,
    }
)


def _run(options: argparse.Namespace) -> int:
    return _ACTS[options.act](options, options.record or default_address(os.environ))


COMMAND = Command(
    summary=(
        "Look at the stored record of everything measured, write it out, work it out again, "
        "verify that nothing in it was changed, copy it, or merge the record of another bench. "
        "Exit status: 0 done, 1 verify found something or repeat came to another number, 4 the "
        "record cannot be opened. 'benchapp logbook ACT --help' tells more about each."
    ),
    configure=_configure,
    run=_run,
)
