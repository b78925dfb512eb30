"""The one family of errors. Every message says where, what must hold, and what was found."""

from __future__ import annotations

from typing import Any

__all__ = [
    "BenchError",
    "CancelledError",
    "CaptureError",
    "FileAccessError",
    "FitError",
    "LinkError",
    "NominalError",
    "ProfileError",
    "QuantityError",
    "ReadError",
    "RecordAwayError",
    "RecordError",
    "UsageError",
]


class BenchError(Exception):
    """Root of all errors that a person can be told about.

    Parameters
    ----------
    message : str
        One plain sentence: *where: what must be RULE (got VALUE)*.
    hint : str
        What the person can do about it.
    **facts
        Values behind the message, for programs (must be picklable).
    """

    def __init__(self, message: str, *, hint: str = "", **facts: Any) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.facts = facts

    def __str__(self) -> str:
        """Give the message, followed by the hint where there is one."""
        return f"{self.message} {self.hint}".strip()

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle by the fields, so that an error crosses a process boundary whole."""
        return _rebuild, (type(self), self.message, self.hint, self.facts)


def _rebuild(kind: type[BenchError], message: str, hint: str, facts: dict[str, Any]) -> BenchError:
    return kind(message, hint=hint, **facts)


class QuantityError(BenchError, ValueError):
    """A typed number, unit or tolerance cannot be understood or has the wrong unit."""


class CaptureError(BenchError, ValueError):
    """Arrays that cannot be a measurement: wrong shape, not rising, not finite."""


class FileAccessError(BenchError, OSError):
    """A file cannot be opened at all: missing, a folder, no permission, too large."""


class ReadError(BenchError, ValueError):
    """A file was opened but holds nothing that can be understood as a capture."""


class FitError(BenchError, ValueError):
    """Input that cannot be fitted: too few points, unknown circuit or element."""


class NominalError(BenchError, ValueError):
    """A nominal design is incomplete, contradictory or has an unknown key."""


class LinkError(BenchError, ConnectionError):
    """An instrument does not answer, answers nonsense, or the link broke."""


class ProfileError(BenchError, ValueError):
    """A profile of an instrument is incomplete, contradictory or has an unknown key."""


class RecordError(BenchError, RuntimeError):
    """The stored record cannot be opened, written or verified."""


class RecordAwayError(RecordError):
    """The server that holds a shared record does not answer."""


class UsageError(BenchError, ValueError):
    """A command or option that does not exist or does not fit the others."""


class CancelledError(BenchError, RuntimeError):
    """A long act was stopped by the person before it was done."""
