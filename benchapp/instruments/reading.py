"""One way to measure each: a grid of frequencies in, points out as they come."""

from __future__ import annotations

import hashlib
import math
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Transient
from benchapp.errors import CancelledError, FitError, LinkError
from benchapp.instruments.answer import Rows, impedance, same, understand
from benchapp.instruments.link import SLICE_SECONDS, Link
from benchapp.instruments.plan import Plan, settling
from benchapp.instruments.profile import Profile, Span, written
from benchapp.readers.network import impedance_of
from benchapp.units import Estimate

__all__ = ["READINGS", "Point", "Talk", "record_of"]

FloatArray = NDArray[np.float64]
CYCLES = 20  # of the sine in a record
NEAR = 0.01  # how far a repeated frequency may lie from the one that was set
BETWEEN = 0.45  # of the distance to the next frequency, if that is less


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point: frequency in Hz, impedance in ohm, and why it is no reading (or empty)."""

    frequency: float
    impedance: complex
    aside: str = ""


@dataclass(slots=True, kw_only=True)
class Talk:
    """A conversation in progress: link, profile and plan, and the digest of what was read.

    ``live`` is set before the output is switched on for the first time; ``frequency`` is the one
    that was set last, in Hz. Where none was, an octave below counts.
    """

    link: Link
    profile: Profile
    plan: Plan
    resonance: Span | None = None
    live: bool = False
    frequency: float | None = None
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def send(self, act: str, **values: float | str) -> None:
        """Do an act of the profile, if it describes it."""
        for text in self.profile.commands(act, **values):
            self.link.tell(text)

    def read(self, question: str, count: int | None = None) -> Rows:
        """Ask for measured values and understand the answer."""
        text = self.profile.ask[question]
        block = self.profile.answer.form == "block"
        reply = self.link.ask_block(text) if block else self.link.ask(text)
        self.digest.update(reply if isinstance(reply, bytes) else reply.encode("ascii"))
        try:
            return understand(reply, self.profile.answer, count)
        except LinkError as cause:
            raise self.refusal(text, cause.message, cause.hint) from cause

    def trigger(self) -> None:
        """Start a measurement and wait until the instrument says that it is done."""
        self.send("trigger")
        self.confirm()

    def confirm(self) -> None:
        """Wait until the instrument says that everything sent so far is done."""
        question = self.profile.ask.get("done")
        if question is None:
            return
        answer, wanted = self.link.ask(question), self.profile.done_answer
        if not same(answer, wanted):
            raise self.refusal(
                question,
                f"the answer must be {wanted!r} (got {answer!r}).",
                "Measure again; if it happens again, check done in [ask] and in [answer].",
            )

    def refusal(self, sent: str, message: str, hint: str) -> LinkError:
        """Give the error for an answer that is not what the profile says."""
        address = self.link.address
        text = f"{address}: after {sent!r} {message}"
        return LinkError(text, hint=hint, address=address, sent=sent)

    def settle(self, frequency: float) -> None:
        """Wait until the part has followed the change to ``frequency`` (Hz).

        It begins to settle when the instrument has taken the change in, not before. One that
        cannot say that it is done is asked who it is: it answers one line after the other.
        """
        if "done" in self.profile.ask:
            self.confirm()
        elif self.link.settings.identify:
            self.link.ask(self.link.settings.identify)
        before = frequency / 2 if self.frequency is None else self.frequency
        self.frequency = frequency
        self.wait(settling(self.plan, self.profile, frequency, self.resonance, before))

    def wait(self, seconds: float) -> None:
        """Wait, and hear a stop within a tenth of a second."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if self.link.cancelled():
                raise CancelledError("the measurement was stopped.", hint="Start it again.")
            time.sleep(min(left, SLICE_SECONDS))


def _points(talk: Talk, grid: FloatArray) -> Iterator[Point]:
    """Take one frequency after the other: set, settle, trigger, read."""
    near = _tolerance(grid)
    for place, frequency in enumerate(grid):
        talk.send("frequency", frequency=frequency)
        talk.settle(frequency)
        talk.trigger()
        rows = talk.read("read", 1)
        yield from _told(talk, rows, grid[place : place + 1], near[place : place + 1])


def _list(talk: Talk, grid: FloatArray) -> Iterator[Point]:
    """Take all frequencies in one go."""
    order = np.sort(grid)
    cells = ",".join(written(value, talk.profile.numbers) for value in order)
    talk.send("list", list=cells)
    talk.trigger()
    yield from _told(talk, talk.read("read", order.size), order, _tolerance(order))


