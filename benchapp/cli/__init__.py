"""The command line: one module per command, loaded when it is asked for."""

from __future__ import annotations

import argparse
import difflib
import importlib
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import NoReturn

from benchapp import __version__
from benchapp.cli.command import Command
from benchapp.errors import BenchError, CancelledError, QuantityError, UsageError

__all__ = ["ACCEPTED", "COMMANDS", "REJECTED", "UNDECIDED", "UNREADABLE", "USAGE", "main"]

ACCEPTED, REJECTED, USAGE, UNDECIDED, UNREADABLE = 0, 1, 2, 3, 4

COMMANDS = MappingProxyType(
    {
        "read": "say what was recognised in a file, and what it could not know",
        "answers": "list, pass on or forget what is remembered about layouts of files",
        "fit": "fit the captures of one file: L, C, Q, ESR with uncertainty",
        "compare": "judge captures against a nominal design",
        "nominal": "say what a nominal design asks, and what changed in it",
        "lot": "judge a whole lot of captures against a design and a sampling plan",
        "explain": "say why two captures of one part disagree",
        "tank": "nominal sums of a tank: resonance, tolerances, stress",
        "coil": "inductance of a coil from its geometry",
        "marking": "read the marking of a capacitor, inductor or resistor",
        "sweep": "take a sweep from an instrument, or find out why it does not answer",
        "reference": "check the reference coil of the station: is lot work open?",
        "logbook": "list, show, export, verify, back up or merge the stored record",
        "supplier": "show the lots of a supplier, how the next is inspected, and what drifts",
        "gauge": "work out a gauge study: how much of what is measured comes from measuring?",
        "export": "write results for other tools, or open and verify a bundle",
        "bench": "run a simulated instrument on this computer until it is stopped",
    }
)
"""Command name to its one-line help; the module of the same name holds the command."""

_STATUS: tuple[tuple[type[BenchError], int], ...] = (
    (UsageError, USAGE),
    (QuantityError, USAGE),
    (CancelledError, UNDECIDED),
    (BenchError, UNREADABLE),
)


class _Parser(argparse.ArgumentParser):
    """Say what is wrong with an option in one sentence."""

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{self.prog}: {message}.", hint=f"See: {self.prog} --help")


def main(arguments: Sequence[str], window: Callable[[Sequence[str]], int]) -> int:
    """Run one command and give the exit status.

    Parameters
    ----------
    arguments : sequence of str
        What stands after the program's name.
    window : callable
        Opens the window on files; used where no command is named.

    Returns
    -------
    int
        0 done or accepted, 1 rejected, 2 usage, 3 undecided, 4 unreadable or no measurement.
    """
    debug = "--debug" in arguments
    words = [word for word in arguments if word != "--debug"]
    try:
        return _dispatch(words, window)
    except BenchError as error:
        if debug:
            traceback.print_exc()
        _complain(str(error))
        return next(status for kind, status in _STATUS if isinstance(error, kind))
    except BrokenPipeError:
        # The reader of a pipe went away: nothing is left to say, and nobody to say it to.
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
        return ACCEPTED
    except KeyboardInterrupt:
        _complain("stopped.")
        return UNDECIDED
    except Exception as error:  # noqa: BLE001 - the last resort of the command line
        if debug:
            traceback.print_exc()
        kind = type(error).__name__
        _complain(
            f"something in this program is wrong ({kind}: {error}). "
            "Run the same command with --debug and report what it prints."
        )
        return UNREADABLE


def _complain(sentence: str) -> None:
    print("benchapp: " + " ".join(sentence.split()), file=sys.stderr)


def _dispatch(words: list[str], window: Callable[[Sequence[str]], int]) -> int:
    if words and words[0] in COMMANDS:
        name = words[0]
        command: Command = importlib.import_module(f"benchapp.cli.{name}").COMMAND
        parser = _Parser(prog=f"benchapp {name}", description=command.summary)
        command.configure(parser)
        parser.add_argument(
            "--debug", action="store_true", help="print the traceback of an error as well"
        )
        return command.run(parser.parse_args(words[1:]))
    parser = _main_parser()
    options = parser.parse_args(words)
    _refuse_a_mistyped_command(options.files)
    return window(options.files)


def _refuse_a_mistyped_command(files: Sequence[str]) -> None:
    near = difflib.get_close_matches(files[0], COMMANDS, n=1) if files else []
    if near and not Path(files[0]).exists():
        raise UsageError(
            f"command: must be one of {', '.join(COMMANDS)}, or a file (got {files[0]!r}).",
            hint=f"Did you mean: benchapp {near[0]}?",
        )


def _main_parser() -> _Parser:
    width = max(len(name) for name in COMMANDS)
    lines = "\n".join(f"  {name:<{width}}  {text}" for name, text in COMMANDS.items())
    parser = _Parser(
        prog="benchapp",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description=(
            "Measure coils, capacitors and tanks. With no command it opens the window, with the\n"
            "captures (and the nominal design, a .toml file) that are named."
        ),
        epilog=f"commands:\n{lines}\n\nbenchapp COMMAND --help tells more about each.",
    )
    parser.add_argument("files", nargs="*", metavar="FILE", help="captures to open in the window")
    parser.add_argument("--version", action="version", version=f"benchapp {__version__}")
    return parser
