"""Progress of long work on standard error."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

__all__ = ["shown_progress"]


def shown_progress(patience: float = 0.0) -> Callable[[str, float], None]:
    """Tell progress on standard error: on one line of a terminal, else at each tenth.

    What is done within ``patience`` seconds needs none.
    """
    live = sys.stderr.isatty()
    started = time.monotonic()
    told = [-1]

    def progress(text: str, fraction: float) -> None:
        if time.monotonic() - started < patience:
            return
        share = round(100 * fraction)
        if live and share != told[0]:
            print(f"\r{share:3d} %  {text:<60}", end="", file=sys.stderr, flush=True)
            told[0] = share
        elif not live and share // 10 != told[0]:
            print(f"{share:3d} %  {text}", file=sys.stderr, flush=True)
            told[0] = share // 10

    return progress
