"""What lies between instrument and part: readings of the fixture, and what was typed."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchapp.capture import Capture, Sweep
from benchapp.errors import BenchError
from benchapp.fixture import Compensation, Corrected, Corrections, correct
from benchapp.gui.words import decimal_mark
from benchapp.jobs import Recheck, not_cancelled, silent
from benchapp.units import parse_quantity

__all__ = ["BLANKS", "STANDARDS", "FixtureReadings", "Standard"]

STANDARDS = ("opened", "shorted", "load")
BLANKS: Mapping[str, tuple[str, str]] = {
    "delay": ("s", "delay"),
    "source": ("ohm", "series_ohm"),
    "probe_farad": ("F", "probe_farad"),
    "probe_ohm": ("ohm", "probe_ohm"),
}
"""Blank of a correction: its unit, and the field of `Corrections` that it fills."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """A reading of the empty or shorted fixture, or of a known load, and when it was taken.

    ``at`` is a time of the steady clock, None where it is not known; ``path`` the file that it
    was read from.
    """

    sweep: Sweep
    at: float | None
    path: str = ""

    def minutes(self, now: float) -> int | None:
        """Give its age at a time of the steady clock."""
        return None if self.at is None else int((now - self.at) // 60)


class FixtureReadings:
    """The readings of the fixture, and what was typed about cable, source and probe.

    Parameters
    ----------
    texts : mapping
        What is typed now, by the key of its blank.
    """

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._texts = texts
        self.standards: dict[str, Standard] = {}

    def compensation(self) -> Compensation | None:
        """Give what was read of the fixture; None where neither open nor short was.

        Raises
        ------
        QuantityError
            When the value of the load cannot be understood; ``facts['key']`` names its blank.
        """
        found: Mapping[str, Sweep] = {name: one.sweep for name, one in self.standards.items()}
        if not {"opened", "shorted"} & found.keys():
            return None
        opened, shorted = found.get("opened"), found.get("shorted")
        if not set(STANDARDS) <= found.keys():
            return Compensation(opened=opened, shorted=shorted)
        load = self._number("load", "ohm")
        return Compensation(
            opened=opened, shorted=shorted, load=found["load"], load_value=complex(load)
        )

    def _number(self, key: str, unit: str) -> float:
        try:
            return parse_quantity(self._texts[key].strip(), unit, mark=decimal_mark()).value
        except BenchError as error:
            error.facts["key"] = key
            raise

    def corrections(self) -> Corrections:
        """Give all that is known to lie between instrument and part.

        Raises
        ------
        CaptureError, QuantityError
            When a blank cannot be understood; ``facts['key']`` names it.
        """
        typed: dict[str, Any] = {}
        for key, (unit, field) in BLANKS.items():
            if not self._texts.get(key, "").strip():
                continue
            typed[field] = self._number(key, unit)
            try:
                Corrections(**{field: typed[field]})
            except BenchError as error:
                error.facts["key"] = key
                raise
        return Corrections(compensation=self.compensation(), **typed)

    def correct(self, capture: Capture) -> Corrected:
        """Take it away from a sweep; a record of time is left as it is.

        Raises
        ------
        CaptureError, QuantityError
            When a correction cannot be made or understood.
        """
        if not isinstance(capture, Sweep):
            return Corrected(capture=capture, raw=capture)
        return correct(capture, self.corrections())

    def use(self, name: str, sweep: Sweep, path: str, part: Sweep | None) -> str:
        """Correct by a reading from now on.

        Returns
        -------
        str
            What reading it once more changes for a part, empty where that cannot be told.
        """
        before = self.compensation() if name in self.standards else None
        self.standards[name] = Standard(sweep=sweep, at=_steady_time(sweep), path=path)
        after = self.compensation()
        if before is None or after is None or part is None:
            return ""
        try:
            return Recheck(sweep=part, before=before, again=after)(silent, not_cancelled)
        except BenchError:
            return ""  # the part was swept otherwise: there is nothing to compare


def _steady_time(sweep: Sweep) -> float | None:
    """Give when a reading was taken on the steady clock; None where it does not say."""
    try:
        taken = dt.datetime.fromisoformat(sweep.origin.taken or "")
    except ValueError:
        return None
    if taken.tzinfo is None:
        return None
    return time.monotonic() - max(0.0, (dt.datetime.now(dt.UTC) - taken).total_seconds())
