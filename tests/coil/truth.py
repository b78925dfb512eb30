"""The published and independently computed values of `tests/truth`, read for these tests."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

TRUTH = Path(__file__).resolve().parent.parent / "truth"


def table(name: str) -> list[dict[str, str]]:
    """Rows of a table, the header's remarks left out."""
    lines = (TRUTH / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def values(name: str) -> dict[str, dict[str, float]]:
    """Sections of a file of single values."""
    return tomllib.loads((TRUTH / name).read_text(encoding="utf-8"))
