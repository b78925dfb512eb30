"""What a command of the command line is."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Command"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One command: its help, its options, and the act, which prints and gives the exit status."""

    summary: str
    configure: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]
