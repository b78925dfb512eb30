"""Times as the person's clock shows them; the record keeps them in UTC."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

__all__ = ["clock_words", "day_bounds", "full_time_words", "time_words"]

_SHORT = 5  # letters: a longer name of a zone is written as its distance from UTC


def _local(stamp: str) -> datetime | None:
    """Read a time of the record as one of this place; None where it is none."""
    try:
        return datetime.fromisoformat(stamp).astimezone()
    except ValueError:
        return None


def _zone(moment: datetime) -> str:
    """Name the zone as its people do, or by its distance from UTC."""
    name = moment.tzname() or ""
    if name.isalpha() and len(name) <= _SHORT:
        return name
    return f"UTC{moment:%z}"[:6] + ":" + f"{moment:%z}"[3:5]


def time_words(stamp: str) -> str:
    """Write day, minute and zone of a stored time; what is none stays as it is."""
    moment = _local(stamp)
    return stamp if moment is None else f"{moment:%Y-%m-%d %H:%M} {_zone(moment)}"


def clock_words(stamp: str) -> str:
    """Write the minute and the zone of a stored time, for what is of one day."""
    moment = _local(stamp)
    return stamp if moment is None else f"{moment:%H:%M} {_zone(moment)}"


def full_time_words(stamp: str) -> str:
    """Write a stored time to the second, here and in UTC."""
    moment = _local(stamp)
    if moment is None:
        return stamp
    there = moment.astimezone(UTC)
    return f"{moment:%Y-%m-%d %H:%M:%S} {_zone(moment)} = {there:%Y-%m-%d %H:%M:%S} UTC"


def day_bounds(words: str) -> tuple[str, str]:
    """Give the beginning of a day of this place and that of the next, as the record has times.

    Raises
    ------
    ValueError
        When it is no day.
    """
    day = date.fromisoformat(words)
    ends = [
        datetime.combine(each, time.min).astimezone(UTC) for each in (day, day + timedelta(days=1))
    ]
    first, last = (f"{end:%Y-%m-%dT%H:%M:%S}" for end in ends)
    return first, last
