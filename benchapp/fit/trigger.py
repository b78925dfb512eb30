"""Where free decays begin and end in a record: the exciter's end found from the samples alone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray
from benchapp.fit.clipping import Rails
from benchapp.fit.decay import Burst, Decay, belonging, bend, certain, scan, solve, swing

__all__ = ["Span", "find", "in_doubt", "take"]

BoolArray = NDArray[np.bool_]

_RISE = 3.0  # times the lowest envelope since the last peak: a new burst
_WORTH = 0.15  # of the largest envelope: smaller bursts are not counted
_SAFE = 0.7  # of a burst's peak: by then the exciter is off
_CROOKED = 30.0  # chi square of a bent decay
_ROUNDS = 40
_SEEN = 12  # samples that are not clipped, of which each look backwards has some
_PROGRESS = 3
_CLEAR = 40.0  # chi square by which a swing must beat a constant to be looked at
_PLAIN = 0.05  # of the power is left by a start: no other line is needed
_HOPS = 8  # windows of the envelope that begin in one period
_ALIKE = 9.0  # chi square by which one start must be worse than another to be ruled out
_FEWEST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Samples ``start`` (first) to ``stop`` (behind the last) that hold one free decay."""

    start: int
    stop: int

    @property
    def size(self) -> int:
        """Number of samples."""
        return self.stop - self.start


def take(time: FloatArray, voltage: FloatArray, span: Span, kept: BoolArray) -> Burst:
    """Cut the kept samples of a span out of a record.

    Parameters
    ----------
    time, voltage : (N,) float
    span : Span
    kept : (N,) bool
        False for samples that must not be used.
    """
    part = slice(span.start, span.stop)
    return Burst(time=time[part][kept[part]], voltage=voltage[part][kept[part]])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Coarse:
    """One burst of the envelope: first sample it may have, where to begin, where it ends."""

    first: int
    starts: tuple[int, ...]
    stop: int

    @property
    def sure(self) -> Span:
        """Samples from the first place to begin."""
        return Span(start=self.starts[0], stop=self.stop)


def in_doubt(voltage: FloatArray, ends: Rails, span: Span, period: float, fall: float) -> int:
    """Count the samples by which the start of a span may be wrong.

    Parameters
    ----------
    voltage : (N,) float, V
    ends : Rails
        A start among clipped samples is in doubt up to the last of them.
    span : Span
    period, fall : float
        Samples in a period, and the decay rate per sample.

    Returns
    -------
    int
        A twelfth of a period, or the samples in which an amplitude falls by three per cent,
        but no more than a quarter of the span.
    """
    doubt = int(min(max(period / 12, 1 / max(32 * fall, 1e-9)), span.size / 4))
    near = slice(span.start, span.start + int(min(period / 2, span.size / 4)))
    cut = np.flatnonzero(ends.reached(voltage[near]))
    return max(doubt, int(cut[-1]) + 1 if cut.size else 1)


def find(
    time: FloatArray,
    voltage: FloatArray,
    ends: Rails,
    band: tuple[float, float] | None,
) -> tuple[tuple[Span, ...], Decay] | None:
    """Find the free decays of a record.

    Parameters
    ----------
    time, voltage : (N,) float
    ends : Rails
        The converter's ends, so that clipped samples are not taken for the exciter.
    band : (float, float), Hz, optional
        Where to look for the frequency.

    Returns
    -------
    spans, decay : (tuple of Span, Decay) or None
        In order, with the decay of the first; None where nothing swings.

    Notes
    -----
    The frequency comes from the spectra of the record and of its steps over 1, 2, 4 ... samples.
    The envelope (a mean over one period of the voltage turned back by that frequency) gives the
    bursts. Each is fitted where the exciter is surely off and then followed backwards as long
    as the samples agree with the decay.
    """
    record = _Record(time=time, voltage=voltage, ends=ends)
    best: tuple[float, list[_Coarse], float, float] | None = None
    for line in _lines(time, voltage, band):
        coarse = [
            burst
            for burst in _coarse(time, voltage, line)
            if record.samples(burst.sure) >= _FEWEST
        ]
        if not coarse:
            continue
        longest = max(coarse, key=lambda burst: burst.sure.size)
        burst = take(time, voltage, longest.sure, ~ends.reached(voltage))
        rate, omega, cost = scan(burst, line)
        if burst.time.size * math.log(max(cost, 1e-300)) > -_CLEAR:
            continue
        if best is None or cost < best[0]:
            best = (cost, coarse, rate, omega)
        if cost < _PLAIN:
            break
    if best is None:
        return None
    found = [record.back(coarse, best[2], best[3]) for coarse in best[1]]
    return tuple(span for span, _ in found), found[0][1]