def _network(talk: Talk, grid: FloatArray) -> Iterator[Point]:
    """Take a linear sweep of an S-parameter between the ends of the grid."""
    order = np.linspace(grid.min(), grid.max(), grid.size)
    talk.send("sweep", start=order[0], stop=order[-1], points=order.size)
    talk.trigger()
    rows = talk.read("read", order.size)
    ratio = rows.values["re"] + 1j * rows.values["im"]
    z = impedance_of(ratio, talk.profile.method, talk.profile.reference)  # type: ignore[arg-type]
    for frequency, value, why in zip(order, z, rows.aside, strict=True):
        odd = "" if np.isfinite(value) else "no impedance"
        yield Point(frequency=float(frequency), impedance=complex(value), aside=why or odd)


def _gain_phase(talk: Talk, grid: FloatArray) -> Iterator[Point]:
    """Take two voltages around a known resistor, each a sine fitted to the samples."""
    from benchapp.fit.sine import fit_sine  # start-up: only with a scope

    for frequency in grid:
        talk.send("frequency", frequency=frequency)
        talk.settle(frequency)
        known = Estimate(name="f", value=float(frequency), u=0.0, unit="Hz")
        before, after = record_of(talk, CYCLES / frequency, ("channel_1", "channel_2"))
        try:
            a, b = fit_sine(before, known), fit_sine(after, known)
        except FitError as cause:
            yield Point(frequency=float(frequency), impedance=0j, aside=cause.message)
            continue
        drop = a.phasor - b.phasor
        good = a.determined and b.determined and drop != 0
        z = (talk.plan.series_ohm or 0.0) * b.phasor / drop if good else 0j
        yield Point(
            frequency=float(frequency), impedance=z, aside="" if good else "no sine in the record"
        )


def record_of(talk: Talk, window: float, channels: tuple[str, ...]) -> tuple[Transient, ...]:
    """Take a scope record of a length of time and read its channels.

    Parameters
    ----------
    window : float, s

    Raises
    ------
    LinkError
        When the channels differ in length, or the sample interval is none.
    """
    plan, profile = talk.plan, talk.profile
    interval = window / plan.samples
    talk.send("record", interval=interval, samples=plan.samples)
    talk.trigger()
    if "interval" in profile.ask:
        interval = _interval(talk, profile.ask["interval"])
    rows = [talk.read(name) for name in channels]
    volts = [row.values["voltage"] for row in rows]
    if len({row.size for row in volts}) != 1:
        raise talk.refusal(
            profile.ask[channels[-1]],
            f"both channels must have as many samples (got {volts[0].size} and {volts[-1].size}).",
            "Measure again.",
        )
    axis: FloatArray = np.arange(volts[0].size, dtype=np.float64) * interval
    return tuple(
        Transient(time=axis[row.good], voltage=volt[row.good])
        for row, volt in zip(rows, volts, strict=True)
    )


def _interval(talk: Talk, question: str) -> float:
    answer = talk.link.ask(question)
    try:
        interval = float(answer)
    except ValueError:
        interval = math.nan
    if not 0 < interval < math.inf:
        raise talk.refusal(
            question,
            f"the answer must be a number of seconds above zero (got {answer!r}).",
            "Check interval in [ask].",
        )
    return interval


def _told(talk: Talk, rows: Rows, grid: FloatArray, tolerance: FloatArray) -> Iterator[Point]:
    """Points of understood rows; a frequency that the answer repeats must be the one set."""
    told = rows.values.get("frequency", grid)
    wrong = np.flatnonzero(rows.good & ~(np.abs(told - grid) <= tolerance))
    if wrong.size:
        raise talk.refusal(
            talk.profile.ask["read"],
            f"the answer must be the one for {grid[wrong[0]]:.9g} Hz (got one for "
            f"{told[wrong[0]]:.9g} Hz).",
            "It may be an earlier answer that came late: measure again.",
        )
    z = impedance(rows, np.where(rows.good, told, grid))
    for place, why in enumerate(rows.aside):
        value = complex(z[place])
        odd = "" if np.isfinite(value) else "no impedance"
        frequency = float(grid[place] if why else told[place])
        yield Point(frequency=frequency, impedance=value, aside=why or odd)


def _tolerance(grid: FloatArray) -> FloatArray:
    near = NEAR * grid
    if grid.size < 2:
        return np.asarray(near)
    gaps = np.abs(np.diff(grid))
    nearest = np.minimum(np.append(gaps, np.inf), np.insert(gaps, 0, np.inf))
    return np.asarray(np.minimum(near, BETWEEN * nearest), dtype=np.float64)


READINGS: Mapping[str, Callable[[Talk, FloatArray], Iterator[Point]]] = MappingProxyType(
    {
        "impedance-points": _points,
        "impedance-list": _list,
        "reflection": _network,
        "series-through": _network,
        "shunt-through": _network,
        "gain-phase": _gain_phase,
    }
)
"""How each method takes a sweep; a ring-down is a record instead."""
