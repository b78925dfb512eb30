"""``benchapp answers``: what is remembered about layouts of files, and how to pass it on."""

from __future__ import annotations

import argparse
import os

from benchapp.cli import ACCEPTED
from benchapp.cli.choices import print_json
from benchapp.cli.command import Command
from benchapp.jobs import AnswerBook, answer_book
from benchapp.jobs.report import refuse_existing
from benchapp.readers import answers_to_toml
from benchapp.report.files import write_bytes

__all__ = ["COMMAND"]


def _configure(parser: argparse.ArgumentParser) -> None:
    act = parser.add_mutually_exclusive_group()
    act.add_argument("--export", metavar="FILE", help="write all of it to a file for a colleague")
    act.add_argument("--take", metavar="FILE", help="take over what a colleague exported")
    act.add_argument("--forget", metavar="LAYOUT", help="forget the answers for one layout")
    parser.add_argument(
        "--force", action="store_true", help="export over a file that is there already"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _run(options: argparse.Namespace) -> int:
    book = answer_book(os.environ)
    if options.export:
        _export(book, options.export, force=options.force)
    elif options.take:
        book.take_over(AnswerBook(path=options.take).entries_there())
    elif options.forget:
        book.forget(options.forget)
    entries = book.entries()
    if options.json:
        layouts = {
            name: {"layout": entry.layout, "answers": entry.answers.given}
            for name, entry in entries.items()
        }
        print_json({"schema": "benchapp.answers/1", "file": book.path, "layouts": layouts})
        return ACCEPTED
    print(f"{book.path}: {len(entries) or 'no'} layout{'' if len(entries) == 1 else 's'}")
    for name, entry in entries.items():
        print(f"  {name}: {entry.layout}")
        for key, value in entry.answers.given.items():
            print(f"    {key} = {value}")
    return ACCEPTED


def _export(book: AnswerBook, path: str, *, force: bool) -> None:
    refuse_existing(path, overwrite=force)
    write_bytes(path, answers_to_toml(book.entries_there()).encode("utf-8"))


COMMAND = Command(
    summary=(
        "List the answers that are remembered for capture files laid out alike, pass them on to "
        "a colleague, or forget them. They are used by every command that reads a capture, which "
        "says so; --as-new of those commands leaves them out, --remember adds to them."
    ),
    configure=_configure,
    run=_run,
)
