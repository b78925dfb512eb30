"""Small files for tests of reading."""

from __future__ import annotations

from pathlib import Path


def written(folder: Path, name: str, text: str | bytes, encoding: str = "utf-8") -> Path:
    """Write a file and give its path."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path
