"""Part markings to value, tolerance, rating and back; preferred series."""

from benchapp.marking.preferred import (
    SERIES,
    Combination,
    Nearest,
    best_pairs,
    nearest,
    series_of,
)
from benchapp.marking.reading import read_marking
from benchapp.marking.value import (
    KINDS,
    UNIT_OF,
    Dielectric,
    Kind,
    Marking,
    Part,
    Rating,
    Reading,
)
from benchapp.marking.wording import cautions, describe, describe_pair
from benchapp.marking.writing import Written, write_marking

__all__ = [
    "KINDS",
    "SERIES",
    "UNIT_OF",
    "Combination",
    "Dielectric",
    "Kind",
    "Marking",
    "Nearest",
    "Part",
    "Rating",
    "Reading",
    "Written",
    "best_pairs",
    "cautions",
    "describe",
    "describe_pair",
    "nearest",
    "read_marking",
    "series_of",
    "write_marking",
]
