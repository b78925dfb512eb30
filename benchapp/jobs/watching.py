"""A watched folder: every new capture that an instrument's own software saves is one part."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from benchapp.jobs.lot import files_below
from benchapp.jobs.progress import Cancelled, Progress, stop_if

__all__ = ["Arrived", "AwaitFiles", "Stamp", "files_now"]

_UNFINISHED = (".tmp", ".part", ".partial", ".crdownload", ".swp")
_OPEN_MARKS = ("~", ".~")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What tells one state of a file from another: its size in bytes and when it was written."""

    size: int
    modified_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """Files that are new or were written anew, oldest first; ``seen`` goes into the next wait."""

    paths: tuple[str, ...]
    seen: Mapping[str, Stamp]


def files_now(folder: str) -> Mapping[str, Stamp]:
    """Give the files below a folder as they stand; empty and unfinished ones are left out.

    Parameters
    ----------
    folder : str

    Returns
    -------
    mapping of str to Stamp

    Raises
    ------
    FileAccessError
        When it is no folder or cannot be read.
    """
    found: dict[str, Stamp] = {}
    for path in files_below(folder):
        name = Path(path).name.casefold()
        if name.startswith(_OPEN_MARKS) or name.endswith(_UNFINISHED):
            continue
        try:
            state = Path(path).stat()
        except OSError:  # gone, or renamed, since it was listed
            continue
        if state.st_size:
            found[path] = Stamp(size=state.st_size, modified_ns=state.st_mtime_ns)
    return MappingProxyType(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class AwaitFiles:
    """Wait until a file arrives below a folder, or one is written anew, and is complete.

    A file is complete when neither its size nor its time changed for ``settle`` seconds. ``seen``
    are the files that are known already (`files_now` gives those that lie there at the beginning);
    the folder is looked at every ``interval`` seconds.

    Raises
    ------
    FileAccessError
        When the folder cannot be read, or is gone.
    CancelledError
        When the person stopped it.
    """

    folder: str
    seen: Mapping[str, Stamp] = field(default_factory=lambda: MappingProxyType({}))
    settle: float = 0.5
    interval: float = 0.1

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Arrived:
        """Wait; give what arrived."""
        progress(f"waiting for a capture in {self.folder}", 0.0)
        since: dict[str, tuple[Stamp, float]] = {}
        while True:
            stop_if(cancelled)
            now, present = time.monotonic(), files_now(self.folder)
            fresh = {path: one for path, one in present.items() if self.seen.get(path) != one}
            since = {
                path: before
                if (before := since.get(path)) is not None and before[0] == one
                else (one, now)
                for path, one in fresh.items()
            }
            whole = [path for path, (_, start) in since.items() if now - start >= self.settle]
            if whole:
                whole.sort(key=lambda path: fresh[path].modified_ns)
                known = {path: one for path, one in self.seen.items() if path in present}
                seen = MappingProxyType({**known, **{path: fresh[path] for path in whole}})
                return Arrived(paths=tuple(whole), seen=seen)
            time.sleep(self.interval)
