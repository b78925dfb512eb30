"""A bundle: one zip with all that belongs to a result, and a manifest of digests.

Its bytes depend on what is in it alone. Opening checks every byte before anything is given out,
and writes nothing to disk.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Mapping
from typing import Any

from benchapp.errors import ReadError, UsageError

__all__ = ["MANIFEST", "bundle_of", "open_bundle", "safe_name"]

MANIFEST = "manifest.json"
_SCHEMA = "benchapp.bundle/1"
_DATE = (1980, 1, 1, 0, 0, 0)
_MOST_FILES = 10_000
_MOST_BYTES = 1 << 30
_MOST_MANIFEST = 1 << 23
_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*(/[A-Za-z0-9][A-Za-z0-9._-]*)*")
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
_HINT = "Ask for the bundle again; do not use what is in this one."


def safe_name(text: str) -> str:
    """Make a file name of any text: letters, digits, dot, dash and underscore, no path."""
    base = text.replace("\\", "/").rsplit("/", 1)[-1]
    word = re.sub(r"[^A-Za-z0-9._-]+", "_", base).lstrip("._-")[:80].rstrip("._-")
    if not word or _RESERVED.fullmatch(word.split(".", 1)[0]):
        word = f"part_{word}".rstrip("_")
    return word


def bundle_of(files: Mapping[str, bytes], facts: Mapping[str, Any]) -> bytes:
    """Pack files with a manifest of their digests.

    Parameters
    ----------
    files : mapping of str to bytes
        By plain relative names such as ``raw/0201.csv``.
    facts : mapping
        What else the manifest tells; values that JSON can hold.

    Returns
    -------
    bytes
        The same for the same files and facts.

    Raises
    ------
    UsageError
        When a name is not plain, or stands twice but for its case.
    """
    for name in files:
        if not _is_plain(name) or name == MANIFEST:
            raise UsageError(
                f"bundle: names must be plain and relative (got {name!r}).",
                hint="Use letters, digits, dots and dashes.",
            )
    if len({name.lower() for name in files}) < len(files):
        raise UsageError(
            f"bundle: names must differ by more than their case (got {sorted(files)[:6]}).",
            hint="Rename one of the files.",
        )
    manifest = {
        "schema": _SCHEMA,
        **facts,
        "files": {
            name: {"sha256": hashlib.sha256(files[name]).hexdigest(), "bytes": len(files[name])}
            for name in sorted(files)
        },
    }
    text = json.dumps(manifest, ensure_ascii=False, allow_nan=False, indent=1, sort_keys=True)
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in ((MANIFEST, text.encode()), *sorted(files.items())):
            entry = zipfile.ZipInfo(name, _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, data)
    return target.getvalue()


def _is_plain(name: str) -> bool:
    parts = name.split("/")
    return bool(_PLAIN.fullmatch(name)) and not any(
        _RESERVED.fullmatch(part.split(".", 1)[0]) for part in parts
    )


def open_bundle(data: bytes, where: str = "bundle") -> tuple[dict[str, Any], dict[str, bytes]]:
    """Open a bundle and verify every file in it.

    Returns
    -------
    dict
        The manifest.
    dict of str to bytes
        The files by name, without the manifest.

    Raises
    ------
    ReadError
        When it is no bundle, a byte differs, a file is missing or too many, a name would lead
        out of the bundle, or it would unpack to more than it says.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = _entries(archive, where)
            manifest = _manifest(archive, entries, where)
            stated = manifest["files"]
            for name in sorted(set(stated) ^ (set(entries) - {MANIFEST})):
                raise _refused(where, name, "stand both in the manifest and in the bundle")
            return manifest, {
                name: _file(archive, entries[name], stated[name], where) for name in sorted(stated)
            }
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as cause:
        raise ReadError(
            f"{where}: must be a bundle as it was written (got {cause}).", hint=_HINT
        ) from cause


def _refused(where: str, name: str, rule: str) -> ReadError:
    return ReadError(f"{where}, {name!r}: must {rule} (it does not).", hint=_HINT, name=name)


def _entries(archive: zipfile.ZipFile, where: str) -> dict[str, zipfile.ZipInfo]:
    found: dict[str, zipfile.ZipInfo] = {}
    listed = archive.infolist()
    if len(listed) > _MOST_FILES:
        raise _refused(where, listed[_MOST_FILES].filename, f"be one of {_MOST_FILES} at most")
    for entry in listed:
        name = entry.filename
        if not _is_plain(name):
            raise _refused(where, name, "have a plain name that stays inside the bundle")
        if name.lower() in {other.lower() for other in found}:
            raise _refused(where, name, "stand in the bundle once only")
        found[name] = entry
    if sum(entry.file_size for entry in listed) > _MOST_BYTES:
        raise _refused(where, listed[0].filename, "unpack to 1 GiB at most with all others")
    return found


def _manifest(
    archive: zipfile.ZipFile, entries: Mapping[str, zipfile.ZipInfo], where: str
) -> dict[str, Any]:
    if MANIFEST not in entries:
        raise _refused(where, MANIFEST, "be there")
    try:
        manifest = json.loads(_content(archive, entries[MANIFEST], _MOST_MANIFEST, where))
    except (UnicodeDecodeError, ValueError, RecursionError) as cause:
        raise _refused(where, MANIFEST, "be JSON as it was written") from cause
    files = manifest.get("files") if isinstance(manifest, dict) else None
    if not isinstance(files, dict) or manifest.get("schema") != _SCHEMA:
        raise _refused(where, MANIFEST, f"have the schema {_SCHEMA} and list files")
    return dict(manifest)


def _file(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, stated: Any, where: str) -> bytes:
    size = stated.get("bytes") if isinstance(stated, dict) else None
    if not isinstance(size, int) or not 0 <= size <= _MOST_BYTES or size != entry.file_size:
        raise _refused(where, entry.filename, "have the size that the manifest states")
    data = _content(archive, entry, size, where)
    if hashlib.sha256(data).hexdigest() != stated.get("sha256"):
        raise _refused(where, entry.filename, "have the digest that the manifest states")
    return data


def _content(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int, where: str) -> bytes:
    """Unpack one file, and never more of it than it may have."""
    try:
        with archive.open(entry) as stream:
            data = stream.read(most + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as cause:
        raise _refused(where, entry.filename, "unpack as it was written") from cause
    if len(data) > most:
        raise _refused(where, entry.filename, "unpack to no more than is stated")
    return data
