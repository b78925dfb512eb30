"""The tolerance envelope: between which |Z| and theta every part within its limits must lie.

All parts that keep the limits of L, C, f0 and of the losses form a region of element values. At
each frequency the envelope holds the true extremes over that whole region, not a choice of its
corners: where a resonance of some part falls on the frequency, the extreme lies inside.

With X = w L, p = w^2 L C = (f / f0)^2 and rho = R / X each circuit has |Z| / X and tan(theta)
as functions of p and rho alone. For a fixed p, |Z| rises with X and is monotone in R, so the
extremes lie where X and R are at their ends for that p. Along these lines the derivative by p
vanishes only at the few places listed in `_still`, so that a fixed list of candidates holds the
extremes exactly. Source: two-terminal network theory, worked out for this module.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.nominal.value import Limit, Nominal

__all__ = ["Envelope", "envelope", "envelope_obstacle"]

FloatArray = NDArray[np.float64]
_Span = tuple[Any, Any]
_TWO_PI = 2 * math.pi
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """Extremes of impedance over the tolerances of a design.

    All arrays (N,). ``magnitude_high`` in ohm is infinite where the limits allow a part without
    loss at its resonance.
    """

    frequency: FloatArray
    magnitude_low: FloatArray
    magnitude_high: FloatArray
    theta_low_degrees: FloatArray
    theta_high_degrees: FloatArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            array = np.array(getattr(self, name), dtype=np.float64, copy=True)
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild through the constructor, so that arrays come back read-only."""
        return _rebuild, ({name: getattr(self, name) for name in self.__slots__},)


def _rebuild(values: dict[str, Any]) -> Envelope:
    return Envelope(**values)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """The region of element values, as spans (least, most).

    ``loss`` is the span of R / (2 pi L) in Hz, from limits that hold at a frequency; ``damping``
    that of R / Z_tank, from limits that hold at the resonance.
    """

    L: _Span
    C: _Span
    f0: _Span
    R: _Span
    loss: _Span
    damping: _Span


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """A circuit in p and rho: (|Z| / X) squared and tan(theta)."""

    size: Callable[[FloatArray, FloatArray], FloatArray]
    slope: Callable[[FloatArray, FloatArray], FloatArray]


def _tank_size(p: FloatArray, rho: FloatArray) -> FloatArray:
    return (1 + rho**2) / ((1 - p) ** 2 + (p * rho) ** 2)


def _tank_slope(p: FloatArray, rho: FloatArray) -> FloatArray:
    return (1 - p * (1 + rho**2)) / rho


def _series_size(p: FloatArray, rho: FloatArray) -> FloatArray:
    return rho**2 + (1 - 1 / p) ** 2


def _series_slope(p: FloatArray, rho: FloatArray) -> FloatArray:
    return (1 - 1 / p) / rho


def _parallel_size(p: FloatArray, rho: FloatArray) -> FloatArray:
    return 1 / (1 / rho**2 + (p - 1) ** 2)


def _parallel_slope(p: FloatArray, rho: FloatArray) -> FloatArray:
    return (1 - p) * rho


_SHAPES: Mapping[str, _Shape] = {
    "tank": _Shape(size=_tank_size, slope=_tank_slope),
    "series-rlc": _Shape(size=_series_size, slope=_series_slope),
    "parallel-rlc": _Shape(size=_parallel_size, slope=_parallel_slope),
    "inductor": _Shape(size=_series_size, slope=_series_slope),
}


def envelope_obstacle(nominal: Nominal) -> str:
    """Say why a design has no envelope; empty where it has one."""
    if nominal.circuit not in _SHAPES:
        return f"No envelope is worked out for the circuit {nominal.circuit}."
    box = _box(nominal)
    if nominal.circuit == "inductor":
        complete = _bounded(box.L)
        wanted = "L needs a lower and an upper limit"
    else:
        complete = sum(map(_bounded, (box.L, box.C, box.f0))) >= 2
        wanted = "two of L, C and f0 need a lower and an upper limit"
    if not complete:
        return f"For an envelope {wanted}."
    if not _loss_is_limited(nominal.circuit, box):
        return "For an envelope the loss needs a limit: Q from below, or ESR or R from above."
    return ""


def _bounded(span: _Span) -> bool:
    return bool(span[0] > 0 and span[1] < math.inf)


def _loss_is_limited(circuit: str, box: _Box) -> bool:
    spans = (box.R, box.loss, box.damping)
    if circuit == "parallel-rlc":
        return any(span[0] > 0 for span in spans)
    return any(span[1] < math.inf for span in spans)


