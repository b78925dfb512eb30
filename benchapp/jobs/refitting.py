"""Fitting many stored measurements again, such as those of a whole lot."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchapp.jobs.logbook import RefitEntry, Refitted
from benchapp.jobs.progress import Cancelled, Progress, silent, stop_if

__all__ = ["RefitEntries", "is_moved"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RefitEntries:
    """Fit stored measurements with this version; each new result is kept beside the old ones.

    What was done before a stop stays kept.

    Raises
    ------
    RecordError, FitError
        As for `RefitEntry`, at the first that cannot be fitted.
    """

    record: str
    numbers: tuple[int, ...]

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[Refitted, ...]:
        """Fit them one after the other."""
        found = []
        for done, number in enumerate(self.numbers):
            stop_if(cancelled)
            progress(f"fitting again {done + 1} of {len(self.numbers)}", done / len(self.numbers))
            found.append(RefitEntry(record=self.record, number=number)(silent, cancelled))
        return tuple(found)


def is_moved(found: Refitted) -> bool:
    """Tell whether the new result says something else: another verdict, or beyond both U.

    Parameters
    ----------
    found : Refitted

    Returns
    -------
    bool
        Also where there was no result before, or a quantity is determined in only one of them.
    """
    old, new = found.stored.entry, found.part
    if old.fit is None:
        return True
    outcomes = [None if one is None else one.outcome for one in (old.verdict, new.verdict)]
    before, after = old.fit.estimates, new.fit.estimates
    if outcomes[0] is not outcomes[1] or set(before) != set(after):
        return True
    return any(
        abs(after[name].value - each.value) > 2 * math.hypot(each.u or 0.0, after[name].u or 0.0)
        for name, each in before.items()
    )