def _lines(
    time: FloatArray, voltage: FloatArray, band: tuple[float, float] | None
) -> Iterator[float]:
    """Give angular frequencies of strong lines: of the record and of its steps at any length.

    A step is the mean of some samples minus that of as many before; its spectrum is that of the
    record times sin^2(lag turn)/sin(turn).
    """
    step = float(np.median(np.diff(time)))
    v = voltage
    if time[-1] - time[0] < 1.5 * step * time.size:  # no pauses: even out jitter and lost samples
        even = time[0] + step * np.arange(int((time[-1] - time[0]) / step) + 1)
        v = np.interp(even, time, voltage)
    size = 2 ** (v.size.bit_length() + 1)
    height = np.abs(np.fft.rfft(v - v.mean(), size))
    turn = np.pi * np.arange(height.size) / size
    frequency = turn / (np.pi * step)
    low, high = band or (0.0, math.inf)
    height *= (frequency >= max(low, 0.5 / (step * v.size))) & (frequency <= high)
    seen: list[int] = []
    for lag in (0, *(2**power for power in range(v.size.bit_length() - 2))):
        steps = np.sin(lag * turn) ** 2 / np.maximum(np.sin(turn), 1e-12) if lag else 1.0
        top = int(np.argmax(height * steps))
        if height[top] > 0 and all(abs(top - other) > 0.1 * top for other in seen):
            seen.append(top)
            yield 2 * math.pi * float(frequency[top])


