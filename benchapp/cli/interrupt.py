"""Ctrl+C as a wish to stop in good order."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["on_interrupt"]


@contextmanager
def on_interrupt(act: Callable[[], None]) -> Iterator[None]:
    """Do an act at Ctrl+C, or when the program is asked to end, instead of breaking off."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def heard(_number: int, _frame: FrameType | None) -> None:
        act()

    before = {one: signal.signal(one, heard) for one in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
