"""Lots put into a record for tests, from two captures of the samples."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from benchapp.jobs import (
    ComparePart,
    OpenNominal,
    Place,
    entry_of,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.logbook import PartEntry, open_logbook
from benchapp.lot import LotForm, LotPlan
from benchapp.readers import read

FORM = LotForm(part="GA-12", supplier="Coil works", order="4711", quantity=20)
PLAN = LotPlan(kind="attributes", quantity=20, n=2, accept=0, reject=1, aql=1.0, level="II")
_SHORTED, _GOOD = "0209.csv", "0201.csv"


@cache
def nominal():
    return OpenNominal(path=str(sample_folder() / "ga12.toml"))(silent, not_cancelled)


@cache
def judged(letter: str) -> PartEntry:
    """Give an entry of a good part for p, of one with a shorted turn for f."""
    path = str(sample_folder() / "ga12_lot" / {"p": _GOOD, "f": _SHORTED}[letter])
    part = ComparePart(capture=read(path)[0], path=path, nominal=nominal())(silent, not_cancelled)
    return entry_of(part, Place(serial=letter))


def keep_lot(record, outcomes: str, form: LotForm = FORM, plan: LotPlan = PLAN) -> str:
    """Keep a lot whose parts pass or fail as the letters say; give its key."""
    with open_logbook(record) as book:
        key = book.begin_lot(form, plan, (), nominal())
        book.add_all(
            [
                replace(
                    judged(letter),
                    lot=key,
                    serial=str(place + 1),
                    time=f"2026-03-02T08:15:{place:02d}Z",
                )
                for place, letter in enumerate(outcomes)
            ]
        )
    return key