def _envelope(time: FloatArray, voltage: FloatArray, omega: float) -> tuple[FloatArray, int]:
    """Give the amplitude in windows of a period, and the samples from one to the next."""
    step = float(np.median(np.diff(time)))
    width = max(round(2 * math.pi / omega / step), 4)
    turned = (voltage - np.median(voltage)) * np.exp(-1j * omega * time)
    total = np.concatenate(([0], np.cumsum(turned)))
    hop = max(width // _HOPS, 1)
    starts = np.arange(0, voltage.size - width + 1, hop)
    return np.abs(total[starts + width] - total[starts]) / width, hop


def _coarse(time: FloatArray, voltage: FloatArray, omega: float) -> list[_Coarse]:
    """Find bursts in the envelope: a rise well above the lowest since the last peak is a new one.

    Gives for each where the exciter is surely off, in samples.
    """
    envelope, hop = _envelope(time, voltage, omega)
    top = float(envelope.max(initial=0.0))
    if envelope.size < 4 or not top > 0:
        return []
    found, first, peak, low = [], 0, 0, math.inf
    for place, height in enumerate(envelope.tolist()):
        rises = height > _RISE * low + 0.05 * top and height > _WORTH * top
        if rises and envelope[peak] > _WORTH * top:
            stop = _foot(envelope, peak, place)
            found.append(_safe(envelope, first, peak, stop, hop))
            first, peak, low = stop, place, height
        elif rises or height > envelope[peak]:
            peak, low = place, height
        low = min(low, height)
    found.append(_safe(envelope, first, peak, envelope.size, hop, voltage.size))
    return found


def _foot(envelope: FloatArray, peak: int, place: int) -> int:
    """Walk back from a rise to where it begins."""
    lowest = float(envelope[peak : place + 1].min())
    while place > peak + 1 and envelope[place] > 1.5 * lowest:
        place -= 1
    return place


def _safe(
    envelope: FloatArray, first: int, peak: int, stop: int, hop: int, end: int | None = None
) -> _Coarse:
    """Say where in a burst to begin; where it hardly falls, several places must be tried."""
    high = np.flatnonzero(envelope[peak:stop] >= _SAFE * envelope[peak])
    start = peak + int(high[-1]) + 1
    middle = (peak + stop) // 2
    starts = (start,) if start < middle else (middle, (middle + stop) // 2)
    return _Coarse(
        first=first * hop,
        starts=tuple((place + _HOPS // 2) * hop for place in starts),
        stop=stop * hop if end is None else end,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Record:
    """Samples with the ends of the converter."""

    time: FloatArray
    voltage: FloatArray
    ends: Rails

    def fit(self, span: Span, rate: float, omega: float) -> tuple[Burst, Decay]:
        """Fit one span without its clipped samples."""
        kept = ~self.ends.reached(self.voltage)
        burst = take(self.time, self.voltage, span, kept)
        return burst, solve([burst], rate, omega)

    def samples(self, span: Span) -> int:
        """Count the samples of a span that are not clipped."""
        part = self.voltage[span.start : max(span.stop, span.start)]
        return int(np.count_nonzero(~self.ends.reached(part)))

    def begin(self, coarse: _Coarse, rate: float, omega: float) -> tuple[Span, Burst, Decay]:
        """Fit a burst from the first place at which it decays evenly."""
        tried: list[tuple[Span, Burst, Decay]] = []
        for start in coarse.starts:
            span = Span(start=start, stop=coarse.stop)
            if tried and self.samples(span) < _FEWEST:
                break
            burst, decay = self.fit(span, rate, omega)
            if bend(decay, [burst])[0] < _CROOKED:
                return span, burst, decay
            tried.append((span, burst, decay))
        return tried[0]

    def back(self, coarse: _Coarse, rate: float, omega: float) -> tuple[Span, Decay]:
        """Follow a burst backwards as long as the samples agree with its decay."""
        span, burst, decay = self.begin(coarse, rate, omega)
        step = float(np.median(np.diff(self.time)))
        period = 2 * math.pi / decay.omega / step
        for _ in range(_ROUNDS):
            reach = int(max(period / 2, span.size / 4, 4))
            ahead = slice(max(span.start - reach, coarse.first), span.start)
            voltage = self._seen(decay, burst, ahead)
            seen = np.flatnonzero(np.isfinite(voltage))
            if seen.size < _SEEN:
                seen = np.zeros(_SEEN, dtype=np.intp)
            least = voltage.size - int(seen[-_SEEN])
            count = max(2 * certain(decay, burst, self.time[ahead]), least)
            part = slice(max(span.start - count, ahead.start), span.start)
            good = belonging(decay, burst, self.time[part], voltage[part.start - ahead.start :])
            if good < _PROGRESS:
                break
            span = Span(start=span.start - good, stop=span.stop)
            burst, decay = self.fit(span, decay.rate, decay.omega)
        doubt = in_doubt(self.voltage, self.ends, span, period, decay.rate * step)
        return self.meet(coarse, span, decay, doubt), decay

    def meet(self, coarse: _Coarse, span: Span, decay: Decay, doubt: int) -> Span:
        """Put the start where the exciter's signal runs into the decay without a jump.

        Near such a place some samples suit both. They are compared with the swing or level seen
        before and with a decay fitted to the samples behind; among the places that suit nearly
        as well as the best one, that counts where the two curves meet in value and slope.
        """
        later = Span(start=span.start + doubt, stop=span.stop)
        earlier = Span(start=max(span.start - 8 * doubt - 20, coarse.first), stop=span.start - 2)
        if min(self.samples(later), self.samples(earlier)) < _FEWEST:
            return span
        behind = self.fit(later, decay.rate, decay.omega)
        ahead = self.fit(earlier, 0.0, decay.omega)
        doubtful = slice(max(span.start - 2, coarse.first), later.start)
        t, v = self.time[doubtful], self.voltage[doubtful]
        whole = ~self.ends.reached(v)
        before, after = (swing(fit, 0, t - burst.time[0]) for burst, fit in (ahead, behind))
        costs = np.concatenate(([0.0], np.cumsum(whole * (v - before) ** 2)))
        costs[:-1] += np.cumsum((whole * (v - after) ** 2)[::-1])[::-1]
        possible = costs <= costs.min() + _ALIKE * behind[1].noise ** 2
        apart = np.hypot(before - after, np.gradient(before - after, t) / decay.omega)
        apart = np.where(possible, np.append(apart, np.inf), np.inf)
        place = int(np.argmin(apart)) if np.isfinite(apart).any() else t.size
        return Span(start=doubtful.start + place, stop=span.stop)

    def _seen(self, decay: Decay, burst: Burst, part: slice) -> FloatArray:
        """Give samples to compare with a decay; not those that are clipped as they should be."""
        voltage = self.voltage[part]
        expected = swing(decay, 0, self.time[part] - burst.time[0])
        right = self.ends.reached(voltage) & self.ends.beyond(expected, decay.noise)
        return np.where(right, np.nan, voltage)
