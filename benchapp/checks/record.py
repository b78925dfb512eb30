"""Checks of scope records and of transmissions: window, clipping, loading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from benchapp.capture import Response, Transient
from benchapp.checks.value import Check, Evidence, Sighting
from benchapp.units import format_quantity

__all__ = ["CHECKS"]

_SHARED = 4  # samples to a level, from which on the levels are those of a converter
_DITHERED = 0.5  # rms noise in steps, from which on steps act as noise alone
_ROUNDING = 1e-6  # of the whole swing: nearer than that, two levels are one


def _followed(evidence: Evidence) -> float | None:
    """Give how many time constants the longest decay used lasts; None but for a ring-down."""
    capture, found = evidence.capture, evidence.fit.estimates
    tau, f0 = found.get("tau"), found.get("f0")
    if not isinstance(capture, Transient) or tau is None or not evidence.fit.used.any():
        return None
    time = capture.time[evidence.fit.used]
    period = np.inf if f0 is None else 1 / f0.value
    starts = np.flatnonzero(np.diff(time, prepend=-np.inf) > period)  # excitation lies between
    ends = np.append(starts[1:], time.size) - 1
    return float((time[ends] - time[starts]).max()) / tau.value


def _short_decay(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    followed = _followed(evidence)
    if followed is not None and followed < limit["least"]:
        yield Sighting(
            seen=f"The decay is followed for {followed:.2g} time constants.",
            level="warn" if followed < limit["least"] / 3 else None,
        )


def _long_decay(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    followed = _followed(evidence)
    if followed is not None and followed > limit["most"]:
        yield Sighting(seen=f"The decay is followed for {followed:.2g} time constants.")


def _few_steps(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture, fit, f0 = evidence.capture, evidence.fit, evidence.fit.estimates.get("f0")
    if not isinstance(capture, Transient) or f0 is None or not fit.used.any():
        return
    step, time = _step(capture), capture.time[fit.used]
    last = fit.fitted.real[fit.used][time > time[-1] - 1 / f0.value]
    if step is None or np.ptp(last) >= 2 * limit["steps"] * step:
        return
    if (fit.noise or 0.0) * np.abs(fit.fitted[fit.used]).max() > _DITHERED * step:
        return  # the noise carries the swing over the steps
    yield Sighting(
        seen=f"The swing used ends at {float(np.ptp(last)) / 2 / step:.2g} steps of the "
        f"converter, {format_quantity(step, 'V', digits=3)} each."
    )


def _step(capture: Transient) -> float | None:
    """Give the step of the converter in V: as stated, else where most samples share a level."""
    if capture.step_volt is not None:
        return capture.step_volt
    levels = np.unique(capture.voltage)
    if not 2 <= levels.size <= capture.voltage.size / _SHARED:
        return None
    gaps = np.diff(levels)
    return float(gaps[gaps > _ROUNDING * np.ptp(levels)].min())


def _few_samples(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture, f0 = evidence.capture, evidence.fit.estimates.get("f0")
    if not isinstance(capture, Transient) or f0 is None:
        return
    samples = 1 / (float(np.median(np.diff(capture.time))) * f0.value)
    if samples < limit["least"]:
        yield Sighting(seen=f"There are {samples:.2g} samples in a period.")


def _clipped(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for remark in evidence.fit.remarks:
        if remark.name == "clipped" and len(remark.points) >= limit["samples"]:
            yield Sighting(seen=remark.text, points=remark.points)


def _uneven(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for remark in evidence.fit.remarks:
        if remark.name == "uneven decay":
            yield Sighting(seen=remark.text)


def _loading_unknown(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    by_probe = isinstance(capture, Transient) or (
        isinstance(capture, Response) and capture.kind == "gain"
    )
    if by_probe and capture.conditions.fixture is None:
        yield Sighting(seen="The capture does not say how the part was probed.")


def _loaded(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    q, loaded = (evidence.fit.estimates.get(name) for name in ("Q", "QL"))
    if q is None or loaded is None or q.value <= 0:
        return
    share = 1 - loaded.value / q.value
    if share > limit["share"]:
        yield Sighting(
            seen=f"The measurement takes {100 * share:.2g} % off Q: {loaded.value:.4g} loaded, "
            f"{q.value:.4g} unloaded."
        )


CHECKS = (
    Check(
        id="decay-too-short",
        level="note",
        condition="a ring-down is followed for less than 3 time constants (a warning below one)",
        text="The rate then hangs on the offset and on the first periods.",
        advice="Record five to six time constants after the excitation has ended.",
        thresholds={"least": 3},
        look=_short_decay,
    ),
    Check(
        id="decay-too-long",
        level="note",
        condition="a ring-down is followed for more than 6 time constants",
        text="What remains of it is 0.25 % of its beginning: the end of the record adds noise "
        "and whatever else swings.",
        advice="End the record after five to six time constants.",
        thresholds={"most": 6},
        look=_long_decay,
    ),
    Check(
        id="decay-below-steps",
        level="note",
        condition="the swing used ends at less than 4 steps of the converter, and noise is less "
        "than half of one",
        text="Its steps are then no longer noise, and pull on the rate of the decay.",
        advice="Choose a smaller vertical range, or average records.",
        thresholds={"steps": 4},
        look=_few_steps,
    ),
    Check(
        id="few-samples-per-period",
        level="note",
        condition="fewer than 10 samples lie in a period of the ring-down",
        text="The shape of the swing is hardly seen, and disturbances are not told from it.",
        advice="Record with a shorter time base.",
        thresholds={"least": 10},
        look=_few_samples,
    ),
    Check(
        id="samples-clipped",
        level="note",
        condition="3 or more samples within the decay lie at the end of the converter's range",
        text="Taken as they stand they would make Q too large.",
        advice="Choose a larger vertical range.",
        thresholds={"samples": 3},
        look=_clipped,
    ),
    Check(
        id="decay-not-even",
        level="warn",
        condition="the rate of a ring-down changes along the decay",
        text="One Q does not describe it.",
        advice="Excite less, or look for a second resonance or a diode that conducts.",
        look=_uneven,
    ),
    Check(
        id="loading-not-stated",
        level="note",
        condition="a scope record or a gain does not say how the part was probed",
        text="10 pF of a probe lower f0 by 0.5 % on 1 nF and by 6.6 % on 68 pF, and its "
        "resistance lowers Q.",
        advice="State the probe, or measure once with a second probe of the same kind: "
        "1/f0^2 = 2/f1^2 - 1/f2^2.",
        look=_loading_unknown,
    ),
    Check(
        id="strong-coupling",
        level="note",
        condition="loaded and unloaded Q differ by more than 3 %",
        text="The unloaded value rests on the correction for the coupling.",
        advice="Couple more loosely until f0 and Q no longer change.",
        thresholds={"share": 0.03},
        look=_loaded,
    ),
)
