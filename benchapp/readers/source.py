"""The door to disk: the bytes of a file with their digest, or one plain sentence why not.

A file is only ever opened for reading. What cannot be a capture is refused from its name and
first bytes, before anything large is loaded.
"""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path

from benchapp.errors import FileAccessError, ReadError

__all__ = ["HEAD", "LIMIT", "Source", "load"]

HEAD = 1 << 16
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
_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The bytes of one file as read, and their SHA-256."""

    path: str
    name: str
    data: bytes
    sha256: str


def load(path: str | Path, *, limit: int = LIMIT) -> Source:
    """Read a regular file that may hold text.

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
            _refuse_binary(shown, head)
            data = head + stream.read(max(size - len(head), 0) + 1)
    except OSError as cause:
        raise _no_access(shown, cause) from cause
    return Source(
        path=shown, name=Path(shown).name, data=data, sha256=hashlib.sha256(data).hexdigest()
    )


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
    control = sum(head.count(byte) for byte in range(32) if byte not in b"\t\n\r\x0b\x0c\x1a")
    return control <= len(head) // 100


def looks_wide(head: bytes) -> bool:
    """Tell whether every second byte is zero, as in UTF-16 text of plain signs without a mark."""
    even, odd = head[0::2], head[1::2]
    zeros = sorted((even.count(0) / max(len(even), 1), odd.count(0) / max(len(odd), 1)))
    return zeros[0] < 0.02 and zeros[1] > 0.6
