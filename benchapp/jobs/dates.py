"""The day that a capture is from: jobs know the time, the checks do not."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from benchapp.capture import Capture
from benchapp.checks import Facts

__all__ = ["dated"]


def dated(facts: Facts, capture: Capture) -> Facts:
    """Say on which day a capture was taken, where that decides whether a calibration held.

    Parameters
    ----------
    facts : Facts
    capture : Capture

    Returns
    -------
    Facts
        With the day of the capture; where it does not say, or states none, with today.
    """
    if not facts.calibration_due or facts.today:
        return facts
    try:
        day = dt.datetime.fromisoformat(capture.origin.taken or "").date()
    except ValueError:
        day = dt.datetime.now(dt.UTC).date()
    return replace(facts, today=day.isoformat())
