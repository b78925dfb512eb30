"""Reports and exports to disk, whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from benchapp.errors import FileAccessError

__all__ = ["write_bytes"]


def write_bytes(path: str, data: bytes) -> None:
    """Write a file beside its place first, so that a failure leaves the earlier one as it was.

    Raises
    ------
    FileAccessError
        When it cannot be written.
    """
    place = Path(path)
    draft = place.with_name(f".{place.name}.draft")
    try:
        draft.write_bytes(data)
        os.replace(draft, place)  # noqa: PTH105 - the draft takes the place of the file at once
    except OSError as cause:
        raise FileAccessError(
            f"{path}: must be a file that can be written (got {cause.strerror}).",
            hint="Name another folder, or close the program that shows the file.",
            path=path,
        ) from cause
