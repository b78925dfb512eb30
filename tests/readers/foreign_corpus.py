"""Captures in 76 layouts by a writer who does not know the readers, with the truth beside them.

Every layout comes clean, with decimal commas, and damaged by one or two draws. All is drawn from
a seed: the part, the grid, the words of the header, the delimiter, the damages.
"""

from __future__ import annotations

import numpy as np

from tests.readers.foreign_records import RECORDS
from tests.readers.foreign_sheet import Foreign, finish
from tests.readers.foreign_tables import TABLES

VARIANTS = {**TABLES, **RECORDS}
STYLES = ("clean", "comma", "damaged")


def foreign(variant: int, style: str, seed: int) -> Foreign:
    """One file, the same at every call with the same arguments."""
    rng = np.random.default_rng([seed, variant, STYLES.index(style)])
    sheet = VARIANTS[variant](rng, style == "comma")
    return finish(variant, style, sheet, rng)


def corpus(seed: int) -> list[Foreign]:
    """All layouts in all styles."""
    return [foreign(number, style, seed) for number in sorted(VARIANTS) for style in STYLES]
