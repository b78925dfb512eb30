"""How a job tells how far it is, and is told to stop."""

from __future__ import annotations

from collections.abc import Callable

from benchapp.errors import CancelledError

__all__ = ["Cancelled", "Progress", "not_cancelled", "silent", "stop_if"]

Progress = Callable[[str, float], None]
"""Told what is being done and which fraction (0 to 1) of it is done."""

Cancelled = Callable[[], bool]
"""Asked now and then: has the person stopped the job?"""


def silent(_text: str, _fraction: float) -> None:
    """Take progress and tell nobody."""


def not_cancelled() -> bool:
    """Answer that nobody stopped the job."""
    return False


def stop_if(cancelled: Cancelled) -> None:
    """Leave the job where a person stopped it.

    Raises
    ------
    CancelledError
        When it was stopped.
    """
    if cancelled():
        raise CancelledError("the work was stopped before it was done.", hint="Start it again.")