def envelope(nominal: Nominal, frequency: ArrayLike) -> Envelope | None:
    """Give the extremes of |Z| and theta over all parts that keep the limits of a design.

    Parameters
    ----------
    nominal : Nominal
        The limits of L, C, f0 (two of them on both sides), Q, D, BW, R and ESR make the region.
    frequency : (N,) float, Hz

    Returns
    -------
    Envelope or None
        None where the limits do not bound an envelope (`envelope_obstacle` says why), or where
        no part can keep all of them.
    """
    if envelope_obstacle(nominal):
        return None
    f = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    with np.errstate(all="ignore"):
        found = _extremes(nominal.circuit, _box(nominal), f)
    if any(np.isnan(each).any() for each in found):
        return None
    low, high, slope_low, slope_high = found
    return Envelope(
        frequency=f,
        magnitude_low=low,
        magnitude_high=high,
        theta_low_degrees=np.degrees(np.arctan(slope_low)),
        theta_high_degrees=np.degrees(np.arctan(slope_high)),
    )


def _box(nominal: Nominal) -> _Box:
    spans: dict[str, _Span] = dict.fromkeys(
        ("L", "C", "f0", "R", "loss", "damping"), (0.0, math.inf)
    )
    for limit in nominal.limits:
        for name, low, high in _spans(nominal, limit):
            spans[name] = (max(spans[name][0], low), min(spans[name][1], high))
    return _Box(**spans)


def _spans(nominal: Nominal, limit: Limit) -> Iterator[tuple[str, float, float]]:
    """Say what a limit bounds. In the parallel circuit Q is R / X, elsewhere X / R."""
    low = max(limit.lower or 0.0, 0.0)
    high = math.inf if limit.upper is None else limit.upper
    name, at = limit.quantity, limit.at or nominal.frequency
    parallel = nominal.circuit == "parallel-rlc"
    series_loss = {"ESR": not parallel, "DCR": nominal.circuit == "inductor"}
    if name in ("L", "C", "f0", "R"):
        yield name, low, high
    elif series_loss.get(name):
        yield "R", low, high
    elif name == "BW" and not parallel:
        yield "loss", low, high
    elif name in ("Q", "D"):
        if (name == "Q") != parallel:
            low, high = 1 / high, (1 / low if low > 0 else math.inf)
        if at is not None:
            yield "loss", low * at, high * at
        elif nominal.circuit != "inductor":
            yield "damping", low, high


def _extremes(circuit: str, box: _Box, f: FloatArray) -> tuple[FloatArray, ...]:
    region = _Region(box, f, resonant=circuit != "inductor")
    p = region.candidates(circuit)
    x_low, x_high = region.reactances(p)
    shape = _SHAPES[circuit]
    corners = [(x, r) for x in (x_low, x_high) for r in region.resistances(p, x)]
    sizes = np.stack([x**2 * shape.size(p, r / x) for x, r in corners])
    slopes = np.stack([shape.slope(p, r / x) for x, r in corners])
    slope_high = np.fmax.reduce(slopes)
    if circuit == "tank":
        slope_high = np.fmax(slope_high, _steepest(region, p, x_low, x_high))
    return (
        np.sqrt(np.fmin.reduce(sizes, axis=(0, 1))),
        np.sqrt(np.fmax.reduce(sizes, axis=(0, 1))),
        np.fmin.reduce(slopes, axis=(0, 1)),
        np.fmax.reduce(slope_high),
    )


def _steepest(region: _Region, p: FloatArray, x_low: FloatArray, x_high: FloatArray) -> FloatArray:
    """Above resonance theta of a tank is greatest at rho^2 = (p - 1) / p, if that is allowed."""
    least = region.resistances(p, x_high)[0] / x_high
    most = region.resistances(p, x_low)[1] / x_low
    rho = np.clip(np.sqrt(np.maximum(p - 1, 0) / p), least, most)
    return _tank_slope(p, rho)


