"""Start here: no command opens the window, a command runs on the command line."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from benchapp import cli

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program and give its exit status."""
    return cli.main(sys.argv[1:] if arguments is None else arguments, _window)


def _window(files: Sequence[str]) -> int:
    from benchapp.gui.display import missing  # start-up: the command line needs no Qt

    reason = missing()
    if reason is None:
        from benchapp.gui import run  # start-up: the command line needs no Qt

        status: int = run(list(files))
        return status
    print(f"No window: {reason}")
    return _as_text(files)


def _as_text(files: Sequence[str]) -> int:
    """Print what the window would show: the verdict of each file, or its fit."""
    designs = [name for name in files if Path(name).suffix.lower() == ".toml"]
    captures = [name for name in files if name not in designs]
    if not captures:
        print("Name a capture to see its result as text, or: benchapp --help")
        return cli.UNDECIDED
    if designs:
        status = cli.main(["compare", *captures, "--nominal", designs[-1]], _window)
    else:
        status = max(cli.main(["fit", name], _window) for name in captures)
    return status if status == cli.UNREADABLE else cli.ACCEPTED


if __name__ == "__main__":
    sys.exit(main())
