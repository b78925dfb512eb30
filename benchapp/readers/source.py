"""The door to disk: the bytes of a file with their digest, or one plain sentence why not.

A file is only ever opened for reading. What cannot be a capture is refused from its name and
first bytes, before anything large is loaded.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from benchapp.errors import CancelledError, FileAccessError, ReadError

__all__ = [
    "HEAD",
    "LOADED",
    "LONG",
    "Cancelled",
    "Progress",
    "Source",
    "Watch",
    "load",
    "looks_wide",
    "open_source",
    "pieces_of",
]

HEAD = 1 << 16
LONG = 1 << 18
LOADED = 1 << 24
LIMIT = 1 << 30
_SAVE_AS = "Save or export the measurement as a text table (CSV) or Touchstone file."

_SIGNATURES: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "a compressed archive or a spreadsheet workbook", "Unpack it or save as CSV."),
    (b"PK\x05\x06", "an empty archive", "Pack the files again."),
    (b"\x1f\x8b", "a compressed file", "Unpack it first."),
    (b"BZh", "a compressed file", "Unpack it first."),
    (b"\xfd7zXZ", "a compressed file", "Unpack it first."),
    (b"7z\xbc\xaf", "a compressed archive", "Unpack it first."),
    (b"Rar!", "a compressed archive", "Unpack it first."),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet workbook", "Open it and save the sheet as CSV."),
    (b"%PDF", "a PDF document", _SAVE_AS),
    (b"\x89PNG", "a picture", _SAVE_AS),
    (b"\xff\xd8\xff", "a picture", _SAVE_AS),
    (b"GIF8", "a picture", _SAVE_AS),
    (b"BM", "a picture", _SAVE_AS),
    (b"\x89HDF", "a binary data file", _SAVE_AS),
    (b"SQLite format 3", "a database", _SAVE_AS),
    (b"\x7fELF", "a program", _SAVE_AS),
    (b"MZ", "a program", _SAVE_AS),
)
_CONTROL = bytes(sign for sign in range(32) if sign not in b"\t\n\r\x0b\x0c\x1a")
_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")


Progress = Callable[[str, float], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """Who is told how far the reading is, and who is asked whether to go on."""

    progress: Progress | None = None
    cancelled: Cancelled | None = None

    def at(self, what: str, fraction: float) -> None:
        """Tell the progress.

        Raises
        ------
        CancelledError
            When the person stopped the reading.
        """
        if self.cancelled is not None and self.cancelled():
            raise CancelledError(
                "the reading was stopped before it was done.", hint="Open it again."
            )
        if self.progress is not None:
            self.progress(what, fraction)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The bytes of one file as read, and their SHA-256; before loading only its head."""

    path: str
    name: str
    size: int
    head: bytes
    data: bytes = b""
    sha256: str = ""


def open_source(path: str | Path, *, limit: int = LIMIT) -> Source:
    """Look at the head of a regular file that may hold text.

    Parameters
    ----------
    path : str or Path
    limit : int
        Most bytes that are accepted.

    Raises
    ------
    FileAccessError
        When it cannot be opened: missing, a folder, a pipe or device, no permission, too large.
    ReadError
        When it is empty or cannot be text.
    """
    shown = os.fspath(path)
    size = _size(shown, limit)
    try:
        with open(shown, "rb") as stream:  # noqa: PTH123 - a descriptor that is never written
            head = stream.read(HEAD)
    except OSError as cause:
        raise _no_access(shown, cause) from cause
    _refuse_binary(shown, head)
    return Source(path=shown, name=Path(shown).name, size=size, head=head)


def load(source: Source, watch: Watch) -> Source:
    """Read all bytes of a file that is short enough to be taken apart line by line.

    Raises
    ------
    FileAccessError
        When it is too large for that, or cannot be read to its end.
    CancelledError
        When the person stopped the reading.
    """
    if source.size > LOADED:
        raise FileAccessError(
            f"{source.path}: must be at most {LOADED >> 20} MiB unless it is one plain table of "
            f"numbers (got {source.size >> 20} MiB).",
            hint="Save a shorter record, or only the columns that are needed.",
        )
    pieces = list(pieces_of(source, watch, size=1 << 20))
    data = b"".join(pieces)
    return replace(source, data=data, sha256=hashlib.sha256(data).hexdigest())


def pieces_of(source: Source, watch: Watch, *, size: int) -> Iterator[bytes]:
    """Give the bytes of a file in pieces, never more than it had when it was opened.

    Raises
    ------
    FileAccessError
        When it cannot be read to its end.
    CancelledError
        When the person stopped the reading.
    """
    left = source.size
    try:
        with open(source.path, "rb") as stream:  # noqa: PTH123 - a descriptor that is never written
            while left > 0 and (piece := stream.read(min(size, left))):
                left -= len(piece)
                yield piece
                watch.at(f"reading {source.name}", 1 - left / source.size)
    except OSError as cause:
        raise _no_access(source.path, cause) from cause


def _size(path: str, limit: int) -> int:
    try:
        found = Path(path).stat()
    except (OSError, ValueError) as cause:
        raise _no_access(path, cause) from cause
    if stat.S_ISDIR(found.st_mode):
        raise FileAccessError(
            f"{path}: must be a file (got a folder).", hint="Choose a file inside it."
        )
    if not stat.S_ISREG(found.st_mode):
        raise FileAccessError(
            f"{path}: must be a regular file (got a pipe or a device).",
            hint="Save the capture to a file first.",
        )
    if found.st_size > limit:
        raise FileAccessError(
            f"{path}: must be at most {limit >> 20} MiB (got {found.st_size >> 20} MiB).",
            hint="Save a shorter record, or only the columns that are needed.",
        )
    if found.st_size == 0:
        raise ReadError(f"{path}: must hold a capture (got an empty file).", hint="Save it again.")
    return found.st_size


def _no_access(path: str, cause: Exception) -> FileAccessError:
    reasons: dict[type[Exception], tuple[str, str, str]] = {
        FileNotFoundError: ("exist", "nothing of that name", "Check the name and the folder."),
        PermissionError: ("be readable", "no permission", "Ask for the right to read it."),
        NotADirectoryError: ("exist", "a path through a file", "Check the folder."),
    }
    rule, got, hint = reasons.get(
        type(cause),
        ("be readable", getattr(cause, "strerror", None) or str(cause), "Copy it elsewhere."),
    )
    return FileAccessError(f"{path}: must {rule} (got {got}).", hint=hint)


def _refuse_binary(path: str, head: bytes) -> None:
    for mark, what, hint in _SIGNATURES:
        if head.startswith(mark) and not _is_mostly_text(head):
            raise ReadError(f"{path}: must be a text file (got {what}).", hint=hint)
    if not head.startswith(_WIDE_MARKS) and not looks_wide(head) and not _is_mostly_text(head):
        raise ReadError(f"{path}: must be a text file (got binary data).", hint=_SAVE_AS)


def _is_mostly_text(head: bytes) -> bool:
    return len(head) - len(head.translate(None, _CONTROL)) <= len(head) // 100


def looks_wide(head: bytes) -> bool:
    """Tell whether every second byte is zero, as in UTF-16 text of plain signs without a mark."""
    even, odd = head[0::2], head[1::2]
    zeros = sorted((even.count(0) / max(len(even), 1), odd.count(0) / max(len(odd), 1)))
    return zeros[0] < 0.02 and zeros[1] > 0.6