class _Region:
    """The box seen at each frequency: spans of p, of X for a given p, of R for a given X."""

    def __init__(self, box: _Box, f: FloatArray, *, resonant: bool) -> None:
        w = _TWO_PI * f
        self.f = f
        self.x = (w * box.L[0], w * box.L[1])
        self.b = (w * box.C[0], w * box.C[1]) if resonant else (0 * f, np.inf + f)
        self.r = box.R
        self.q = (box.loss[0] / f, box.loss[1] / f)
        self.s = box.damping
        low = np.fmax((f / box.f0[1]) ** 2, self.x[0] * self.b[0])
        high = np.fmin((f / box.f0[0]) ** 2, self.x[1] * self.b[1])
        self.p = (low, high) if resonant else (np.inf + f, np.inf + f)

    def candidates(self, circuit: str) -> FloatArray:
        """Every p, (K, N), at which an extreme can lie."""
        low, high = self.p
        if np.isinf(low).all():
            return np.stack([low])
        ends = low <= high * (1 + _ROUNDING)
        places = [low, high, *self._kinks(), *self._still(circuit)]
        rows = np.stack([np.broadcast_to(place, self.f.shape) for place in places])
        rows = rows[np.isfinite(rows).any(axis=1)]
        rows = np.where(np.isfinite(rows), rows, low)
        return np.where(ends, np.clip(rows, low, high), np.nan)

    def reactances(self, p: FloatArray) -> _Span:
        """Span of X for each p; not a number where the limits leave none."""
        q_low, q_high = self._ratio(p)
        low = np.fmax(np.fmax(self.x[0], p / self.b[1]), self.r[0] / q_high)
        high = np.fmin(np.fmin(self.x[1], p / self.b[0]), self.r[1] / q_low)
        good = (low <= high * (1 + _ROUNDING)) & (q_low <= q_high * (1 + _ROUNDING))
        return np.where(good, low, np.nan), np.where(good, np.fmax(high, low), np.nan)

    def resistances(self, p: FloatArray, x: FloatArray) -> _Span:
        """Span of R for each p and X."""
        q_low, q_high = self._ratio(p)
        low = np.fmax(self.r[0], x * q_low)
        return low, np.fmax(np.fmin(self.r[1], x * q_high), low)

    def _ratio(self, p: FloatArray) -> _Span:
        """Span of R / X from limits at a frequency and from limits at resonance."""
        root = np.sqrt(p)
        return np.fmax(self.q[0], self.s[0] / root), np.fmin(self.q[1], self.s[1] / root)

    def _kinks(self) -> Iterator[Any]:
        """Where one limit takes over from another."""
        yield from (x * b for x in self.x for b in self.b)
        yield from (b * r / q for b in self.b for r in self.r for q in self.q)
        if self.s != (0.0, math.inf):
            yield from ((b * r / s) ** 2 for b in self.b for r in self.r for s in self.s)
            yield from ((s * x / r) ** 2 for s in self.s for x in self.x for r in self.r)
            yield from ((s / q) ** 2 for s in self.s for q in self.q)

    def _still(self, circuit: str) -> Iterator[Any]:
        """Where the derivative by p vanishes along a line of constant X or C and R, Q or Q(f0)."""
        yield 1.0
        if circuit == "tank":
            yield 0.5
            yield from (1 / (1 + (r / x) ** 2) for x in self.x for r in self.r)
            yield from ((1 + np.sqrt(1 + (2 * b * r) ** 2)) / 2 for b in self.b for r in self.r)
            for s in self.s:
                yield from _tank_roots(s**2)
        for s in self.s:
            yield from _resonance_places(circuit, s**2)
        yield from (_place_of_ratio(circuit, q) for q in self.q)


def _tank_roots(e: float) -> Iterator[float]:
    """Where a tank of constant Q(f0) is extreme, e = 1 / Q^2.

    |Z|: 2 p^3 + (4 e - 2) p^2 + (2 e^2 - 4 e) p + e = 0 with L constant,
    p = (1 + sqrt(1 + 2 e)) / 2 with C constant, p = sqrt(1 + 2 e) - e with R constant.
    theta: p = (1 - e) / 3.
    """
    if 0 < e < math.inf:
        roots = np.roots([2, 4 * e - 2, 2 * e**2 - 4 * e, e])
        yield from (float(root.real) for root in roots if abs(root.imag) < 1e-9)
        yield (1 + math.sqrt(1 + 2 * e)) / 2
        yield math.sqrt(1 + 2 * e) - e
        yield (1 - e) / 3


def _resonance_places(circuit: str, e: float) -> Iterator[float]:
    """Where |Z| is extreme along constant Q(f0), e = (R / Z_tank)^2, in the straight circuits."""
    if not 0 < e < math.inf:
        return
    if circuit == "series-rlc":
        yield from (1 - e / 2, 1 / (1 - e / 2) if e != 2 else math.inf)
    elif circuit == "parallel-rlc":
        yield from (1 - 1 / (2 * e), 1 / (1 - 1 / (2 * e)) if e != 0.5 else math.inf)


def _place_of_ratio(circuit: str, q: FloatArray) -> FloatArray:
    """Where |Z| is extreme along constant R / X, with L constant in a tank, else with C."""
    return 1 + 1 / q**2 if circuit == "parallel-rlc" else 1 / (1 + q**2)
